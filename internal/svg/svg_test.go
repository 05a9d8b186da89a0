package svg_test

import (
	"encoding/xml"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tracemap/internal/svg"
)

// Whatever is drawn, the drawing is well-formed XML, holds texts whole and no
// number that is none.
func TestCanvasIsWellFormed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := svg.New(100, 50, rapid.String().Draw(t, "label"))
		text := rapid.String().Draw(t, "text")
		c.Open("g", "class", "a")
		c.Title("t<&>")
		c.Text(rapid.Float64().Draw(t, "x"), 1, "start", "n", text)
		c.Line(0, 1, rapid.Float64().Draw(t, "x2"), math.NaN(), "l")
		c.Close("g")
		c.Add("circle", "cx", math.Inf(1), "cy", 1.0, "r", 2.0)
		c.Text(3, 4, "end", "last", text)
		out := c.String()
		d := xml.NewDecoder(strings.NewReader(out))
		d.Strict = true
		last := ""
		for {
			token, err := d.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%v in %s", err, out)
			}
			if chars, ok := token.(xml.CharData); ok && strings.TrimSpace(string(chars)) != "" {
				last = string(chars)
			}
		}
		if strings.Contains(out, "NaN") && !strings.Contains(text, "NaN") || strings.Contains(out, "<circle") {
			t.Fatalf("a number that is none was drawn: %s", out)
		}
		want := strings.Map(func(r rune) rune {
			switch {
			case strings.ContainsRune("\t\n\r", r):
				return ' '
			case r < 0x20 || r == 0xFFFE || r == 0xFFFF:
				return '\uFFFD'
			}
			return r
		}, text)
		if strings.TrimSpace(want) != "" && last != want {
			t.Fatalf("text %q came back as %q", want, last)
		}
	})
}

// Numbers are the shortest texts of what is rounded to hundredths, whatever the size.
func TestNumberIsShortest(t *testing.T) {
	for _, v := range []float64{0, math.Copysign(0, -1), 0.004, -0.004, 0.005, -0.05, 9.995, 760, -13, 2.5, 1e13, 123456789012345.678, -1e15, 1e300, math.MaxFloat64, 5e-324} {
		sameNumber(t, v)
	}
	rapid.Check(t, func(t *rapid.T) {
		sameNumber(t, rapid.Float64().Draw(t, "any"))
		sameNumber(t, rapid.Float64Range(-2000, 2000).Draw(t, "on a drawing"))
	})
}

func sameNumber(t rapid.TB, v float64) {
	t.Helper()
	rounded := math.Round(v*100) / 100
	want := strconv.FormatFloat(rounded, 'f', -1, 64)
	if rounded == 0 {
		want = "0"
	}
	if got := svg.Number(v); got != want {
		t.Fatalf("%v is written %s, want %s", v, got, want)
	}
}

// A canvas used again holds the new drawing alone, as high as it was told at last.
func TestReset(t *testing.T) {
	draw := func(c *svg.Canvas) string {
		c.Line(0, 1, 2, 3, "l")
		c.SetHeight(40)
		return c.String()
	}
	used := svg.New(10, 20, "first")
	used.Text(1, 2, "start", "n", "text of the first")
	first := used.String()
	used.Reset(30, 0, "second")
	if got, want := draw(used), draw(svg.New(30, 40, "second")); got != want || !strings.Contains(got, `viewBox="0 0 30 40"`) {
		t.Errorf("%s, want %s", got, want)
	}
	if !strings.Contains(first, "text of the first") {
		t.Errorf("the first drawing became %s", first)
	}
}

// Lines and bands break where a value is missing.
func TestPathAndBandBreak(t *testing.T) {
	nan := math.NaN()
	up := []svg.Point{{X: 0, Y: 1}, {X: 1, Y: 2}, {X: 2, Y: nan}, {X: 3, Y: 1}, {X: 4, Y: 1}}
	down := []svg.Point{{X: 0, Y: 0}, {X: 1, Y: 0}, {X: 2, Y: 0}, {X: 3, Y: 0}, {X: 4, Y: 0}}
	if got, want := svg.Path(up), "M0 1L1 2M3 1L4 1"; got != want {
		t.Errorf("path %s, want %s", got, want)
	}
	if got, want := svg.Band(up, down), "M0 1L1 2L1 0L0 0ZM3 1L4 1L4 0L3 0Z"; got != want {
		t.Errorf("band %s, want %s", got, want)
	}
}

// Ticks are multiples of 1, 2, 5 × 10^k inside the axis, and never many.
func TestTicks(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		n         int
		want      []string
	}{
		{0, 75, 8, []string{"0", "10", "20", "30", "40", "50", "60", "70"}},
		{-0.3, 0.3, 4, []string{"−0.2", "0.0", "0.2"}},
		{0, 1.9, 4, []string{"0.0", "0.5", "1.0", "1.5"}},
	} {
		ticks, step := svg.Axis{Low: c.low, High: c.high}.Ticks(c.n)
		var got []string
		for _, v := range ticks {
			got = append(got, svg.Label(v, step))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%v to %v: ticks %v, want %v", c.low, c.high, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-1e5, 1e5).Draw(t, "low")
		span := rapid.Float64Range(1e-3, 1e5).Draw(t, "span")
		n := rapid.IntRange(1, 20).Draw(t, "n")
		ticks, step := svg.Axis{Low: low, High: low + span}.Ticks(n)
		if len(ticks) > n+1 {
			t.Fatalf("%d ticks for %d steps", len(ticks), n)
		}
		for _, v := range ticks {
			if v < low-step*1e-6 || v > low+span+step*1e-6 {
				t.Fatalf("tick %v outside %v to %v", v, low, low+span)
			}
		}
	})
}
