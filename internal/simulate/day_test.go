package simulate_test

import (
	"bytes"
	"flag"
	"testing"

	"tracemap/internal/simulate"
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
