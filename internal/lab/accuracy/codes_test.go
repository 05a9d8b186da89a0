package main

import (
	"io"
	"strings"
	"testing"

	"tracemap/readings"
)

// No kind of invented day has a measurement that is taken for an instrument's code:
// neither generator writes any.
func TestMeasurementsAreNoCodes(t *testing.T) {
	for _, p := range presets() {
		d := p.invent(1)
		for _, src := range d.logs {
			if !strings.HasSuffix(src.Name, ".csv") {
				continue
			}
			r, err := src.Open()
			if err != nil {
				t.Fatal(err)
			}
			text, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			log, err := readings.Read(t.Context(), []readings.Source{{Name: src.Name, R: strings.NewReader(string(text))}}, readings.Options{})
			if err != nil {
				t.Errorf("%v: %v", p.name, err)
				continue
			}
			if said := strings.Join(log.Warnings, "\n"); strings.Contains(said, "taken for a code") {
				t.Errorf("%v: %s", p.name, said)
			}
		}
	}
}
