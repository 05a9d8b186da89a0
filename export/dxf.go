package export

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/internal/newfile"
	"tracemap/present"
	"tracemap/readings"
	"tracemap/result"
)

// ErrNotProjected says that a format needs a projected coordinate system.
var ErrNotProjected = errors.New("needs a projected coordinate system")

// writeDXF writes map.dxf in the R12 form (AC1009), which every CAD program
// reads: 3-D polylines where the height of the utility is known, flat ones where
// it is not, a layer for each utility and kind of content, colours by index. All
// three coordinates are in the unit of the projected system, which a DXF cannot
// name: map.prj beside it does.
func writeDXF(ctx context.Context, dir string, m *result.Map, opt Options) error {
	to, err := opt.target(m)
	if err != nil {
		return err
	}
	if to == nil || !to.crs.IsProjected() {
		return fmt.Errorf("a drawing in degrees is of no use, %w such as %s", ErrNotProjected, Zone(m))
	}
	err = newfile.Write(filepath.Join(dir, "map.dxf"), func(w *bufio.Writer) error {
		d := &dxf{w: w, m: m, to: to, unit: to.crs.Unit().Metres}
		return d.write(ctx)
	})
	if err != nil {
		return err
	}
	return newfile.Write(filepath.Join(dir, "map.prj"), func(w *bufio.Writer) error {
		_, err := w.WriteString(to.crs.WKTEsri())
		return err
	})
}

// Zone names the zone of Universal Transverse Mercator that a map lies in, as
// "EPSG:32626", to suggest where a projected system is asked for.
func Zone(m *result.Map) string {
	if m.Place != nil {
		if code, err := geodesy.UTMCode(m.Place.Origin(), geodesy.FrameWGS84); err == nil {
			return fmt.Sprintf("EPSG:%d", code)
		}
	}
	return "the national grid's"
}

// The kinds of content, each a layer a utility.
const (
	dxfLine     = "LINE"
	dxfFlat     = "LINE_NO_HEIGHT" // the height is not known: drawn at 0
	dxfCorridor = "CORRIDOR"
	dxfDoubtful = "DOUBTFUL"
	dxfReading  = "READING"
	dxfPoint    = "POINT"
	dxfText     = "TEXT"
	dxfDepth    = "DEPTH" // depths as text, place by place
)

// noColour is white on black and black on white: the colour of doubtful stretches,
// dashed over the line in its own colour, and of notes.
const noColour = 7

type dxf struct {
	w    *bufio.Writer
	m    *result.Map
	to   *target
	unit float64 // of the drawing, m
	err  error
}

func (d *dxf) write(ctx context.Context) error {
	for _, e := range about(d.m, d.to) {
		d.pair(999, e.label+": "+e.value)
	}
	d.pair(999, d.coordinates())
	parts, points := partRows(d.m, d.to), readingRows(d.m, d.to)
	box, err := d.extent(parts)
	if err != nil {
		return err
	}
	d.header(box)
	d.tables(box)
	d.pair(0, "SECTION")
	d.pair(2, "ENTITIES")
	for i := range parts {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := d.part(&parts[i]); err != nil {
			return err
		}
	}
	for i := range points {
		if points[i].onMap() {
			if err := d.reading(&points[i]); err != nil {
				return err
			}
		}
	}
	d.notes(box)
	d.pair(0, "ENDSEC")
	d.pair(0, "EOF")
	return d.err
}

// pair writes a group code and its value.
func (d *dxf) pair(code int, value string) {
	if d.err == nil {
		_, d.err = fmt.Fprintf(d.w, "%3d\r\n%s\r\n", code, dxfASCII(value))
	}
}

func (d *dxf) number(code int, v float64) {
	d.pair(code, string(present.AppendNumber(nil, present.Round(v, 4))))
}

// point writes a position, its height in the drawing's unit; 0 where not known.
func (d *dxf) point(p pos) {
	d.number(10, p.x)
	d.number(20, p.y)
	d.number(30, d.z(p))
}

func (d *dxf) z(p pos) float64 {
	if !present.Known(p.z) {
		return 0
	}
	return p.z
}

// dxfASCII writes characters beyond ASCII as \U+XXXX, as CAD programs read them,
// and keeps a value on one line.
func dxfASCII(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r < 0x20:
			b.WriteByte(' ')
		case r < 0x7F:
			b.WriteRune(r)
		case r <= 0xFFFF:
			fmt.Fprintf(&b, `\U+%04X`, r)
		default:
			b.WriteByte('?')
		}
	}
	return b.String()
}

// extent is the box around lines and corridors.
func (d *dxf) extent(parts []partRow) (orb.Bound, error) {
	box := nowhere
	for i := range parts {
		paths, err := linePaths(d.m, parts[i].part, d.to)
		if err != nil {
			return box, err
		}
		areas, err := corridorAreas(d.m, parts[i].part, d.to)
		if err != nil {
			return box, err
		}
		s := shape{paths: paths, areas: areas}
		box = box.Union(s.box())
	}
	return box, nil
}

func (d *dxf) header(box orb.Bound) {
	d.pair(0, "SECTION")
	d.pair(2, "HEADER")
	d.pair(9, "$ACADVER")
	d.pair(1, "AC1009")
	if !box.IsEmpty() {
		d.pair(9, "$EXTMIN")
		d.point(pos{box.Left(), box.Bottom(), 0})
		d.pair(9, "$EXTMAX")
		d.point(pos{box.Right(), box.Top(), 0})
	}
	d.pair(9, "$PDMODE") // points as crosses
	d.pair(70, "3")
	d.pair(9, "$PDSIZE")
	d.number(40, 0.15/d.unit)
	d.pair(0, "ENDSEC")
}

// tables declares line types and every layer, used or not: a drawing office may
// then rely on them.
func (d *dxf) tables(box orb.Bound) {
	d.pair(0, "SECTION")
	d.pair(2, "TABLES")
	d.window(box)
	d.table("LTYPE", 2)
	d.lineType("CONTINUOUS", "Solid line", nil)
	d.lineType("DASHED", "__ __ __", []float64{0.6, -0.3})
	d.pair(0, "ENDTAB")
	kinds := []string{dxfLine, dxfFlat, dxfCorridor, dxfDoubtful, dxfReading, dxfPoint, dxfText, dxfDepth}
	d.table("LAYER", len(present.Looks)*len(kinds)+3)
	d.layer("0", noColour, "CONTINUOUS")
	d.layer("CAUTION", 1, "CONTINUOUS")
	d.layer("NOTE", noColour, "CONTINUOUS")
	for _, look := range present.Looks {
		for _, kind := range kinds {
			colour, lineType := look.ACI, "CONTINUOUS"
			switch kind {
			case dxfDoubtful:
				colour, lineType = noColour, "DASHED"
			case dxfFlat:
				lineType = "DASHED"
			}
			d.layer(dxfLayer(look.Utility, kind), colour, lineType)
		}
	}
	d.pair(0, "ENDTAB")
	d.pair(0, "ENDSEC")
}

// window makes the drawing open on what is in it; without one a program shows the
// neighbourhood of the grid's origin, thousands of kilometres away.
func (d *dxf) window(box orb.Bound) {
	if box.IsEmpty() {
		return
	}
	const shape = 1.5 // width over height of a usual window
	high := 1.1 * max(box.Top()-box.Bottom(), (box.Right()-box.Left())/shape, 10/d.unit)
	d.table("VPORT", 1)
	d.pair(0, "VPORT")
	d.pair(2, "*ACTIVE")
	d.pair(70, "0")
	for _, v := range []struct {
		code  int
		value float64
	}{
		{10, 0}, {20, 0}, {11, 1}, {21, 1}, // corners on the screen
		{12, (box.Left() + box.Right()) / 2}, {22, (box.Bottom() + box.Top()) / 2},
		{13, 0}, {23, 0}, {14, 1}, {24, 1}, {15, 1}, {25, 1}, // snap and grid
		{16, 0}, {26, 0}, {36, 1}, {17, 0}, {27, 0}, {37, 0}, // seen from above
		{40, high}, {41, shape}, {42, 50}, {43, 0}, {44, 0}, {50, 0}, {51, 0},
	} {
		d.number(v.code, v.value)
	}
	for code, v := range []string{"0", "100", "1", "1", "0", "0", "0", "0"} {
		d.pair(71+code, v)
	}
	d.pair(0, "ENDTAB")
}

func (d *dxf) table(name string, entries int) {
	d.pair(0, "TABLE")
	d.pair(2, name)
	d.pair(70, fmt.Sprint(entries))
}

func (d *dxf) lineType(name, look string, dashes []float64) {
	d.pair(0, "LTYPE")
	d.pair(2, name)
	d.pair(70, "0")
	d.pair(3, look)
	d.pair(72, "65")
	d.pair(73, fmt.Sprint(len(dashes)))
	total := 0.0
	for _, l := range dashes {
		total += math.Abs(l)
	}
	d.number(40, total/d.unit)
	for _, l := range dashes {
		d.number(49, l/d.unit)
	}
}

func (d *dxf) layer(name string, colour int, lineType string) {
	d.pair(0, "LAYER")
	d.pair(2, name)
	d.pair(70, "0")
	d.pair(62, fmt.Sprint(colour))
	d.pair(6, lineType)
}

// dxfLayer names a layer in R12's alphabet, at most 31 characters.
func dxfLayer(u readings.Utility, kind string) string {
	return strings.ToUpper(string(present.LookOf(u).Utility)) + "_" + kind
}

// part writes a part's line, corridor, doubtful stretches and labels.
func (d *dxf) part(r *partRow) error {
	u := r.line.Utility
	paths, err := linePaths(d.m, r.part, d.to)
	if err != nil {
		return err
	}
	for _, p := range paths {
		if len(p) > 1 {
			d.line(u, p)
		}
	}
	areas, err := corridorAreas(d.m, r.part, d.to)
	if err != nil {
		return err
	}
	for _, a := range areas {
		for _, ring := range a {
			d.polyline(dxfLayer(u, dxfCorridor), pathOf(ring[:len(ring)-1]), 1)
		}
	}
	for _, run := range doubtfulRuns(r) {
		paths, err := linePaths(d.m, &fuse.Part{Vertices: run}, d.to)
		if err != nil {
			return err
		}
		for _, p := range paths {
			d.polyline(dxfLayer(u, dxfDoubtful), p, 128) // dashes run on past vertices
		}
	}
	d.labels(r, paths)
	return d.depths(r)
}

// doubtfulRuns gives the vertices of each stretch of a part that is doubtful
// without a break.
func doubtfulRuns(r *partRow) (runs [][]fuse.Vertex) {
	next := -1.0 // station at which a run would go on
	for s := range r.stretches {
		if s.run[0].Station == next {
			runs[len(runs)-1] = append(runs[len(runs)-1], s.run[1:]...)
		} else {
			runs = append(runs, slices.Clone(s.run))
		}
		next = s.run[len(s.run)-1].Station
	}
	return runs
}

func (d *dxf) line(u readings.Utility, p path) {
	if present.Known(p[0].z) {
		d.polyline(dxfLayer(u, dxfLine), p, 8)
		return
	}
	d.polyline(dxfLayer(u, dxfFlat), p, 0)
}

// polyline writes POLYLINE, VERTEX … SEQEND; flags 8: in space, 1: closed, 128:
// line type without regard to vertices.
func (d *dxf) polyline(layer string, ps []pos, flags int) {
	d.pair(0, "POLYLINE")
	d.pair(8, layer)
	d.pair(66, "1")
	d.point(pos{0, 0, math.NaN()})
	d.pair(70, fmt.Sprint(flags))
	for _, p := range ps {
		d.pair(0, "VERTEX")
		d.pair(8, layer)
		if flags&8 == 0 {
			p.z = math.NaN()
		}
		d.point(p)
		if flags&8 != 0 {
			d.pair(70, "32")
		}
	}
	d.pair(0, "SEQEND")
	d.pair(8, layer)
}
