package survey_test

import (
	"bufio"
	"os"
	"path/filepath"
	"testing"

	"tracemap/internal/lab/simulate"
	"tracemap/internal/survey"
)

// BenchmarkCrewDay takes a full day of a crew – 1.9 million sentences, 140 MB,
// 2,500 readings – from the files to the files of the default formats.
func BenchmarkCrewDay(b *testing.B) {
	dir := b.TempDir()
	paths := crewDay(b, dir)
	opt := survey.DefaultOptions()
	var err error
	if opt.Formats, err = survey.ParseFormats("geojson,kml,csv,gpkg"); err != nil {
		b.Fatal(err)
	}
	out := filepath.Join(dir, "out")
	b.ReportAllocs()
	for b.Loop() {
		sources, _, err := survey.Paths(paths, nil)
		if err != nil {
			b.Fatal(err)
		}
		in, err := survey.Open(b.Context(), sources)
		if err != nil {
			b.Fatal(err)
		}
		day, err := survey.Run(b.Context(), in, opt)
		if err != nil {
			b.Fatal(err)
		}
		if err := os.Mkdir(out, 0o777); err != nil {
			b.Fatal(err)
		}
		if err := day.Write(b.Context(), out, day.Map()); err != nil {
			b.Fatal(err)
		}
		if err := os.RemoveAll(out); err != nil {
			b.Fatal(err)
		}
	}
}

// crewDay writes the invented day's two logs and gives their paths.
func crewDay(b *testing.B, dir string) []string {
	b.Helper()
	day := simulate.Invent(simulate.CrewDay(1))
	var paths []string
	for name, write := range map[string]func(*bufio.Writer) error{
		"day.nmea":     func(w *bufio.Writer) error { _, err := day.WriteNMEA(w); return err },
		"readings.csv": func(w *bufio.Writer) error { return day.WriteReadings(w) },
	} {
		path := filepath.Join(dir, name)
		f, err := os.Create(path)
		if err != nil {
			b.Fatal(err)
		}
		w := bufio.NewWriterSize(f, 1<<20)
		if err := write(w); err != nil {
			b.Fatal(err)
		}
		if err := w.Flush(); err != nil {
			b.Fatal(err)
		}
		if err := f.Close(); err != nil {
			b.Fatal(err)
		}
		paths = append(paths, path)
	}
	return paths
}
