package compare

import (
	"fmt"
	"math"

	"tracemap/present"
)

// NSSDA gives the 95 % figures of the National Standard for Spatial Data
// Accuracy (FGDC-STD-007.3-1998, appendix 3-A).
//
// Horizontal: 1.7308·RMSEr where RMSE x and y are equal; 2.4477·½(x + y) where
// the smaller is at least 0.6 of the larger. Below that the standard has no
// formula, and the mean one is too small: 2.4477 times the larger is given,
// which is on the safe side, and within is false.
func NSSDAHorizontal(rmseX, rmseY float64) (accuracy float64, within bool) {
	lo, hi := min(rmseX, rmseY), max(rmseX, rmseY)
	switch {
	case hi == 0:
		return 0, true
	case hi-lo <= 1e-9*hi:
		return 1.7308 * math.Hypot(rmseX, rmseY), true
	case lo/hi >= 0.6:
		return 2.4477 * 0.5 * (rmseX + rmseY), true
	}
	return 2.4477 * hi, false
}

// NSSDAVertical is 1.9600·RMSEz.
func NSSDAVertical(rmseZ float64) float64 { return 1.9600 * rmseZ }

// ASPRS2 combines the fit to checks with the checks' own error, as the ASPRS
// Positional Accuracy Standards for Digital Geospatial Data, edition 2 (2023),
// has it. It gives root mean squares and no 95 % figure.
func ASPRS2(fit, checks float64) float64 { return math.Hypot(fit, checks) }

// leastChecks is how many check points the NSSDA asks for (3.2.2), and ASPRS
// edition 2.
const (
	leastChecks      = 20
	leastChecksASPRS = 30
)

// Accuracy is how well located and as-built agree, by published standards.
type Accuracy struct {
	Standard   string
	Horizontal float64 // 95 %, m; NaN for none
	Vertical   float64
	// RMSE of the fit: radial, and of depth, m.
	RMSEr, RMSEz float64
	Checks       float64 // independent places, horizontal
	ChecksZ      float64
	Statement    string
	// ASPRSH and ASPRSV are the root mean squares of ASPRS edition 2, m.
	ASPRSH, ASPRSV float64
}

// accuracyOf sums up all stations by the standards. A line shows its
// displacement across itself only; that along it is taken to be as large, which
// makes RMSE x and y equal to the lateral one.
func (r *Result) accuracyOf(opt *Options) Accuracy {
	lateral, depth := r.Lateral, r.Depth
	a := Accuracy{Standard: "NSSDA FGDC-STD-007.3-1998", Horizontal: math.NaN(), Vertical: math.NaN(), RMSEr: math.NaN(), RMSEz: math.NaN(),
		ASPRSH: math.NaN(), ASPRSV: math.NaN(), Checks: lateral.Effective, ChecksZ: depth.Effective}
	if lateral.N > 0 {
		a.Horizontal, _ = NSSDAHorizontal(lateral.RMSE, lateral.RMSE)
		a.RMSEr = math.Sqrt2 * lateral.RMSE
		a.ASPRSH = ASPRS2(a.RMSEr, math.Sqrt2*r.recordRMSE(func(s *Station) float64 { return s.accuracy }))
	}
	if depth.N > 0 {
		a.Vertical, a.RMSEz = NSSDAVertical(depth.RMSE), depth.RMSE
		a.ASPRSV = ASPRS2(depth.RMSE, r.recordRMSE(func(s *Station) float64 { return s.depthAccuracy }))
	}
	a.Statement = a.words(unit{opt.Imperial})
	return a
}

// recordRMSE is the root mean square, m, of one σ of the record over the stations
// where its 95 % accuracy counts: what the record states of itself, the given one
// where it states none.
func (r *Result) recordRMSE(accuracy95 func(*Station) float64) float64 {
	var sum, weight float64
	for i := range r.Lines {
		for k := range r.Lines[i].stations {
			s := &r.Lines[i].stations[k]
			if a := accuracy95(s) / present.Line95; present.Known(a) {
				w := max(s.Weight, 1e-6)
				sum, weight = sum+w*a*a, weight+w
			}
		}
	}
	if weight == 0 {
		return 0
	}
	return math.Sqrt(sum / weight)
}

// words is the sentence that the standard asks for, with what keeps it from
// being the whole of it.
func (a *Accuracy) words(u unit) string {
	if !present.Known(a.Horizontal) {
		return "Nothing was compared."
	}
	text := fmt.Sprintf("Located and as-built agree within %s horizontally", u.small(a.Horizontal))
	if present.Known(a.Vertical) {
		text += fmt.Sprintf(" and %s in depth", u.small(a.Vertical))
	}
	text += " at 95 % confidence level, by the formulas of the NSSDA"
	if a.Checks < leastChecks {
		return text + fmt.Sprintf(". The stations are worth %.0f independent check points: fewer than the %d that the standard asks for, so the word “tested” is not to be used.", math.Floor(a.Checks), leastChecks)
	}
	return text + ". It is the agreement of the two, not the accuracy of either: the record is no independent source of higher accuracy, which the standard's “tested” would need."
}
