package simulate_test

import (
	"bytes"
	"testing"

	"tracemap/internal/simulate"
)

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
	for _, p := range simulate.Presets() {
		s := p.Scenario(7)
		a, b := files(t, s), files(t, s)
		for name := range a {
			if !bytes.Equal(a[name], b[name]) {
				t.Errorf("%s: %s differs between two runs", p.Name, name)
			}
		}
		if other := files(t, p.Scenario(8)); bytes.Equal(a["day.nmea"], other["day.nmea"]) {
			t.Errorf("%s: another seed gives the same log", p.Name)
		}
	}
}
