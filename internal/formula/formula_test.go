package formula_test

import (
	"encoding/csv"
	"strings"
	"testing"

	"tracemap/internal/formula"
)

func TestGuard(t *testing.T) {
	for text, want := range map[string]string{
		"":                    "",
		"valve 3":             "valve 3",
		"3-4 Mill Lane":       "3-4 Mill Lane",
		"a = b":               "a = b",
		"=1+1":                "'=1+1",
		"@SUM(A1)":            "'@SUM(A1)",
		"-2":                  "'-2",
		"\t=1":                "'\t'=1",
		"manhole;=1+1;x":      "manhole;'=1+1;x",
		"M1; =cmd|' /C x'!A0": "M1; '=cmd|' /C x'!A0",
		`a;"=1"`:              `a;"'=1"`,
		"two\n+1":             "two\n'+1",
	} {
		if got := formula.Guard(text); got != want {
			t.Errorf("Guard(%q) = %q, want %q", text, got, want)
		}
		if !strings.ContainsAny(text, ";\t\n|") {
			if got := formula.Bare(formula.Guard(text)); got != text {
				t.Errorf("Bare(Guard(%q)) = %q", text, got)
			}
		}
	}
}

// Read with any separator, no cell of a guarded text begins like a formula.
func FuzzGuard(f *testing.F) {
	for _, s := range []string{"a;=1", "=", "\t\t=1", "a|-b", "\" ;\"=x", "a\r=1", "\r\r=1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		guarded := formula.Guard(s)
		for _, comma := range ";|\t" {
			r := csv.NewReader(strings.NewReader(guarded))
			r.Comma, r.FieldsPerRecord, r.LazyQuotes = comma, -1, true
			rows, err := r.ReadAll()
			if err != nil {
				continue
			}
			for _, row := range rows {
				for _, c := range row {
					if c = strings.TrimLeft(c, " \""); c != "" && strings.ContainsRune("=+@", rune(c[0])) {
						t.Fatalf("%q read with %q has the cell %q", guarded, comma, c)
					}
				}
			}
		}
	})
}
