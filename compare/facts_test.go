package compare_test

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tracemap/compare"
)

// Depths are brought to the centre whatever they are measured to, and what is
// not known widens instead of shifting.
func TestDepths(t *testing.T) {
	const centre = 1.0 // as located
	for _, c := range []struct {
		name   string
		props  map[string]any
		change func(*compare.Options)
		asLaid float64 // depth of the centre in the record; NaN for none
		bound  float64 // what an unknown diameter or point adds
		warns  string
	}{
		{"to the centre", map[string]any{"depth_to_centre_m": 1.1, "diameter_mm": 200}, nil, 1.1, 0, ""},
		{"cover", map[string]any{"cover_m": 0.9, "diameter_mm": 200}, nil, 1.0, 0, ""},
		{"cover, no diameter", map[string]any{"cover_m": 0.9}, nil, 0.9, 0.2, ""},
		{"to the invert", map[string]any{"depth_to_invert_m": 1.2, "od_mm": 200}, nil, 1.1, 0, ""},
		{"levels", map[string]any{"ground_level": 71.3, "invert_level": 70.2, "dn": 200}, nil, 1.0, 0, ""},
		{"levels with other names", map[string]any{"Cover_Level": "71.3 m", "US_IL": 70.2, "DS_IL": 70.2, "DN": 200}, nil, 1.0, 0, ""},
		{"an invert without the ground", map[string]any{"invert_level": 70.2, "dn": 200}, nil, math.NaN(), 0, ""},
		{"not said", map[string]any{"depth_m": 1.1, "diameter_mm": 200}, nil, 1.1, 0.1, "it is not said whether the depth goes to the top"},
		{"not said, no diameter", map[string]any{"depth_m": 1.1}, nil, 1.1, 0.2, "it is not said"},
		{"said by the flag", map[string]any{"depth_m": 0.9, "diameter_mm": 200}, func(o *compare.Options) { o.DepthTo = compare.Top }, 1.0, 0, ""},
		{"said by a column", map[string]any{"depth_m": 0.9, "diameter_mm": 200, "depth_reference": "Crown"}, nil, 1.0, 0, ""},
		{"feet", map[string]any{"COVER_FT": 3, "DIAM_IN": 8}, nil, 3*0.3048 + 0.1016, 0, ""},
		{"unit in the cell", map[string]any{"cover": "35 in", "od": "200 mm"}, nil, 0.889 + 0.1, 0, ""},
		{"unit by the flag", map[string]any{"Tief": 110, "diameter_mm": 200}, func(o *compare.Options) { o.DepthField, o.DepthTo = "tief=cm", compare.Centre }, 1.1, 0, ""},
		{"no unit", map[string]any{"cover": 0.9, "od_mm": 200}, nil, 1.0, 0, "the column cover has no unit: metres are taken"},
		{"a diameter without unit", map[string]any{"cover_m": 0.9, "diameter": 200}, nil, 0.9, 0.2, "--diameter-field diameter=mm"},
		{"the diameter's unit by the flag", map[string]any{"cover_m": 0.9, "diameter": 200}, func(o *compare.Options) { o.DiameterField = "diameter=mm" }, 1.0, 0, ""},
		{"negative", map[string]any{"depth_to_centre_m": -1.1}, nil, 1.1, 0, "negative depth is read as below ground"},
		{"zero", map[string]any{"depth_to_centre_m": 0}, nil, math.NaN(), 0, "taken as not recorded"},
		{"a word", map[string]any{"depth_to_centre_m": "deep"}, nil, math.NaN(), 0, `"deep" is no length`},
		{"decimal comma", map[string]any{"depth_to_centre_m": "1,1"}, nil, 1.1, 0, ""},
		{"the sign of nothing", map[string]any{"depth_to_centre_m": -9999}, nil, math.NaN(), 0, "makes no sense"},
		{"centre before a depth not said", map[string]any{"depth_m": 5, "depth_to_axis_m": 1.1}, nil, 1.1, 0, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := line("A", "water", pt(0, 0), pt(60, 0))
			for k, v := range c.props {
				b = b.with(k, v)
			}
			f := steel("a", pt(0, 0), pt(60, 0))
			f.depth, f.depth95 = centre, 0.12
			r := run(t, located(t, sea, f), record(t, sea, "", nil, b), c.change)
			for _, s := range pairOf(t, r, "A").Stations {
				if math.IsNaN(c.asLaid) {
					if !math.IsNaN(s.DepthAsBuilt) || !math.IsNaN(s.DepthDiff) || s.DepthVerdict != compare.Unjudged {
						t.Fatalf("depth %v, difference %v, verdict %v; want none", s.DepthAsBuilt, s.DepthDiff, s.DepthVerdict)
					}
					continue
				}
				near(t, "as-built", s.DepthAsBuilt, c.asLaid, 1e-9)
				near(t, "difference", s.DepthDiff, centre-c.asLaid, 1e-9)
				near(t, "uncertainty", s.Depth95, math.Hypot(0.12, 0.2)+c.bound, 1e-9)
			}
			if c.warns != "" {
				hasWarning(t, r, c.warns)
			} else if len(r.Warnings) > 0 {
				t.Errorf("warnings %q", r.Warnings)
			}
		})
	}
}

// A depth at each end runs evenly from the one to the other; the diameter that
// the locating crew knew serves a record that has none.
func TestDepthsAlong(t *testing.T) {
	f := steel("a", pt(0, 0), pt(60, 0))
	f.depth, f.depth95, f.cover = 1.5, 0.1, 1.4
	b := line("A", "sewer", pt(0, 0), pt(60, 0)).with("us_depth_to_invert_m", 1.0).with("ds_depth_to_invert_m", 2.2)
	f.utility = "sewer"
	p := pairOf(t, run(t, located(t, sea, f), record(t, sea, "", nil, b), nil), "A")
	for _, s := range p.Stations {
		near(t, "depth", s.DepthAsBuilt, 1.0+1.2*s.Station/60-0.1, 1e-6)
		near(t, "uncertainty", s.Depth95, math.Hypot(0.1, 0.2), 1e-9)
	}
}

// A record's own accuracy counts before the general one.
func TestStatedAccuracy(t *testing.T) {
	r := run(t, located(t, sea, steel("a", pt(0, 0.2), pt(60, 0.2)), steel("b", pt(0, 9), pt(60, 9))),
		record(t, sea, "", nil, line("A", "water", pt(0, 0), pt(60, 0)).with("horizontal_accuracy_m", 0.05), line("B", "water", pt(0, 9), pt(60, 9))), nil)
	near(t, "stated", pairOf(t, r, "A").Stations[9].Lateral95, math.Hypot(0.08, 0.05), 1e-9)
	near(t, "general", pairOf(t, r, "B").Stations[9].Lateral95, math.Hypot(0.08, 0.3), 1e-9)
}

// Names, utilities and layers are found in the words that records use.
func TestColumns(t *testing.T) {
	for _, c := range []struct {
		name   string
		props  map[string]any
		change func(*compare.Options)
		id     string
	}{
		{"usual", map[string]any{"OBJECTID": 7, "Asset_ID": "WM-1", "Service": "Potable Water"}, nil, "WM-1"},
		{"type", map[string]any{"fid": 7, "TYPE": "Water main"}, nil, "7"},
		{"by the flag", map[string]any{"id": 7, "bez": "WM-1", "was": "wasser"}, func(o *compare.Options) { o.IDField, o.UtilityField = "BEZ", "was" }, "WM-1"},
		{"no name", map[string]any{"network": "water"}, nil, "feature 1"},
	} {
		b := built{c.props, line("", "", pt(0, 0), pt(60, 0)).lines}
		r := run(t, located(t, sea, steel("a", pt(0, 0), pt(60, 0))), record(t, sea, "", nil, b), c.change)
		if p := r.Pairs[0]; p.AsBuiltID != c.id || p.Utility != "water" {
			t.Errorf("%s: id %q, utility %q", c.name, p.AsBuiltID, p.Utility)
		}
	}
}

// A wrong flag or file is refused in words that say what to do.
func TestRefusals(t *testing.T) {
	good := located(t, sea, steel("a", pt(0, 0), pt(60, 0)))
	a := line("A", "water", pt(0, 0), pt(60, 0))
	write := func(name, text string) string {
		path := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		return path
	}
	utm := write("a.csv", "id,wkt\nA,\"LINESTRING (500000 6150000, 500060 6150000)\"\n")
	for _, c := range []struct {
		name, located, asBuilt string
		change                 func(*compare.Options)
		says, hint             string
		usage                  bool
	}{
		{"no such column", good, record(t, sea, "", nil, a), func(o *compare.Options) { o.IDField = "nummer" }, "no such column", "it has id, utility", true},
		{"no such unit", good, record(t, sea, "", nil, a), func(o *compare.Options) { o.DepthField = "d=furlong" }, "no unit", "NAME=ft", true},
		{"no system", good, utm, nil, "names no coordinate system", "--as-built-crs EPSG:25832", true},
		{"a system that is not built in", good, record(t, sea, "EPSG:27700", nil, a), nil, "OSGB36", "--as-built-crs", true},
		{"far away", good, record(t, sea, "", nil, line("A", "water", pt(500_000, 0), pt(500_060, 0))), nil, "lies nowhere near the located lines, 500 km to the east", "--as-built-crs", false},
		{"points only", good, write("p.geojson", `{"type":"Point","coordinates":[3,55.5]}`), nil, "holds no lines", "points and areas", false},
		{"no located lines", write("x.geojson", `{"type":"Point","coordinates":[3,55.5]}`), utm, nil, "holds no lines that tracemap convert wrote", "the owner's record comes second", false},
		{"an empty folder", t.TempDir(), utm, nil, "holds neither lines.geojson nor map.gpkg", "tracemap convert", false},
		{"no length", good, record(t, sea, "", nil, line("A", "water", pt(0, 0), pt(0, 0))), nil, "no line of it has a length", "", false},
	} {
		if c.says == "" {
			continue
		}
		opt := compare.DefaultOptions()
		if c.change != nil {
			c.change(&opt)
		}
		_, err := compare.Run(context.Background(), c.located, c.asBuilt, opt)
		var r *compare.Refusal
		if !errors.As(err, &r) || !strings.Contains(r.Error(), c.says) || !strings.Contains(r.Hint(), c.hint) || r.Usage != c.usage {
			t.Errorf("%s: %v (%+v); want %q and %q", c.name, err, r, c.says, c.hint)
		}
	}
	if _, err := compare.Run(context.Background(), filepath.Join(t.TempDir(), "none"), utm, compare.DefaultOptions()); err == nil || !strings.Contains(err.Error(), "no such file") {
		t.Errorf("nothing: %v", err)
	}
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
