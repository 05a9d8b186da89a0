package export_test

import (
	"bytes"
	"context"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"testing"

	"tracemap/export"
	"tracemap/geodesy"
	"tracemap/internal/lab/invented"
	"tracemap/result"
)

var update = flag.Bool("update", false, "rewrite golden files and the data dictionary")

// write writes a map in one format and gives the folder.
func write(t *testing.T, m *result.Map, f export.Format, opt export.Options) string {
	t.Helper()
	dir := t.TempDir()
	if err := export.Write(context.Background(), dir, m, []export.Format{f}, opt); err != nil {
		t.Fatal(err)
	}
	return dir
}

// options gives a format that needs a projected system the zone of the map's
// place; beyond 84° north and 80° south, where there are none, any will do.
func options(t *testing.T, f export.Format, m *result.Map) export.Options {
	t.Helper()
	if !f.Projected {
		return export.Options{}
	}
	code, err := geodesy.UTMCode(m.Place.Origin(), geodesy.FrameWGS84)
	if err != nil {
		code = 32631
	}
	crs, err := geodesy.LookupCRS(code)
	if err != nil {
		t.Fatal(err)
	}
	return export.Options{CRS: crs}
}

func format(t *testing.T, name string) export.Format {
	t.Helper()
	for _, f := range slices.Concat(export.Formats, export.Always) {
		if f.Name == name {
			return f
		}
	}
	t.Fatalf("no format %s", name)
	return export.Format{}
}

func read(t *testing.T, dir, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// notANumber finds what text formats must never hold as a value.
var notANumber = regexp.MustCompile(`(?i)(^|[^a-z])(nan|[+-]?inf(inity)?)([^a-z]|$)`)

// Every format writes every map: exactly the files it promises, the same bytes
// twice, and no number that is none.
func TestEveryFormatWritesEveryMap(t *testing.T) {
	for _, f := range slices.Concat(export.Formats, export.Always) {
		for _, c := range invented.Cases() {
			t.Run(f.Name+"/"+c.Name, func(t *testing.T) {
				opt := options(t, f, c.Map)
				first, second := write(t, c.Map, f, opt), write(t, c.Map, f, opt)
				var got []string
				entries, err := os.ReadDir(first)
				if err != nil {
					t.Fatal(err)
				}
				for _, e := range entries {
					got = append(got, e.Name())
				}
				want := slices.Sorted(slices.Values(f.Files))
				if !slices.Equal(got, want) {
					t.Fatalf("files %q, promised %q", got, want)
				}
				for _, name := range got {
					b := read(t, first, name)
					if !bytes.Equal(b, read(t, second, name)) {
						t.Errorf("%s: not the same bytes twice", name)
					}
					if at := notANumber.FindIndex(b); at != nil && !bytes.Contains(b[:min(len(b), 16)], []byte{0}) {
						t.Errorf("%s holds %q", name, b[max(at[0]-30, 0):min(at[1]+30, len(b))])
					}
				}
			})
		}
	}
}

// A file that is there already is never touched.
func TestWriteRefusesToReplace(t *testing.T) {
	dir := t.TempDir()
	old := filepath.Join(dir, "summary.json")
	if err := os.WriteFile(old, []byte("keep"), 0o644); err != nil {
		t.Fatal(err)
	}
	err := export.Write(context.Background(), dir, invented.Empty(invented.Atlantic), export.Always, export.Options{})
	if err == nil {
		t.Error("no error although summary.json was there")
	}
	if b, _ := os.ReadFile(old); string(b) != "keep" {
		t.Errorf("the old file now holds %q", b)
	}
}

func TestSelect(t *testing.T) {
	formats, err := export.Select([]string{"csv", "geojson", "csv"})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, f := range formats {
		got = append(got, f.Name)
	}
	if want := []string{"csv", "geojson"}; !slices.Equal(got[:2], want) || len(got) != 2+len(export.Always) {
		t.Errorf("formats %v, want %v and what is always written", got, want)
	}
	if _, err := export.Select([]string{"csv", "papyrus"}); err == nil {
		t.Error("no error for a format that is not there")
	}
	if _, err := export.Select(export.Default); err != nil {
		t.Errorf("the default formats: %v", err)
	}
}

// golden compares with a stored file, or stores it with -update.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v (go test ./export -update writes it)", err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("differs from %s; go test ./export -update rewrites it, review the change", file)
	}
}
