package readings

import (
	"math"

	"tracemap/remarks"
)

// µ0 = 4π·10⁻⁷ T·m/A, so that 2π/µ0 = 5·10⁶ A/(T·m). (The measured constant of
// the revised SI differs by 2·10⁻¹⁰; CODATA 2018.)
const twoPiOverMu0 = 5e6

// LineDepth gives the depth below the bottom coil of a long straight conductor,
// in the unit of spacing, from the horizontal field at two coils one above the
// other, both in one unit: d = s·Bt/(Bb − Bt). It follows from B = µ0·I/2πr
// (Biot–Savart, infinite wire: Griffiths, Introduction to Electrodynamics,
// ch. 5), which makes Bb/Bt = (d + s)/d. NaN unless 0 < top < bottom and
// spacing > 0: then the fields are not those of one line below.
func LineDepth(bottom, top, spacing float64) float64 {
	if !(top > 0 && bottom > top && spacing > 0) || math.IsInf(bottom, 0) {
		return math.NaN()
	}
	return spacing * top / (bottom - top)
}

// LineCurrent gives the conductor's current in mA from its depth in m and the
// field at the bottom coil in nT: I = 2π·d·B/µ0.
func LineCurrent(depth, bottom float64) float64 {
	return twoPiOverMu0 * depth * bottom * 1e-9 * 1e3
}

// SondeDepth gives the depth of a horizontal magnetic dipole, from the field
// along it at two coils: it falls with the cube of the distance (Griffiths,
// ch. 5: field of a dipole), so d = s/((Bb/Bt)^(1/3) − 1). NaN as for LineDepth.
func SondeDepth(bottom, top, spacing float64) float64 {
	if !(top > 0 && bottom > top && spacing > 0) || math.IsInf(bottom, 0) {
		return math.NaN()
	}
	return spacing / (math.Cbrt(bottom/top) - 1)
}

// coils computes depth and current of a reading that logged its coils, and flags
// logged values that disagree with them by more than the coils can err.
func coils(r *Reading, nanoTesla bool) {
	if math.IsNaN(r.BottomCoil) || math.IsNaN(r.TopCoil) || math.IsNaN(r.CoilSpacing) {
		return
	}
	if r.Method == Sonde {
		r.CoilDepth = SondeDepth(r.BottomCoil, r.TopCoil, r.CoilSpacing)
	} else {
		r.CoilDepth = LineDepth(r.BottomCoil, r.TopCoil, r.CoilSpacing)
		if nanoTesla {
			r.CoilCurrent = LineCurrent(r.CoilDepth, r.BottomCoil)
		}
	}
	if math.IsNaN(r.CoilDepth) {
		r.Flags |= remarks.CoilsDisagree
		return
	}
	share := depthShare(r.CoilDepth, r.CoilSpacing, math.NaN(), r.Method)
	if apart(r.Depth, r.CoilDepth, math.Hypot(share*r.CoilDepth, depthRounding)) ||
		apart(r.Current, r.CoilCurrent, math.Hypot(math.Hypot(share, currentCalibration)*r.CoilCurrent, currentRounding)) {
		r.Flags |= remarks.CoilsDisagree
	}
}

// apart reports whether two values differ by more than 95 % of chance; NaN never
// does.
func apart(a, b, sigma float64) bool { return math.Abs(a-b) > 1.96*sigma }
