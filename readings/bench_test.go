package readings_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"tracemap/readings"
)

// A season of readings: rows a second is 1e6/(ns/op)·1e3 for these 100 000.
func BenchmarkRead(b *testing.B) {
	var text strings.Builder
	text.WriteString("time,line,utility,method,response,frequency_hz,depth_m,current_ma,signal_pct,gain_db,note\n")
	const rows = 100_000
	for i := range rows {
		fmt.Fprintf(&text, "2026-03-05 %02d:%02d:%02d.%d,W%d,water,direct,peak,32768,%.2f,%.1f,%d,40,\n",
			i/3600%24, i/60%60, i%60, i%10, i/500, 1+float64(i%100)/100, 40+float64(i%50)/10, 50+i%50)
	}
	b.SetBytes(int64(text.Len()))
	b.ReportAllocs()
	for b.Loop() {
		log, err := readings.Read(context.Background(), []readings.Source{{Name: "day.csv", R: strings.NewReader(text.String())}}, readings.Options{})
		if err != nil || len(log.Readings) != rows {
			b.Fatalf("readings = %d, error %v", len(log.Readings), err)
		}
	}
	b.ReportMetric(float64(rows)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}
