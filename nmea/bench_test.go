package nmea_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"tracemap/nmea"
)

// seal gives a sentence its '$', checksum and line end.
func seal(body string) string {
	var x byte
	for i := range len(body) {
		x ^= body[i]
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, x)
}

// day writes a log as a modern receiver does: 18 sentences an epoch, ten of
// them of kinds that are read.
func dayLog(epochs int, step time.Duration) []byte {
	var b bytes.Buffer
	at := time.Date(2026, 11, 25, 6, 0, 0, 0, time.UTC)
	for i := range epochs {
		clock, date := at.Format("150405.00"), at.Format("020106")
		lat := fmt.Sprintf("5206.%07d,N", 1234567+i*13%8000000)
		lon := fmt.Sprintf("00454.%07d,W", 7654321-i*7%6000000)
		speed := 0.9 + 0.4*math.Sin(float64(i)/30)
		for _, body := range []string{
			fmt.Sprintf("GNRMC,%s,A,%s,%s,%.3f,84.41,%s,,,R,V", clock, lat, lon, speed, date),
			fmt.Sprintf("GNVTG,84.41,T,,M,%.3f,N,%.3f,K,D", speed, speed*1.852),
			fmt.Sprintf("GNGGA,%s,%s,%s,4,17,0.71,45.412,M,46.914,M,1.2,0000", clock, lat, lon),
			"GNGSA,A,3,02,05,07,09,13,15,30,,,,,,1.31,0.71,1.10,1",
			"GNGSA,A,3,65,66,72,80,88,,,,,,,,1.31,0.71,1.10,2",
			"GNGSA,A,3,03,05,09,15,,,,,,,,,1.31,0.71,1.10,3",
			"GNGSA,A,3,06,09,14,21,,,,,,,,,1.31,0.71,1.10,4",
			"GPGSV,3,1,10,02,25,061,38,05,61,210,44,07,48,066,45,09,28,104,41,1",
			"GPGSV,3,2,10,13,52,289,46,15,22,301,40,18,03,340,31,20,16,244,36,1",
			"GPGSV,3,3,10,29,09,194,30,30,74,090,47,1",
			"GLGSV,2,1,08,65,43,053,41,66,31,121,39,72,16,020,33,80,24,281,37,1",
			"GLGSV,2,2,08,81,12,331,30,87,29,040,38,88,70,011,43,79,11,236,31,1",
			"GAGSV,2,1,07,03,44,068,40,05,55,151,42,09,19,182,34,15,62,287,43,7",
			"GAGSV,2,2,07,27,21,317,35,34,10,021,30,13,05,060,28,7",
			"GBGSV,1,1,04,06,33,071,37,09,41,066,39,14,50,205,41,21,38,300,40,1",
			fmt.Sprintf("GNGLL,%s,%s,%s,A,R", lat, lon, clock),
			fmt.Sprintf("GNGST,%s,0.011,0.015,0.009,37.5,0.013,0.012,0.022", clock),
			fmt.Sprintf("GNZDA,%s,%s,%s,%s,00,00", clock, date[:2], date[2:4], at.Format("2006")),
		} {
			b.WriteString(seal(body))
		}
		at = at.Add(step)
	}
	return b.Bytes()
}

// BenchmarkRead reads a morning of a modern receiver, 4 hours at 1 Hz.
func BenchmarkRead(b *testing.B) {
	raw := dayLog(14400, time.Second)
	b.SetBytes(int64(len(raw)))
	b.ReportAllocs()
	for b.Loop() {
		l, err := nmea.Read(context.Background(), []nmea.Source{{Name: "day", R: bytes.NewReader(raw)}}, nmea.Options{})
		if err != nil || len(l.Epochs) != 14400 {
			b.Fatal(err, len(l.Epochs))
		}
	}
}
