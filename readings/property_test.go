package readings_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tracemap/readings"
)

// A drawn log: headers and rows of text, with decimal points.
type drawnLog struct {
	headers []string
	rows    [][]string
}

// drawLog draws a log that is readable but for some broken cells.
func drawLog(t *rapid.T) drawnLog {
	number := func(lo, hi float64, digits int) *rapid.Generator[string] {
		return rapid.Map(rapid.Float64Range(lo, hi), func(v float64) string { return strconv.FormatFloat(v, 'f', digits, 64) })
	}
	columns := []struct {
		header string
		cell   *rapid.Generator[string]
	}{
		{"line", rapid.StringMatching(`[A-Z][0-9]{0,2}`)},
		{"utility", rapid.SampledFrom([]string{"water", "gas", "fibre optic", "", "treacle"})},
		{"method", rapid.SampledFrom([]string{"direct", "clamp", "passive", "sonde", "", "guess"})},
		{"response", rapid.SampledFrom([]string{"peak", "null", ""})},
		{"frequency_hz", rapid.SampledFrom([]string{"512", "32768", "50", "radio", ""})},
		{"depth_m", rapid.OneOf(number(-1, 9, 2), rapid.SampledFrom([]string{"", "---", "x"}))},
		{"current_ma", number(0, 200, 1)},
		{"null_offset_m", number(-0.3, 0.3, 2)},
		{"bottom_coil", number(0, 30, 2)},
		{"top_coil", number(0, 30, 2)},
		{"coil_spacing_m", number(0.3, 0.6, 2)},
		{"note", rapid.StringOf(rapid.RuneFrom([]rune{'a', 'é', ' ', ',', ';', '\t', '"', '\n'}))},
	}
	at := rapid.Map(rapid.IntRange(0, 86399), func(s int) string {
		return fmt.Sprintf("2026-03-05 %02d:%02d:%02d", s/3600, s/60%60, s%60)
	})
	d := drawnLog{headers: []string{"time"}}
	for _, c := range columns {
		d.headers = append(d.headers, c.header)
	}
	for range rapid.IntRange(0, 12).Draw(t, "rows") {
		row := []string{at.Draw(t, "time")}
		for _, c := range columns {
			row = append(row, c.cell.Draw(t, c.header))
		}
		d.rows = append(d.rows, row)
	}
	return d
}

// text writes a log with the columns in the given order.
func (d drawnLog) text(sep rune, order []int) string {
	var b strings.Builder
	w := csv.NewWriter(&b)
	w.Comma = sep
	for _, row := range append([][]string{d.headers}, d.rows...) {
		var cells []string
		for _, i := range order {
			cells = append(cells, row[i])
		}
		if err := w.Write(cells); err != nil {
			panic(err)
		}
	}
	w.Flush()
	return b.String()
}

// commas gives the log with decimal commas in its numbers.
func (d drawnLog) commas() drawnLog {
	out := drawnLog{headers: d.headers}
	for _, row := range d.rows {
		row = slices.Clone(row)
		for i, cell := range row {
			if _, err := strconv.ParseFloat(cell, 64); err == nil {
				row[i] = strings.Replace(cell, ".", ",", 1)
			}
		}
		out.rows = append(out.rows, row)
	}
	return out
}

// Shuffled columns, another separator and a decimal comma give the same
// readings, and the same rows set aside.
func TestSameLogInAnotherShape(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		d := drawLog(rt)
		plain := make([]int, len(d.headers))
		for i := range plain {
			plain[i] = i
		}
		want := read(t, d.text(',', plain), readings.Options{})
		order := rapid.Permutation(plain).Draw(rt, "order")
		for _, text := range []string{d.text(',', order), d.text(';', order), d.text('\t', order), d.commas().text(';', order), d.commas().text('\t', plain)} {
			got := read(t, text, readings.Options{})
			if len(got.Readings) != len(want.Readings) || len(got.Aside) != len(want.Aside) {
				rt.Fatalf("readings %d, set aside %d, want %d and %d\n%s", len(got.Readings), len(got.Aside), len(want.Readings), len(want.Aside), text)
			}
			for i := range got.Readings {
				if diff := differ(got.Readings[i], want.Readings[i]); diff != "" {
					rt.Fatalf("%s\nin %s", diff, text)
				}
			}
			for i := range got.Aside {
				if got.Aside[i].Row != want.Aside[i].Row {
					rt.Fatalf("set aside line %d, want %d", got.Aside[i].Row, want.Aside[i].Row)
				}
			}
		}
	})
}

// A log in feet, with CR LF and its lines in one file or two, is the same log.
func TestSameLogInFeet(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		metres := rapid.SliceOfN(rapid.Float64Range(0.1, 6), 1, 20).Draw(rt, "depths")
		var a, b strings.Builder
		a.WriteString("time,depth_m\n")
		b.WriteString("Depth (ft)\tTime\r\n")
		for i, m := range metres {
			fmt.Fprintf(&a, "2026-03-05T08:00:%02dZ,%v\n", i, m)
			fmt.Fprintf(&b, "%v\t2026-03-05T08:00:%02dZ\r\n", m/0.3048, i)
		}
		inMetres, inFeet := read(t, a.String(), readings.Options{}), read(t, b.String(), readings.Options{})
		if len(inMetres.Readings) != len(metres) || len(inFeet.Readings) != len(metres) {
			rt.Fatalf("readings = %d and %d, want %d", len(inMetres.Readings), len(inFeet.Readings), len(metres))
		}
		for i, m := range metres {
			if got := inFeet.Readings[i].Depth; math.Abs(got-m) > 1e-14*m*4 { // two roundings
				rt.Errorf("depth = %v, want %v", got, m)
			}
		}
	})
}
