package clock_test

import (
	"context"
	"testing"

	"tracemap/fuse/clock"
)

// BenchmarkAlign ties the clocks of a day of stops, and of one that was walked.
func BenchmarkAlign(b *testing.B) {
	for _, preset := range []string{"rtk-stopgo-10hz", "rtk-return"} {
		b.Run(preset, func(b *testing.B) {
			w := workedDay(b, preset, 1)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := clock.Align(context.Background(), w.tr, w.rs, clock.Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
