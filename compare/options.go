package compare

import (
	"fmt"
	"math"

	"tracemap/geodesy"
)

// A Point of a pipe's section that depths are measured to.
type Point uint8

const (
	Unsaid Point = iota // the record does not say
	Top                 // crown, upper generatrix: cover
	Centre              // axis, electrical centre
	Invert              // bottom inside
)

// pointWords are what people call the points of a section.
var pointWords = [...][]string{
	Unsaid: {"auto"},
	Top:    {"top", "crown", "cover", "obvert", "soffit"},
	Centre: {"centre", "center", "axis", "middle"},
	Invert: {"invert", "bottom"},
}

func (p Point) String() string { return pointWords[p][0] }

// ParsePoint reads top, centre, invert or another word of the trade for them;
// auto leaves it to what the record says.
func ParsePoint(text string) (Point, error) {
	for p, words := range pointWords {
		for _, w := range words {
			if fold(text) == w {
				return Point(p), nil
			}
		}
	}
	return Unsaid, fmt.Errorf("no point of a pipe is called %q: there are top, centre, invert and auto", text)
}

// Axes is the order of a record's two coordinates.
type Axes uint8

const (
	AxesAuto Axes = iota // as formats have it, unless that leads nowhere and the other order does not
	AxesXY               // east or longitude first
	AxesYX               // north or latitude first
)

// ParseAxes reads auto, xy or yx.
func ParseAxes(text string) (Axes, error) {
	for a, word := range []string{"auto", "xy", "yx"} {
		if fold(text) == word {
			return Axes(a), nil
		}
	}
	return AxesAuto, fmt.Errorf("no axes %q: there are auto, xy (east first) and yx (north first)", text)
}

// Options of Run. Start from DefaultOptions; lengths are metres.
type Options struct {
	Tolerance      float64      // beyond the uncertainty, what difference still agrees
	DepthTolerance float64      // the same for depth; NaN for Tolerance
	Search         float64      // how far from a record to look for its partner
	Every          float64      // between stations
	Accuracy       float64      // 95 % lateral accuracy of the record where it states none
	DepthAccuracy  float64      // 95 % accuracy of the record's depths where it states none
	CRS            *geodesy.CRS // of the record; nil where its file tells
	IDField        string
	UtilityField   string
	DepthField     string // with =UNIT where the name has none
	DiameterField  string // likewise
	DepthTo        Point
	Axes           Axes
	Imperial       bool // for people; files keep metres
	Tool           string
}

// DefaultOptions are those of the command without flags. A record's depths are
// taken to hold within 0.2 m where it does not say: common practice, no source.
func DefaultOptions() Options {
	return Options{
		Tolerance: 0.5, DepthTolerance: math.NaN(), Search: 3, Every: 1, Accuracy: 0.3, DepthAccuracy: 0.2,
	}
}

// SetCRS takes the record's coordinate system from a text such as EPSG:25832, and
// the correction grid that leads to its datum; nil for none.
func (o *Options) SetCRS(text string, grid *geodesy.ShiftGrid) (err error) {
	o.CRS, err = geodesy.ParseCRSOn(text, grid)
	return err
}

// Check refuses options that make no sense, in the words of the flags.
func (o *Options) Check() error {
	for _, c := range []struct {
		flag      string
		v, lo, hi float64
	}{
		{"--tolerance", o.Tolerance, 0, 1000}, {"--search", o.Search, 0.01, 1000}, {"--every", o.Every, 0.01, 1000},
		{"--as-built-accuracy", o.Accuracy, 0, 1000}, {"--as-built-depth-accuracy", o.DepthAccuracy, 0, 1000},
		{"--depth-tolerance", o.depthTolerance(), 0, 1000},
	} {
		if !(c.v >= c.lo && c.v <= c.hi) {
			return fmt.Errorf("%s is %v: it must be between %v and %v metres", c.flag, c.v, c.lo, c.hi)
		}
	}
	return nil
}

func (o *Options) depthTolerance() float64 {
	if math.IsNaN(o.DepthTolerance) {
		return o.Tolerance
	}
	return o.DepthTolerance
}

// A Refusal says that two files cannot be compared, why, and what to do. Usage
// tells that something must be given on the command line.
type Refusal struct {
	Text, ToDo string
	Usage      bool
}

func (r *Refusal) Error() string { return r.Text }

// Hint is what to do about it.
func (r *Refusal) Hint() string { return r.ToDo }
