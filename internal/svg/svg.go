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
	b             []byte
	width, height float64
	label         string
}

// New begins a drawing. The label is what a screen reader says of it.
func New(width, height float64, label string) *Canvas {
	return &Canvas{width: width, height: height, label: label}
}

// Reset begins another drawing in the room that this one took.
func (c *Canvas) Reset(width, height float64, label string) {
	c.b, c.width, c.height, c.label = c.b[:0], width, height, label
}

// SetHeight sets the height of a drawing that grew while it was made.
func (c *Canvas) SetHeight(height float64) { c.height = height }

// Add appends an element with attributes given as name, value, name, value …;
// values are texts, float64, or []Point for the line that Path gives. Elements
// with a number that is not finite are left out: a browser would draw them at 0, 0.
func (c *Canvas) Add(element string, attrs ...any) {
	c.element(element, "/>", attrs)
}

// Open begins a group-like element; Close ends it.
func (c *Canvas) Open(element string, attrs ...any) { c.element(element, ">", attrs) }

// Close ends an element that Open began.
func (c *Canvas) Close(element string) { c.add("</", element, ">\n") }

func (c *Canvas) add(texts ...string) {
	for _, t := range texts {
		c.b = append(c.b, t...)
	}
}

func (c *Canvas) element(element, end string, attrs []any) {
	before := len(c.b)
	c.add("<", element)
	for i := 0; i+1 < len(attrs); i += 2 {
		name, _ := attrs[i].(string)
		c.add(" ", name, `="`)
		switch v := attrs[i+1].(type) {
		case float64:
			if !finite(v) {
				c.b = c.b[:before]
				return
			}
			c.b = appendNumber(c.b, v)
		case string:
			c.b = appendEscaped(c.b, v)
		case []Point:
			c.b = appendPath(c.b, v)
		}
		c.add(`"`)
	}
	c.add(end)
	if end == "/>" {
		c.add("\n")
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
	c.b = appendEscaped(c.b, text)
	c.add("</text>\n")
}

// Line draws a straight.
func (c *Canvas) Line(x1, y1, x2, y2 float64, class string) {
	c.Add("line", "x1", x1, "y1", y1, "x2", x2, "y2", y2, "class", class)
}

// Title gives the element just opened a text that shows when pointed at.
func (c *Canvas) Title(text string) {
	c.add("<title>")
	c.b = appendEscaped(c.b, text)
	c.add("</title>")
}

// String gives the whole svg element, to be put inline into a page. It scales
// with the page's width.
func (c *Canvas) String() string {
	return `<svg viewBox="0 0 ` + Number(c.width) + " " + Number(c.height) + `" role="img" aria-label="` +
		escape(c.label) + `" xmlns="http://www.w3.org/2000/svg">` + "\n" + string(c.b) + "</svg>"
}

// Number writes a coordinate with at most two decimals.
func Number(v float64) string { return string(appendNumber(nil, v)) }

// appendNumber works in whole hundredths as long as they are exact, which gives the
// shortest text without looking for it.
func appendNumber(b []byte, v float64) []byte {
	hundredths := math.Round(v * 100)
	if !(math.Abs(hundredths) < 1e15) {
		return strconv.AppendFloat(b, hundredths/100, 'f', -1, 64)
	}
	n := int64(hundredths)
	if n < 0 {
		b, n = append(b, '-'), -n
	}
	b = strconv.AppendInt(b, n/100, 10)
	tenth, last := byte(n/10%10), byte(n%10)
	switch {
	case last != 0:
		b = append(b, '.', '0'+tenth, '0'+last)
	case tenth != 0:
		b = append(b, '.', '0'+tenth)
	}
	return b
}

// appendEscaped appends what escape gives; most texts need no change.
func appendEscaped(b []byte, s string) []byte {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c > '~' || c == '&' || c == '<' || c == '>' || c == '"' || c == '\'' {
			return append(b, escape(s)...)
		}
	}
	return append(b, s...)
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
func Path(points []Point) string { return string(appendPath(nil, points)) }

func appendPath(b []byte, points []Point) []byte {
	pen := byte('M')
	for _, p := range points {
		if !finite(p.X) || !finite(p.Y) {
			pen = 'M'
			continue
		}
		b = appendVertex(b, pen, p)
		pen = 'L'
	}
	return b
}

func appendVertex(b []byte, pen byte, p Point) []byte {
	b = appendNumber(append(b, pen), p.X)
	return appendNumber(append(b, ' '), p.Y)
}

// Band gives the d attribute of the area between two lines that share their
// abscissae, in pieces where a value is missing.
func Band(upper, lower []Point) string {
	var b []byte
	for from := 0; from < len(upper); {
		to := from
		for to < len(upper) && finite(upper[to].X) && finite(upper[to].Y) && finite(lower[to].Y) {
			to++
		}
		if to-from > 1 {
			b = appendPath(b, upper[from:to])
			for i := to - 1; i >= from; i-- {
				b = appendVertex(b, 'L', lower[i])
			}
			b = append(b, 'Z')
		}
		from = max(to, from+1)
	}
	return string(b)
}

// Ring gives the d attribute of closed rings, for fill-rule evenodd.
func Ring(rings [][]Point) string {
	var b []byte
	for _, r := range rings {
		before := len(b)
		if b = appendPath(b, r); len(b) > before {
			b = append(b, 'Z')
		}
	}
	return string(b)
}
