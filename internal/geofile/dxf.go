package geofile

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// isDXF reports whether a text begins like a DXF: a group code of 0 or 999
// alone in the first line.
func isDXF(head string) bool {
	first, rest, ok := strings.Cut(head, "\n")
	first = strings.TrimSpace(first)
	if !ok || first != "0" && first != "999" {
		return false
	}
	second, _, _ := strings.Cut(rest, "\n")
	return first == "999" || strings.TrimSpace(second) == "SECTION"
}

// dxfUnits are the values of $INSUNITS that a map may have.
var dxfUnits = map[string]string{"1": "inches", "2": "feet", "4": "millimetres", "5": "centimetres", "6": "metres", "21": "US survey feet"}

// readDXF reads the lines of an ASCII drawing: LINE, LWPOLYLINE, POLYLINE, ARC,
// SPLINE. The layer is the feature's group. Arcs become chords that leave them
// by at most a hundredth of the drawing's unit. A DXF names no coordinate system.
func readDXF(s *source) (*File, error) {
	f := &File{Format: "DXF", budget: s.budget, Layers: []Layer{{Name: stem(s.name)}}}
	r := &dxf{groups: splitGroups(decodeText(s.data)), file: f}
	for e, ok := r.entity(); ok; e, ok = r.entity() {
		if err := f.budget.keep(0, fmt.Sprintf("line %d", e.line)); err != nil {
			return nil, err
		}
		switch {
		case e.kind == "SECTION":
			r.section = e.text(2)
			if r.section == "HEADER" {
				r.header(e)
			}
		case e.kind == "ENDSEC":
			r.section = ""
		case r.section == "ENTITIES":
			r.take(e)
		}
	}
	if r.blocks > 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("%d block references (INSERT) are not read: explode them if they hold lines", r.blocks))
	}
	if r.broken {
		f.aside("the end of the drawing", "group codes and values do not pair up, or an entity has no end: the rest is not read")
	}
	return f, f.budget.error()
}

// A group is a pair of lines: code and value.
type group struct {
	code  int
	value string
}

// dxf walks the groups of a drawing.
type dxf struct {
	groups  func() (group, bool)
	next    *group
	line    int
	file    *File
	section string
	blocks  int
	broken  bool
}

// splitGroups gives the groups one by one; a code that is no number ends them.
func splitGroups(text string) func() (group, bool) {
	line := func() (string, bool) {
		if text == "" {
			return "", false
		}
		var l string
		l, text, _ = strings.Cut(text, "\n")
		return strings.TrimSuffix(l, "\r"), true
	}
	return func() (group, bool) {
		code, ok := line()
		value, ok2 := line()
		if !ok || !ok2 {
			return group{}, false
		}
		n, err := strconv.Atoi(strings.TrimSpace(code))
		if err != nil {
			return group{code: -1, value: code}, true
		}
		return group{n, strings.TrimSpace(value)}, true
	}
}

// mostGroups bounds the groups of one entity: a polyline of a million vertices has
// three million.
const mostGroups = 4 << 20

// An entity is what stands between two groups of code 0.
type dxfEntity struct {
	kind   string
	line   int // of its first group
	groups []group
}

func (e *dxfEntity) text(code int) string {
	for _, g := range e.groups {
		if g.code == code {
			return g.value
		}
	}
	return ""
}

// number gives the first value of a code, and other where there is none.
func (e *dxfEntity) number(code int, other float64) float64 {
	if v, err := strconv.ParseFloat(e.text(code), 64); err == nil {
		return v
	}
	return other
}

func (e *dxfEntity) flags() int { return int(clamp(e.number(70, 0))) }

// clamp keeps what a hostile drawing claims within what an int holds.
func clamp(v float64) float64 {
	if !(v > -1e9 && v < 1e9) {
		return 0
	}
	return v
}

func (r *dxf) entity() (*dxfEntity, bool) {
	var e *dxfEntity
	if r.next != nil {
		e = &dxfEntity{kind: r.next.value, line: r.line}
		r.next = nil
	}
	for !r.broken {
		g, ok := r.groups()
		if !ok {
			break
		}
		r.line += 2
		switch {
		case g.code < 0:
			r.broken = true
		case g.code == 0 && e != nil:
			r.next = &g
			return e, true
		case g.code == 0:
			e = &dxfEntity{kind: g.value, line: r.line}
		case e != nil && len(e.groups) >= mostGroups:
			r.broken = true
		case e != nil:
			e.groups = append(e.groups, g)
		}
	}
	return e, e != nil
}

// header tells the drawing's unit.
func (r *dxf) header(e *dxfEntity) {
	for i, g := range e.groups {
		if g.code == 9 && g.value == "$INSUNITS" && i+1 < len(e.groups) {
			if unit := dxfUnits[e.groups[i+1].value]; unit != "" && unit != "metres" {
				r.file.Notes = append(r.file.Notes, fmt.Sprintf("the drawing calls its unit %s; its coordinates are read in the unit of the coordinate system", unit))
			}
		}
	}
}

func (r *dxf) take(e *dxfEntity) {
	f := Feature{Where: fmt.Sprintf("line %d", max(1, e.line-1)), ID: e.text(5), Group: e.text(8)}
	if f.Group == "" {
		f.Group = "0"
	}
	var line []Vertex
	switch e.kind {
	case "LINE":
		line = []Vertex{e.at(10), e.at(11)}
	case "LWPOLYLINE":
		line = e.lwPolyline()
	case "POLYLINE":
		line = r.polyline(e)
	case "ARC":
		line = e.arc()
	case "SPLINE":
		line = e.spline()
	case "POINT":
		f.Points = []Vertex{e.at(10)}
	case "INSERT":
		r.blocks++
		return
	default:
		return
	}
	if f.Points == nil {
		if reason := f.addLine(line); reason != "" {
			r.file.aside(f.Where, "%s: %s", e.kind, reason)
		}
	} else if v := f.Points[0]; !finite(v.X) || !finite(v.Y) {
		r.file.aside(f.Where, "POINT: the point is %v, %v", v.X, v.Y)
		return
	}
	r.file.keep(&r.file.Layers[0], f)
}

// at reads a point whose x has the given code; z is 0 where it is not given, as
// the format has it.
func (e *dxfEntity) at(code int) Vertex {
	return Vertex{e.number(code, math.NaN()), e.number(code+10, math.NaN()), noZ(e.number(code+20, 0))}
}

// mirrored turns a point of an object's own plane into the drawing's. Of all
// planes (groups 210 to 230) only the one seen from below is met in plans.
func (e *dxfEntity) mirrored(line []Vertex) []Vertex {
	if e.number(230, 1) < 0 {
		for i := range line {
			line[i].X = -line[i].X
		}
	}
	return line
}

// lwPolyline reads the vertices of a two-dimensional polyline: groups 10, 20 and
// the bulge 42 repeat.
func (e *dxfEntity) lwPolyline() []Vertex {
	z := noZ(e.number(38, 0))
	var corners []Vertex
	var bulges []float64
	for _, g := range e.groups {
		v, err := strconv.ParseFloat(g.value, 64)
		if err != nil {
			v = math.NaN()
		}
		switch last := len(corners) - 1; {
		case g.code == 10:
			corners, bulges = append(corners, Vertex{v, math.NaN(), z}), append(bulges, 0)
		case g.code == 20 && last >= 0:
			corners[last].Y = v
		case g.code == 42 && last >= 0:
			bulges[last] = v
		}
	}
	return e.mirrored(bulged(corners, bulges, e.flags()&1 == 1))
}

// polyline reads the vertices that follow a POLYLINE. Meshes are left out, and
// of splines and fitted curves the frame.
func (r *dxf) polyline(e *dxfEntity) []Vertex {
	flags := e.flags()
	var corners []Vertex
	var bulges []float64
	for r.next != nil && r.next.value == "VERTEX" {
		v, _ := r.entity()
		const frame = 16
		if v.flags()&frame == 0 {
			corners, bulges = append(corners, v.at(10)), append(bulges, v.number(42, 0))
		}
	}
	const mesh = 16 | 64
	if flags&mesh != 0 {
		return nil
	}
	const threeD = 8
	line := bulged(corners, bulges, flags&1 == 1)
	if flags&threeD == 0 {
		return e.mirrored(line)
	}
	return line
}
