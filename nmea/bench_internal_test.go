package nmea

import (
	"bytes"
	"fmt"
	"testing"
)

// benchLog is a log as a modern receiver writes it: five sentences an epoch that are
// read, eight GSV.
func benchLog(epochs int) []byte {
	var b bytes.Buffer
	for i := range epochs {
		clock := fmt.Sprintf("%02d%02d%02d.00", 6+i/3600, i/60%60, i%60)
		at := fmt.Sprintf("5206.%07d,N,00454.%07d,W", 1234567+i*13%8000000, 7654321-i*7%6000000)
		bodies := []string{
			"GNRMC," + clock + ",A," + at + ",0.913,84.41,251126,,,R,V",
			"GNGGA," + clock + "," + at + ",4,17,0.71,45.412,M,46.914,M,1.2,0000",
			"GNGST," + clock + ",0.011,0.015,0.009,37.5,0.013,0.012,0.022",
			"GNGSA,A,3,02,05,07,09,13,15,30,,,,,,1.31,0.71,1.10,1",
			"GNGSA,A,3,65,66,72,80,88,,,,,,,,1.31,0.71,1.10,2",
		}
		for range 8 {
			bodies = append(bodies, "GPGSV,3,1,10,02,25,061,38,05,61,210,44,07,48,066,45,09,28,104,41,1")
		}
		for _, body := range bodies {
			fmt.Fprintf(&b, "$%s*%02X\r\n", body, xor([]byte(body)))
		}
	}
	return b.Bytes()
}

// BenchmarkScan frames and parses, on one processor.
func BenchmarkScan(b *testing.B) {
	c := &chunk{data: benchLog(600)}
	b.SetBytes(int64(len(c.data)))
	b.ReportAllocs()
	for b.Loop() {
		c.scan()
	}
	if c.tally.wrong > 0 || len(c.records) != 5*600 {
		b.Fatal(c.tally.wrong, len(c.records))
	}
}

// BenchmarkGroup makes epochs of what was parsed.
func BenchmarkGroup(b *testing.B) {
	c := &chunk{data: benchLog(600)}
	c.scan()
	b.ReportAllocs()
	for b.Loop() {
		var g grouper
		g.startSource(0)
		for i := range c.records {
			g.add(&c.records[i])
		}
		if g.drafts.len() != 600 {
			b.Fatal(g.drafts.len())
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/600, "ns/epoch")
}
