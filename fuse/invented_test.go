package fuse_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/internal/lab/simulate"
	"tracemap/nmea"
	"tracemap/readings"
	"tracemap/remarks"
)

// A judged day is an invented one with what was made of its logs. The clock is
// given, so that lines are judged alone.
type judged struct {
	day *simulate.Day
	res *fuse.Result
}

// logs are the two logs of a day as text.
func logs(t testing.TB, d *simulate.Day) (nmeaLog, readingsLog []byte) {
	t.Helper()
	var a, b bytes.Buffer
	if _, err := d.WriteNMEA(&a); err != nil {
		t.Fatal(err)
	}
	if err := d.WriteReadings(&b); err != nil {
		t.Fatal(err)
	}
	return a.Bytes(), b.Bytes()
}

// read reads logs, each of them one or more sources.
func read(t testing.TB, nmeaLogs, readingsLogs [][]byte) ([]nmea.Epoch, []readings.Reading) {
	t.Helper()
	var ns []nmea.Source
	var rs []readings.Source
	for k, b := range nmeaLogs {
		ns = append(ns, nmea.Source{Name: fmt.Sprintf("%d.nmea", k), R: bytes.NewReader(b)})
	}
	for k, b := range readingsLogs {
		rs = append(rs, readings.Source{Name: fmt.Sprintf("%d.csv", k), R: io.Reader(bytes.NewReader(b))})
	}
	n, err := nmea.Read(context.Background(), ns, nmea.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := readings.Read(context.Background(), rs, readings.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return n.Epochs, r.Readings
}

// known is the clock as it truly is on average, with the drift of the day.
func known(d *simulate.Day, tr *track.Track) *clock.Result {
	c := d.Scenario.Clock
	return &clock.Result{
		Offset: c.Offset + c.Drift*1e-6*tr.Start.Sub(d.Scenario.Start).Seconds(), Drift: c.Drift, Ref: tr.Start,
		Sigma: 0.1, Method: "given", Determined: true, RunnerUp: nan,
	}
}

func judge(t testing.TB, d *simulate.Day) judged {
	t.Helper()
	a, b := logs(t, d)
	epochs, rs := read(t, [][]byte{a}, [][]byte{b})
	tr, err := track.Build(context.Background(), epochs)
	if err != nil {
		t.Fatal(err)
	}
	opt := fuse.DefaultOptions()
	opt.AntennaHeight = d.Scenario.Mount.Height
	res, err := fuse.Locate(context.Background(), tr, rs, known(d, tr), opt)
	if err != nil {
		t.Fatal(err)
	}
	return judged{d, res}
}

// invented are days of plain work with RTK, the seeds apart from those that
// accuracy is measured on; made once.
func invented(t testing.TB, preset string, n int) []judged {
	t.Helper()
	p, ok := simulate.Named(preset)
	if !ok {
		t.Fatalf("no preset %s", preset)
	}
	out := make([]judged, n)
	var wait sync.WaitGroup
	for k := range n {
		wait.Go(func() { out[k] = judge(t, simulate.Invent(p.Scenario(uint64(7_000_000+k)))) })
	}
	wait.Wait()
	return out
}

// truth gives the day's reading of a placed one: the header is row 1.
func (j *judged) truth(p *fuse.Placed) *simulate.Reading { return j.day.Readings[p.Reading.Row-2] }

// A line's width is judged at one place of it, its middle: errors along a line go
// together, those of lines less so. Of 95 % widths on N lines, 0.95·N hold, give or
// take 3·√(0.95·0.05·N); lines of one day share GNSS errors, which makes the bound
// looser by half again. Too wide fails like too narrow: the median error is
// 0.67 σ when σ is true, between 0.35 and 1.0 σ here.
func TestWidthsHoldByLines(t *testing.T) {
	var ratio []float64
	for _, preset := range []string{"rtk-stopgo", "cables-and-curves", "rtk-walk"} {
		for _, j := range invented(t, preset, 7) {
			local := geodesy.NewLocal(j.day.Scenario.Origin)
			for i := range j.res.Lines {
				l := &j.res.Lines[i]
				k := slices.IndexFunc(j.day.Lines, func(s *simulate.Line) bool { return s.ID == l.ID })
				if k < 0 {
					t.Errorf("%s: no true line %s", preset, l.ID)
					continue
				}
				part := &l.Parts[0]
				for p := range l.Parts {
					if l.Parts[p].Length() > part.Length() {
						part = &l.Parts[p]
					}
				}
				if len(part.Vertices) < 2 {
					continue
				}
				at, sigma := halfway(part)
				_, off := j.day.Lines[k].Path.Nearest(local.Forward(j.res.Plane.Inverse(at)))
				ratio = append(ratio, math.Abs(off)/sigma)
			}
		}
	}
	n := float64(len(ratio))
	if n < 80 {
		t.Fatalf("only %v lines", n)
	}
	held := 0
	for _, r := range ratio {
		if r <= 1.96 {
			held++
		}
	}
	room := 1.5 * 3 * math.Sqrt(0.95*0.05*n)
	slices.Sort(ratio)
	t.Logf("%d of %v lines held, median error %.2f σ", held, n, ratio[len(ratio)/2])
	if float64(held) < 0.95*n-room {
		t.Errorf("widths hold on %d of %v lines, want at least %.0f", held, n, 0.95*n-room)
	}
	if m := ratio[len(ratio)/2]; m < 0.35 || m > 1 {
		t.Errorf("median error %.2f σ, want 0.67", m)
	}
}

// halfway is the point halfway along a part, and its σ.
func halfway(p *fuse.Part) (at plane.Pt, sigma float64) {
	half := p.Length() / 2
	for k := 1; k < len(p.Vertices); k++ {
		a, b := &p.Vertices[k-1], &p.Vertices[k]
		if b.Station >= half {
			u := 0.0
			if b.Station > a.Station {
				u = (half - a.Station) / (b.Station - a.Station)
			}
			return a.At.Lerp(b.At, u), a.Sigma + u*(b.Sigma-a.Sigma)
		}
	}
	v := &p.Vertices[len(p.Vertices)-1]
	return v.At, v.Sigma
}

// Readings at true right angles – within a metre of the fitting – are on their
// line: at the most one in a hundred is set aside.
func TestCornersAreNoLocks(t *testing.T) {
	corners, aside := 0, 0
	for _, j := range invented(t, "rtk-bends", 12) {
		for k := range j.res.Readings {
			p := &j.res.Readings[k]
			r := j.truth(p)
			if !p.OK || r.Line == nil || r.Lock || r.Feature != "" {
				continue
			}
			for _, c := range r.Line.Corners {
				if math.Abs(c.Station-r.Station) < 1 && math.Abs(c.Turn) > 80 {
					corners++
					if !p.Used {
						aside++
						t.Logf("seed %d: reading in row %d, %.1f m from a corner of %s, set aside: %v", j.day.Scenario.Seed,
							p.Reading.Row, c.Station-r.Station, r.Line.ID, p.Flags)
					}
				}
			}
		}
	}
	if corners < 60 {
		t.Fatalf("only %d readings at corners", corners)
	}
	if aside > corners/100 {
		t.Errorf("%d of %d readings at right angles set aside", aside, corners)
	}
}

// A single reading on a neighbour, plainly so – half a metre and more off, the
// current below two thirds of the line's, the depth off by a tenth and more, away
// from the line's ends – is set aside in nine of ten cases; of the readings on
// their line at the most one in fifty is. (Runs of locks, and those at an end, make
// a shape of their own, which may be the line's.)
func TestSingleLocksAreSetAside(t *testing.T) {
	single, caught, good, wronged := 0, 0, 0, 0
	for _, j := range invented(t, "rtk-locks", 12) {
		for k := range j.res.Readings {
			p := &j.res.Readings[k]
			r := j.truth(p)
			if !p.OK || r.Line == nil || r.Feature != "" {
				continue
			}
			if !p.Used && !p.Flags.Any(remarks.NeighbourLock|remarks.Outlier) {
				t.Errorf("seed %d: row %d set aside without a flag", j.day.Scenario.Seed, p.Reading.Row)
			}
			if !r.Lock {
				good++
				if !p.Used {
					wronged++
				}
				continue
			}
			alone := k > 0 && k+1 < len(j.day.Readings) && !j.day.Readings[k-1].Lock && !j.day.Readings[k+1].Lock
			inner := min(r.Station-r.Line.Surveyed[0], r.Line.Surveyed[1]-r.Station) > 8
			depth := math.Abs(r.DepthRead/r.Line.DepthAt(r.Station) - 1)
			if alone && inner && r.At.Dist(r.True) > 0.5 && depth > 0.1 && r.CurrentRead < 0.66*r.Line.CurrentAt(r.Station) {
				single++
				if !p.Used {
					caught++
				} else {
					t.Logf("seed %d: row %d, %.2f m off, depth %.0f %% off, in the fit", j.day.Scenario.Seed, p.Reading.Row, r.At.Dist(r.True), 100*depth)
				}
			}
		}
	}
	t.Logf("%d of %d plain single locks set aside, and %d of %d good readings", caught, single, wronged, good)
	if single < 12 || 10*caught < 9*single {
		t.Errorf("%d of %d plain single locks set aside", caught, single)
	}
	if wronged > good/50 {
		t.Errorf("%d of %d good readings set aside", wronged, good)
	}
}

// The same logs with CRLF for LF, in two files each, handed over in another order,
// are the same day.
func TestLogsInPieces(t *testing.T) {
	p, _ := simulate.Named("rtk-return")
	d := simulate.Invent(p.Scenario(7_100_000))
	a, b := logs(t, d)
	locateLogs := func(ns, rs [][]byte) string {
		epochs, readings := read(t, ns, rs)
		tr, err := track.Build(context.Background(), epochs)
		if err != nil {
			t.Fatal(err)
		}
		res, err := fuse.Locate(context.Background(), tr, readings, known(d, tr), fuse.DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		slices.SortFunc(res.Lines, func(x, y fuse.Line) int { return strings.Compare(x.ID, y.ID) })
		return summary(res, geodesy.NewLocal(d.Scenario.Origin).Forward)
	}
	want := locateLogs([][]byte{a}, [][]byte{b})
	lf, crlf := []byte("\n"), []byte("\r\n")
	plain := bytes.ReplaceAll(a, crlf, lf)
	if got := locateLogs([][]byte{plain}, [][]byte{bytes.ReplaceAll(bytes.ReplaceAll(b, crlf, lf), lf, crlf)}); got != want {
		t.Error("other line ends, another day")
	}
	lines := bytes.SplitAfter(a, lf)
	first, second := bytes.Join(lines[:len(lines)/2], nil), bytes.Join(lines[len(lines)/2:], nil)
	rows := bytes.SplitAfter(b, lf)
	head := rows[0]
	upper := bytes.Join(rows[:len(rows)/3], nil)
	lower := append(bytes.Clone(head), bytes.Join(rows[len(rows)/3:], nil)...)
	if got := locateLogs([][]byte{second, first}, [][]byte{lower, upper}); got != want {
		t.Errorf("in pieces and in another order, another day:\n%s\nwas\n%s", got, want)
	}
}
