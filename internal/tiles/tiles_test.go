package tiles_test

import (
	"bytes"
	"errors"
	"fmt"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"tracemap/internal/tiles"
)

func open(t *testing.T, name string) *tiles.Set {
	t.Helper()
	s, err := tiles.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// house is the middle of an invented house, and its south-west corner; latitude,
// longitude. testdata/about.txt says how the files were made.
var house, corner = [2]float64{47.50026978, -17.75043884}, [2]float64{47.50022482, -17.75053193}

// pixel gives where a place lies at a zoom: tile, and the share of its width
// (Web Mercator, EPSG:3857).
func pixel(at [2]float64, z int) (x, y int, fx, fy float64) {
	n := float64(int(1) << z)
	px := (at[1] + 180) / 360 * n
	py := (1 - math.Asinh(math.Tan(at[0]*math.Pi/180))/math.Pi) / 2 * n
	return int(px), int(py), px - math.Floor(px), py - math.Floor(py)
}

// GDAL drew the house in grey 120 where it stands: a row counted from the wrong
// end would show the ground, 230.
func TestRasterTilesLieWhereTheyShould(t *testing.T) {
	s := open(t, "raster.mbtiles")
	if s.Kind != "image/png" || s.MinZoom != 15 || s.MaxZoom != 17 || math.Abs(s.Bounds[0]+17.753) > 1e-6 {
		t.Errorf("about: %+v", s.About)
	}
	x, y, fx, fy := pixel(house, 17)
	b, err := s.Tile(t.Context(), 17, x, y)
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if got := color.GrayModel.Convert(img.At(int(fx*256), int(fy*256))); got != (color.Gray{Y: 120}) {
		t.Errorf("the house has the colour %v, want grey 120", got)
	}
	for _, at := range [][3]int{{17, x + 50, y}, {17, x, -1}, {17, 1 << 17, y}, {3, 0, 0}, {-1, 0, 0}, {40, 0, 0}} {
		if _, err := s.Tile(t.Context(), at[0], at[1], at[2]); !errors.Is(err, tiles.ErrNone) {
			t.Errorf("tile %v: %v, want ErrNone", at, err)
		}
	}
}

var point = regexp.MustCompile(`[ML](-?\d+) (-?\d+)`)

// The drawn vector tile has the house's corner where it stands, alike from both
// formats; 4096 units are one tile, and GDAL rounds to whole ones.
func TestVectorTilesAreDrawnWhereTheyShould(t *testing.T) {
	var first string
	for _, name := range []string{"vector.mbtiles", "vector.pmtiles"} {
		s := open(t, name)
		if s.Kind != "image/svg+xml" || s.MinZoom != 13 || s.MaxZoom != 17 {
			t.Errorf("%s: %+v", name, s.About)
		}
		for z := s.MinZoom; z <= s.MaxZoom; z++ {
			x, y, fx, fy := pixel(corner, z)
			b, err := s.Tile(t.Context(), z, x, y)
			if err != nil {
				t.Fatalf("%s at zoom %d: %v", name, z, err)
			}
			near := math.Inf(1)
			for _, m := range point.FindAllStringSubmatch(string(b), -1) {
				px, _ := strconv.ParseFloat(m[1], 64)
				py, _ := strconv.ParseFloat(m[2], 64)
				near = min(near, math.Hypot(px-fx*4096, py-fy*4096))
			}
			if z >= 16 && near > 1.5 { // at lower zooms GDAL simplifies houses away
				t.Errorf("%s at zoom %d: the nearest point is %.1f units from the house's corner", name, z, near)
			}
			if z == 17 && !strings.Contains(string(b), `stroke="#888c"`) {
				t.Errorf("%s: the house is not drawn as one", name)
			}
			if z == 17 && first == "" {
				first = string(b)
			} else if z == 17 && first != string(b) {
				t.Errorf("%s gives another picture than the first file", name)
			}
		}
		if _, err := s.Tile(t.Context(), 17, 0, 0); !errors.Is(err, tiles.ErrNone) {
			t.Errorf("%s: far away: %v", name, err)
		}
	}
}

func TestOtherFilesAreRefused(t *testing.T) {
	for name, want := range map[string]string{"": "too short", strings.Repeat("text ", 30): "neither PMTiles nor MBTiles", "PMTiles\x02" + strings.Repeat("\x00", 200): "version 2", "PMTiles\x03" + strings.Repeat("\x00", 200): "unknown sort", "SQLite format 3\x00" + strings.Repeat("x", 200): "MBTiles"} {
		path := filepath.Join(t.TempDir(), "file")
		if err := os.WriteFile(path, []byte(name), 0o600); err != nil {
			t.Fatal(err)
		}
		if s, err := tiles.Open(path); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.20q: %v %v, want %q", name, s, err, want)
		}
	}
}

// Whatever is in a file, reading it ends without a panic and within bounds.
func FuzzPMTiles(f *testing.F) {
	whole, err := os.ReadFile(filepath.Join("testdata", "vector.pmtiles"))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole)
	f.Add(whole[:200])
	for _, at := range []int{8, 16, 40, 97, 98, 99, 127, 130, 140, len(whole) - 40} {
		b := bytes.Clone(whole)
		b[at] ^= 0xff
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		path := filepath.Join(t.TempDir(), "f.pmtiles")
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := tiles.Open(path)
		if err != nil {
			return
		}
		defer s.Close()
		for z := s.MinZoom; z <= min(s.MaxZoom, 18); z++ {
			x, y, _, _ := pixel(corner, z)
			if got, err := s.Tile(t.Context(), z, x, y); err == nil && s.Kind == "image/svg+xml" && !strings.HasSuffix(string(got), "</svg>") {
				t.Errorf("%s", fmt.Sprintf("a broken picture: %.100q", got))
			}
		}
	})
}
