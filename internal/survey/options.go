package survey

import (
	"fmt"
	"math"
	"time"

	"tracemap/export"
	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/geodesy"
	"tracemap/grade"
	"tracemap/readings"
)

// Options of Run and Inspect. Callers start from DefaultOptions.
type Options struct {
	// Zone of reading times that carry no offset; nil when nobody said, which
	// takes them as UTC with a warning.
	Zone    *time.Location
	Columns *readings.Mapping // of a foreign readings log; nil for none
	Edits   []Edit            // what people changed about readings, in the order in which they did
	Clock   clock.Options
	Fuse    fuse.Options // antenna and gaps; its Progress is set by Run
	// Frame is the reference frame of the receiver's corrections; "" when nobody
	// said, which takes it as WGS 84.
	Frame string
	CRS   *geodesy.CRS // of the formats that can carry one; nil for longitude and latitude
	// Formats are what Day.Write writes; see ParseFormats.
	Formats []export.Format
	Scheme  string // accuracy classes, one of Schemes()

	Imperial                        bool // units that reports show to people
	Title                           string
	Job, Operator, Instrument, Note string

	// Progress, when set, is told what is being done and how far it has come; all
	// is 0 where nobody knows. It may be called by several goroutines.
	Progress func(stage string, done, all int64)
}

// DefaultOptions are what a day without any word on them is computed with.
func DefaultOptions() Options {
	return Options{Fuse: fuse.DefaultOptions(), Scheme: "none"}
}

// AssumedAntennaHeight is the antenna's height above the ground, m, where none is given.
const AssumedAntennaHeight = fuse.AssumedAntennaHeight

// SetAntennaHeight takes a height, m, that somebody gave: it is then not assumed.
func (o *Options) SetAntennaHeight(m float64) error {
	o.Fuse.AntennaHeight = m
	if math.IsNaN(m) {
		return fmt.Errorf("antenna height NaN m: must be between 0 and %v m", maxAntennaHeight)
	}
	return nil
}

// Check refuses options that make no sense, alone or together, before any work.
func (o *Options) Check() error {
	for i := range Params {
		p := &Params[i]
		if p.Length == nil || p.Flag == "antenna-height" && math.IsNaN(o.Fuse.AntennaHeight) {
			continue // no length, or one that is not given
		}
		if err := p.check(*p.Length(o)); err != nil {
			return err
		}
	}
	if _, err := grade.Lookup(o.Scheme); err != nil {
		return err
	}
	if o.Frame != "" {
		if _, err := geodesy.ParseFrame(o.Frame); err != nil {
			return err
		}
	}
	if o.CRS != nil && o.CRS.Frame().Alone() {
		if f, err := geodesy.ParseFrame(o.Frame); err != nil || f != o.CRS.Frame() {
			return fmt.Errorf("%v is in %v, to which nothing leads from another frame: if the receiver's corrections are in it, as those of a national service are, give --frame %q",
				o.CRS, o.CRS.Frame(), o.CRS.Frame().String())
		}
	}
	if f, err := geodesy.ParseFrame(o.Frame); err == nil && o.Frame != "" && f.Alone() && o.CRS != nil && o.CRS.Frame() != f {
		return fmt.Errorf("nothing leads from %v, the frame of the corrections, to %v: take a coordinate system on %v", f, o.CRS, f)
	}
	for i := range o.Edits {
		if err := o.Edits[i].check(); err != nil {
			return err
		}
	}
	return o.checkClock()
}

func (o *Options) checkClock() error {
	marks := o.Clock.Marks
	if len(marks) > 0 && o.Clock.Mode != clock.Auto {
		return fmt.Errorf("sync marks and a clock offset that is given contradict each other: give one of them")
	}
	for i, m := range marks {
		if d := m.Locator.Sub(m.UTC).Abs(); d > maxOffset {
			return fmt.Errorf("sync mark %s: the two times are %s apart, more than %s", FormatMark(m), d.Round(time.Second), maxOffset)
		}
		for _, other := range marks[:i] {
			if other.Locator.Equal(m.Locator) && !other.UTC.Equal(m.UTC) {
				return fmt.Errorf("sync marks %s and %s contradict each other", FormatMark(other), FormatMark(m))
			}
		}
	}
	return nil
}
