package compare

import (
	"math"

	"tracemap/geodesy/plane"
	"tracemap/present"
)

// A Shift is one displacement of all located lines against the record, with a
// rotation and a scale where they explain what a displacement does not.
type Shift struct {
	East, North  float64 // m, located minus as-built, at the middle of the lines; NaN where it cannot be told
	Sigma        float64 // one σ of the less certain direction, m
	SigmaEast    float64
	SigmaNorth   float64
	Significant  bool    // the displacement, the rotation or the scale is
	Displaced    bool    // the displacement is
	Suspected    bool    // too few lines to tell, but each of them has the same displacement
	Reason       string  // why it is not significant; "" where it is
	Pairs        int     // lines that it rests on
	Agreeing     int     // of those, how many it explains within their uncertainty
	Rotation     float64 // degrees, anticlockwise about the middle of the lines; NaN where not significant
	RotationSig  float64 // one σ, degrees
	Scale        float64 // parts per million by which the located lines are larger; NaN where not significant
	ScaleSig     float64 // one σ, parts per million
	Across       bool    // the lines run one way only: the displacement along them cannot be told
	AcrossNormal plane.Pt
	Causes       []string

	cov    [2][2]float64 // m²
	centre plane.Pt      // that rotation and scale are about
	theta  float64       // radians; 0 where not significant
	kappa  float64       // scale less 1; 0 where not significant
	reach  float64       // m from the centre to the farthest observation
}

// Reasons why no displacement common to all is said to be there.
const (
	NoLines           = "no_lines"           // nothing was compared
	OneLine           = "one_line"           // one line moved, or everything: nobody can tell
	TwoLines          = "two_lines"          // likewise, which of the two moved
	FewLines          = "few_lines"          // three or four that run straight tell too little of each other
	WithinUncertainty = "within_uncertainty" // what is told of both sides explains it
	NotAlike          = "not_alike"          // the lines are displaced, but not alike
	TooSmall          = "too_small"          // it is below what matters
)

// at is the displacement at a place.
func (s *Shift) at(p plane.Pt) plane.Pt {
	d := p.Sub(s.centre)
	return s.vector().Add(d.Left().Mul(s.theta)).Add(d.Mul(s.kappa))
}

func (s *Shift) vector() plane.Pt { return plane.Pt{E: s.East, N: s.North} }

func (s *Shift) size() float64 { return s.vector().Len() }

// Limits of what is called a displacement common to all.
const (
	// leastPairs: with two lines nobody can tell which of them moved.
	leastPairs = 3
	// leastTurned: with fewer lines any that moved can be turned into each other.
	leastTurned = 5
	// sure is the chance of saying that there is one when there is none.
	sure = 0.003
	// leastFit, m: less matters to nobody.
	leastFit = 0.05
	// oneWay is the share of what is known of the better direction below which
	// nothing is said of the other: lines within 8° of each other.
	oneWay = 0.02
	// remains is how much of the square of its difference a line may keep for the
	// displacement to have helped it, and helped which share of the lines it must
	// have.
	remains = 0.25
	helped  = 2. / 3
)

// findShift fits a displacement to what lines show of it. Lines are the unit, and
// their scatter among each other is what it is held against: they may have moved
// each in its own way by more than either side tells.
func findShift(bs []block) Shift {
	nan := math.NaN()
	s := Shift{East: nan, North: nan, Sigma: nan, SigmaEast: nan, SigmaNorth: nan, Rotation: nan, RotationSig: nan, Scale: nan, ScaleSig: nan}
	obs, lines := observations(bs)
	s.Pairs = lines
	if s.Pairs == 0 {
		s.Reason = NoLines
		return s
	}
	best := fitRobustly(obs, lines, 0, 1)
	if lines >= leastTurned && !best.across {
		best = turned(obs, lines, best)
	}
	s.take(best, obs)
	s.judge(best, obs)
	return s
}

// turned looks for a rotation and a scale beside the displacement, each of which
// must be significant and move the farthest line by what matters. Three ways are
// tried, which the level accounts for.
func turned(obs []observation, lines int, plain *fit) *fit {
	best := plain
	for _, columns := range [][]int{{rotation}, {scale}, {rotation, scale}} {
		f := fitRobustly(obs, lines, append([]int{0, 1}, columns...)...)
		good := f.set <= plain.set
		for _, c := range columns {
			z := math.Abs(f.t[c]) / math.Sqrt(f.seen[c][c])
			// Student's t² is exceeded less often than twice the F of two and as many
			// degrees of freedom.
			good = good && f.free > 0 && z*z > 2*fisher2(f.free, f.level(sure/3)) && math.Abs(f.t[c])*f.reach > 2*leastFit
		}
		if good && (best == plain || len(columns) == 2) {
			best = f
		}
	}
	return best
}

// take writes a fit into the shift.
func (s *Shift) take(f *fit, obs []observation) {
	s.East, s.North, s.centre, s.reach = f.t[0], f.t[1], f.centre, f.reach
	if f.uses(rotation) {
		s.theta = f.t[rotation]
		s.Rotation, s.RotationSig = s.theta*180/math.Pi, math.Sqrt(f.seen[rotation][rotation])*180/math.Pi
	}
	if f.uses(scale) {
		s.kappa = f.t[scale]
		s.Scale, s.ScaleSig = s.kappa*1e6, math.Sqrt(f.seen[scale][scale])*1e6
	}
	seen, told := f.displacement(f.seen), f.displacement(f.told)
	s.cov = told
	if seen[0][0]+seen[1][1] > told[0][0]+told[1][1] {
		s.cov = seen
	}
	s.cov[0][0] += square(f.shared)
	s.cov[1][1] += square(f.shared)
	if f.across {
		n := f.normal
		s.Across, s.AcrossNormal = true, n
		along := n.Mul(s.vector().Dot(n)) // nothing is known along the lines
		s.East, s.North = along.E, along.N
		v := s.cov[0][0]*n.E*n.E + 2*s.cov[0][1]*n.E*n.N + s.cov[1][1]*n.N*n.N
		s.cov = [2][2]float64{{v, 0}, {0, v}}
	}
	s.SigmaEast, s.SigmaNorth = math.Sqrt(s.cov[0][0]), math.Sqrt(s.cov[1][1])
	_, big, _ := eigen2(s.cov)
	s.Sigma = math.Sqrt(big)
}

// judge says whether the displacement is one: larger than the scatter of the lines
// allows and than both sides tell of themselves, large enough to matter, and
// most lines are the better for it.
func (s *Shift) judge(f *fit, obs []observation) {
	var better int
	s.Agreeing, better = f.explained(s, obs)
	seen, told := f.displacement(f.seen), f.displacement(f.told)
	told[0][0] += square(f.shared)
	told[1][1] += square(f.shared)
	v, parameters := s.vector(), 2.0
	against := func(c [2][2]float64) float64 { // the square of the displacement in its own σ
		if f.across {
			c = [2][2]float64{{c[0][0]*f.normal.E*f.normal.E + 2*c[0][1]*f.normal.E*f.normal.N + c[1][1]*f.normal.N*f.normal.N, 0}, {0, 0}}
			return v.Dot(v) / c[0][0]
		}
		inv := inverse2(c)
		return v.E*v.E*inv[0][0] + 2*v.E*v.N*inv[0][1] + v.N*v.N*inv[1][1]
	}
	chi2 := -2 * math.Log(sure) // of two degrees of freedom; more than of one
	tells := f.free > 0 && against(seen) > parameters*fisher2(f.free, f.level(sure))
	beyond := against(told) > chi2
	most := float64(better) >= helped*float64(s.Pairs) && 2*s.Agreeing > s.Pairs
	s.Displaced = s.Pairs >= leastPairs && tells && beyond && s.size() > leastFit && most
	s.Significant = s.Displaced || s.Pairs >= leastTurned && (present.Known(s.Rotation) || present.Known(s.Scale)) && most
	if !s.Significant {
		s.theta, s.kappa = 0, 0
		s.Rotation, s.RotationSig, s.Scale, s.ScaleSig = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	}
	switch {
	case s.Significant:
	case s.Pairs == 1:
		s.Reason = OneLine
	case s.Pairs == 2:
		s.Reason = TwoLines
		s.Suspected = beyond && s.size() > leastFit && s.Agreeing == 2 && f.bothWays(obs)
	case !beyond:
		s.Reason = WithinUncertainty
	case s.size() <= leastFit:
		s.Reason = TooSmall
	case f.free < fewFree && most:
		s.Reason = FewLines
		s.Suspected = s.Agreeing == s.Pairs
	default:
		s.Reason = NotAlike
	}
}

// fewFree degrees of freedom ask for a displacement more than ten times the
// scatter of the lines.
const fewFree = 3

// fisher2 is what F of 2 and so many degrees of freedom exceeds with a chance:
// r/2·(α^(−2/r) − 1), exact.
func fisher2(r, chance float64) float64 { return r / 2 * (math.Pow(chance, -2/r) - 1) }
