package simulate_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"

	"tracemap/internal/lab/simulate"
)

var update = flag.Bool("update", false, "write the kept demo anew")

// files writes all files of a day.
func files(t *testing.T, s simulate.Scenario) map[string][]byte {
	t.Helper()
	d := simulate.Invent(s)
	out := map[string][]byte{}
	var b bytes.Buffer
	keep := func(name string, err error) {
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out[name] = bytes.Clone(b.Bytes())
		b.Reset()
	}
	_, err := d.WriteNMEA(&b)
	keep("day.nmea", err)
	keep("readings.csv", d.WriteReadings(&b))
	keep("as-built.geojson", d.WriteAsBuilt(&b))
	keep("truth.json", d.WriteTruth(&b))
	return out
}

func TestSameScenarioSameBytes(t *testing.T) {
	seen := map[string]string{}
	for _, p := range simulate.Presets() {
		s := p.Scenario(7)
		a, b := files(t, s), files(t, s)
		for name := range a {
			if !bytes.Equal(a[name], b[name]) {
				t.Errorf("%s: %s differs between two runs", p.Name, name)
			}
		}
		key := string(a["day.nmea"]) + string(a["readings.csv"])
		if other, ok := seen[key]; ok {
			t.Errorf("%s is the same day as %s", p.Name, other)
		}
		seen[key] = p.Name
	}
	a, b := simulate.New("", 7), simulate.New("", 8)
	if bytes.Equal(files(t, a)["day.nmea"], files(t, b)["day.nmea"]) {
		t.Error("another seed gives the same log")
	}
}

// The demo that is kept in the repository is the one that the program writes.
func TestDemoIsUpToDate(t *testing.T) {
	dir := t.TempDir()
	if err := simulate.WriteDemo(dir); err != nil {
		t.Fatal(err)
	}
	kept := filepath.Join("..", "..", "..", "testdata", "demo")
	written, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range written {
		got, err := os.ReadFile(filepath.Join(dir, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if *update {
			if err := os.WriteFile(filepath.Join(kept, f.Name()), got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(filepath.Join(kept, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s is not what WriteDemo writes: run go test ./internal/lab/simulate -run Demo -update", f.Name())
		}
		if len(got) > 1<<20 {
			t.Errorf("%s has %d bytes", f.Name(), len(got))
		}
	}
}
