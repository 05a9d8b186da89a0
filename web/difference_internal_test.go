package web

import (
	"math"
	"slices"
	"testing"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
)

var differencePlace = geodesy.NewLocal(geodesy.Geo{Lat: 47.5, Lon: -17.75})

// lineAt makes a line of one part through points of a plane, with one half-width
// and depth everywhere.
func lineAt(id string, half, depth float64, pts ...plane.Pt) viewLine {
	part := viewPart{Number: 1, Name: id}
	s := 0.0
	for i, p := range pts {
		if i > 0 {
			s += p.Dist(pts[i-1])
		}
		g := differencePlace.Inverse(p)
		part.Vertices = append(part.Vertices, viewVertex{At: [2]num{degrees(g.Lat), degrees(g.Lon)}, Station: num(s), Half: num(half), Depth: num(depth)})
	}
	part.Length = num(s)
	return viewLine{ID: id, Utility: "water", Parts: []viewPart{part}}
}

// viewWith makes a view whose lines have ten readings each; file tells them apart,
// so that a line of another name may have the same ones.
func viewWith(lines map[string]viewLine) *view {
	v := &view{}
	o := differencePlace.Origin()
	v.Origin = [2]num{degrees(o.Lat), degrees(o.Lon)}
	var files []string
	for file := range lines {
		files = append(files, file)
	}
	slices.Sort(files)
	for _, file := range files {
		l := lines[file]
		if !slices.ContainsFunc(v.Lines, func(x viewLine) bool { return x.ID == l.ID }) {
			v.Lines = append(v.Lines, l)
		}
		for row := range 10 {
			v.Readings = append(v.Readings, viewReading{File: file, Row: row + 2, Line: l.ID, Given: l.ID, Used: true, Utility: l.Utility})
		}
	}
	return v
}

// What moved is measured beside the old line, by constructions whose answer is
// known: a parallel a metre off, a bend pushed out, a line that is only shorter, one
// that took another's readings, one that is new and one that is gone.
func TestDifferenceOfConstructedLines(t *testing.T) {
	a := plane.Pt{E: 0, N: 0}
	b := plane.Pt{E: 40, N: 0}
	n := func(p plane.Pt, e, n float64) plane.Pt { return plane.Pt{E: p.E + e, N: p.N + n} }
	for _, c := range []struct {
		name        string
		old, is     map[string]viewLine
		line        string
		was         []string
		shift       float64
		half, depth float64
	}{
		{"parallel", map[string]viewLine{"f": lineAt("W", 0.1, 1, a, b)}, map[string]viewLine{"f": lineAt("W", 0.3, 0.8, n(a, 0, 1), n(b, 0, 1))}, "W", []string{"W"}, 1, 0.2, -0.2},
		{"bend", map[string]viewLine{"f": lineAt("W", 0.1, 1, a, b)}, map[string]viewLine{"f": lineAt("W", 0.1, 1, a, plane.Pt{E: 20, N: 2}, b)}, "W", []string{"W"}, 2, 0, 0},
		{"bend the other way round", map[string]viewLine{"f": lineAt("W", 0.1, 1, a, plane.Pt{E: 20, N: 2}, b)}, map[string]viewLine{"f": lineAt("W", 0.1, 1, a, b)}, "W", []string{"W"}, 2, 0, 0},
		{"shorter", map[string]viewLine{"f": lineAt("W", 0.1, 1, a, b)}, map[string]viewLine{"f": lineAt("W", 0.1, 1, a, plane.Pt{E: 25})}, "W", []string{"W"}, 0, 0, 0},
		{"renamed", map[string]viewLine{"f": lineAt("W", 0.1, 1, a, b)}, map[string]viewLine{"f": lineAt("X", 0.1, 1, a, b)}, "X", []string{"W"}, 0, 0, 0},
		{"joined", map[string]viewLine{"f": lineAt("W", 0.1, 1, a, plane.Pt{E: 20}), "g": lineAt("V", 0.1, 1, plane.Pt{E: 21}, b)}, map[string]viewLine{"f": lineAt("W", 0.1, 1, a, b), "g": lineAt("W", 0.1, 1, a, b)}, "W", []string{"V", "W"}, 0, 0, 0},
	} {
		d := differ(viewWith(c.old), viewWith(c.is))
		i := slices.IndexFunc(d.Lines, func(l lineDiff) bool { return l.Line == c.line })
		if i < 0 {
			t.Errorf("%s: no line %s in %+v", c.name, c.line, d.Lines)
			continue
		}
		l := d.Lines[i]
		// 0.01 m: places along the bent lines are looked at every half metre, and the
		// bend's tip lies between.
		if was := slices.Sorted(slices.Values(l.Was)); !slices.Equal(was, c.was) || math.Abs(float64(l.Shift)-c.shift) > 0.01*max(1, c.shift) || math.Abs(float64(l.HalfChange)-c.half) > 0.001 || math.Abs(float64(l.Depth)-c.depth) > 0.001 {
			t.Errorf("%s: %+v; want shift %v, width %v, depth %v, was %v", c.name, l, c.shift, c.half, c.depth, c.was)
		}
	}
	d := differ(viewWith(map[string]viewLine{"f": lineAt("W", 0.1, 1, a, b)}), viewWith(map[string]viewLine{"g": lineAt("V", 0.1, 1, n(a, 0, 100), n(b, 0, 100))}))
	if len(d.Lines) != 2 || d.Lines[0].Line != "V" || len(d.Lines[0].Was) != 0 || !math.IsNaN(float64(d.Lines[0].Shift)) || d.Lines[1].Line != "" || d.Lines[1].Was[0] != "W" {
		t.Errorf("one new, one gone: %+v", d.Lines)
	}
}
