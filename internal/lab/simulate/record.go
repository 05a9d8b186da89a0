package simulate

import (
	"encoding/json"
	"io"
	"math/rand/v2"
	"slices"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
)

// Record says how the owner's as-built record differs from what is there.
type Record struct {
	Accuracy float64  // m, σ an axis of the record's vertices
	Shift    plane.Pt // m, common to all: a datum mix-up
	Mistakes bool     // one line moved, one with a wrong depth, one missing, one that is not there, one drawn the other way
}

// A Difference is what the record says otherwise than the ground.
type Difference struct {
	ID    string  `json:"id"`    // in the record
	Kind  string  `json:"kind"`  // "moved", "depth", "missing", "not_there", "reversed"
	Value float64 `json:"value"` // m: to the left for moved, deeper for depth
}

// A recorded line is a line as the owner's record draws it.
type recorded struct {
	id       string
	points   []plane.Pt
	utility  string
	diameter float64
	depth    float64 // m
}

// record draws the as-built record.
func (d *Day) record() ([]recorded, []Difference) {
	rng := stream(d.Scenario.Seed, "record")
	var out []recorded
	diff := []Difference{}
	for i, l := range d.Lines {
		r := recorded{id: l.ID, utility: l.Utility, diameter: l.Diameter}
		moved, deeper := 0.0, 0.0
		if d.Scenario.Record.Mistakes {
			switch i {
			case 1:
				moved = 0.55 * sign(rng)
				diff = append(diff, Difference{r.id, "moved", moved})
			case 2:
				deeper = 0.4 * sign(rng)
				diff = append(diff, Difference{r.id, "depth", deeper})
			case 3:
				diff = append(diff, Difference{r.id, "missing", 0})
				continue
			}
		}
		r.depth = meanOf(l.Depth) + deeper
		r.points = d.survey(l, moved, rng)
		if d.Scenario.Record.Mistakes && i == 4 {
			slices.Reverse(r.points)
			diff = append(diff, Difference{r.id, "reversed", 0})
		}
		out = append(out, r)
	}
	if d.Scenario.Record.Mistakes {
		out = append(out, d.ghost(rng))
		diff = append(diff, Difference{"X99", "not_there", 0})
	}
	return out, diff
}

// ghost is a line that the record has and the ground has not.
func (d *Day) ghost(rng *rand.Rand) recorded {
	l := d.Lines[0]
	q := l.Path.At(l.Path.Length() / 2).Add(l.Path.Along(0).Left().Mul(9))
	to := q.Add(direction(360 * rng.Float64()).Mul(22))
	return recorded{id: "X99", utility: "gas", diameter: 0.063, depth: 0.8, points: []plane.Pt{q, to}}
}

// survey picks the vertices that a surveyor would have taken: ends, fittings,
// and along arcs one wherever the chord would leave them by 5 cm.
func (d *Day) survey(l *Line, moved float64, rng *rand.Rand) []plane.Pt {
	path := l.Path
	if moved != 0 {
		path = parallel(&l.Path, moved)
	}
	keep := thin(path.Points, 0.05)
	var out []plane.Pt
	for _, i := range keep {
		e := plane.Pt{E: rng.NormFloat64(), N: rng.NormFloat64()}.Mul(d.Scenario.Record.Accuracy)
		out = append(out, path.Points[i].Add(e).Add(d.Scenario.Record.Shift))
	}
	if l.Closed {
		out[len(out)-1] = out[0]
	}
	return out
}

// thin gives the indices of vertices that keep a polyline within a tolerance:
// from each vertex the longest chord that no vertex leaves.
func thin(points []plane.Pt, tolerance float64) []int {
	keep := []int{0}
	for a := 0; a < len(points)-1; {
		b := a + 1
		for b+1 < len(points) && within(points[a:b+2], tolerance) {
			b++
		}
		keep = append(keep, b)
		a = b
	}
	return keep
}

func within(points []plane.Pt, tolerance float64) bool {
	a := points[0]
	d := points[len(points)-1].Sub(a).Unit()
	for _, p := range points {
		if off := d.Cross(p.Sub(a)); off > tolerance || off < -tolerance {
			return false
		}
	}
	return true
}

func meanOf(values []float64) float64 {
	var sum float64
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}

type jsonFeature struct {
	Type       string         `json:"type"`
	Properties map[string]any `json:"properties"`
	Geometry   struct {
		Type        string       `json:"type"`
		Coordinates [][2]float64 `json:"coordinates"`
	} `json:"geometry"`
}

// WriteAsBuilt writes the owner's record as GeoJSON (RFC 7946): a LineString a
// line with id, utility, diameter_mm and depth_m, the mean depth of the centre.
func (d *Day) WriteAsBuilt(w io.Writer) error {
	p := geodesy.NewLocal(d.Scenario.Origin)
	features := []jsonFeature{}
	lines, _ := d.record()
	for _, r := range lines {
		var f jsonFeature
		f.Type, f.Geometry.Type = "Feature", "LineString"
		f.Properties = map[string]any{
			"id": r.id, "utility": r.utility, "depth_m": round(r.depth, 2), "diameter_mm": round(1000*r.diameter, 0),
		}
		for _, q := range r.points {
			g := p.Inverse(q)
			f.Geometry.Coordinates = append(f.Geometry.Coordinates, [2]float64{round(g.Lon, 8), round(g.Lat, 8)})
		}
		features = append(features, f)
	}
	return json.NewEncoder(w).Encode(map[string]any{"type": "FeatureCollection", "features": features})
}
