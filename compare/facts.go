package compare

import (
	"fmt"
	"math"
	"strings"

	"tracemap/internal/geofile"
	"tracemap/present"
)

// factsOf reads what a record states of a feature beside its name.
func (b *asBuilt) factsOf(f *geofile.Feature, s *schema, opt *Options) facts {
	out := facts{depth: [2]float64{math.NaN(), math.NaN()}, diameter: math.NaN(), accuracy: math.NaN(), depthAccuracy: math.NaN()}
	values := map[quantity][2]float64{}
	for _, c := range s.columns {
		text, ok := f.Attr(c.name)
		if !ok {
			continue
		}
		if c.what == depthPoint {
			if p, err := ParsePoint(text); err == nil {
				out.to = p
			}
			continue
		}
		v, ok := b.length(f, &c, text, s.feet)
		if !ok {
			continue
		}
		pair, have := values[c.what]
		if !have {
			pair = [2]float64{math.NaN(), math.NaN()}
		}
		for i := range pair {
			if math.IsNaN(pair[i]) && (c.where == everywhere || int(c.where) == i+1) {
				pair[i] = v
			}
		}
		values[c.what] = pair
	}
	first := func(q quantity) float64 {
		if p, ok := values[q]; ok {
			return p[0]
		}
		return math.NaN()
	}
	out.diameter, out.accuracy, out.depthAccuracy = first(diameter), first(accuracy), first(depthAccuracy)
	out.takeDepth(values)
	if opt.DepthTo != Unsaid {
		out.to = opt.DepthTo
	}
	if present.Known(out.depth[0]) && out.to == Unsaid {
		b.wrong(f.Where, "it is not said whether the depth goes to the top, the centre or the invert: half the diameter is added to its uncertainty (--depth-to)")
	}
	return out
}

// takeDepth picks the depth that says most: to a named point, else the
// difference of two levels, else one to it is not said where.
func (f *facts) takeDepth(values map[quantity][2]float64) {
	for _, c := range []struct {
		what quantity
		to   Point
	}{{depthCentre, Centre}, {depthTop, Top}, {depthInvert, Invert}, {depthUnsaid, Unsaid}} {
		if v, ok := values[c.what]; ok && (c.to != Unsaid || !f.fromLevels(values)) {
			f.depth = v
			if c.to != Unsaid {
				f.to = c.to
			}
			return
		}
	}
	f.fromLevels(values)
}

// fromLevels makes a depth of the ground's height and the pipe's.
func (f *facts) fromLevels(values map[quantity][2]float64) bool {
	ground, ok := values[levelGround]
	if !ok {
		return false
	}
	for _, c := range []struct {
		what quantity
		to   Point
	}{{levelCentre, Centre}, {levelTop, Top}, {levelInvert, Invert}} {
		if v, ok := values[c.what]; ok {
			for i := range f.depth {
				f.depth[i] = ground[i] - v[i]
			}
			f.to = c.to
			return present.Known(f.depth[0]) || present.Known(f.depth[1])
		}
	}
	return false
}

// length reads a cell; what makes no sense is noted and counts as not known.
// feet says that the coordinates are not in metres: then no length is without
// being told.
func (b *asBuilt) length(f *geofile.Feature, c *column, text string, feet bool) (float64, bool) {
	unit, no := c.metres, "no unit"
	if c.cut {
		no = "no sure unit, for the format may have cut its name,"
	}
	if unit == 0 {
		switch {
		case c.what == diameter && fold(c.name) == "dn":
			unit = 0.001 // nominal diameters are millimetres by their standard (ISO 6708)
		case c.what == diameter:
			if _, ok := parseLength(text, 0); !ok {
				b.wrong(f.Where, fmt.Sprintf("the column %s has %s and is not used (--diameter-field %s=mm)", c.name, no, c.name))
				return 0, false
			}
		case feet:
			if _, ok := parseLength(text, 0); !ok {
				b.wrong(f.Where, fmt.Sprintf("the column %s has %s, the coordinates are in feet: it is not used (--depth-field %s=ft)", c.name, strings.TrimSuffix(no, ","), c.name))
				return 0, false
			}
		default:
			unit = 1
			if _, bare := parseNumber(text); bare && c.what <= depthInvert {
				b.wrong(f.Where, fmt.Sprintf("the column %s has %s: metres are taken (--depth-field %s=ft says otherwise)", c.name, strings.TrimSuffix(no, ","), c.name))
			}
		}
	}
	v, ok := parseLength(text, unit)
	switch {
	case !ok:
		b.wrong(f.Where, fmt.Sprintf("column %s: %q is no length", c.name, text))
		return 0, false
	case c.what >= levelTop && c.what <= levelGround:
		return v, v > -1000 && v < 9000 // -9999 and the like stand for none
	case v == 0 && c.what <= depthInvert:
		b.wrong(f.Where, fmt.Sprintf("column %s: a depth of 0 is taken as not recorded", c.name))
		return 0, false
	case c.what <= depthInvert && v < 0 && v > -100:
		b.wrong(f.Where, fmt.Sprintf("column %s: a negative depth is read as below ground", c.name))
		return -v, true
	case c.what == diameter && v == 0:
		return 0, false
	case v < 0 || v > 100 || c.what == diameter && v > widest:
		b.wrong(f.Where, fmt.Sprintf("column %s: %q makes no sense", c.name, text))
		return 0, false
	}
	return v, true
}

// widest, m, is beyond what any pipe has: a unit was mistaken.
const widest = 6.0

// ordinateDepths takes the third ordinates for depths, or for heights below a
// ground at 0 where they are negative.
func (b *asBuilt) ordinateDepths(f *geofile.Feature, line []geofile.Vertex) []float64 {
	out := make([]float64, len(line))
	up, down := false, false
	for i, v := range line {
		out[i] = math.Abs(v.Z)
		up, down = up || v.Z < 0, down || v.Z > 0
	}
	if up && down {
		b.wrong(f.Where, "its third ordinates are positive and negative: they are no depths")
		return nil
	}
	return out
}

// depthAt gives the depth of a piece's centre at a station along it, and how far
// it may be off because the diameter or the point measured to is not known; NaN
// where no depth is known. outside is the diameter that the located line knows,
// for records that have none.
func (p *piece) depthAt(station float64, outside float64, utility string) (centre, bound float64) {
	length := p.length()
	depth := lerp(p.depth[0], p.depth[1], station/length)
	switch {
	case p.depths != nil:
		depth = interpolate(p.sta, p.depths, station)
	case math.IsNaN(p.depth[0]) || math.IsNaN(p.depth[1]):
		depth = math.NaN() // known at one end only
	}
	if !present.Known(depth) {
		return math.NaN(), 0
	}
	d := p.diameter
	if !present.Known(d) && outside > 0 {
		d = outside
	}
	half, sure := d/2, true
	if !present.Known(d) {
		half, sure = largest[utility]/2, false
	}
	switch {
	case p.to == Centre:
		return depth, 0
	case p.to == Unsaid, !sure:
		return depth, half
	case p.to == Top:
		return depth + half, 0
	}
	return depth - half, 0
}

// interpolate gives the value at a station between vertices; NaN where one of
// the two is.
func interpolate(stations, values []float64, s float64) float64 {
	for i := 1; i < len(stations); i++ {
		if s <= stations[i] || i == len(stations)-1 {
			span := stations[i] - stations[i-1]
			if span <= 0 {
				return values[i]
			}
			return lerp(values[i-1], values[i], min(1, max(0, (s-stations[i-1])/span)))
		}
	}
	return values[0]
}

// accuracyOr is the record's 95 % lateral accuracy, the given one where it
// states none.
func (p *piece) accuracyOr(other float64) float64 {
	if present.Known(p.accuracy) {
		return p.accuracy
	}
	return other
}

func (p *piece) depthAccuracyOr(other float64) float64 {
	if present.Known(p.depthAccuracy) {
		return p.depthAccuracy
	}
	return other
}
