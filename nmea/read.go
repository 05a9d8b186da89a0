package nmea

import (
	"context"
	"fmt"
	"io"
	"math"
	"time"

	"tracemap/internal/parallel"
)

// Source is one file of a log, already unpacked. Name is what messages call it.
type Source struct {
	Name string
	R    io.Reader
}

// Options says what is known from elsewhere.
type Options struct {
	// Reference is a day on which the log was written, known from something else
	// than the receiver. It dates a log that tells no date, and shows a date that
	// is early by 1024 weeks. Zero means not known.
	Reference time.Time

	// Progress, where given, is called now and then with the number of bytes read
	// so far in all sources, never by two goroutines at the same time.
	Progress func(bytes int64)

	chunk int // bytes, for tests; 0 means chunkSize
}

// Log is what a receiver wrote.
type Log struct {
	Epochs []Epoch // times strictly increasing, every one with a valid position
	Stats  Stats
	Sky    Sky
	Gaps   []Gap
	Files  []File
	Aside  []SetAside // the first of the sentences that could not be read

	// DateAssumed says that some source told no date: it was taken from the
	// reference, or from the other sources. DateUnknown says that there was nothing
	// to take it from, and the epochs lie on 1970-01-01.
	DateAssumed bool
	DateUnknown bool

	Warnings []string
}

// Read reads the sources as one log; their order does not matter. It fails only
// where ctx ends or a source cannot be read; what is wrong inside a log is
// counted, and said in Warnings.
func Read(ctx context.Context, sources []Source, opt Options) (_ *Log, err error) {
	defer parallel.Recover("the receiver's log", &err)
	parallel.Trip("the receiver's log")
	if opt.chunk == 0 {
		opt.chunk = chunkSize
	}
	l := &Log{Stats: Stats{Sentences: map[string]int{}, Fix: map[string]int{}, Other: map[string]Other{}}}
	in := intake{log: l, opt: opt, pipe: pipeline{size: opt.chunk}, whys: map[string]string{}, sky: looker{inView: map[string]int{}}}
	if len(sources) > math.MaxUint16 {
		return nil, fmt.Errorf("%d files are more than one log can have (%d)", len(sources), math.MaxUint16)
	}
	for i, s := range sources {
		if err := in.read(ctx, i, s); err != nil {
			return nil, fmt.Errorf("reading %s: %w", s.Name, err)
		}
	}
	in.setDates()
	order := in.group.drafts.byTime()
	in.tellReceiversApart(order)
	l.Epochs = in.merge(order)
	in.finish()
	return l, nil
}

// intake is a log while it is being read.
type intake struct {
	log   *Log
	opt   Options
	pipe  pipeline
	group grouper
	parts []part            // one a source
	line  lineState         // of a line that goes on in the next chunk
	whys  map[string]string // why a type cannot be read, empty where it can be
	sky   looker
}

// read takes one source in.
func (in *intake) read(ctx context.Context, i int, s Source) error {
	l, stats := in.log, &in.log.Stats
	file := File{Name: s.Name}
	firstDraft, firstSegment := in.group.drafts.len(), len(in.group.dates.segments)
	in.group.startSource(i)
	in.line = lineState{}
	open := false // the last line has no end yet
	text := &plainReader{r: s.R}
	file.Err = in.pipe.run(ctx, text, func(c *chunk) {
		in.take(c, &file)
		open = c.data[len(c.data)-1] != '\n'
	})
	if file.Err != nil && !damaged(file.Err) {
		return file.Err
	}
	file.cells = text.sp.cell != 0
	if open {
		file.Lines++
		in.endLine()
	}
	in.parts = append(in.parts, part{
		dated:    in.group.dates.endSource(),
		drafts:   span{firstDraft, in.group.drafts.len()},
		segments: span{firstSegment, len(in.group.dates.segments)},
	})
	stats.Lines += file.Lines
	l.Files = append(l.Files, file)
	return nil
}

// take adds a chunk.
func (in *intake) take(c *chunk, file *File) {
	l, stats := in.log, &in.log.Stats
	for i := range c.records {
		c.records[i].line += uint32(file.Lines)
		in.group.add(&c.records[i])
	}
	for _, at := range c.firsts {
		in.judge(c.data[at:])
	}
	in.sky.take(c.data, c.skies)
	for _, a := range c.tally.aside {
		if len(l.Aside) < asideKept {
			a.File = file.Name
			a.Line += file.Lines
			l.Aside = append(l.Aside, a)
		}
	}
	before := stats.counted()
	c.tally.addTo(stats.Sentences)
	stats.BadChecksum += c.tally.wrong
	stats.NoChecksum += c.tally.none
	stats.UsedWithoutChecksum += c.tally.trusted
	stats.Malformed += c.tally.malformed
	file.Sentences += stats.counted() - before
	in.takeFraming(c)
	file.Lines += c.count.lines
	file.Bytes += int64(len(c.data))
	stats.Bytes += int64(len(c.data))
	if in.opt.Progress != nil {
		in.opt.Progress(stats.Bytes)
	}
}

// counted is the number of all sentences.
func (s *Stats) counted() int {
	n := s.BadChecksum + s.NoChecksum
	for _, k := range s.Sentences {
		n += k
	}
	return n
}

// takeFraming adds what the scanner met beside sentences.
func (in *intake) takeFraming(c *chunk) {
	stats := &in.log.Stats
	stats.MidLine += c.count.midLine
	stats.Merged += c.count.merged
	stats.Overlong += c.count.overlong
	stats.Trailing += c.count.trailing
	stats.TextLines += c.count.textLines
	stats.Bare += c.count.bare
	stats.BinaryBytes += c.count.binary
	if c.continued {
		part := c.last
		if c.ended {
			part = c.first
		}
		in.line.sentence = in.line.sentence || part.sentence
		in.line.text = in.line.text || part.text
		if !c.ended {
			return
		}
		in.endLine()
	}
	in.line = c.last
}

// endLine closes a line that went over several chunks or had no end.
func (in *intake) endLine() {
	if in.line.text && !in.line.sentence {
		in.log.Stats.TextLines++
	}
}
