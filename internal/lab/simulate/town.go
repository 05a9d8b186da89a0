package simulate

import (
	"math"
	"math/rand/v2"

	"tracemap/geodesy/plane"
)

// The town of the demo is called Quellmar and lies in the open Atlantic. Its
// Lantern Street runs a little north of east; Tallow Lane leaves it to the
// north at 84 m. Services lie as streets have them: water and communications
// under the south side, gas and electric under the north side, the sewer in the
// middle, house connections square to the mains.

// lanternStreet is the azimuth of the street's axis, degrees.
const lanternStreet = 78.0

// inStreet turns metres along the street and metres left (north) of its axis
// into the plane.
func inStreet(along, left float64) plane.Pt {
	d := direction(lanternStreet)
	return plane.Pt{E: -55, N: -8}.Add(d.Mul(along)).Add(d.Left().Mul(left))
}

// A service is a line of the town in street coordinates.
type service struct {
	id, utility string
	diameter    float64 // m
	depth       float64 // m
	frequency   float64 // Hz
	current     float64 // mA
	method      string
	coil        Coil
	onward      [2]bool
	way         [][2]float64 // along, left; fittings between
}

// Angles of the fittings: dx = dy is 45°, tan 22.5° = 0.41421, tan 11.25° = 0.19891.
var services = []service{
	{"W1", "water", 0.160, 1.05, 8192, 84, "direct", Differential, [2]bool{true, true},
		[][2]float64{{0, -3}, {34, -3}, {35.6, -1.4}, {46, -1.4}, {47.6, -3}, {80.5, -3}, {80.5, 40}}},
	{"W2", "water", 0.110, 1.00, 8192, 0, "direct", Differential, [2]bool{false, true},
		[][2]float64{{80.5, -3}, {118, -3}}},
	{"C1", "communications", 0.096, 0.60, 32768, 18, "induction", Differential, [2]bool{true, true},
		[][2]float64{{0, -4.5}, {90, -4.5}, {98, 3.5}, {98, 22}}},
	{"L1", "lighting", 0.040, 0.55, 8192, 31, "direct", Differential, [2]bool{true, false},
		[][2]float64{{4, -5.7}, {60, -5.7}, {66, -8.1853}, {108, -8.1853}}},
	{"G1", "gas", 0.125, 0.85, 32768, 62, "direct", Differential, [2]bool{true, true},
		[][2]float64{{0, 3.2}, {62, 3.2}, {70, 4.7913}, {118, 4.7913}}},
	{"G2", "gas", 0.032, 0.70, 32768, 0, "direct", Differential, [2]bool{false, false},
		[][2]float64{{30, 3.2}, {30, 11.5}}},
	{"W3", "water", 0.032, 0.90, 8192, 0, "direct", Differential, [2]bool{false, false},
		[][2]float64{{22, -3}, {22, -11}}},
	{"W4", "water", 0.032, 0.90, 8192, 0, "direct", Differential, [2]bool{false, false},
		[][2]float64{{57, -3}, {57, -10.5}}},
	{"G3", "gas", 0.032, 0.70, 32768, 0, "direct", Differential, [2]bool{false, false},
		[][2]float64{{53, 3.2}, {53, 12}}},
	{"U1", "unknown", 0, 0.95, 50, 40, "passive", Total, [2]bool{true, true},
		[][2]float64{{40, -11}, {52, 2}, {66, 14.5}}},
	{"S1", "sewer", 0.300, 2.30, 33000, 0, "sonde", Differential, [2]bool{true, true},
		[][2]float64{{2, 0.3}, {54, 0.3}, {112, -0.4}}},
}

// town lays the services, and an electric cable that sweeps into the lane.
func town(rng *rand.Rand) []*Line {
	var out []*Line
	byID := map[string]*Line{}
	add := func(s service, p *pen) {
		l := &Line{
			ID: s.id, Utility: s.utility, Path: p.path, Corners: p.corners, Onward: s.onward,
			Diameter: s.diameter, Method: s.method, Frequency: s.frequency, Coil: s.coil,
			NoDepths: s.method == "passive", Current: s.current, Decay: 0.012,
		}
		l.Depth = newDepths(&l.Path, s.depth, rng)
		out, byID[s.id] = append(out, l), l
	}
	for _, s := range services {
		add(s, s.draw())
	}
	add(service{
		id: "E1", utility: "electric", diameter: 0.055, depth: 0.65, frequency: 640, current: 95,
		method: "direct", coil: Differential, onward: [2]bool{true, true},
	}, electric())
	join(byID["W1"], byID["W3"], 0.72)
	join(byID["W1"], byID["W4"], 0.80)
	join(byID["W1"], byID["W2"], 0.60)
	join(byID["G1"], byID["G2"], 0.78)
	join(byID["G1"], byID["G3"], 0.75)
	byID["C1"].Beside = []Beside{{Line: byID["L1"], Share: -0.10}}
	byID["L1"].Beside = []Beside{{Line: byID["C1"], Share: 0.06}}
	g := byID["G1"]
	g.Stretches = []Stretch{{From: 84, To: 103, Offset: 1.1, Depth: 0.8, Share: -0.25}}
	return out
}

func (s *service) draw() *pen {
	p := newPen(inStreet(s.way[0][0], s.way[0][1]), 0)
	for _, w := range s.way[1:] {
		p.to(inStreet(w[0], w[1]))
	}
	return p
}

// electric is the cable under the north footway that turns into the lane with a
// radius of 9 m.
func electric() *pen {
	p := newPen(inStreet(0, 6.1), lanternStreet)
	return p.straight(28).arc(60, 7).arc(60, -7).straight(28).arc(9, 90).straight(22)
}

// join lets a branch leave a main at its first place; the main keeps a share of
// its current, and the branch has the rest.
func join(main, branch *Line, kept float64) {
	at, _ := main.Path.Nearest(branch.Path.Points[0])
	before := main.CurrentAt(at - 1e-6)
	main.Steps = append(main.Steps, Step{Station: at, Factor: kept, Branch: branch.ID})
	branch.Current = before * (1 - kept)
	main.Beside = append(main.Beside, Beside{Line: branch, Joined: true})
	branch.Beside = append(branch.Beside, Beside{Line: main, Joined: true})
	shift := main.DepthAt(at) - branch.Depth[0]
	for i := range branch.Depth { // meets the main, then rises to its own depth
		branch.Depth[i] += shift * math.Exp(-branch.Path.Stations[i]/4)
	}
}
