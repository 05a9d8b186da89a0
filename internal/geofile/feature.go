package geofile

import (
	"fmt"
	"math"
	"strings"

	"tracemap/geodesy"
)

// A File is what was read of one file.
type File struct {
	Format string // "GeoJSON", "KML", "KMZ", "GeoPackage", "Shapefile", "DXF", "CSV"
	SHA256 string // of the file's bytes, in hexadecimal
	Layers []Layer
	Aside  []Aside // what could not be used, in the file's order
	Notes  []string

	budget *budget
}

// A Layer is a set of features in one coordinate system: a table of a
// GeoPackage, or the whole of a file that knows no layers.
type Layer struct {
	Name string
	// CRS is the coordinate system that the file names or that its format
	// prescribes; nil where it says none or one that is not built in.
	CRS *geodesy.CRS
	// CRSError says why CRS is nil although the file names a system; it is nil
	// where the file names none.
	CRSError error
	// Assumed says that CRS follows from the format's standard (GeoJSON, KML are
	// WGS 84) and is not written in the file.
	Assumed bool
	// CutNames is the length, bytes, at which the format cuts the names of
	// attributes: 10 for a Shapefile, 0 for no limit. A name of just that length
	// may have been longer.
	CutNames int
	Features []Feature
}

// A Feature is something with attributes: lines, or points, or neither.
type Feature struct {
	Where string // for messages: "feature 3", "line 12", "record 5"
	ID    string // the format's own identifier; "" for none
	Group string // layer of a DXF, folders of a KML; "" for none
	Attrs []Attr // in the file's order, without those that have no value
	Lines [][]Vertex
	// Points are points; Others counts what is neither, such as polygons.
	Points []Vertex
	Others int
}

// A Vertex is a place in the coordinates of the file.
type Vertex struct {
	X, Y float64 // east or longitude, north or latitude – if the file keeps to it
	Z    float64 // as the file has it; NaN for none
}

// An Attr is an attribute as text.
type Attr struct{ Name, Value string }

// Attr gives the value of the attribute of exactly that name.
func (f *Feature) Attr(name string) (string, bool) {
	for i := range f.Attrs {
		if f.Attrs[i].Name == name {
			return f.Attrs[i].Value, true
		}
	}
	return "", false
}

// An Aside is something that could not be used.
type Aside struct{ Where, Reason string }

func (a Aside) String() string { return a.Where + ": " + a.Reason }

// aside notes something that cannot be used.
func (f *File) aside(where, format string, args ...any) {
	a := Aside{where, fmt.Sprintf(format, args...)}
	if f.budget.keep(asideSize+len(a.Where)+len(a.Reason), where) == nil {
		f.Aside = append(f.Aside, a)
	}
}

// add appends an attribute unless it has no value.
func (f *Feature) add(name, value string) {
	if value = clean(value); name != "" && value != "" {
		f.Attrs = append(f.Attrs, Attr{clean(name), value})
	}
}

// clean takes blanks at the ends off a text, and out of it what is no text:
// control characters, which terminals obey, and broken UTF-8.
func clean(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n' || r == '\r':
			return ' '
		case r < ' ' || r >= 0x7f && r < 0xa0:
			return '\uFFFD'
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD")))
}

// addLine appends a line and says what is wrong with it, or "". Vertices that
// are not finite make it unusable as a whole: which way it would have run
// between the others is not known.
func (f *Feature) addLine(line []Vertex) string {
	if len(line) == 0 {
		return "a line without points"
	}
	for _, v := range line {
		if !finite(v.X) || !finite(v.Y) {
			return fmt.Sprintf("a point of the line is %v, %v", v.X, v.Y)
		}
	}
	f.Lines = append(f.Lines, line)
	return ""
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// noZ gives the ordinate, and NaN for one that is not finite.
func noZ(z float64) float64 {
	if !finite(z) {
		return math.NaN()
	}
	return z
}

// keep appends a feature that has anything on the map to a layer of the file.
func (f *File) keep(l *Layer, one Feature) {
	one.ID, one.Group = clean(one.ID), clean(one.Group)
	if f.budget.keep(one.size(), one.Where) == nil && len(one.Lines)+len(one.Points)+one.Others > 0 {
		l.Features = append(l.Features, one)
	}
}
