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
}

// target gives the system asked for. Positions are brought from the map's frame
// into the system's, as of the middle of the survey.
func (o Options) target(m *result.Map) (*target, error) {
	if o.CRS == nil || o.CRS.Code() == 4326 {
		return nil, nil
	}
	t := &target{crs: o.CRS, epoch: m.Meta.Year(), decimals: 4}
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
	x, y, h, err := t.crs.Forward(g, t.frame, t.epoch)
	if err != nil {
		return pos{}, err
	}
	if math.IsNaN(g.H) {
		h = math.NaN()
	}
	return pos{present.Round(x, t.decimals), present.Round(y, t.decimals), present.Round(h, 3)}, nil
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
