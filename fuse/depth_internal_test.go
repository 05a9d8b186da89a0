package fuse

import (
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/fuse/noise"
	"tracemap/readings"
)

// A depthLaw is how depths err in these tests: drawn here, not with the code under test.
type depthLaw struct {
	crew   float64 // σ as a multiple of the table's
	shared float64 // share of the variance that neighbours have in common
	length float64 // m, over which they have it
	common float64 // share of the depth by which all of a line is off
}

// tableSigma is one σ of a depth in a clean field as docs/estimate.md has it: 3 cm and
// 5 %, from 2.5 to 3.5 m growing to twice that.
func tableSigma(d float64) float64 {
	s := math.Sqrt(0.03*0.03 + 0.05*0.05*d*d)
	switch {
	case d > 3.5:
		s *= 2
	case d > 2.5:
		s *= math.Pow(2, d-2.5)
	}
	return s
}

// draw gives standard normal errors of readings at stations in order.
func (l depthLaw) draw(rng *rand.Rand, station []float64) []float64 {
	out := make([]float64, len(station))
	var slow float64
	for k := range station {
		if k == 0 {
			slow = rng.NormFloat64()
		} else {
			rho := math.Exp(-(station[k] - station[k-1]) / l.length)
			slow = rho*slow + math.Sqrt(1-rho*rho)*rng.NormFloat64()
		}
		out[k] = math.Sqrt(1-l.shared)*rng.NormFloat64() + math.Sqrt(l.shared)*slow
	}
	return out
}

// A depthLine is an invented line: its readings' stations, the depths logged there,
// and where it really lies.
type depthLine struct {
	station, logged []float64
	truth           func(s float64) float64
}

// fitDepths are the lines of a day fitted as the program does it: in outline, with the
// day's scales measured, and again.
func fitDepths(lines []depthLine) []*profile {
	nan := math.NaN()
	fit := func(l *depthLine, sc *scales) *profile {
		ps := make([]Placed, len(l.logged))
		f := &partFit{station: l.station}
		for k, d := range l.logged {
			r := &readings.Reading{Depth: d, CoilDepth: nan, Response: readings.Peak, Method: readings.Direct, NullOffset: nan}
			ps[k] = Placed{Reading: r, OK: true}
			f.samples, f.used = append(f.samples, sample{i: k}), append(f.used, k)
		}
		p, _ := depthProfile(ps, f, nil, nil, sc)
		return p
	}
	sc := unitScales()
	var outlines []*shapedPart
	for k := range lines {
		outlines = append(outlines, &shapedPart{depth: fit(&lines[k], &sc)})
	}
	sc.depthWhite, sc.depthShared = measureDepthScales(outlines)
	var out []*profile
	for k := range lines {
		out = append(out, fit(&lines[k], &sc))
	}
	return out
}

// A depthTally counts how depths of invented lines came out, at 21 places a line.
type depthTally struct{ n, bias, inside float64 }

func (a *depthTally) add(l *depthLine, p *profile) {
	length := l.station[len(l.station)-1]
	for k := range 21 {
		s := length * float64(k) / 20
		v, sigma := p.at(s)
		err := v - l.truth(s)
		a.n++
		a.bias += err / l.truth(s)
		if math.Abs(err) < noise.K95*sigma {
			a.inside++
		}
	}
}

// inventDepths draws a day of lines, each n readings, and the same day with every
// error the other way: an estimate that is linear in the readings has no bias over
// the two together, whatever was drawn.
func inventDepths(rng *rand.Rand, law depthLaw, lines, n int, step, depth, fall float64) (days [2][]depthLine) {
	for range lines {
		station := []float64{0}
		for k := range n - 1 {
			station = append(station, station[k]+step*(0.7+0.6*rng.Float64()))
		}
		length := station[n-1]
		truth := func(s float64) float64 { return depth * (1 + fall*(s/length-0.5)) }
		e, common := law.draw(rng, station), law.common*rng.NormFloat64()
		for i, sign := range []float64{1, -1} {
			l := depthLine{station: station, truth: truth}
			for k, s := range station {
				z := truth(s)
				l.logged = append(l.logged, max(z*(1+sign*common)+sign*law.crew*tableSigma(z)*e[k], 0.05))
			}
			days[i] = append(days[i], l)
		}
	}
	return days
}

// Depths have no bias beyond 0.3 % of the depth and lie within their 95 % on 93 to 97 %
// of the places: level and falling lines 0.5 to 5 m deep, with 10, 100 and 1,000
// readings, where errors are as large as the table has them, half or twice as large.
// Where every error is new at each reading the σ may be too large – a day shows
// little of the part that a table says is shared – but not too small.
//
// Bounds of the coverage are wider by what days and lines scatter: errors are shared
// along a line, so that a line of 100 readings is worth some ten places.
func TestDepthsWithoutBias(t *testing.T) {
	kinds := []struct {
		lines, n int
		step     float64
		days     int
	}{{12, 10, 3, 3}, {4, 100, 1.5, 2}, {1, 1000, 0.3, 1}}
	for _, c := range []struct {
		name      string
		law       depthLaw
		low, high float64
	}{
		{"shared as the table", depthLaw{1, 0.4, 12, 0.025}, 0.93, 0.97},
		{"shared, half the table", depthLaw{0.5, 0.4, 12, 0.025}, 0.93, 0.975},
		{"shared, twice the table", depthLaw{2, 0.4, 12, 0.025}, 0.92, 0.97},
		{"new at every reading", depthLaw{1, 0, 12, 0.025}, 0.93, 0.998},
		{"new at every reading, twice the table", depthLaw{2, 0, 12, 0.025}, 0.93, 0.998},
	} {
		var all depthTally
		for _, k := range kinds {
			for _, depth := range []float64{0.5, 2, 3.2, 5} {
				for _, fall := range []float64{0, 0.4} {
					if k.n == 1000 && !(depth == 3.2 && fall == 0.4 && c.law.crew == 1) {
						continue // one takes as long as all others together
					}
					var a depthTally
					for day := range k.days {
						rng := rand.New(rand.NewPCG(uint64(day), uint64(1000*depth)+uint64(10*fall)+uint64(k.n)<<16))
						for _, lines := range inventDepths(rng, c.law, k.lines, k.n, k.step, depth, fall) {
							for i, p := range fitDepths(lines) {
								a.add(&lines[i], p)
							}
						}
					}
					if bias := a.bias / a.n; !(math.Abs(bias) <= 0.003) {
						t.Errorf("%s, %d readings, %.1f m deep, falling by %.0f %%: bias %+.2f %%", c.name, k.n, depth, 100*fall, 100*bias)
					}
					if k.n < 1000 { // one line says nothing of a coverage
						all.n, all.inside = all.n+a.n, all.inside+a.inside
					}
				}
			}
		}
		t.Logf("%s: %.1f %% of %.0f places", c.name, 100*all.inside/all.n, all.n)
		if got := all.inside / all.n; !(got >= c.low && got <= c.high) {
			t.Errorf("%s: %.1f %% inside", c.name, 100*got)
		}
	}
}

// Two coils of 1 % each (facts of the two-coil formula: d = s·Bt/(Bb − Bt)) over a
// line at 1 to 4 m: single depths are skew, their mean 0.2 to 2.5 % too deep, and the
// fitted depth of 20 is right to 0.6 %.
func TestTwoCoilDepthsAreNotSkew(t *testing.T) {
	const spacing = 0.4
	for _, depth := range []float64{1, 2, 3, 4} {
		rng := rand.New(rand.NewPCG(uint64(depth), 91))
		var plain, fit float64
		const lines, n = 400, 20
		for range lines {
			ps := make([]Placed, n)
			f := &partFit{}
			for k := range ps {
				bottom, top := (1+0.01*rng.NormFloat64())/depth, (1+0.01*rng.NormFloat64())/(depth+spacing)
				r := &readings.Reading{Depth: math.NaN(), CoilDepth: spacing * top / (bottom - top), NullOffset: math.NaN()}
				plain += r.CoilDepth / lines / n
				ps[k] = Placed{Reading: r, OK: true}
				f.samples, f.used, f.station = append(f.samples, sample{i: k}), append(f.used, k), append(f.station, 3*float64(k))
			}
			sc := unitScales()
			p, _ := depthProfile(ps, f, nil, nil, &sc)
			v, _ := p.at(28.5)
			fit += v / lines
		}
		t.Logf("%v m: mean of the depths %+.2f %%, fitted %+.2f %%", depth, 100*(plain/depth-1), 100*(fit/depth-1))
		if math.Abs(fit/depth-1) > 0.006 {
			t.Errorf("%v m deep: fitted %.4f m, the depths' mean %.4f m", depth, fit, plain)
		}
	}
}

// A depth's σ grows with the depth without a jump: a reading 1 cm deeper is worse by
// at most 3 %.
func TestDepthSigmaHasNoCliff(t *testing.T) {
	r := &readings.Reading{Response: readings.Peak, Method: readings.Direct}
	for d := 0.2; d < 6; d += 0.01 {
		if a, b := noise.DepthSigma(r, d), noise.DepthSigma(r, d+0.01); !(b > a && b < 1.03*a+2e-3) {
			t.Fatalf("σ %.4f m at %.2f m and %.4f m a centimetre below", a, d, b)
		}
	}
}
