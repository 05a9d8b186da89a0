// Package svg writes drawings: elements with their text escaped and their
// numbers short, axes with round ticks, and lines that break where a value is
// missing. It knows nothing of what is drawn. Units are those of the viewBox.
package svg

import (
	"html"
	"math"
	"strconv"
	"strings"
)

// A Canvas collects a drawing.
type Canvas struct {
	b             strings.Builder
	width, height float64
	label         string
}

// New begins a drawing. The label is what a screen reader says of it.
func New(width, height float64, label string) *Canvas {
	return &Canvas{width: width, height: height, label: label}
}

// Add appends an element with attributes given as name, value, name, value …;
// values are texts or float64. Elements with a number that is not finite are
// left out: a browser would draw them at 0, 0.
func (c *Canvas) Add(element string, attrs ...any) {
	c.element(element, "/>", attrs)
}

// Open begins a group-like element; Close ends it.
func (c *Canvas) Open(element string, attrs ...any) { c.element(element, ">", attrs) }

// Close ends an element that Open began.
func (c *Canvas) Close(element string) { c.b.WriteString("</" + element + ">\n") }

func (c *Canvas) element(element, end string, attrs []any) {
	var b strings.Builder
	b.WriteString("<" + element)
	for i := 0; i+1 < len(attrs); i += 2 {
		name, _ := attrs[i].(string)
		var value string
		switch v := attrs[i+1].(type) {
		case float64:
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return
			}
			value = Number(v)
		case string:
			value = escape(v)
		}
		b.WriteString(" " + name + `="` + value + `"`)
	}
	c.b.WriteString(b.String() + end)
	if end == "/>" {
		c.b.WriteByte('\n')
	}
}

// Text writes a text; anchor is "start", "middle" or "end".
func (c *Canvas) Text(x, y float64, anchor, class, text string) {
	c.Turned(x, y, 0, anchor, class, text)
}

// Turned writes a text turned clockwise about its place, in degrees.
func (c *Canvas) Turned(x, y, degrees float64, anchor, class, text string) {
	if !finite(x) || !finite(y) || text == "" {
		return
	}
	attrs := []any{"x", x, "y", y, "text-anchor", anchor, "class", class}
	if degrees != 0 {
		attrs = append(attrs, "transform", "rotate("+Number(degrees)+" "+Number(x)+" "+Number(y)+")")
	}
	c.element("text", ">", attrs)
	c.b.WriteString(escape(text) + "</text>\n")
}

// Line draws a straight.
func (c *Canvas) Line(x1, y1, x2, y2 float64, class string) {
	c.Add("line", "x1", x1, "y1", y1, "x2", x2, "y2", y2, "class", class)
}

// Title gives the element just opened a text that shows when pointed at.
func (c *Canvas) Title(text string) {
	c.b.WriteString("<title>" + escape(text) + "</title>")
}

// String gives the whole svg element, to be put inline into a page. It scales
// with the page's width.
func (c *Canvas) String() string {
	return `<svg viewBox="0 0 ` + Number(c.width) + " " + Number(c.height) + `" role="img" aria-label="` +
		escape(c.label) + `" xmlns="http://www.w3.org/2000/svg">` + "\n" + c.b.String() + "</svg>"
}

// Number writes a coordinate with at most two decimals.
func Number(v float64) string {
	v = math.Round(v*100) / 100
	if v == 0 {
		return "0"
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// escape makes a text fit for XML: markup as entities, characters that XML 1.0
// cannot hold and broken UTF-8 as U+FFFD.
func escape(s string) string {
	return html.EscapeString(strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n' || r == '\r':
			return ' '
		case r < 0x20 || r >= 0xD800 && r < 0xE000 || r == 0xFFFE || r == 0xFFFF:
			return '\uFFFD'
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD")))
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// A Point is a place on a drawing.
type Point struct{ X, Y float64 }

// Path gives the d attribute of a line through points, broken at those that are
// not finite.
func Path(points []Point) string {
	var b strings.Builder
	pen := "M"
	for _, p := range points {
		if !finite(p.X) || !finite(p.Y) {
			pen = "M"
			continue
		}
		b.WriteString(pen + Number(p.X) + " " + Number(p.Y))
		pen = "L"
	}
	return b.String()
}

// Band gives the d attribute of the area between two lines that share their
// abscissae, in pieces where a value is missing.
func Band(upper, lower []Point) string {
	var b strings.Builder
	for from := 0; from < len(upper); {
		to := from
		for to < len(upper) && finite(upper[to].X) && finite(upper[to].Y) && finite(lower[to].Y) {
			to++
		}
		if to-from > 1 {
			ring := append([]Point{}, upper[from:to]...)
			for i := to - 1; i >= from; i-- {
				ring = append(ring, lower[i])
			}
			b.WriteString(Path(ring) + "Z")
		}
		from = max(to, from+1)
	}
	return b.String()
}

// Ring gives the d attribute of closed rings, for fill-rule evenodd.
func Ring(rings [][]Point) string {
	var b strings.Builder
	for _, r := range rings {
		if d := Path(r); d != "" {
			b.WriteString(d + "Z")
		}
	}
	return b.String()
}
