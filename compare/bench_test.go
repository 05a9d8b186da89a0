package compare_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/compare"
	"tracemap/geodesy/plane"
)

// BenchmarkTown compares 2,000 located lines with a record of 20,000: streets a
// hundred metres apart with five utilities in each, from files to files.
func BenchmarkTown(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	utilities := []string{"water", "gas", "electric", "sewer", "communications"}
	var lines []found
	var records []built
	for i := range 20_000 {
		utility := utilities[i%5]
		street := i / 5
		x, y := 100*float64(street%64), 100*float64(street/64)+1.2*float64(i%5)
		pts := []plane.Pt{pt(x, y), pt(x+30, y+rng.Float64()), pt(x+60, y+2*rng.Float64())}
		if street%2 == 1 {
			for k := range pts {
				pts[k] = pt(x+1.2*float64(i%5), 100*float64(street/64)+30*float64(k)-20)
			}
		}
		records = append(records, line(fmt.Sprintf("R%d", i), utility, pts...).with("depth_m", 1.2))
		if i/5%10 == 3 {
			f := steel(fmt.Sprintf("L%d", i), moved(pt(0.1*rng.NormFloat64(), 0.1*rng.NormFloat64()), pts...)...)
			f.utility, f.depth, f.depth95 = utility, 1.1, 0.15
			lines = append(lines, f)
		}
	}
	located, asBuilt := located(b, sea, lines...), record(b, sea, "", nil, records...)
	b.Logf("%d located lines, %d of record", len(lines), len(records))
	for b.Loop() {
		r, err := compare.Run(context.Background(), located, asBuilt, compare.DefaultOptions())
		if err != nil {
			b.Fatal(err)
		}
		if err := compare.Write(context.Background(), b.TempDir(), r); err != nil {
			b.Fatal(err)
		}
		if len(r.Pairs) != len(lines) || math.Abs(r.Lateral.Mean) > 0.05 {
			b.Fatalf("%d pairs, mean %v", len(r.Pairs), r.Lateral.Mean)
		}
	}
}
