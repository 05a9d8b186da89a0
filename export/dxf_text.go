package export

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tracemap/present"
	"tracemap/result"

	"github.com/paulmach/orb"
)

// Heights of text on the ground, m: at 1 : 200 the names are 2.5 mm high, the
// figures 2 mm and the depths along the line 1.5 mm.
const (
	nameHeight   = 0.5
	figureHeight = 0.4
	depthHeight  = 0.3
	textGap      = 0.2 // from the line, and between rows
	letterWidth  = 0.9 // of a letter with its gap, in heights
)

// plusMinus is ± as CAD programs write it since before Unicode.
const plusMinus = "%%p"

// A lettering is where and how a text stands.
type lettering struct {
	at     pos     // middle of its foot
	turned float64 // degrees, counter-clockwise from east
	height float64 // m on the ground
}

// beside gives the place of a text off a straight between two positions, so far
// to the left of it as one reads (m; negative: to the right), upright.
func (d *dxf) beside(p, q, at pos, off, height float64) lettering {
	turned := math.Atan2(q.y-p.y, q.x-p.x)
	if turned > math.Pi/2 || turned <= -math.Pi/2 {
		turned -= math.Copysign(math.Pi, turned)
	}
	at.x -= math.Sin(turned) * off / d.unit
	at.y += math.Cos(turned) * off / d.unit
	return lettering{at, turned * 180 / math.Pi, height}
}

// labels writes a part's name and figures along its longest straight, the figures
// in one row where there is room for it.
func (d *dxf) labels(r *partRow, paths []path) {
	p, q, ok := longest(paths)
	if !ok {
		return
	}
	layer := dxfLayer(r.line.Utility, dxfText)
	middle := pos{(p.x + q.x) / 2, (p.y + q.y) / 2, p.z}
	rows := d.figures(r)
	if one := strings.Join(rows, ", "); float64(len(one))*figureHeight*letterWidth < math.Hypot(q.x-p.x, q.y-p.y)*d.unit {
		rows = []string{one}
	}
	off := textGap
	for _, text := range slices.Backward(rows) {
		d.text(layer, d.beside(p, q, middle, off, figureHeight), text)
		off += figureHeight + textGap
	}
	d.text(layer, d.beside(p, q, middle, off, nameHeight), present.LookOf(r.line.Utility).Letters+" "+r.lineName())
}

// longest gives the ends of the longest straight; a single position twice.
func longest(paths []path) (p, q pos, ok bool) {
	length := -1.0
	for _, path := range paths {
		for i := range path {
			if l := math.Hypot(path[i].x-path[max(i-1, 0)].x, path[i].y-path[max(i-1, 0)].y); l > length {
				length, p, q, ok = l, path[max(i-1, 0)], path[i], true
			}
		}
	}
	return p, q, ok
}

// length writes a length with its sign in the drawing's unit, for a bare figure in a
// drawing in feet is read as feet. US survey feet and international ones differ by
// two parts in a million: both are written ft.
func (d *dxf) length(v float64) string {
	sign := "m"
	if d.unit != 1 {
		sign = "ft"
	}
	return fmt.Sprintf("%.2f %s", v/d.unit, sign)
}

// span writes two lengths, likewise.
func (d *dxf) span(lo, hi float64) string {
	return fmt.Sprintf("%.2f-%s", lo/d.unit, d.length(hi))
}

// figures is a part's depth with its bound, its cover, its width, and the class
// suggested, in the drawing's unit.
func (d *dxf) figures(r *partRow) []string {
	depth := "depth not read"
	if present.Known(r.DepthMin) {
		depth = fmt.Sprintf("depth %s %s%s", d.span(r.DepthMin, r.DepthMax), plusMinus, d.length(r.Depth95Max))
	}
	rows := []string{depth}
	if present.Known(r.CoverMin) {
		rows = append(rows, "cover "+d.span(r.CoverMin, r.CoverMax))
	}
	rows = append(rows, "width "+plusMinus+d.length(r.HalfMax))
	if r.Class != "" {
		rows = append(rows, r.Class+" of "+r.m.Meta.Scheme+" suggested")
	}
	return rows
}

// depthsApart is how far apart along a line depths are written, m.
const depthsApart = 5

// depths writes the depth beside vertices, on the other side of the line than its
// name, those that are not too near to the one before.
func (d *dxf) depths(r *partRow) error {
	last := math.Inf(-1)
	vs := r.part.Vertices
	for i := range vs {
		v := &vs[i]
		if !present.Known(v.Depth) || v.Station-last < depthsApart {
			continue
		}
		last = v.Station
		from, err := d.to.at(vs[max(i-1, 0)].Ground)
		if err != nil {
			return err
		}
		to, err := d.to.at(vs[min(i+1, len(vs)-1)].Ground)
		if err != nil {
			return err
		}
		g := v.Ground
		g.H = result.Height(v)
		at, err := d.to.at(g)
		if err != nil {
			return err
		}
		d.text(dxfLayer(r.line.Utility, dxfDepth), d.beside(from, to, at, -textGap-depthHeight, depthHeight), d.length(v.Depth))
	}
	return nil
}

// reading writes a reading as a point, a feature with its name.
func (d *dxf) reading(r *readingRow) error {
	p, err := d.to.at(r.placed.Geo)
	if err != nil {
		return err
	}
	u := r.placed.Reading.Utility
	kind := dxfReading
	if !r.placed.Reading.OnLine() {
		kind = dxfPoint
	}
	d.pair(0, "POINT")
	d.pair(8, dxfLayer(u, kind))
	d.point(p)
	if f := r.placed.Reading.Feature; f != "" {
		if v := r.placed.Reading.MeasuredDepth; present.Known(v) {
			f += ", seen at " + d.length(v)
		}
		p.x += 0.3 / d.unit
		p.y += 0.3 / d.unit
		d.row(dxfLayer(u, dxfText), p, figureHeight, f)
	}
	return nil
}

// notes writes below the drawing what people must know of it and its coordinates,
// for comments in the file are not seen.
func (d *dxf) notes(box orb.Bound) {
	if box.IsEmpty() {
		return
	}
	at := pos{box.Left(), box.Bottom(), math.NaN()}
	below := func(layer, text string) {
		at.y -= 2 * nameHeight / d.unit
		d.row(layer, at, nameHeight, text)
	}
	at.y -= 3 * nameHeight / d.unit
	below("CAUTION", present.Caution)
	below("NOTE", d.coordinates())
	below("NOTE", "Depths are in the unit of the drawing, from the surface of that day to the centre, cover to the top; widths and bounds hold 95 % of the time.")
	below("NOTE", "Dashed in white or black: doubtful. Dashed in the utility's colour: height not known, drawn at 0.")
	for _, e := range about(d.m, d.to) {
		if e.name != "caution" {
			below("NOTE", e.label+": "+e.value)
		}
	}
}

// coordinates says what the three coordinates are.
func (d *dxf) coordinates() string {
	unit := d.to.crs.Unit().Name
	return "Coordinates: " + d.to.crs.String() + ", unit " + unit + "; heights are above the ellipsoid of " + d.to.frameName(d.m) + ", not the sea, in the same unit"
}

// text writes a text whose middle is given.
func (d *dxf) text(layer string, l lettering, text string) {
	d.pair(0, "TEXT")
	d.pair(8, layer)
	d.point(l.at)
	d.number(40, l.height/d.unit)
	d.pair(1, text)
	d.number(50, l.turned)
	d.pair(72, "1") // at its middle, which is the second point
	d.number(11, l.at.x)
	d.number(21, l.at.y)
	d.number(31, d.z(l.at))
}

// row writes a text from west to east that begins at a place.
func (d *dxf) row(layer string, at pos, height float64, text string) {
	d.pair(0, "TEXT")
	d.pair(8, layer)
	d.point(at)
	d.number(40, height/d.unit)
	d.pair(1, text)
}
