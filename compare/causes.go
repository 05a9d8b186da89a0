package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/present"
)

// A cause is something that displaces everything alike.
type cause struct {
	text  string
	shift plane.Pt // located minus as-built, as it would be here
}

// plateFrames are the frames fixed to a plate, each with the system whose area
// of use says where it is in use.
var plateFrames = []struct {
	frame geodesy.Frame
	code  int
}{
	{geodesy.FrameETRF2000, 4258}, {geodesy.FrameNAD83, 6318}, {geodesy.FrameNAD83CSRS, 8255}, {geodesy.FrameNAD83PA11, 6322},
	{geodesy.FrameNAD83MA11, 6325}, {geodesy.FrameGDA2020, 7844}, {geodesy.FrameGDA94, 4283},
}

// likely is how far, m, a cause may miss the displacement found, beside three of
// its σ: what realizations of one frame and older epochs differ by.
const likely = 0.12

// causesOf names the usual causes whose size and direction here fit a
// displacement, the best first.
func causesOf(s *Shift, st *site, b *asBuilt) []string {
	seen := plane.Pt{E: s.East, N: s.North}
	miss := func(c *cause) float64 {
		d := seen.Sub(c.shift)
		if s.Across {
			return math.Abs(d.Dot(s.AcrossNormal))
		}
		return d.Len()
	}
	var fits []cause
	for _, c := range slices.Concat(frameCauses(st, b), epochCauses(seen, st, b), footCauses(st, b)) {
		if size := c.shift.Len(); size > 0.05 && miss(&c) <= 3*s.Sigma+likely && miss(&c) < size/2+likely/2 {
			fits = append(fits, c)
		}
	}
	slices.SortStableFunc(fits, func(a, b cause) int { return cmp.Compare(miss(&a), miss(&b)) })
	var out []string
	for i := range fits {
		out = append(out, fmt.Sprintf("%s: here that is %.2f m towards %s, and misses the displacement found by %.2f m", fits[i].text, fits[i].shift.Len(), degrees(fits[i].shift), miss(&fits[i])))
	}
	if len(out) == 0 {
		out = append(out, "no mix-up of frames, epochs or feet has this size and direction here: a wrong control point, a false origin, or an older datum brought over by a coarse transformation remain")
	}
	return out
}

// degrees writes a direction: "the south-west (221°)".
func degrees(v plane.Pt) string {
	a := math.Mod(math.Atan2(v.E, v.N)*180/math.Pi+360, 360)
	return fmt.Sprintf("the %s (%.0f°)", wind(v), a)
}

// moved is where a place goes in the plane when its coordinates in one frame are
// brought into another.
func (st *site) moved(from, to geodesy.Frame) (plane.Pt, bool) {
	g, err := geodesy.Transform(st.local.Origin(), from, to, st.epoch)
	if err != nil {
		return plane.Pt{}, false
	}
	return st.local.Forward(g), true
}

// recordSystems are the systems that the record was read in, each once.
func (b *asBuilt) recordSystems() []*geodesy.CRS {
	var out []*geodesy.CRS
	for _, s := range b.sources {
		if s.crs != nil && !slices.ContainsFunc(out, func(c *geodesy.CRS) bool { return c.Code() == s.crs.Code() }) {
			out = append(out, s.crs)
		}
	}
	return out
}

// frameCauses are frames taken for another, on either side.
func frameCauses(st *site, b *asBuilt) []cause {
	var out []cause
	for _, p := range plateFrames {
		system, err := geodesy.LookupCRS(p.code)
		if err != nil || !system.Area().Contains(st.local.Origin()) {
			continue
		}
		if to, ok := st.moved(st.frame, p.frame); ok && p.frame != st.frame {
			out = append(out, cause{fmt.Sprintf("the receiver's corrections were in %v and the lines were located without --frame %q", p.frame, p.frame), to})
		}
		for _, crs := range b.recordSystems() {
			as, ok1 := st.moved(crs.Frame(), st.frame)
			in, ok2 := st.moved(p.frame, st.frame)
			if p.frame == crs.Frame() || !ok1 || !ok2 {
				continue
			}
			text := fmt.Sprintf("the record is in %v and was read as %v, whose frame is %v", p.frame, crs, crs.Frame())
			if !crs.IsProjected() {
				text += fmt.Sprintf(" (then give --as-built-crs EPSG:%d)", p.code)
			}
			out = append(out, cause{text, in.Sub(as)})
		}
	}
	for _, crs := range b.recordSystems() {
		as, ok := st.moved(crs.Frame(), st.frame)
		if ok && !crs.Frame().Moves() {
			out = append(out, cause{fmt.Sprintf("the record is in WGS 84 or ITRF as of today and was read as %v, whose frame is %v", crs, crs.Frame()), as.Mul(-1)})
		}
	}
	return out
}

// epochCauses are years of plate motion: a record in a global frame that was
// surveyed long before the lines were located.
func epochCauses(seen plane.Pt, st *site, b *asBuilt) []cause {
	const most = 40 // years
	var out []cause
	for _, crs := range b.recordSystems() {
		if !crs.Frame().Moves() {
			continue
		}
		for _, p := range plateFrames {
			system, err := geodesy.LookupCRS(p.code)
			if err != nil || !system.Area().Contains(st.local.Origin()) {
				continue
			}
			rate, ok := st.motion(p.frame, crs.Frame())
			if !ok || rate.Len() < 1e-3 {
				continue
			}
			if years := seen.Dot(rate) / rate.Dot(rate); years >= 1 && years <= most {
				out = append(out, cause{fmt.Sprintf("the record is %.0f years older than the locating, in a frame in which the ground moves %.0f mm a year", years, 1000*rate.Len()), rate.Mul(math.Round(years))})
			}
			break
		}
	}
	return out
}

// motion is how fast a place fixed to a plate moves in a global frame, m a year.
func (st *site) motion(plate, global geodesy.Frame) (plane.Pt, bool) {
	fixed, err := geodesy.Transform(st.local.Origin(), global, plate, st.epoch)
	if err != nil {
		return plane.Pt{}, false
	}
	before, err := geodesy.Transform(fixed, plate, global, st.epoch-1)
	if err != nil {
		return plane.Pt{}, false
	}
	return st.local.Forward(before).Mul(-1), true
}

// footCauses are the two kinds of feet, 2 parts in a million apart, on the large
// numbers of State Plane coordinates.
func footCauses(st *site, b *asBuilt) []cause {
	const ratio = 2.000004e-6 // US survey foot / international foot − 1, exactly 1/499999 … NIST SP 811
	var out []cause
	for _, crs := range b.recordSystems() {
		if f := crs.Frame(); !crs.IsProjected() || f != geodesy.FrameNAD83 && f != geodesy.FrameNAD83PA11 && f != geodesy.FrameNAD83MA11 {
			continue
		}
		x, y, _, err := crs.Forward(st.local.Origin(), st.frame, st.epoch)
		if err != nil {
			continue
		}
		k := crs.Unit().Metres
		v := st.turned(crs, x, y, plane.Pt{E: x * k, N: y * k}.Mul(ratio))
		switch {
		case crs.Unit().Name == "US survey foot":
			out = append(out, cause{fmt.Sprintf("the record's feet are international ones and were read as US survey feet of %v", crs), v.Mul(-1)})
		case crs.Unit().Name == "foot":
			out = append(out, cause{fmt.Sprintf("the record's feet are US survey feet and were read as international ones of %v", crs), v})
		default:
			out = append(out, cause{"on the record's way into metres US survey feet were taken for international ones", v},
				cause{"on the record's way into metres international feet were taken for US survey ones", v.Mul(-1)})
		}
	}
	return out
}

// turnCauses name what turns or stretches a drawing by as much as was found.
func turnCauses(s *Shift, st *site, b *asBuilt) []string {
	const (
		nearTurn  = 0.02 // degrees beyond three σ: convergence changes by less over a site
		nearScale = 20   // parts per million beyond three σ, likewise
	)
	var out []string
	for _, crs := range b.recordSystems() {
		x, y, _, err := crs.Forward(st.local.Origin(), st.frame, st.epoch)
		if err != nil || !crs.IsProjected() {
			continue
		}
		const step = 100 // m
		north := st.turned(crs, x, y, plane.Pt{N: step})
		convergence, larger := math.Atan2(north.E, north.N)*180/math.Pi, (step/north.Len()-1)*1e6
		if present.Known(s.Rotation) && math.Abs(math.Abs(s.Rotation)-math.Abs(convergence)) <= 3*s.RotationSig+nearTurn && math.Abs(convergence) > 2*nearTurn {
			out = append(out, fmt.Sprintf("the record was drawn to true north and is read as %v, whose grid north is %.3f° away from it here", crs, math.Abs(convergence)))
		}
		if present.Known(s.Scale) && math.Abs(math.Abs(s.Scale)-math.Abs(larger)) <= 3*s.ScaleSig+nearScale && math.Abs(larger) > 2*nearScale {
			out = append(out, fmt.Sprintf("distances on the ground were drawn as distances in the grid of %v, or the other way round: here they differ by %.0f parts per million", crs, math.Abs(larger)))
		}
	}
	if len(out) == 0 && (present.Known(s.Rotation) || present.Known(s.Scale)) {
		out = append(out, "a drawing that was fitted to the map by hand or by two wrong control points is turned and stretched like this")
	}
	return out
}

// turned turns a vector of a map grid into the plane: the grid's north is not
// quite the plane's.
func (st *site) turned(crs *geodesy.CRS, x, y float64, v plane.Pt) plane.Pt {
	k := crs.Unit().Metres
	place := st.placer(crs)
	a, err1 := place(x, y)
	b, err2 := place(x+v.E/k, y+v.N/k)
	if err1 != nil || err2 != nil {
		return v
	}
	return b.Sub(a)
}
