package readings

import (
	"bufio"
	"encoding/csv"
	"io"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func rowsOf(text string, sep byte) [][]string {
	r := newRecordReader(bufio.NewReader(strings.NewReader(text)), sep)
	var rows [][]string
	for {
		rec, err := r.next()
		if err == io.EOF {
			return rows
		}
		if rec.reason == "" {
			rows = append(rows, slices.Clone(rec.cells))
		} else {
			rows = append(rows, []string{"aside", rec.text})
		}
	}
}

// What encoding/csv writes is cut into the same cells again. Blank rows are left
// out, and CR LF inside a cell is a line end like any other: both are asked for.
func TestRecordsAgainstCSV(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sep := rapid.SampledFrom([]byte{',', ';', '\t'}).Draw(t, "separator")
		cell := rapid.StringOfN(rapid.RuneFrom([]rune{'a', '1', ' ', '"', ',', ';', '\n', 'é', '.'}), 0, 8, -1)
		rows := rapid.SliceOfN(rapid.SliceOfN(cell, 1, 6), 0, 8).Draw(t, "rows")
		var b strings.Builder
		w := csv.NewWriter(&b)
		w.Comma = rune(sep)
		w.UseCRLF = rapid.Bool().Draw(t, "crlf")
		if err := w.WriteAll(rows); err != nil {
			t.Fatal(err)
		}
		want := slices.DeleteFunc(slices.Clone(rows), blankCells)
		got := rowsOf(b.String(), sep)
		if !slices.EqualFunc(got, want, slices.Equal) {
			t.Fatalf("rows of %q\ngot  %q\nwant %q", b.String(), got, want)
		}
	})
}

func TestRecordsInDirt(t *testing.T) {
	long := strings.Repeat("x", longestLine+10)
	for _, c := range []struct {
		name, text string
		want       [][]string
	}{
		{"inch mark", "a,6\" main,b\n", [][]string{{"a", `6" main`, "b"}}},
		{"unclosed at the end", "\"a,b\n", [][]string{{"aside", `"a,b`}}},
		{"unclosed in the middle", "a,\"b\nc,d\n\"e\",f\n", [][]string{{"aside", `a,"b`}, {"c", "d"}, {"e", "f"}}},
		{"text behind a quote", "\"a\"b,c\nd,e\n", [][]string{{"aside", `"a"b,c`}, {"d", "e"}}},
		{"CR line ends", "a,b\rc,d\r", [][]string{{"a", "b"}, {"c", "d"}}},
		{"no last line end", "a,b\nc,d", [][]string{{"a", "b"}, {"c", "d"}}},
		{"zero byte", "a\x00,b\nc,d\n", [][]string{{"aside", "a\x00,b"}, {"c", "d"}}},
		{"endless line", "a,b\n" + long + "\nc,d\n", [][]string{{"a", "b"}, {"aside", long[:80]}, {"c", "d"}}},
		{"blank", "\n,,\n \r\n", nil},
	} {
		if got := rowsOf(c.text, ','); !slices.EqualFunc(got, c.want, slices.Equal) {
			t.Errorf("%s: rows = %.200q, want %.200q", c.name, got, c.want)
		}
	}
}

// A quote that is opened and never closed costs its own line, however many lines
// follow; and a quote in each of very many lines costs no more than time in
// proportion.
func TestUnclosedQuotes(t *testing.T) {
	const n = 20000
	got := rowsOf("a,\"b\n"+strings.Repeat("c,d\n", n), ',')
	if len(got) != n+1 || got[0][0] != "aside" {
		t.Errorf("rows = %d, want %d, the first set aside", len(got), n+1)
	}
	if got = rowsOf(strings.Repeat("a,\"b\n", n), ','); len(got) != n {
		t.Errorf("rows = %d, want %d", len(got), n)
	}
}

func TestLineNumbers(t *testing.T) {
	r := newRecordReader(bufio.NewReader(strings.NewReader("h\n\n\"a\nb\"\nc\n\"open\nd\n")), ',')
	var got []int
	for {
		rec, err := r.next()
		if err != nil {
			break
		}
		got = append(got, rec.line)
	}
	if want := []int{1, 3, 5, 6, 7}; !slices.Equal(got, want) {
		t.Errorf("lines = %v, want %v", got, want)
	}
}
