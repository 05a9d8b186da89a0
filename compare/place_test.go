package compare_test

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"tracemap/compare"
	"tracemap/geodesy"
)

// in gives a function from places to the coordinates of a system, and another
// order of axes or a displacement on top if asked.
func in(t testing.TB, code int, epoch float64, change func(x, y float64) [2]float64) func(geodesy.Geo) [2]float64 {
	t.Helper()
	crs, err := geodesy.LookupCRS(code)
	if err != nil {
		t.Fatal(err)
	}
	return func(g geodesy.Geo) [2]float64 {
		x, y, _, err := crs.Forward(g, geodesy.FrameWGS84, epoch)
		if err != nil {
			t.Fatal(err)
		}
		if change != nil {
			return change(x, y)
		}
		return [2]float64{x, y}
	}
}

const epoch2025 = 2025.5 // the middle of the invented day, to a day

// A record in any system lies where it belongs, the frames' difference included.
func TestSystems(t *testing.T) {
	berlin := geodesy.Geo{Lat: 52.52, Lon: 13.405, H: math.NaN()}
	denver := geodesy.Geo{Lat: 39.7392, Lon: -104.9903, H: math.NaN()}
	for _, c := range []struct {
		at   geodesy.Geo
		code int
		crs  string
	}{
		{berlin, 25833, "urn:ogc:def:crs:EPSG::25833"}, {berlin, 32633, "EPSG:32633"}, {berlin, 4258, "EPSG:4258"}, {berlin, 4326, "urn:ogc:def:crs:OGC:1.3:CRS84"},
		{denver, 6428, "EPSG:6428"}, {denver, 6318, "EPSG:6318"},
	} {
		r := run(t, located(t, c.at, steel("a", pt(0, 0), pt(60, 30))), record(t, c.at, c.crs, in(t, c.code, epoch2025, nil), line("A", "water", pt(0, 0), pt(60, 30))), nil)
		p := pairOf(t, r, "A")
		near(t, c.crs+" lateral", p.Lateral.Max, 0, 2e-4) // m: a tenth of what is written, and a day of plate motion
		near(t, c.crs+" length", p.Length, math.Hypot(60, 30), 1e-3)
	}
}

// Swapped axes are noticed, named, and can be forbidden or forced.
func TestSwappedAxes(t *testing.T) {
	swap := func(x, y float64) [2]float64 { return [2]float64{y, x} }
	a := line("A", "water", pt(0, 0), pt(60, 30))
	berlin := geodesy.Geo{Lat: 52.52, Lon: 13.405, H: math.NaN()}
	for _, c := range []struct {
		code int
		crs  string
		says string
	}{{4326, "", "latitude first"}, {25833, "EPSG:25833", "north first"}} {
		lines := located(t, berlin, steel("a", pt(0, 0), pt(60, 30)))
		path := record(t, berlin, c.crs, in(t, c.code, epoch2025, swap), a)
		r := run(t, lines, path, nil)
		hasWarning(t, r, "the axes of the as-built record are swapped")
		hasWarning(t, r, c.says)
		near(t, "lateral", pairOf(t, r, "A").Lateral.Max, 0, 2e-4)

		r = run(t, lines, path, func(o *compare.Options) { o.Axes = compare.AxesYX })
		near(t, "lateral", pairOf(t, r, "A").Lateral.Max, 0, 2e-4)

		opt := compare.DefaultOptions()
		opt.Axes = compare.AxesXY
		var refusal *compare.Refusal
		if _, err := compare.Run(context.Background(), lines, path, opt); !errors.As(err, &refusal) {
			t.Errorf("EPSG:%d as it stands: %v, want a refusal", c.code, err)
		}
	}
}

// Coordinates without their first figures are told to be that.
func TestFalseOrigin(t *testing.T) {
	berlin := geodesy.Geo{Lat: 52.52, Lon: 13.405, H: math.NaN()}
	cut := func(x, y float64) [2]float64 { return [2]float64{x - 300_000, y - 5_800_000} }
	path := record(t, berlin, "EPSG:25833", in(t, 25833, epoch2025, cut), line("A", "water", pt(0, 0), pt(60, 30)))
	_, err := compare.Run(context.Background(), located(t, berlin, steel("a", pt(0, 0), pt(60, 30))), path, compare.DefaultOptions())
	var refusal *compare.Refusal
	if !errors.As(err, &refusal) || !strings.Contains(refusal.Hint(), "300000, 5800000") {
		t.Errorf("%v, hint %q; want the false origin 300000, 5800000", err, refusal.Hint())
	}
}

// What the user says of the system counts before what the file says.
func TestSystemAsked(t *testing.T) {
	berlin := geodesy.Geo{Lat: 52.52, Lon: 13.405, H: math.NaN()}
	lines := located(t, berlin, steel("a", pt(0, 0), pt(60, 0)))
	path := record(t, berlin, "", in(t, 4258, epoch2025, nil), line("A", "water", pt(0, 0), pt(60, 0)))
	// As WGS 84 the record lies 0.9 m off towards the south-west (PROJ 9.1.1: 0.668
	// m east and 0.624 m north of it at epoch 2025.0).
	near(t, "taken for WGS 84", pairOf(t, run(t, lines, path, nil), "A").Lateral.Mean, 0.63, 0.02)
	r := run(t, lines, path, func(o *compare.Options) { must(t, o.SetCRS("EPSG:4258", nil)) })
	near(t, "as ETRS89", pairOf(t, r, "A").Lateral.Mean, 0, 1e-3)
}

// A label that puts the record elsewhere is held against all systems in use at
// the site, and the one that brings it there is named.
func TestWrongLabel(t *testing.T) {
	for _, c := range []struct {
		at    geodesy.Geo
		code  int
		label string
		hint  string
	}{
		{geodesy.Geo{Lat: 47.05, Lon: 8.3, H: math.NaN()}, 2056, "EPSG:25832", "--as-built-crs EPSG:2056"},
		{geodesy.Geo{Lat: 52.52, Lon: 13.405, H: math.NaN()}, 25833, "EPSG:25832", "EPSG:25833"},
		{geodesy.Geo{Lat: 52.52, Lon: 13.405, H: math.NaN()}, 4326, "EPSG:25833", "--as-built-crs EPSG:4326"},
	} {
		path := record(t, c.at, c.label, in(t, c.code, epoch2025, nil), line("A", "water", pt(0, 0), pt(60, 30)))
		_, err := compare.Run(context.Background(), located(t, c.at, steel("a", pt(0, 0), pt(60, 30))), path, compare.DefaultOptions())
		var refusal *compare.Refusal
		if !errors.As(err, &refusal) || !strings.Contains(refusal.Hint(), c.hint) {
			t.Errorf("EPSG:%d called %s: %v; want a hint with %q", c.code, c.label, err, c.hint)
			if refusal != nil {
				t.Log(refusal.Hint())
			}
		}
	}
}
