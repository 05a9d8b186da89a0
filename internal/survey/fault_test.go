package survey_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tracemap/internal/parallel"
	"tracemap/internal/survey"
)

// wholeDemo is the invented day of the repository.
func wholeDemo(t *testing.T) *survey.Inputs {
	t.Helper()
	var sources []survey.Source
	for _, name := range []string{"day.nmea", "readings.csv"} {
		b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "demo", name))
		if err != nil {
			t.Fatal(err)
		}
		sources = append(sources, survey.Source{Name: name, Size: int64(len(b)), Open: func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(b)), nil }})
	}
	in, err := survey.Open(context.Background(), sources)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// A defect in any stage, in its own goroutine or in one beside it, is an error that
// names the stage; the process, its other work and the next day go on.
func TestFaultsOfStages(t *testing.T) {
	for _, part := range []string{
		"the readings log", "the receiver's log", "reading sentences", "cutting a log", "telling receivers apart",
		"the track", "projection", "smoothing", "places at equal times",
		"the clock", "wide search", "fine search", "the lines",
	} {
		mend := parallel.Break(part)
		_, err := survey.Run(context.Background(), wholeDemo(t), survey.DefaultOptions())
		mend()
		var f *parallel.Fault
		if !errors.As(err, &f) || !strings.HasSuffix(f.Part, part) {
			t.Errorf("%s: error %v", part, err)
		}
		if errors.Is(err, survey.ErrNoMap) {
			t.Errorf("%s: taken for a fault of the input", part)
		}
	}
	if _, err := survey.Run(context.Background(), wholeDemo(t), survey.DefaultOptions()); err != nil {
		t.Errorf("afterwards: %v", err)
	}
}

// A defect in one part of one line leaves all other lines as they are.
func TestFaultOfAPart(t *testing.T) {
	whole, err := survey.Run(context.Background(), wholeDemo(t), survey.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	defer parallel.Break("line W1 part 1")()
	day, err := survey.Run(context.Background(), wholeDemo(t), survey.DefaultOptions())
	if err != nil || day.Fault() == nil {
		t.Fatalf("error %v, fault %v", err, day.Fault())
	}
	if n := len(day.Located.Faults); n != 1 || day.Located.Faults[0].Part != "line W1 part 1" {
		t.Errorf("%d faults, %v", n, day.Fault())
	}
	kept := map[string]float64{}
	for _, l := range day.Located.Lines {
		for _, p := range l.Parts {
			kept[l.ID] += p.Length()
		}
	}
	for _, l := range whole.Located.Lines {
		want := 0.0
		for _, p := range l.Parts {
			if l.ID != "W1" || p.Number != 1 {
				want += p.Length()
			}
		}
		// The day's scales come of one part fewer: that may move a line by a little.
		if got := kept[l.ID]; got < 0.99*want || got > 1.01*want {
			t.Errorf("line %s: %.1f m, %.1f m in the whole map", l.ID, got, want)
		}
	}
	flagged := 0
	for i := range day.Located.Readings {
		if p := &day.Located.Readings[i]; strings.Contains(p.Flags.String(), "not_computed") {
			if flagged++; p.LineID != "W1" || p.Part != 0 || p.Used {
				t.Errorf("flagged %+v", p)
			}
		}
	}
	if flagged == 0 {
		t.Error("no reading of the missing part is flagged")
	}
	if err := day.Write(context.Background(), t.TempDir(), day.Map()); err != nil {
		t.Errorf("writing the map without it: %v", err)
	}
}
