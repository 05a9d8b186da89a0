package fuse

import (
	"math"
	"slices"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
)

// A partFit is the shape of a part under work.
type partFit struct {
	samples   []sample
	stretches []stretch
	// For each sample: its stretch, station on that stretch, signed offset from
	// it, left normal there, and station along the part.
	on      []int
	local   []float64
	offset  []float64
	normal  []plane.Pt
	station []float64
	gls     *glsFit
	wander  float64 // σ of the line's departure from the stretches, m
	rough   bool    // only the cost is wanted, not the shape to the last millimetre
	used    []int   // samples in the fit, in the order of the matrices' rows
	columns []int   // first column of each stretch
	clock   *clockAnswer
}

// locate finds for each sample its place on the stretches. A sample near a
// corner goes to whichever of its own and the neighbouring stretches is nearer.
func (f *partFit) locate() {
	n := len(f.samples)
	if len(f.on) != n {
		f.on, f.local, f.offset = make([]int, n), make([]float64, n), make([]float64, n)
		f.normal, f.station = make([]plane.Pt, n), make([]float64, n)
	}
	var from float64
	var laid []laidPiece
	for k := range f.stretches {
		st := &f.stretches[k]
		lo, hi := math.Inf(1), math.Inf(-1)
		laid = st.lay(laid[:0])
		for m := st.first; m <= st.last; m++ {
			piece, s, o := project(laid, f.samples[m].at)
			f.on[m], f.local[m], f.offset[m], f.normal[m] = k, s, o, piece.heading(s).Left()
			lo, hi = min(lo, s), max(hi, s)
		}
		for m := st.first; m <= st.last; m++ {
			f.station[m] = from + f.local[m] - lo
		}
		from += hi - lo
		if k+1 < len(f.stretches) {
			from += f.samples[st.last].at.Dist(f.samples[f.stretches[k+1].first].at)
		}
	}
}

// solve corrects the shape by generalised least squares until it stands still:
// offsets across the line are the observations, the chains' parameters the
// unknowns, and the covariance is that of all errors that the readings share. A
// step that makes the fit worse is halved (damped Gauss–Newton).
func (f *partFit) solve() error {
	f.locate()
	if err := f.step(); err != nil {
		return err
	}
	for range 12 {
		before, misfit := f.chains(), f.misfit()
		var largest float64
		for shrink := 1.0; ; shrink /= 2 {
			largest = f.move(before, shrink)
			f.locate()
			if f.misfit() <= misfit*(1+1e-9) || shrink < 0.1 {
				break
			}
		}
		if largest < f.enough() {
			break
		}
		if err := f.stepWith(f.gls.c); err != nil {
			return err
		}
	}
	if f.rough {
		return f.stepWith(f.gls.c)
	}
	return f.step() // the widths hang on the covariance where the shape now lies
}

// enough is the change of the parameters, m, below which the shape stands still.
func (f *partFit) enough() float64 {
	if f.rough {
		return 0.02
	}
	return 0.002
}

func (f *partFit) chains() []chain {
	out := make([]chain, len(f.stretches))
	for k := range f.stretches {
		out[k] = f.stretches[k].chain
	}
	return out
}

// move sets the chains to the given ones changed by a share of the last step,
// and gives the largest change, m.
func (f *partFit) move(from []chain, share float64) float64 {
	var largest float64
	for k := range f.stretches {
		d := slices.Clone(f.gls.beta[f.columns[k] : f.columns[k]+f.stretches[k].params()])
		for i := range d {
			d[i] *= share
			largest = max(largest, math.Abs(d[i]))
		}
		f.stretches[k].chain = from[k].moved(d)
	}
	return largest
}

// misfit is the sum of squared offsets in units of each sample's own variance:
// what a step must not make worse. (The full χ² would do as well, at the price
// of a solution.)
func (f *partFit) misfit() float64 {
	var s float64
	for _, m := range f.used {
		s += sq(f.offset[m]) / (f.samples[m].local + f.samples[m].doubt())
	}
	return s
}

func (f *partFit) step() error {
	f.used = f.used[:0]
	for m := range f.samples {
		if f.samples[m].held() {
			f.used = append(f.used, m)
		}
	}
	c, err := f.covariance()
	if err != nil {
		return err
	}
	return f.stepWith(c)
}

// stepWith takes a step with the factor of a covariance already made: between the
// steps of one solution it changes too little to matter.
func (f *partFit) stepWith(c *covariance) error {
	x, prior := f.design()
	y := make([]float64, len(f.used))
	for r, m := range f.used {
		y[r] = f.offset[m]
	}
	var err error
	f.gls, err = solveGLS(y, x, c, prior)
	return err
}

// own lists the samples that are the line's own, in order.
func (f *partFit) own() []int {
	out := make([]int, 0, len(f.used))
	for _, m := range f.used {
		if !f.samples[m].out {
			out = append(out, m)
		}
	}
	return out
}

// covariance is that of the used samples' errors across the line: what
// sharedWith, unrestWith, slowWith and the clock give for each pair, with what does
// not hang on the pair worked out once.
func (f *partFit) covariance() (*covariance, error) {
	n := len(f.used)
	type own struct {
		slow    plane.Pt // σ of the slow error across the line, along the normal
		shared  float64  // σ of what neighbours along the line share, m: pin-pointing …
		unrest  float64  // … and unrest
		shift   float64
		on      int
		chain   int
		quality nmea.Quality
	}
	all := make([]own, n)
	numbers := make([]float64, 3*n)
	station, time, local := decay{x: numbers[:n]}, decay{x: numbers[n : 2*n]}, decay{x: numbers[2*n:]}
	for r, m := range f.used {
		s, normal := &f.samples[m], f.normal[m]
		all[r] = own{normal.Mul(s.across(normal)), s.shared, math.Sqrt(noise.PinShared * s.unrest), s.shift.Dot(normal), f.on[m], s.chain, s.quality}
		station.x[r], time.x[r], local.x[r] = f.station[m]/noise.PinLength, s.t/s.tau, f.local[m]*(math.Sqrt(3)/wanderReach)
	}
	station, time, local = newDecay(station.x), newDecay(time.x), newDecay(local.x)
	wander := sq(f.wander)
	return newCovariance(n, func(i, from int, to []float64) {
		a := &all[i]
		for k := range to {
			j := from + k
			b := &all[j]
			v := (a.shared*b.shared+a.unrest*b.unrest)*station.of(i, j) + a.shift*b.shift
			if a.quality == b.quality {
				rho := time.of(i, j)
				if a.chain != b.chain {
					rho *= otherChain
				}
				v += rho * a.slow.Dot(b.slow)
			}
			if a.on == b.on {
				v += wander * local.matern(i, j)
			}
			to[k] = v
		}
		to[i-from] += f.samples[f.used[i]].independent()
	})
}

// design gives the derivative of each used sample's offset with respect to each
// parameter, a column a parameter, by differences, and the weak prior on the
// parameters, 1/m². The priors only matter where readings do not fix a parameter:
// a stretch with one reading, a joint inside a curve.
func (f *partFit) design() (x []stretched, prior []float64) {
	f.columns = f.columns[:0]
	var laid []laidPiece
	first := 0 // of the used samples on the stretch: they come in its order
	for k := range f.stretches {
		f.columns = append(f.columns, len(x))
		st := &f.stretches[k]
		for first < len(f.used) && f.used[first] < st.first {
			first++
		}
		end := first
		for end < len(f.used) && f.used[end] <= st.last {
			end++
		}
		np := st.params()
		for c := range np {
			prior = append(prior, f.priorOf(k, c))
			moved := st.moved(unit(np, c, probe))
			laid = moved.lay(laid[:0])
			col := make([]float64, end-first)
			for r, m := range f.used[first:end] {
				_, _, o := project(laid, f.samples[m].at)
				col[r] = (f.offset[m] - o) / probe
			}
			x = append(x, stretched{first, col})
		}
	}
	return x, prior
}

// probe, m, is the step of the numeric derivatives.
const probe = 1e-3

func unit(n, k int, v float64) []float64 {
	d := make([]float64, n)
	d[k] = v
	return d
}

// priorOf is 1/σ² of the prior on parameter c of stretch k.
func (f *partFit) priorOf(k, c int) float64 {
	st := &f.stretches[k]
	joints := st.params() - (len(st.pieces) - 1)
	if c >= joints {
		return 1 / sq(3) // a tangent point between readings some metres apart
	}
	n := 0
	for m := st.first; m <= st.last; m++ {
		if !f.samples[m].out {
			n++
		}
	}
	if c >= n {
		return 1 / sq(0.5) // fewer readings than parameters
	}
	return 1e-8
}

// sigmaAcross is one σ across the line of the fitted stretch k at a station on
// it, from the readings alone.
func (f *partFit) sigmaAcross(k int, s float64) float64 {
	return math.Sqrt(f.gls.variance(f.row(k, s)))
}

// row is the derivative of the line's position across itself at a station of
// stretch k with respect to all parameters of the part.
func (f *partFit) row(k int, s float64) []float64 {
	st := &f.stretches[k]
	row := make([]float64, len(f.gls.beta))
	at, _ := st.at(s)
	np := st.params()
	for c := range np {
		moved := st.moved(unit(np, c, probe))
		_, o := moved.project(at)
		row[f.columns[k]+c] = -o / probe
	}
	return row
}
