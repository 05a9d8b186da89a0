package compare_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"tracemap/compare"
	"tracemap/geodesy/plane"
)

// Who is whose partner.
func TestPartners(t *testing.T) {
	straight := func(n float64) []plane.Pt { return []plane.Pt{pt(0, n), pt(60, n)} }
	for _, c := range []struct {
		name    string
		located []found
		record  []built
		want    string // pairs
		missing int
		extra   int
	}{
		{"by place", []found{steel("a", straight(0.2)...)}, []built{line("W1", "water", straight(0)...)}, "W1=a", 0, 0},
		{"by name, though another is nearer",
			[]found{steel("W1", straight(1.5)...), steel("b", straight(0.1)...)},
			[]built{line("W1", "water", straight(0)...)}, "W1=W1", 0, 1},
		{"by name whatever its case", []found{steel("w 1", straight(0.2)...)}, []built{line("W-1", "water", straight(0)...)}, "W-1=w 1", 0, 0},
		{"a name of another utility is no name", []found{steel("1", straight(0.2)...)}, []built{line("1", "gas", straight(0)...)}, "", 1, 1},
		{"too far", []found{steel("W1", straight(3.2)...)}, []built{line("W1", "water", straight(0)...)}, "", 1, 1},
		{"another utility", []found{steel("a", straight(0.2)...)}, []built{line("G1", "gas", straight(0)...)}, "", 1, 1},
		{"a utility nobody knows", []found{{line: "a", utility: "unknown", pts: straight(0.2), half: 0.1}}, []built{line("G1", "gas", straight(0)...)}, "G1=a", 0, 0},
		{"the utility that fits is taken before one that is nearer",
			[]found{{line: "u", utility: "unknown", pts: straight(0.1), half: 0.1}, steel("w", straight(-0.4)...)},
			[]built{line("W1", "water", straight(0)...)}, "W1=w", 0, 1},
		{"neighbours 0.6 m apart", []found{steel("a", straight(0.1)...), steel("b", straight(0.7)...)},
			[]built{line("A", "water", straight(0)...), line("B", "water", straight(0.6)...)}, "A=a B=b", 0, 0},
		{"neighbours 0.6 m apart, all displaced by more than half of that",
			[]found{steel("b", straight(0.95)...), steel("a", straight(0.35)...)},
			[]built{line("A", "water", straight(0)...), line("B", "water", straight(0.6)...)}, "A=a B=b", 0, 0},
		{"neighbours 0.6 m apart, all displaced by more than that",
			[]found{steel("a", straight(1)...), steel("b", straight(1.6)...)},
			[]built{line("B", "water", straight(0.6)...), line("A", "water", straight(0)...)}, "B=b A=a", 0, 0},
		{"crossing at a small angle",
			[]found{steel("a", pt(0, -4), pt(60, 4)), steel("b", pt(0, 4), pt(60, -4))},
			[]built{line("A", "water", pt(0, -4), pt(60, 4)), line("B", "water", pt(0, 4), pt(60, -4))}, "A=a B=b", 0, 0},
		{"crossing is no partner", []found{steel("a", pt(30, -20), pt(30, 20))}, []built{line("A", "water", straight(0)...)}, "", 1, 1},
		{"one record, several parts",
			[]found{steel("a", pt(0, 0.1), pt(25, 0.1)), {line: "a", part: 2, utility: "water", pts: []plane.Pt{pt(35, 0.1), pt(60, 0.1)}, half: 0.1}},
			[]built{line("A", "water", straight(0)...)}, "A=a", 0, 0},
		{"one record, several lines", []found{steel("a", pt(0, 0.1), pt(25, 0.1)), steel("b", pt(35, 0.1), pt(60, 0.1))},
			[]built{line("A", "water", straight(0)...)}, "A=a+b", 0, 0},
		{"several records, one line", []found{steel("a", straight(0.1)...)},
			[]built{line("A", "water", pt(0, 0), pt(20, 0)), line("B", "water", pt(20, 0), pt(40, 0)), line("C", "water", pt(40, 0), pt(60, 0))}, "A=a B=a C=a", 0, 0},
		{"digitised the other way", []found{steel("a", pt(60, 0.2), pt(0, 0.2))}, []built{line("A", "water", straight(0)...)}, "A=a", 0, 0},
		{"a short service beside a main", []found{steel("m", straight(0)...), steel("s", pt(30, 0.3), pt(30, 8))},
			[]built{line("M", "water", straight(0.1)...), line("S", "water", pt(30.2, 0), pt(30.2, 8))}, "M=m S=s", 0, 0},
		{"a single reading", []found{steel("p", pt(30, 0.4))}, []built{line("A", "water", straight(0)...)}, "A=p", 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := run(t, located(t, sea, c.located...), record(t, sea, "", nil, c.record...), nil)
			if got := strings.Join(names(r), " "); got != c.want {
				t.Errorf("pairs %q, want %q", got, c.want)
			}
			if len(r.NotLocated) != c.missing || len(r.NotInRecord) != c.extra {
				t.Errorf("not located %+v, in no record %+v; want %d and %d", r.NotLocated, r.NotInRecord, c.missing, c.extra)
			}
		})
	}
}

// The sign follows the record's drawn direction, not the located line's.
func TestSigns(t *testing.T) {
	for _, c := range []struct {
		located, built []plane.Pt
		want           float64
	}{
		{[]plane.Pt{pt(0, 0.4), pt(60, 0.4)}, []plane.Pt{pt(0, 0), pt(60, 0)}, 0.4}, // record runs east, located line north of it: left
		{[]plane.Pt{pt(60, 0.4), pt(0, 0.4)}, []plane.Pt{pt(0, 0), pt(60, 0)}, 0.4},
		{[]plane.Pt{pt(0, 0.4), pt(60, 0.4)}, []plane.Pt{pt(60, 0), pt(0, 0)}, -0.4},
		{[]plane.Pt{pt(0.4, 0), pt(0.4, 60)}, []plane.Pt{pt(0, 0), pt(0, 60)}, -0.4}, // record runs north, located line east of it: right
	} {
		p := pairOf(t, run(t, located(t, sea, steel("a", c.located...)), record(t, sea, "", nil, line("A", "water", c.built...)), nil), "A")
		near(t, "mean", p.Lateral.Mean, c.want, 1e-4)
		near(t, "coverage", p.Coverage, 100, 0.01)
		if p.Lateral.N != 61 {
			t.Errorf("%d stations along 60 m, want 61", p.Lateral.N)
		}
	}
}

// Between two records a line that could be either's is told to be.
func TestAmbiguous(t *testing.T) {
	records := []built{line("A", "water", pt(0, 0), pt(60, 0)), line("B", "water", pt(0, 0.6), pt(60, 0.6))}
	r := run(t, located(t, sea, steel("x", pt(0, 0.35), pt(60, 0.35))), record(t, sea, "", nil, records...), nil)
	if p := pairOf(t, r, "B"); p.Ambiguous != "as-built A" {
		t.Errorf("ambiguous with %q, want as-built A", p.Ambiguous)
	}
	hasWarning(t, r, "ambiguous")
	if len(r.NotLocated) != 1 || r.NotLocated[0].Reason != compare.PartnerTaken {
		t.Errorf("not located: %+v", r.NotLocated)
	}
	// On the record itself, with nothing else as near, it is none.
	r = run(t, located(t, sea, steel("x", pt(0, 0.02), pt(60, 0.02))), record(t, sea, "", nil, records...), func(o *compare.Options) { o.Accuracy = 0.1 })
	if p := pairOf(t, r, "A"); p.Ambiguous != "" {
		t.Errorf("ambiguous with %q, want none", p.Ambiguous)
	}
	// Two of each keep their order, but a width of metres does not tell it.
	wide := func(name string, n float64) found {
		f := steel(name, pt(0, n), pt(60, n))
		f.half, f.fix = 2.5, "autonomous"
		return f
	}
	r = run(t, located(t, sea, wide("x", 0.1), wide("y", 0.7)), record(t, sea, "", nil, records...), nil)
	if p := pairOf(t, r, "A"); p.Ambiguous == "" {
		t.Error("two lines known to 2.5 m, 0.6 m apart, are told to be sure")
	}
}

// Pieces of one name are one record; stations run through them.
func TestPieces(t *testing.T) {
	b := built{map[string]any{"id": "A", "utility": "water"}, [][]plane.Pt{{pt(0, 0), pt(20, 0)}, {pt(40, 0), pt(60, 0)}}}
	r := run(t, located(t, sea, steel("a", pt(0, 0.1), pt(60, 0.1))),
		record(t, sea, "", nil, b, line("A", "water", pt(60, 0), pt(70, 0)), line("A", "gas", pt(0, 9), pt(60, 9))), nil)
	p := pairOf(t, r, "A")
	near(t, "length", p.Length, 50, 1e-3)
	near(t, "matched", p.Matched, 40, 1.01) // the located line ends at the third piece
	stations := p.Stations
	if s := stations[len(stations)-1]; s.Station > 41.01 || s.Station < 39.99 {
		t.Errorf("last station %v", s.Station)
	}
	if len(r.NotLocated) != 1 || r.NotLocated[0].AsBuiltID != "A/gas" {
		t.Errorf("not located %+v", r.NotLocated)
	}
	hasWarning(t, r, `"A" is the name of a line of another utility before`)
}

// What is wrong with a record is told and does no harm.
func TestOddRecords(t *testing.T) {
	a := line("A", "water", pt(0, 0), pt(60, 0))
	back := line("A2", "water", pt(60, 0), pt(0, 0))
	dot := line("Z", "water", pt(5, 5), pt(5, 5))
	twice := line("B", "water", pt(0, 8), pt(30, 8), pt(30, 8), pt(60, 8))
	r := run(t, located(t, sea, steel("a", pt(0, 0.1), pt(60, 0.1)), steel("b", pt(0, 8.1), pt(60, 8.1))), record(t, sea, "", nil, a, back, dot, twice), nil)
	if got := strings.Join(names(r), " "); got != "A=a B=b" {
		t.Errorf("pairs %q", got)
	}
	hasWarning(t, r, `"A2" is drawn where another line is drawn already`)
	hasWarning(t, r, `a piece of "Z" has no length`)
}

// Many neighbours that are all displaced by two places keep their order.
func TestManyNeighbours(t *testing.T) {
	for _, n := range []int{5, 12} {
		var lines []found
		var records []built
		var want []string
		for i := range n {
			y := 0.5 * float64(i)
			records = append(records, line(fmt.Sprintf("R%02d", i), "communications", pt(0, y), pt(40, y)))
			f := steel(fmt.Sprintf("l%02d", i), pt(0, y+0.9), pt(40, y+0.9))
			f.utility = "communications"
			lines = append(lines, f)
			want = append(want, fmt.Sprintf("R%02d=l%02d", i, i))
		}
		slices.Reverse(lines)
		r := run(t, located(t, sea, lines...), record(t, sea, "", nil, records...), nil)
		if got := names(r); !slices.Equal(got, want) {
			t.Errorf("%d neighbours: %v", n, got)
		}
	}
}

// A record that runs a thousand times round the earth costs no more than what of
// it lies on the site, and too many places are refused in words.
func TestEndlessRecord(t *testing.T) {
	lines := located(t, sea, steel("a", pt(0, 0.1), pt(60, 0.1)))
	b := line("A", "water", pt(-900, 0), pt(900, 0))
	props := b.props
	coordinates := [][2]float64{}
	for i := range 2000 {
		lon := 3 + 20*float64(i%2*2-1)
		coordinates = append(coordinates, [2]float64{lon, sea.Lat + 3 + float64(i%7)})
	}
	path := filepath.Join(t.TempDir(), "endless.geojson")
	save(t, path, map[string]any{"type": "FeatureCollection", "features": []any{
		map[string]any{"type": "Feature", "properties": map[string]any{"id": "E", "utility": "water"}, "geometry": map[string]any{"type": "LineString", "coordinates": coordinates}},
		map[string]any{"type": "Feature", "properties": props, "geometry": map[string]any{"type": "LineString", "coordinates": [][2]float64{{2.99, 55.5}, {3.01, 55.5}}}},
	}})
	r := run(t, lines, path, nil)
	if got := strings.Join(names(r), " "); got != "A=a" || len(r.NotLocated) != 0 || len(r.Elsewhere) != 1 {
		t.Errorf("pairs %q, not located %+v, elsewhere %+v", got, r.NotLocated, r.Elsewhere)
	}
	opt := compare.DefaultOptions()
	opt.Every = 1e-6
	var refusal *compare.Refusal
	if _, err := compare.Run(context.Background(), lines, path, opt); !errors.As(err, &refusal) || !strings.Contains(refusal.ToDo, "--every") {
		t.Errorf("60 million stations: %v", err)
	}
}
