package compare_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tracemap/compare"
	"tracemap/export"
	"tracemap/internal/simulate"
	"tracemap/internal/survey"
)

// locate runs an invented day from its logs to its map and gives the folder, as
// the command writes it.
func locate(t testing.TB, d *simulate.Day) string {
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
	opt.Fuse.AntennaHeight, opt.Fuse.HeightAssumed = d.Scenario.Mount.Height, false
	day, err := survey.Run(context.Background(), in, opt)
	if err != nil {
		t.Fatal(err)
	}
	formats, err := survey.ParseFormats("geojson,csv")
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

func TestTry(t *testing.T) {
	name := os.Getenv("TRY")
	p, ok := simulate.Named(name)
	if !ok {
		t.Skip("no preset")
	}
	n := 10
	fmt.Sscan(os.Getenv("N"), &n)
	var means []float64
	pairs, differs, inc, stations, sd, out, missing, extra, shifts := 0, 0, 0, 0, 0, 0, 0, 0, 0
	for seed := range uint64(n) {
		s := p.Scenario(seed + 1)
		s.Record = simulate.Record{Accuracy: 0.0}
		if os.Getenv("RECACC") != "" {
			fmt.Sscan(os.Getenv("RECACC"), &s.Record.Accuracy)
		}
		d := simulate.Invent(s)
		r := run(t, locate(t, d), asBuiltOf(t, d), func(o *compare.Options) {
			if os.Getenv("TOL") != "" {
				fmt.Sscan(os.Getenv("TOL"), &o.Tolerance)
			}
			if os.Getenv("ACC") != "" {
				fmt.Sscan(os.Getenv("ACC"), &o.Accuracy)
				o.DepthAccuracy = o.Accuracy
			}
		})
		missing += len(r.NotLocated)
		extra += len(r.NotInRecord)
		for _, m := range r.NotLocated {
			t.Log(seed, m)
		}
		if r.Shift.Significant {
			shifts++
			t.Logf("seed %d shift %+v", seed, r.Shift)
		}
		for _, q := range r.Pairs {
			pairs++
			if q.Verdict == compare.Differs {
				differs++
				t.Logf("seed %d %s lateral %v depth %v: %+v | %+v", seed, q.AsBuiltID, q.LateralVerdict, q.DepthVerdict, q.Lateral, q.Depth)
			}
			if q.Verdict == compare.Inconclusive {
				inc++
				var n [2][4]int
				for _, x := range q.Stations {
					n[0][x.LateralVerdict]++
					n[1][x.DepthVerdict]++
				}
				t.Logf("seed %d %s %v %v lateral %v depth %v sd %.2f mean %.2f", seed, q.AsBuiltID, q.LateralVerdict, q.DepthVerdict, n[0], n[1], q.Depth.SD, q.Depth.Mean)
			}
			if math.Abs(q.Lateral.Mean) > q.Lateral.Mean95 {
				out++
			}
			if q.Coverage < 90 {
				t.Logf("seed %d %s coverage %.0f gaps %v", seed, q.AsBuiltID, q.Coverage, q.Gaps)
			}
			means = append(means, q.Lateral.Mean)
			for _, x := range q.Stations {
				stations++
				if x.Verdict() == compare.Differs {
					sd++
				}
			}
		}
	}
	rms, most := 0.0, 0.0
	for _, m := range means {
		rms += m * m / float64(len(means))
		most = max(most, math.Abs(m))
	}
	t.Logf("%s: %d pairs, differs %d, inconclusive %d; stations %d differ %d; mean lateral rms %.3f max %.3f; mean beyond its 95%% %d; missing %d extra %d shifts %d", name, pairs, differs, inc, stations, sd, math.Sqrt(rms), most, out, missing, extra, shifts)
}
