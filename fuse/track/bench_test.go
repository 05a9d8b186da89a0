package track_test

import (
	"context"
	"testing"

	"tracemap/fuse/track"
)

// BenchmarkBuild smooths an hour of 10 Hz.
func BenchmarkBuild(b *testing.B) {
	epochs := stroll(1, 36000, 0.1, 0.01)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := track.Build(context.Background(), epochs); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/36000, "ns/epoch")
}
