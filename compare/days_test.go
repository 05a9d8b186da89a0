package compare_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tracemap/compare"
	"tracemap/export"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/internal/lab/simulate"
	"tracemap/internal/survey"
)

// locate runs an invented day from its logs to its map and gives the folder, as
// the command writes it.
func locate(t testing.TB, d *simulate.Day) string {
	t.Helper()
	return locateAs(t, d, "geojson,csv")
}

// demo is the day in the invented town.
func demo(t testing.TB) *simulate.Day {
	t.Helper()
	return simulate.Invent(simulate.Demo())
}

func locateAs(t testing.TB, d *simulate.Day, list string) string {
	t.Helper()
	var log, readings bytes.Buffer
	if _, err := d.WriteNMEA(&log); err != nil {
		t.Fatal(err)
	}
	if err := d.WriteReadings(&readings); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for name, data := range map[string][]byte{"day.nmea": log.Bytes(), "readings.csv": readings.Bytes()} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	sources, _, err := survey.Paths([]string{filepath.Join(dir, "day.nmea"), filepath.Join(dir, "readings.csv")}, strings.NewReader(""))
	if err != nil {
		t.Fatal(err)
	}
	in, err := survey.Open(context.Background(), sources)
	if err != nil {
		t.Fatal(err)
	}
	opt := survey.DefaultOptions()
	opt.Frame = "WGS84"
	opt.Fuse.AntennaHeight = d.Scenario.Mount.Height
	day, err := survey.Run(context.Background(), in, opt)
	if err != nil {
		t.Fatal(err)
	}
	formats, err := survey.ParseFormats(list)
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "map")
	if err := os.Mkdir(out, 0o777); err != nil {
		t.Fatal(err)
	}
	if err := export.Write(context.Background(), out, day.Map(), formats, export.Options{}); err != nil {
		t.Fatal(err)
	}
	return out
}

// asBuiltOf writes the day's record.
func asBuiltOf(t testing.TB, d *simulate.Day) string {
	t.Helper()
	var b bytes.Buffer
	if err := d.WriteAsBuilt(&b); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "as-built.geojson")
	if err := os.WriteFile(path, b.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
	return path
}

func run(t testing.TB, located, asBuilt string, change func(*compare.Options)) *compare.Result {
	t.Helper()
	opt := compare.DefaultOptions()
	if change != nil {
		change(&opt)
	}
	r, err := compare.Run(context.Background(), located, asBuilt, opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// days runs invented days with a record and gives each result. Frame and antenna
// are told, so that nothing is assumed.
func days(t *testing.T, preset string, n int, rec func(seed uint64) simulate.Record, change func(*compare.Options), each func(seed uint64, d *simulate.Day, r *compare.Result)) {
	t.Helper()
	p, ok := simulate.Named(preset)
	if !ok {
		t.Fatalf("no preset %q", preset)
	}
	if testing.Short() {
		n = max(2, n/8)
	}
	for seed := range uint64(n) {
		s := p.Scenario(seed + 1)
		s.Record = rec(seed)
		d := simulate.Invent(s)
		each(seed, d, run(t, locate(t, d), asBuiltOf(t, d), change))
	}
}

// On RTK a record that is right is found to be within 5 cm of zero, and one that
// is displaced by 0.35 m is found displaced by that, to the right side. A located
// line as a whole is off by 3 cm (root mean square over lines), so that one in
// ten may exceed 5 cm; none may exceed what it says itself.
func TestDisplacedLines(t *testing.T) {
	const by, tolerance = 0.35, 0.05
	lines, good, said := 0, 0, 0
	for seed := range uint64(12) {
		if testing.Short() && seed > 2 {
			break
		}
		p, _ := simulate.Named("rtk-stopgo")
		s := p.Scenario(seed + 100)
		s.Record = simulate.Record{}
		d := simulate.Invent(s)
		victim := d.Lines[int(seed)%len(d.Lines)].ID
		to := by
		if seed%2 == 1 {
			to = -by
		}
		// The record goes to the right, so that the located line lies to its left.
		path := displace(t, asBuiltOf(t, d), s.Origin, victim, -to)
		r := run(t, locate(t, d), path, func(o *compare.Options) { o.Accuracy = 0.05 })
		if r.Shift.Significant {
			t.Errorf("seed %d: one displaced line among %d is called a displacement of all: %+v", seed, len(r.Pairs), r.Shift)
		}
		for i := range r.Pairs {
			q := &r.Pairs[i]
			want := 0.0
			if q.AsBuiltID == victim {
				want = to
				t.Logf("seed %d: %s displaced by %+.2f, found %+.3f ± %.3f", seed, victim, to, q.Lateral.Mean, q.Lateral.Mean95)
				near(t, fmt.Sprintf("seed %d, %s", seed, victim), q.Lateral.Mean, want, 2*tolerance)
			}
			lines++
			if math.Abs(q.Lateral.Mean-want) <= tolerance {
				good++
			}
			if math.Abs(q.Lateral.Mean-want) <= q.Lateral.Mean95 {
				said++
			}
		}
	}
	t.Logf("%d lines: %d within %.2f m, %d within what they say", lines, good, tolerance, said)
	if 100*good < 85*lines || 100*said < 92*lines {
		t.Errorf("of %d lines only %d are within %v m, %d within what they say", lines, good, tolerance, said)
	}
}

// A record that is right is not said to differ, whatever the fix: neither of the
// stations nor of the lines more than 5 % are.
func TestTrueRecords(t *testing.T) {
	pairs, falsePairs := 0, 0
	for _, c := range []struct {
		preset string
		n      int
	}{{"rtk-stopgo", 50}, {"mixed-return", 6}, {"sbas-stopgo", 6}} {
		stations, falseStations := 0, 0
		days(t, c.preset, c.n, func(uint64) simulate.Record { return simulate.Record{Accuracy: 0.1} }, nil, func(seed uint64, _ *simulate.Day, r *compare.Result) {
			if len(r.NotLocated) > 0 || len(r.NotInRecord) > 0 || r.Shift.Significant {
				t.Errorf("%s seed %d: not located %v, in no record %v, displacement %+v", c.preset, seed, r.NotLocated, r.NotInRecord, r.Shift)
			}
			for i := range r.Pairs {
				pairs++
				if r.Pairs[i].Verdict == compare.Differs {
					falsePairs++
				}
				for k := range r.Pairs[i].Stations {
					stations++
					if r.Pairs[i].Stations[k].Verdict() == compare.Differs {
						falseStations++
					}
				}
			}
		})
		t.Logf("%s: %d of %d stations are falsely said to differ", c.preset, falseStations, stations)
		if 20*falseStations > stations {
			t.Errorf("%s: %d of %d stations falsely differ", c.preset, falseStations, stations)
		}
	}
	t.Logf("%d of %d lines are falsely said to differ", falsePairs, pairs)
	if 20*falsePairs > pairs {
		t.Errorf("%d of %d lines falsely differ", falsePairs, pairs)
	}
}

// Without corrections nothing can be said, and nothing is: also of a line that is
// displaced.
func TestAutonomousIsInconclusive(t *testing.T) {
	mistakes := func(uint64) simulate.Record { return simulate.Record{Accuracy: 0.1, Mistakes: true} }
	differs, all := 0, 0
	days(t, "autonomous-stopgo", 12, mistakes, nil, func(seed uint64, _ *simulate.Day, r *compare.Result) {
		for i := range r.Pairs {
			all++
			if v := r.Pairs[i].Verdict; v != compare.Inconclusive {
				differs++
				t.Logf("seed %d, %s: %v", seed, r.Pairs[i].AsBuiltID, v)
			}
		}
		if r.Shift.Significant {
			t.Errorf("seed %d: %+v", seed, r.Shift)
		}
	})
	if all == 0 || 20*differs > all {
		t.Errorf("%d of %d lines are judged although their fix is worth metres", differs, all)
	}
}

// A record that is shifted as a whole is found to be.
func TestShiftedRecord(t *testing.T) {
	shifted := func(uint64) simulate.Record { return simulate.Record{Accuracy: 0.05, Shift: pt(1.1, -0.6)} }
	days(t, "rtk-stopgo", 10, shifted, nil, func(seed uint64, _ *simulate.Day, r *compare.Result) {
		s := r.Shift
		if !s.Significant {
			t.Errorf("seed %d: not significant: %+v", seed, s)
		}
		near(t, "east", s.East, -1.1, 0.2)
		near(t, "north", s.North, 0.6, 0.2)
		if !(s.Sigma < 0.15) {
			t.Errorf("seed %d: σ %v", seed, s.Sigma)
		}
	})
}

// What a record says wrongly is found, and nothing else.
func TestMistakesAreFound(t *testing.T) {
	mistakes := func(uint64) simulate.Record { return simulate.Record{Accuracy: 0.03, Mistakes: true} }
	tight := func(o *compare.Options) {
		o.Tolerance, o.Accuracy, o.DepthAccuracy, o.DepthTo = 0.15, 0.1, 0.1, compare.Centre
	}
	days(t, "rtk-stopgo", 10, mistakes, tight, func(seed uint64, d *simulate.Day, r *compare.Result) {
		kinds := map[string]simulate.Difference{}
		for _, x := range d.Differences {
			kinds[x.ID] = x
		}
		for id, x := range kinds {
			what := fmt.Sprintf("seed %d, %s %s", seed, id, x.Kind)
			switch x.Kind {
			case "moved":
				near(t, what, pairOf(t, r, id).Lateral.Mean, -x.Value, 0.12)
			case "depth":
				near(t, what, pairOf(t, r, id).Depth.Mean, -x.Value, 0.25) // m: the record has one depth for all of it
			case "missing":
				if len(r.NotInRecord) != 1 || r.NotInRecord[0].LineID != id {
					t.Errorf("%s: in no record %+v", what, r.NotInRecord)
				}
			case "not_there":
				if len(r.NotLocated) != 1 || r.NotLocated[0].AsBuiltID != id {
					t.Errorf("%s: not located %+v", what, r.NotLocated)
				}
			case "reversed":
				near(t, what, pairOf(t, r, id).Lateral.Mean, 0, 0.12)
			}
		}
		if r.Shift.Significant {
			t.Errorf("seed %d: %+v", seed, r.Shift)
		}
	})
}

// displace moves one line of a record to the left.
func displace(t testing.TB, path string, origin geodesy.Geo, id string, left float64) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var c struct {
		Type     string `json:"type"`
		Features []struct {
			Type       string         `json:"type"`
			Properties map[string]any `json:"properties"`
			Geometry   struct {
				Type        string       `json:"type"`
				Coordinates [][2]float64 `json:"coordinates"`
			} `json:"geometry"`
		} `json:"features"`
	}
	if err := json.Unmarshal(b, &c); err != nil {
		t.Fatal(err)
	}
	local := geodesy.NewLocal(origin)
	for i := range c.Features {
		if c.Features[i].Properties["id"] != id {
			continue
		}
		var pts []plane.Pt
		for _, q := range c.Features[i].Geometry.Coordinates {
			pts = append(pts, local.Forward(geodesy.Geo{Lat: q[1], Lon: q[0]}))
		}
		for k := range pts {
			// The mitre of the two normals keeps both straights at the distance.
			in := pts[k].Sub(pts[max(0, k-1)]).Unit().Left()
			out := pts[min(len(pts)-1, k+1)].Sub(pts[k]).Unit().Left()
			n := in.Add(out)
			by := n.Mul(2 * left / n.Dot(n))
			if k == 0 || k == len(pts)-1 {
				by = n.Mul(left) // one of the two is zero
			}
			g := local.Inverse(pts[k].Add(by))
			c.Features[i].Geometry.Coordinates[k] = [2]float64{g.Lon, g.Lat}
		}
	}
	out := filepath.Join(t.TempDir(), "displaced.geojson")
	save(t, out, c)
	return out
}
