package export

import (
	"fmt"
	"math"
	"slices"

	"tracemap/geodesy"
	"tracemap/present"
	"tracemap/result"
)

// A target is the coordinate system that a format writes in; nil stands for
// longitude and latitude of WGS 84, EPSG:4326.
type target struct {
	crs      *geodesy.CRS
	frame    geodesy.Frame // of the map's positions
	epoch    float64       // when they were observed, decimal year
	decimals int           // kept of a coordinate
	// ground is the height, m, of the site. A place without height is taken there: on
	// the ellipsoid, 500 m below, it comes 1 cm beside itself where a datum leans.
	ground float64
}

// target gives the system asked for. Positions are brought from the map's frame
// into the system's, as of the middle of the survey.
func (o Options) target(m *result.Map) (*target, error) {
	if o.CRS == nil || o.CRS.Code() == 4326 {
		return nil, nil
	}
	t := &target{crs: o.CRS, epoch: m.Meta.Year(), decimals: 4, ground: groundOf(m)}
	if !o.CRS.IsProjected() {
		t.decimals = 9
	}
	if m.Meta.Frame != "" {
		frame, err := geodesy.ParseFrame(m.Meta.Frame)
		if err != nil {
			return nil, fmt.Errorf("bring positions into %v: %w", o.CRS, err)
		}
		t.frame = frame
	}
	return t, nil
}

// name is the system's code as files write it.
func (t *target) name() string { return fmt.Sprintf("EPSG:%d", t.code()) }

func (t *target) code() int {
	if t == nil {
		return 4326
	}
	return t.crs.Code()
}

// at gives a place in the target, rounded; its height is that above the
// ellipsoid of the target's frame, NaN where g has none.
func (t *target) at(g geodesy.Geo) (pos, error) {
	if t == nil {
		return pos{present.Round(math.Remainder(g.Lon, 360), 9), present.Round(g.Lat, 9), present.Round(g.H, 3)}, nil
	}
	at := g
	if math.IsNaN(g.H) {
		at.H = t.ground
	}
	x, y, h, err := t.crs.Forward(at, t.frame, t.epoch)
	if err != nil {
		return pos{}, err
	}
	if math.IsNaN(g.H) {
		h = math.NaN()
	}
	if t.crs.IsProjected() {
		h /= t.crs.Unit().Metres
	}
	return pos{present.Round(x, t.decimals), present.Round(y, t.decimals), present.Round(h, t.heightDecimals())}, nil
}

// heightDecimals is how many digits of a height are kept: of metres 3, and one more
// in a system of feet.
func (t *target) heightDecimals() int {
	if t != nil && t.crs.IsProjected() && t.crs.Unit().Metres != 1 {
		return 4
	}
	return 3
}

// heightUnit is the unit of the third ordinate: that of the other two, metres where
// they are degrees.
func (t *target) heightUnit() string {
	if t != nil && t.crs.IsProjected() {
		return t.crs.Unit().Name
	}
	return "metre"
}

// in gives a place of the map in the frame of the target: what fields say, where
// the geometry is in it too. A height of NaN stays so.
func (t *target) in(g geodesy.Geo) geodesy.Geo {
	if t == nil || t.crs.Frame() == t.frame {
		return g
	}
	moved, err := geodesy.Transform(g, t.frame, t.crs.Frame(), t.epoch)
	if err != nil {
		return geodesy.Geo{Lat: math.NaN(), Lon: math.NaN(), H: math.NaN()}
	}
	return moved
}

// frameName is the frame of what a file holds.
func (t *target) frameName(m *result.Map) string {
	if t == nil {
		return m.Meta.Frame
	}
	return t.crs.Frame().String()
}

// groundOf is the mean height of the map's vertices, m; 0 where none is known.
func groundOf(m *result.Map) float64 {
	sum, n := 0.0, 0.0
	for _, part := range m.Parts() {
		for i := range part.Vertices {
			if h := part.Vertices[i].Ground.H; present.Known(h) {
				sum, n = sum+h, n+1
			}
		}
	}
	return sum / max(n, 1)
}

// all appends a line's or a ring's positions in a projected or geographic target
// other than nil.
func (t *target) all(out []pos, trace []geodesy.Geo) ([]pos, error) {
	out = slices.Grow(out, len(trace))
	for _, g := range trace {
		p, err := t.at(g)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}
