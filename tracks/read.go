package tracks

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"tracemap/internal/parallel"
	"tracemap/nmea"
)

// MostBytes is the largest track that is read, unpacked.
const MostBytes = 128 << 20

// ErrTooLarge says that a file is larger than that.
var ErrTooLarge = fmt.Errorf("larger than %d MiB, more than a day's track can be: split it", MostBytes>>20)

// ErrNotATrack says that a file's content is none, or broken before its first place.
var ErrNotATrack = errors.New("no track can be read in it")

// Source is one file, already unpacked. Name is what messages call it.
type Source struct {
	Name string
	R    io.Reader
}

// asideKept is how many places that cannot be read are kept for messages.
const asideKept = 20

// Read reads the sources as one log; their order does not matter. It fails where ctx
// ends, a source cannot be read, or holds no track; a place that cannot be read is
// counted as malformed and the first are kept in Aside. A source that breaks off is
// used up to there, with a warning.
func Read(ctx context.Context, sources []Source) (_ *nmea.Log, err error) {
	defer parallel.Recover("the receiver's track", &err)
	in := intake{log: &nmea.Log{Stats: nmea.Stats{Sentences: map[string]int{}, Fix: map[string]int{}, Other: map[string]nmea.Other{}}}}
	for i, s := range sources {
		if err := in.read(ctx, i, s); err != nil {
			return nil, fmt.Errorf("reading %s: %w", s.Name, err)
		}
	}
	in.finish()
	return in.log, nil
}

// intake is a log while it is being read.
type intake struct {
	log     *nmea.Log
	unzoned int // times without a zone
	carrier int // positions whose σ shows that they rest on the carrier's phase
}

func (in *intake) read(ctx context.Context, i int, s Source) error {
	data, err := io.ReadAll(io.LimitReader(contextReader{ctx, s.R}, MostBytes+1))
	if err != nil {
		return err
	}
	if len(data) > MostBytes {
		return ErrTooLarge
	}
	file := nmea.File{Name: s.Name, Bytes: int64(len(data))}
	text := utf8(data)
	f := formOf(text)
	if f == nil {
		return ErrNotATrack
	}
	first := len(in.log.Epochs)
	broken := f.read(text, &sink{
		foreign: func(string) {},
		add: func(r *record, line int) error {
			file.Lines++
			if file.Lines > mostPoints {
				return errTooMany
			}
			if file.Lines%4096 == 0 && ctx.Err() != nil {
				return ctx.Err()
			}
			in.take(r, i, line, s.Name)
			return nil
		},
	})
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.Is(broken, errTooMany):
		return broken
	case file.Lines == 0:
		return ErrNotATrack
	case broken != nil:
		in.warn("%s: damaged or cut off behind place %d (%s): what comes before that is used", s.Name, file.Lines, oneLine(broken))
	}
	file.Epochs = len(in.log.Epochs) - first
	stats := &in.log.Stats
	stats.Bytes += file.Bytes
	stats.Lines += file.Lines
	in.log.Files = append(in.log.Files, file)
	return nil
}

// take adds a place.
func (in *intake) take(r *record, file, line int, name string) {
	e, zoned, reason := epochOf(r)
	if reason != "" {
		in.log.Stats.Malformed++
		if len(in.log.Aside) < asideKept {
			in.log.Aside = append(in.log.Aside, nmea.SetAside{File: name, Line: int64(line), Type: "place", Reason: reason})
		}
		return
	}
	if !zoned {
		in.unzoned++
	}
	if _, said := fixQuality(r[colFix]); !said && e.Quality == nmea.QualityRTKFloat {
		in.carrier++
	}
	e.File, e.Line = uint16(file), uint32(line)
	if n := len(in.log.Epochs); n > 0 && in.log.Epochs[n-1].Nanos > e.Nanos {
		in.log.Stats.Backward++
	}
	in.log.Epochs = append(in.log.Epochs, e)
}

// finish puts the epochs in order and works out what is said of all of them.
func (in *intake) finish() {
	l, stats := in.log, &in.log.Stats
	slices.SortStableFunc(l.Epochs, func(a, b nmea.Epoch) int {
		switch {
		case a.Nanos < b.Nanos:
			return -1
		case a.Nanos > b.Nanos:
			return 1
		}
		return 0
	})
	kept := l.Epochs[:0]
	for _, e := range l.Epochs {
		if n := len(kept); n > 0 && kept[n-1].Nanos == e.Nanos {
			stats.Repeated++
			l.Files[e.File].Epochs--
			continue
		}
		kept = append(kept, e)
		stats.Fix[e.Quality.String()]++
	}
	l.Epochs = kept
	if stats.Epochs = len(kept); stats.Epochs > 0 {
		stats.From, stats.To = kept[0].UTC(), kept[stats.Epochs-1].UTC()
	}
	l.Gaps = nmea.Gaps(kept)
	in.tell()
}

func (in *intake) warn(format string, a ...any) {
	in.log.Warnings = append(in.log.Warnings, fmt.Sprintf(format, a...))
}

// tell says what a person should know.
func (in *intake) tell() {
	l, stats := in.log, &in.log.Stats
	unknown, bare, heights := 0, 0, 0
	for i := range l.Epochs {
		e := &l.Epochs[i]
		switch {
		case e.Quality == nmea.QualityUnknown && e.HasGST():
			unknown++
		case e.Quality == nmea.QualityUnknown:
			bare++
		}
		if !math.IsNaN(e.Alt) && e.Sep != e.Sep {
			heights++
		}
	}
	if bare > 0 {
		in.warn("%d of %d positions come from a track that says neither their kind of fix nor their σ: taken as good to some metres, and the widths with them; give the receiver's NMEA log for narrower ones", bare, stats.Epochs)
	}
	if unknown > 0 {
		in.warn("%d of %d positions come from a track that does not say their kind of fix: σ is what it says itself, 1 m at least; give the receiver's NMEA log for narrower widths", unknown, stats.Epochs)
	}
	if in.carrier > 0 {
		in.warn("%d of %d positions come from a track that does not say their kind of fix: σ below %.2f m shows carrier phase, taken as float", in.carrier, stats.Epochs, carrierSigma)
	}
	if heights > 0 {
		in.warn("the track does not say what its heights stand above: they are not used as ellipsoidal heights")
	}
	if in.unzoned > 0 {
		in.warn("%d times of the track have no zone: taken as UTC", in.unzoned)
	}
	if n := stats.Malformed; n > 0 {
		a := l.Aside[0]
		in.warn("%d places of the track cannot be read, the first in %s, place or line %d: %s", n, a.File, a.Line, a.Reason)
	}
	if n := stats.Repeated; n > 0 {
		in.warn("%d places of the track have the time of another: the first counts", n)
	}
}

// oneLine keeps an error of a decoder to one line.
func oneLine(err error) string { return strings.Join(strings.Fields(shorten(err.Error())), " ") }

// contextReader ends with its context.
type contextReader struct {
	ctx context.Context
	r   io.Reader
}

func (c contextReader) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	return c.r.Read(p)
}
