package geodesy_test

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"tracemap/geodesy"
)

// An ntv2Part is a rectangle of nodes whose corrections, seconds of arc, north
// and west, are a function of the place in degrees north and east.
type ntv2Part struct {
	south, north, west, east, step float64 // degrees
	shift                          func(lat, lon float64) (north, west float64)
}

// ntv2 makes a file of the format, with headers as Natural Resources Canada
// describes them.
func ntv2(order binary.AppendByteOrder, parts ...ntv2Part) []byte {
	var b []byte
	text := func(s string) { b = append(b, fmt.Sprintf("%-8s", s)...) }
	count := func(key string, n int) { text(key); b = order.AppendUint32(b, uint32(n)); b = append(b, 0, 0, 0, 0) }
	value := func(key string, v float64) { text(key); b = order.AppendUint64(b, math.Float64bits(v)) }
	single := func(v float64) { b = order.AppendUint32(b, math.Float32bits(float32(v))) }
	count("NUM_OREC", 11)
	count("NUM_SREC", 11)
	count("NUM_FILE", len(parts))
	for _, kv := range [][2]string{{"GS_TYPE", "SECONDS"}, {"VERSION", "MADE"}, {"SYSTEM_F", "OLD"}, {"SYSTEM_T", "NEW"}} {
		text(kv[0])
		text(kv[1])
	}
	for _, key := range []string{"MAJOR_F", "MINOR_F", "MAJOR_T", "MINOR_T"} {
		value(key, 6378137)
	}
	for i, p := range parts {
		rows, cols := int(math.Round((p.north-p.south)/p.step))+1, int(math.Round((p.east-p.west)/p.step))+1
		text("SUB_NAME")
		text(fmt.Sprint("PART", i))
		text("PARENT")
		if i == 0 {
			text("NONE")
		} else {
			text("PART0")
		}
		text("CREATED")
		text("")
		text("UPDATED")
		text("")
		for _, kv := range []struct {
			key string
			v   float64
		}{{"S_LAT", p.south}, {"N_LAT", p.north}, {"E_LONG", -p.east}, {"W_LONG", -p.west}, {"LAT_INC", p.step}, {"LONG_INC", p.step}} {
			value(kv.key, kv.v*3600)
		}
		count("GS_COUNT", rows*cols)
		for r := range rows {
			for c := range cols {
				n, w := p.shift(p.south+float64(r)*p.step, p.east-float64(c)*p.step)
				single(n)
				single(w)
				single(0)
				single(0)
			}
		}
	}
	text("END")
	return append(b, make([]byte, 8)...)
}

// A grid over Britain with a finer part in it, both orders of bytes: the
// corrections, plane within a cell, come out as they were put in, and back.
func TestShiftGridOfKnownCorrections(t *testing.T) {
	coarse := func(lat, lon float64) (float64, float64) { return 2 + 0.5*(lat-52), 4 - 0.25*(lon+2) }
	fine := func(lat, lon float64) (float64, float64) { n, w := coarse(lat, lon); return n + 0.1, w }
	for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
		g, err := geodesy.ReadShiftGrid("made.gsb", ntv2(order, ntv2Part{50, 58, -7, 2, 1, coarse}, ntv2Part{52, 53, -2, -1, 0.25, fine}))
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			lat, lon float64
			shift    func(lat, lon float64) (float64, float64)
		}{{51.37, -3.21, coarse}, {57.999, 1.999, coarse}, {50, -7, coarse}, {58, 2, coarse}, {52.6, -1.4, fine}, {52.1, -1.01, fine}} {
			in := geodesy.Geo{Lat: c.lat, Lon: c.lon, H: 50}
			north, west := c.shift(c.lat, c.lon)
			want := geodesy.Geo{Lat: c.lat + north/3600, Lon: c.lon - west/3600, H: 50}
			got, err := g.Forward(in)
			if d := ground(got, want); err != nil || !(d < 1e-4) { // nodes are of single precision: 4e-7 seconds
				t.Errorf("%v of %v: %v, want %v: %.3g m (%v)", g, in, got, want, d, err)
			}
			if back, err := g.Inverse(got); c.lat > 50 && c.lat < 57.9 && (err != nil || !(ground(back, in) < 1e-6)) {
				t.Errorf("%v there and back: %v, %v (%v)", g, in, back, err)
			}
		}
		for _, p := range []geodesy.Geo{{Lat: 49.9, Lon: 0}, {Lat: 52, Lon: 2.1}, {Lat: math.NaN(), Lon: 0}, {Lat: 52, Lon: math.NaN()}} {
			if got, err := g.Forward(p); err == nil || !strings.Contains(err.Error(), "no correction at") {
				t.Errorf("outside at %v: %v, %v", p, got, err)
			}
		}
	}
}

// National grids that PROJ comes with, and a made one on British National Grid,
// agree with PROJ's own hgridshift within 0.1 mm, which is the precision of the
// nodes.
func TestShiftGridAgainstPROJ(t *testing.T) {
	if _, err := exec.LookPath("cct"); err != nil {
		t.Skip("cct (Debian: proj-bin) is not installed")
	}
	made := filepath.Join(t.TempDir(), "made.gsb")
	wavy := func(lat, lon float64) (float64, float64) { return 2 + math.Sin(lat), 4 + math.Cos(lon) }
	if err := os.WriteFile(made, ntv2(binary.LittleEndian, ntv2Part{49, 61, -9, 3, 0.5, wavy}), 0o644); err != nil {
		t.Fatal(err)
	}
	const shipped = "/usr/share/proj/"
	for _, c := range []struct {
		code       int
		file, proj string
		places     [][2]float64 // longitude, latitude
	}{
		{27700, made, "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +a=6377563.396 +rf=299.3249646", [][2]float64{{-2, 52}, {-0.1276, 51.5072}, {-4.2518, 55.8642}, {1.29, 52.63}}},
		{31467, shipped + "BETA2007.gsb", "+proj=tmerc +lat_0=0 +lon_0=9 +k=1 +x_0=3500000 +y_0=0 +ellps=bessel", [][2]float64{{9.18, 48.78}, {8.68, 50.11}, {9.99, 53.55}, {10.4, 52.3}}},
		{21781, shipped + "CHENYX06_etrs.gsb", "+proj=somerc +lat_0=46.95240555555556 +lon_0=7.439583333333333 +k_0=1 +x_0=600000 +y_0=200000 +ellps=bessel", [][2]float64{{7.44, 46.95}, {8.54, 47.37}, {6.14, 46.2}, {8.95, 46.0}}},
	} {
		data, err := os.ReadFile(c.file)
		if err != nil {
			t.Skip("PROJ's own grids (Debian: proj-data) are not installed: ", err)
		}
		grid, err := geodesy.ReadShiftGrid(filepath.Base(c.file), data)
		if err != nil {
			t.Fatal(err)
		}
		crs, err := geodesy.LookupCRSOn(c.code, grid)
		if err != nil {
			t.Fatal(err)
		}
		var in []string
		for _, p := range c.places {
			in = append(in, fmt.Sprintf("%v %v 0 0", p[0], p[1]))
		}
		args := []string{"-d", "6", "+proj=pipeline", "+step", "+proj=unitconvert", "+xy_in=deg", "+xy_out=rad", "+step", "+inv", "+proj=hgridshift", "+grids=" + c.file, "+step"}
		for i, answer := range run(t, in, "cct", append(args, strings.Fields(c.proj)...)...) {
			want := numbers(t, answer)
			p := geodesy.Geo{Lon: c.places[i][0], Lat: c.places[i][1], H: 100}
			x, y, _, err := crs.Forward(p, crs.Frame(), math.NaN())
			if d := math.Hypot(x-want[0], y-want[1]); err != nil || !(d < 1e-4) {
				t.Errorf("%v by %v at %v: %.5f %.5f, cct says %.5f %.5f, %.3g m apart (%v)", crs, grid, in[i], x, y, want[0], want[1], d, err)
			}
			if back, err := crs.Inverse(x, y, 100, crs.Frame(), math.NaN()); err != nil || !(ground(back, p) < 1e-5) {
				t.Errorf("%v there and back at %v: %v (%v)", crs, in[i], back, err)
			}
		}
	}
}

func TestShiftGridRefuses(t *testing.T) {
	good := ntv2(binary.LittleEndian, ntv2Part{50, 52, 0, 2, 1, func(_, _ float64) (float64, float64) { return 1, 2 }})
	change := func(at int, b ...byte) []byte {
		out := append([]byte(nil), good...)
		copy(out[at:], b)
		return out
	}
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"nothing":            {nil, "not of the format NTv2"},
		"another file":       {[]byte(strings.Repeat("II*\x00", 100)), "not of the format NTv2"},
		"no headers":         {change(8, 9), "headers of other than 11 records"},
		"parts without end":  {change(40, 255, 255, 255, 255), "4294967295 parts"},
		"another unit":       {change(56, []byte("METRES  ")...), `"METRES"`},
		"step of zero":       {change(176+8*16+8, 0, 0, 0, 0, 0, 0, 0, 0), "edges make no sense"},
		"too many nodes":     {change(176+10*16+8, 255, 255, 255, 127), "and its edges ask for 3 times 3"},
		"cut in the nodes":   {good[:len(good)-40], "ends before its last node"},
		"cut in the headers": {good[:200], "ends before its last part"},
	} {
		if _, err := geodesy.ReadShiftGrid("grid.gsb", c.data); err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "grid.gsb") {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
	grid, err := geodesy.ReadShiftGrid("grid.gsb", good)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := geodesy.LookupCRSOn(25832, grid); err == nil || !strings.Contains(err.Error(), "needs no correction grid") {
		t.Errorf("a grid for nothing: %v", err)
	}
}

// Whatever the bytes, a reader that takes them gives finite corrections of less
// than a degree or says that there is none.
func FuzzShiftGrid(f *testing.F) {
	flat := func(_, _ float64) (float64, float64) { return 1, 2 }
	f.Add(ntv2(binary.LittleEndian, ntv2Part{50, 52, 0, 2, 1, flat}), 51.2, 1.3)
	f.Add(ntv2(binary.BigEndian, ntv2Part{50, 52, 0, 2, 1, flat}, ntv2Part{50, 51, 0, 1, 0.5, flat}), 50.2, 0.3)
	f.Fuzz(func(t *testing.T, data []byte, lat, lon float64) {
		g, err := geodesy.ReadShiftGrid("x", data)
		if err != nil {
			return
		}
		for _, move := range []func(geodesy.Geo) (geodesy.Geo, error){g.Forward, g.Inverse} {
			got, err := move(geodesy.Geo{Lat: lat, Lon: lon})
			if err == nil && !(math.Abs(got.Lat-lat) <= 1 && math.Abs(got.Lon) <= 180) {
				t.Errorf("%v %v goes to %v", lat, lon, got)
			}
		}
	})
}

// Web Mercator agrees with PROJ's webmerc within a micrometre. It is for reading.
func TestWebMercator(t *testing.T) {
	c := mustCRS(t, 3857)
	// cct -d 6 +proj=webmerc +ellps=WGS84, PROJ 9.1.1.
	for _, p := range []struct{ lon, lat, x, y float64 }{{13.405, 52.52, 1492237.774084, 6894699.801282}, {-70.66, -33.45, -7865835.219453, -3955187.399355}} {
		x, y, _, err := c.Forward(geodesy.Geo{Lat: p.lat, Lon: p.lon}, geodesy.FrameWGS84, 0)
		if err != nil || math.Hypot(x-p.x, y-p.y) > 2e-6 {
			t.Errorf("%v: %.6f %.6f (%v)", p, x, y, err)
		}
		if g, err := c.Inverse(p.x, p.y, 0, geodesy.FrameWGS84, 0); err != nil || !(ground(g, geodesy.Geo{Lat: p.lat, Lon: p.lon}) < 2e-6) {
			t.Errorf("%v back: %v (%v)", p, g, err)
		}
	}
	if !c.Distorts() || mustCRS(t, 25832).Distorts() {
		t.Error("only EPSG:3857 distorts")
	}
}

// A frame that stands alone takes positions that are in it and no others.
func TestFramesThatStandAlone(t *testing.T) {
	wellington := geodesy.Geo{Lat: -41.2865, Lon: 174.7762, H: 20}
	nztm := mustCRS(t, 2193)
	x, y, h, err := nztm.Forward(wellington, geodesy.FrameNZGD2000, math.NaN())
	// cct -d 4 +proj=tmerc +lat_0=0 +lon_0=173 +k=0.9996 +x_0=1600000 +y_0=10000000 +ellps=GRS80, PROJ 9.1.1.
	if err != nil || math.Hypot(x-1748735.5531, y-5427916.4789) > 1e-3 || h != 20 {
		t.Errorf("Wellington: %.4f %.4f %v (%v)", x, y, h, err)
	}
	for _, f := range []geodesy.Frame{geodesy.FrameWGS84, geodesy.FrameITRF2014, geodesy.FrameGDA2020} {
		if _, _, _, err := nztm.Forward(wellington, f, 2026); err == nil || !strings.Contains(err.Error(), `--frame "NZGD2000"`) {
			t.Errorf("from %v: %v", f, err)
		}
		if _, err := nztm.Inverse(x, y, h, f, 2026); err == nil {
			t.Errorf("to %v: no error", f)
		}
	}
	for code, name := range map[int]string{31983: "SIRGAS 2000", 6677: "JGD2011", 4490: "CGCS2000", 4148: "Hartebeesthoek94", 5179: "Korea 2000", 3116: "MAGNA-SIRGAS", 5254: "TUREF"} {
		if c := mustCRS(t, code); c.Frame().String() != name || !c.Frame().Alone() || c.Frame().Moves() {
			t.Errorf("EPSG:%d is in %v", code, c.Frame())
		}
	}
}
