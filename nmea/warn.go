package nmea

import (
	"compress/flate"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"math"
)

func (in *intake) warn(format string, a ...any) {
	in.log.Warnings = append(in.log.Warnings, fmt.Sprintf(format, a...))
}

// damaged reports whether an error means that the source's bytes are not whole,
// and not that they could not be fetched: what came before it is good.
func damaged(err error) bool {
	var corrupt flate.CorruptInputError
	return errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, gzip.ErrChecksum) || errors.Is(err, gzip.ErrHeader) ||
		errors.As(err, &corrupt)
}

// finish works out what is said of the whole log.
func (in *intake) finish() {
	l, stats := in.log, &in.log.Stats
	stats.Epochs = len(l.Epochs)
	in.countUntimed()
	in.listOthers()
	l.Sky = in.sky.sky()
	if stats.Epochs > 0 {
		stats.From, stats.To = l.Epochs[0].UTC(), l.Epochs[stats.Epochs-1].UTC()
	}
	l.Gaps = Gaps(l.Epochs)
	in.warnOfFiles()
	in.warnOfSentences()
	in.warnOfFixes()
	in.warnOfHeights()
}

// countUntimed adds what a receiver without fix and time said, by the kind that
// it uses for positions.
func (in *intake) countUntimed() {
	for k := kindGGA; k <= kindGLL; k++ {
		if in.log.Stats.Sentences[kinds[k].name] > 0 {
			if n := in.group.untimed[k]; n > 0 {
				in.log.Stats.Fix[QualityNone.String()] += n
			}
			return
		}
	}
}

func (in *intake) warnOfFiles() {
	for i := range in.log.Files {
		f := &in.log.Files[i]
		if f.cells {
			in.warn("%s: the fields of the sentences stand in the cells of a table: put together again, and those whose checksum agrees are used", f.Name)
		}
		if f.Err != nil {
			in.warn("%s: damaged or cut off behind line %d (%v): what comes before that is used", f.Name, f.Lines, f.Err)
		}
		if f.digits > 0 {
			f.Resolution = resolution(f.digits)
		}
	}
}

func (in *intake) warnOfSentences() {
	s := &in.log.Stats
	all := s.counted()
	if n := s.BadChecksum; n*100 > all {
		in.warn("%d of %s a wrong checksum and are not used", n, many(all, "sentence has", "sentences have"))
	}
	if n := s.UsedWithoutChecksum; n > 0 {
		in.warn("%s used: nothing would show a changed digit in them", many(n, "sentence without checksum is", "sentences without checksum are"))
	}
	if n := s.Bare; n > 0 {
		in.warn("%s: used where the checksum or all fields speak for it", many(n, "sentence lacks its $", "sentences lack their $"))
	}
	if s.Signed = in.group.signed; s.Signed > 0 {
		in.warn("%s a minus before latitude or longitude: taken as south or west, whatever letter stands beside it", many(s.Signed, "sentence has", "sentences have"))
	}
	if n := s.Malformed; n > 0 {
		in.warn("%s be read in full", many(n, "sentence cannot", "sentences cannot"))
	}
	if n := s.Repeated; n > 0 {
		in.warn("%s: the first counts", many(n, "epoch comes again", "epochs come again"))
	}
	if n := s.Backward; n > 0 {
		in.warn("time steps back %s, as after a reconnection: the epochs are put in order", many(n, "time", "times"))
	}
}

// many puts a number before its noun, with or without the verb.
func many(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}

func (in *intake) warnOfFixes() {
	if n := in.group.odd; n > 0 {
		in.warn("%s quality 9, which the standard does not have: taken as differential", many(n, "GGA sentence tells", "GGA sentences tell"))
	}
	for _, q := range []Quality{QualityManual, QualitySimulator} {
		if n := in.log.Stats.Fix[q.String()]; n > 0 {
			in.warn("%s of quality %s, which is no measurement, and not used", many(n, "epoch is", "epochs are"), q)
		}
	}
	for _, f := range in.log.Files {
		if f.Resolution > 0.1 {
			in.warn("%s: positions are written to %.1f m only, whatever the receiver knew", f.Name, f.Resolution)
		}
	}
}

// warnOfHeights looks at the geoid separation: without it, or with one that is
// always 0, nobody can tell which height the altitude is.
func (in *intake) warnOfHeights() {
	high, none, zero := 0, 0, 0
	for i := range in.log.Epochs {
		e := &in.log.Epochs[i]
		switch {
		case math.IsNaN(e.Alt):
			continue
		case isNaN(e.Sep):
			none++
		case e.Sep == 0:
			zero++
		}
		high++
	}
	switch {
	case high == 0:
	case none == high:
		in.warn("the GNSS receiver does not log the geoid separation: its altitudes cannot be converted to ellipsoidal heights")
	case zero == high:
		in.warn("the receiver tells a geoid separation of 0 throughout: its altitudes are taken as ellipsoidal heights, which they may not be")
	}
}
