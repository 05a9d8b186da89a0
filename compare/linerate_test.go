package compare_test

import (
	"math"
	"os"
	"strconv"
	"testing"

	"tracemap/compare"
	"tracemap/internal/lab/simulate"
)

// A line's verdict holds as a whole, in each fix quality: with a true record at
// most 5 % of the lines are said to differ at a tolerance of 0 and at most 1 % at
// the default one; of lines that the record has beside their place by twice the
// 95 % uncertainty of both, at least 90 % are. Bounds stated beforehand. Where few
// days are run they leave room for twice the σ of the share.
func TestVerdictOnLines(t *testing.T) {
	n := 8
	if days, err := strconv.Atoi(os.Getenv("TRACEMAP_COMPARE_DAYS")); err == nil {
		n = days // 84 days have 500 lines
	}
	for _, preset := range []string{"rtk-stopgo", "rtk-walk", "mixed-return", "sbas-stopgo", "autonomous-stopgo"} {
		var lines, differs, differs05, moved, found int
		p, _ := simulate.Named(preset)
		for seed := range uint64(n) {
			if testing.Short() && seed > 0 {
				break
			}
			s := p.Scenario(seed + 200)
			s.Record = simulate.Record{Accuracy: 0.05}
			d := simulate.Invent(s)
			folder, path := locate(t, d), asBuiltOf(t, d)
			compared := func(path string, tolerance float64) *compare.Result {
				return run(t, folder, path, func(o *compare.Options) {
					o.Tolerance, o.Accuracy, o.Search, o.DepthTo = tolerance, 0.1, 3, compare.Centre
					if tolerance < 0 {
						o.Tolerance, o.Search = 0, 30
					}
				})
			}
			r := compared(path, 0)
			lines += len(r.Lines)
			differs += r.Counts[compare.Differs]
			differs05 += compared(path, 0.5).Counts[compare.Differs]
			// One line a day is moved, so that no neighbour takes its place.
			victim := &r.Pairs[int(seed)%len(r.Pairs)]
			u := 0.0
			for i := range victim.Stations {
				u += victim.Stations[i].Lateral95 / float64(len(victim.Stations))
			}
			r = compared(displace(t, path, s.Origin, victim.AsBuiltID, 2*u), -1)
			for i := range r.Pairs {
				if r.Pairs[i].AsBuiltID == victim.AsBuiltID && len(r.Pairs[i].LineIDs) == 1 && r.Pairs[i].LineIDs[0] == victim.LineIDs[0] {
					moved++
					if r.Pairs[i].LateralVerdict == compare.Differs {
						found++
					}
				}
			}
		}
		t.Logf("%s: of %d true lines %d differ at a tolerance of 0, %d at 0.5 m; of %d moved by twice the uncertainty %d differ", preset, lines, differs, differs05, moved, found)
		room := func(share float64) float64 { return share*float64(lines) + 2*math.Sqrt(share*float64(lines)) }
		if float64(differs) > room(0.05) || float64(differs05) > room(0.01) {
			t.Errorf("%s: of %d true lines %d are said to differ at a tolerance of 0, %d at 0.5 m", preset, lines, differs, differs05)
		}
		if !testing.Short() && float64(found) < 0.9*float64(moved)-2*math.Sqrt(0.09*float64(moved)) {
			t.Errorf("%s: of %d lines moved by twice the uncertainty only %d differ", preset, moved, found)
		}
	}
}
