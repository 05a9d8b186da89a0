package compare

import (
	"math"

	"tracemap/present"
)

// A Verdict on a difference.
type Verdict uint8

const (
	// Unjudged is the verdict on what is not known on one side.
	Unjudged Verdict = iota
	// Agrees: even with the uncertainty the difference stays below the tolerance.
	Agrees
	// Inconclusive: the uncertainty is too wide to say.
	Inconclusive
	// Differs: even without the uncertainty the difference exceeds the tolerance.
	Differs
)

func (v Verdict) String() string {
	return [...]string{"", "agrees", "inconclusive", "differs"}[v]
}

// judge compares a difference with a tolerance in the light of its 95 %
// uncertainty.
func judge(difference, u95, tolerance float64) Verdict {
	size := math.Abs(difference)
	switch {
	case !present.Known(size):
		return Unjudged
	case !present.Known(u95):
		return Inconclusive
	case size > u95+tolerance:
		return Differs
	case size+u95 < tolerance:
		return Agrees
	}
	return Inconclusive
}

// worst is the verdict on two differences of one place: one that differs is
// enough, and both must agree as far as they are known.
func worst(a, b Verdict) Verdict { return max(a, b) }
