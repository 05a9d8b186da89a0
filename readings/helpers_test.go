package readings_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"tracemap/readings"
)

// read reads one log given as text; it must be readable, and its rows add up.
func read(t testing.TB, text string, opt readings.Options) *readings.Log {
	t.Helper()
	log, err := readings.Read(context.Background(), []readings.Source{{Name: "day.csv", R: strings.NewReader(text)}}, opt)
	if err != nil {
		t.Fatalf("Read(%.200q): %v", text, err)
	}
	if got := len(log.Readings) + len(log.Aside); got != log.Rows {
		t.Errorf("readings %d + set aside %d, want rows %d", len(log.Readings), len(log.Aside), log.Rows)
	}
	return log
}

// only gives the log's one reading.
func only(t testing.TB, log *readings.Log) readings.Reading {
	t.Helper()
	if len(log.Readings) != 1 {
		t.Fatalf("readings = %d, set aside %+v; want 1 reading", len(log.Readings), log.Aside)
	}
	return log.Readings[0]
}

// blank is a reading in which nothing was measured.
func blank() readings.Reading {
	nan := math.NaN()
	return readings.Reading{File: "day.csv", Utility: "unknown", Frequency: nan, Depth: nan, Cover: nan, Easting: nan, Northing: nan, Current: nan, Signal: nan, Gain: nan,
		Compass: nan, NullOffset: nan, BottomCoil: nan, TopCoil: nan, CoilSpacing: nan, CoilDepth: nan, CoilCurrent: nan,
		Diameter: nan, MeasuredDepth: nan, Lat: nan, Lon: nan, HDOP: nan}
}

// differ writes two readings that are not the same; NaN equals NaN. The format
// writes every float64 in the shortest form that reads back exactly.
func differ(got, want readings.Reading) string {
	g, w := fmt.Sprintf("%+v", got), fmt.Sprintf("%+v", want)
	if g == w {
		return ""
	}
	return strings.Join([]string{"got  " + g, "want " + w}, "\n")
}
