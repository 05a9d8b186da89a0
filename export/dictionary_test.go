package export_test

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"tracemap/export"
)

// The data dictionary in docs is what the column table says today.
func TestDictionaryIsUpToDate(t *testing.T) {
	const file = "../docs/data-dictionary.md"
	if *update {
		if err := os.WriteFile(file, []byte(export.Dictionary()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if string(b) != export.Dictionary() {
		t.Errorf("%s is out of date: go test ./export -update", file)
	}
}

var row = regexp.MustCompile("^\\| `([a-z0-9_]+)` \\| `([a-z0-9_]*)` \\| (text|integer|real|time|boolean) \\| ([^|]*) \\| ([^|]+) \\|")

// Every field says what it means; lengths, angles and the like have the unit
// that their name ends in; Shapefile's names are short and each is used once a layer.
func TestColumnsAreDescribed(t *testing.T) {
	units := map[string]string{"_m": "m", "_ma": "mA", "_hz": "Hz", "_mm": "mm", "_deg": "°", "_pct": "%", "_db": "dB"}
	layer, short := "", map[string]bool{}
	fields := 0
	for line := range strings.Lines(export.Dictionary()) {
		if name, ok := strings.CutPrefix(line, "## Layer "); ok {
			layer, short = strings.TrimSpace(name), map[string]bool{}
		}
		f := row.FindStringSubmatch(line)
		if f == nil {
			continue
		}
		fields++
		name, dbf, unit, meaning := f[1], f[2], f[4], f[5]
		if len(dbf) == 0 || len(dbf) > 10 || short[dbf] {
			t.Errorf("%s.%s: DBF name %q is empty, too long or twice there", layer, name, dbf)
		}
		short[dbf] = true
		for suffix, want := range units {
			if strings.HasSuffix(name, suffix) && unit != want {
				t.Errorf("%s.%s: unit %q, its name says %q", layer, name, unit, want)
			}
		}
		if !strings.HasSuffix(strings.TrimSpace(meaning), ".") {
			t.Errorf("%s.%s: meaning %q is no sentence", layer, name, meaning)
		}
	}
	if fields < 80 {
		t.Errorf("only %d fields described", fields)
	}
}
