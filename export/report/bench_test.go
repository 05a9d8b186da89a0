package report_test

import (
	"io"
	"testing"

	"tracemap/export/report"
	"tracemap/internal/lab/invented"
)

func BenchmarkWrite(b *testing.B) {
	m := invented.Day(invented.Atlantic)
	for b.Loop() {
		if err := report.Write(io.Discard, m); err != nil {
			b.Fatal(err)
		}
	}
}
