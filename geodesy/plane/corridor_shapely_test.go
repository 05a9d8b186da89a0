package plane_test

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"tracemap/geodesy/plane"
	"tracemap/internal/python"
)

// shapelyScript draws each corridor anew: the union, by GEOS, of the convex
// hulls of two 120-gons inside the circles. The corridor must be valid, hold
// that union, and be little wider: within the same made with 1.6 % and 20 mm
// more.
const shapelyScript = `
import json, math, sys
from shapely.geometry import Polygon, MultiPoint
from shapely.ops import unary_union

def disc(p, r):
    n = 120
    return [(p[0] + r*math.cos(2*math.pi*i/n), p[1] + r*math.sin(2*math.pi*i/n)) for i in range(n)]

def union(line, half):
    if len(line) == 1:
        return Polygon(disc(line[0], half[0]))
    return unary_union([MultiPoint(disc(line[i], half[i]) + disc(line[i+1], half[i+1])).convex_hull
                        for i in range(len(line) - 1)])

for c in json.load(sys.stdin):
    rings = c["rings"]
    got = Polygon(rings[0], rings[1:])
    if not got.is_valid:
        print(c["name"] + ": not valid")
        continue
    half = [max(h, 0.005) for h in c["half"]]
    inner = union(c["line"], [h*(1 - 1e-6) for h in half])
    outer = union(c["line"], [(h*1.016 + 0.02)/math.cos(math.pi/120) for h in half])
    lost, extra = inner.difference(got).area, got.difference(outer).area
    if lost > 1e-7 or extra > 1e-7:
        print("%s: lost %g m2, too much %g m2" % (c["name"], lost, extra))
print("done")
`

func TestCorridorAgainstShapely(t *testing.T) {
	interpreter := python.With(t, "shapely", "python3-shapely")
	type task struct {
		Name  string         `json:"name"`
		Line  [][2]float64   `json:"line"`
		Half  []float64      `json:"half"`
		Rings [][][2]float64 `json:"rings"`
	}
	var tasks []task
	for _, c := range append(corridorCases(), randomCorridors(30)...) {
		if c.line[0].Len() > 1e5 {
			continue // so far out that GEOS loses the last micrometre
		}
		got, err := plane.Corridor(c.line, c.half)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		k := task{Name: c.name, Line: pairs(c.line), Half: c.half}
		for _, r := range got[0] {
			k.Rings = append(k.Rings, pairs(r))
		}
		tasks = append(tasks, k)
	}
	in, err := json.Marshal(tasks)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(interpreter, "-c", shapelyScript)
	cmd.Stdin = bytes.NewReader(in)
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if said := strings.TrimSpace(string(out)); said != "done" {
		t.Error(said)
	}
}

func pairs(pts []pt) [][2]float64 {
	out := make([][2]float64, len(pts))
	for i, p := range pts {
		out[i] = [2]float64{p.E, p.N}
	}
	return out
}

// randomCorridors invents walks that turn, cross and come back.
func randomCorridors(n int) []corridorCase {
	rng := rand.New(rand.NewPCG(1, 2))
	cases := make([]corridorCase, n)
	for i := range cases {
		c := corridorCase{name: "walk " + string(rune('A'+i%26)) + string(rune('a'+i/26))}
		p, dir, half := pt{}, 0.0, rng.Float64()
		for range 3 + rng.IntN(40) {
			c.line = append(c.line, p)
			c.half = append(c.half, half*(0.5+rng.Float64()))
			dir += rng.NormFloat64() * 0.7
			p = p.Add(pt{math.Cos(dir), math.Sin(dir)}.Mul(0.2 + 2*rng.Float64()))
		}
		cases[i] = c
	}
	return cases
}

// The same line gives the same corridor to the bit.
func TestCorridorTwice(t *testing.T) {
	for _, c := range append(corridorCases(), randomCorridors(50)...) {
		a, _ := plane.Corridor(c.line, c.half)
		b, _ := plane.Corridor(c.line, c.half)
		x, _ := json.Marshal(a)
		y, _ := json.Marshal(b)
		if !bytes.Equal(x, y) {
			t.Errorf("%s: two answers", c.name)
		}
	}
}
