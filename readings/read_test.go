package readings_test

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"tracemap/flags"
	"tracemap/readings"
)

// read reads one log given as text.
func read(t *testing.T, text string, opt readings.Options) *readings.Log {
	t.Helper()
	log, err := readings.Read(context.Background(), []readings.Source{{Name: "day.csv", R: strings.NewReader(text)}}, opt)
	if err != nil {
		t.Fatalf("Read(%q): %v", text, err)
	}
	if got := len(log.Readings) + len(log.Aside); got != log.Rows {
		t.Errorf("readings %d + set aside %d, want rows %d", len(log.Readings), len(log.Aside), log.Rows)
	}
	return log
}

func TestRead(t *testing.T) {
	log := read(t, "time,line,utility,method,response,frequency_hz,depth_m,current_ma,signal_pct,gain_db,compass_deg,null_offset_m,"+
		"diameter_mm,feature,measured_depth_m,lat,lon,hdop,fix,note\n"+
		"2026-03-05T10:15:30.25Z,W1,water,direct,peak,512,1.25,45.5,85,40,12,-0.02,110,,,59.9,10.75,0.7,4,\"by the gate, wet\"\n",
		readings.Options{})
	if len(log.Readings) != 1 {
		t.Fatalf("readings = %d (%+v), want 1", len(log.Readings), log.Aside)
	}
	got := log.Readings[0]
	want := readings.Reading{File: "day.csv", Row: 2, Time: time.Date(2026, 3, 5, 10, 15, 30, 250e6, time.UTC),
		Line: "W1", Utility: "water", Method: readings.Direct, Response: readings.Peak, Frequency: 512, Depth: 1.25, Current: 45.5,
		Signal: 85, Gain: 40, Compass: 12, NullOffset: -0.02, Diameter: 0.11, Lat: 59.9, Lon: 10.75, HDOP: 0.7, Fix: "4",
		Note: "by the gate, wet", BottomCoil: math.NaN(), TopCoil: math.NaN(), CoilSpacing: math.NaN(), CoilDepth: math.NaN(),
		CoilCurrent: math.NaN(), MeasuredDepth: math.NaN()}
	if diff := differ(got, want); diff != "" {
		t.Error(diff)
	}
	if len(log.Warnings) != 0 {
		t.Errorf("warnings = %q, want none", log.Warnings)
	}
	_ = flags.Set(0)
}
