package survey

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"tracemap/nmea"
	"tracemap/readings"
	"tracemap/tracks"
)

// Kind says what an input is, told from its content and never from its name.
type Kind string

// The kinds of input.
const (
	NMEA     Kind = "nmea"
	Track    Kind = "track" // a receiver's log in another form than sentences
	Readings Kind = "readings"
	Unknown  Kind = "unknown"
)

// headSize is how much of an input is looked at to tell its kind, and deepSize
// how much of one that makes no sense so far: a receiver's log may begin with a
// long stretch of binary messages.
const (
	headSize = 64 << 10
	deepSize = 8 << 20
)

// A Source is a log as the caller has it.
type Source struct {
	Name string
	// Open gives the log's bytes from its start, plain or gzip. It is called
	// twice: once to tell the kind, once to read. A source that can be read only
	// once sets Once, and is opened once.
	Open func() (io.ReadCloser, error)
	Once bool
	Size int64 // bytes, for progress; 0 where unknown
}

// Paths gives the sources of files named on a command line; "-" is stdin, once.
// A file that is named twice, also by another path to it, is taken once and
// told in warnings.
func Paths(paths []string, stdin io.Reader) (sources []Source, warnings []string, err error) {
	var infos []os.FileInfo
	for _, path := range paths {
		if path == "-" {
			if hasName(sources, "-") {
				return nil, nil, errors.New("standard input (-) is given twice: it can be read once")
			}
			sources = append(sources, Source{Name: "-", Once: true, Open: func() (io.ReadCloser, error) { return io.NopCloser(stdin), nil }})
			infos = append(infos, nil)
			continue
		}
		info, err := os.Stat(path)
		if err != nil {
			return nil, nil, plainPath(err)
		}
		if info.IsDir() {
			return nil, nil, fmt.Errorf("%s is a folder: name the logs in it, as in %s", path, filepath.Join(path, "*"))
		}
		if i := sameFile(infos, info); i >= 0 {
			warnings = append(warnings, fmt.Sprintf("%s is the same file as %s: read once", path, sources[i].Name))
			continue
		}
		s := Source{Name: path, Open: func() (io.ReadCloser, error) { return os.Open(path) }}
		if info.Mode().IsRegular() {
			s.Size = info.Size()
		} else {
			s.Once = true // a pipe, as shells make for <(command)
		}
		sources = append(sources, s)
		infos = append(infos, info)
	}
	return sources, warnings, nil
}

// plainPath takes the system call out of an error's text: it is nobody's
// business.
func plainPath(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return fmt.Errorf("%s: %w", p.Path, p.Err)
	}
	return err
}

func hasName(sources []Source, name string) bool {
	for _, s := range sources {
		if s.Name == name {
			return true
		}
	}
	return false
}

func sameFile(infos []os.FileInfo, info os.FileInfo) int {
	for i, other := range infos {
		if other != nil && os.SameFile(info, other) {
			return i
		}
	}
	return -1
}

// Inputs are sources whose kinds are known.
type Inputs struct {
	list []*input
	// Warnings tell of inputs that are of no use.
	Warnings []string
}

// input is one source on its way through.
type input struct {
	Source
	kind  Kind
	what  string        // of an unknown input: what it seems to be
	days  []time.Time   // of a receiver's log
	track *tracks.Found // of a file that is a track, or could be one
	marks bool          // a recording's, which can be read as a readings log on UTC
	twin  string        // the input that holds the same bytes and is read instead
	once  *bufio.Reader // the opened source of a Source with Once, from its start
	tap   *tap          // set while it is read
}

// Open tells the kind of each source. Errors are those of opening and reading;
// an input of no use is a warning as long as others are there.
func Open(ctx context.Context, sources []Source) (*Inputs, error) {
	in := &Inputs{}
	for _, s := range sources {
		i := &input{Source: s}
		var head []byte
		for _, size := range []int{headSize, deepSize} {
			var err error
			if head, err = i.peek(ctx, size); err != nil {
				return nil, fmt.Errorf("%s: %w", s.Name, err)
			}
			i.marks = readings.IsMarks(head)
			if i.kind, i.what = tell(head); i.kind != Unknown || len(head) < size || readings.InContainer(head) {
				break
			}
		}
		if i.kind == NMEA {
			i.days = daysOf(nmea.Plain(head))
		}
		if err := i.lookInside(ctx, head); err != nil {
			return nil, fmt.Errorf("%s: %w", s.Name, err)
		}
		in.list = append(in.list, i)
	}
	in.leaveOutMarks()
	in.chooseTracks()
	for _, i := range in.list {
		if i.kind == Unknown && len(in.list) > 1 {
			in.Warnings = append(in.Warnings, fmt.Sprintf("%s is not used: it is neither a receiver's nor a readings log but %s", i.Name, i.what))
		}
	}
	return in, nil
}

// leaveOutMarks takes a recording's marks, which stand on UTC, away from readings whose
// clock is the locator's: one offset cannot be right for both.
func (in *Inputs) leaveOutMarks() {
	if !slices.ContainsFunc(in.list, func(i *input) bool { return i.kind == Readings && !i.marks }) {
		return
	}
	for _, i := range in.list {
		if i.marks {
			i.kind, i.what = Unknown, "a recording's marks, whose times are UTC and not the locator's; give what is in its column sync_flag with --sync"
		}
	}
}

// peek gives the first bytes of the input, unpacked.
func (i *input) peek(ctx context.Context, size int) ([]byte, error) {
	raw, err := i.peekRaw(ctx, size)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return nil, err
	}
	if !isGzip(raw) {
		return raw, nil
	}
	z, err := gzip.NewReader(bytes.NewReader(raw))
	if err != nil {
		return raw, nil
	}
	head, _ := io.ReadAll(io.LimitReader(z, int64(size))) // ends early: the rest was not looked at
	return head, nil
}

func (i *input) peekRaw(ctx context.Context, size int) ([]byte, error) {
	if i.Once {
		if i.once == nil {
			i.once = bufio.NewReaderSize(newPump(ctx, i.Source.Open), deepSize)
		}
		return i.once.Peek(min(size, deepSize)) // a pipe is not held any longer
	}
	r, err := i.Source.Open()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	var b bytes.Buffer
	n, err := io.Copy(&b, io.LimitReader(r, int64(size)))
	if err == nil && n < int64(size) {
		err = io.EOF
	}
	return b.Bytes(), err
}

// lookInside tells whether a spreadsheet, a database or another container holds
// readings: it has to be opened whole.
func (i *input) lookInside(ctx context.Context, head []byte) error {
	if i.kind == NMEA {
		return nil
	}
	if !readings.InContainer(head) {
		i.lookForTrack(head)
		return nil
	}
	whole, err := i.peek(ctx, mostContainer)
	if err != nil {
		return err
	}
	i.lookForTrack(whole)
	switch kind, err := readings.LookInside(whole); {
	case err == nil:
		i.kind, i.what = Readings, ""
	case i.what == "" || i.kind == Readings:
		i.kind, i.what = Unknown, kind
	default:
		i.what = kind + " without a table of readings"
	}
	return nil
}

// mostContainer is how much of a container is opened to tell what it is.
const mostContainer = 128 << 20

func isGzip(head []byte) bool { return len(head) > 2 && head[0] == 0x1f && head[1] == 0x8b }

// tell gives the kind of a log by its first bytes, and for an unknown one what
// it seems to be.
func tell(head []byte) (Kind, string) {
	switch {
	case len(head) == 0:
		return Unknown, "an empty file"
	case nmea.Sniff(head):
		return NMEA, ""
	case readings.Sniff(head):
		return Readings, ""
	}
	return Unknown, describe(head)
}

// describe says in plain words what foreign bytes seem to be.
func describe(head []byte) string {
	text := strings.TrimSpace(strings.TrimPrefix(string(head), "\uFEFF"))
	switch {
	case strings.HasPrefix(text, "PK\x03\x04"):
		return "a ZIP archive or a spreadsheet (unpack it, or save it as CSV)"
	case strings.HasPrefix(text, "%PDF"):
		return "a PDF document"
	case isGzip(head):
		return "a damaged gzip file"
	case bytes.IndexByte(head, 0) >= 0 || controls(head) > len(head)/20:
		return "binary data"
	case text == "":
		return "a blank file"
	case text[0] == '{' || text[0] == '[':
		return "JSON"
	case text[0] == '<':
		return "XML or HTML"
	}
	return "text without a header row or sentences"
}

func controls(head []byte) int {
	n := 0
	for _, b := range head {
		if b < ' ' && b != '\t' && b != '\n' && b != '\r' || b == 0x7f {
			n++
		}
	}
	return n
}

// FirstReadings is the name of the first readings log, "" without one.
func (in *Inputs) FirstReadings() string {
	for _, i := range in.of(Readings) {
		return i.Name
	}
	return ""
}

// of gives the inputs of a kind that are to be read, in their order.
func (in *Inputs) of(k Kind) []*input {
	var out []*input
	for _, i := range in.list {
		if i.kind == k && i.twin == "" {
			out = append(out, i)
		}
	}
	return out
}

// found says what the inputs are, for refusals: "2 receiver's logs, 1 empty file".
func (in *Inputs) found() string {
	var parts []string
	for _, i := range in.list {
		what := i.what
		switch i.kind {
		case NMEA:
			what = "a receiver's log"
		case Track:
			what = "a track"
		case Readings:
			what = "a readings log"
		}
		parts = append(parts, i.Name+" is "+what)
		if len(parts) == 3 && len(in.list) > 4 {
			parts = append(parts, fmt.Sprintf("and %d more", len(in.list)-3))
			break
		}
	}
	return strings.Join(parts, ", ")
}
