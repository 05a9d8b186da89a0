package export_test

import (
	"encoding/json"
	"fmt"
	"image/color"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"tracemap/export"
	"tracemap/internal/lab/invented"
	"tracemap/internal/python"
	"tracemap/internal/survey"
	"tracemap/present"
	"tracemap/result"
)

// What testdata/open_in_qgis.py tells of a layer.
type qgisLayer struct {
	CRS        string
	Features   int
	Renderer   string
	Attribute  string
	Abstract   string
	Farthest   float64
	Categories map[string]struct {
		Label   string
		Strokes []qgisStroke
	}
	Labels bool
	Label  string
	Halo   bool
	Points float64
}

type qgisStroke struct {
	Class   string
	Colour  string
	Opacity int
	Width   float64
	Dash    []float64
}

// inQGIS opens a file in QGIS, without a screen, and draws it.
func inQGIS(t *testing.T, file, picture string, args ...string) map[string]qgisLayer {
	t.Helper()
	cmd := exec.Command(python.With(t, "qgis.core", "python3-qgis"), append([]string{"testdata/open_in_qgis.py", file, picture}, args...)...)
	cmd.Env = append(os.Environ(), "QT_QPA_PLATFORM=offscreen", "PYTHONDONTWRITEBYTECODE=1", "XDG_RUNTIME_DIR="+t.TempDir(), "HOME="+t.TempDir())
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %v\n%s", cmd.Args, err, stderr(err))
	}
	var told struct{ Layers map[string]qgisLayer }
	if err := json.Unmarshal(out, &told); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return told.Layers
}

// QGIS takes the default styles by itself: every layer by utility, each utility in
// its colour and dash, the corridor see-through, white dashes over what is doubtful.
func TestQGISTakesStyles(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	file := filepath.Join(write(t, m, format(t, "gpkg"), export.Options{CRS: lookup(t, 32626)}), "map.gpkg")
	picture := filepath.Join(t.TempDir(), "map.png")
	layers := inQGIS(t, file, picture, "1600", "1200")
	for _, name := range []string{"corridors", "lines", "doubtful", "vertices", "readings"} {
		l, ok := layers[name]
		if !ok {
			t.Fatalf("no layer %s in %v", name, layers)
		}
		if l.CRS != "EPSG:32626" || l.Renderer != "categorizedSymbol" || l.Attribute != "utility" {
			t.Errorf("%s: %s by %q in %s", name, l.Renderer, l.Attribute, l.CRS)
		}
		if !strings.Contains(l.Abstract, present.Caution) {
			t.Errorf("%s: QGIS shows of it %q, without the caution", name, l.Abstract)
		}
		if got := fmt.Sprint(query(t, file, "SELECT count(*) FROM "+name)); got != fmt.Sprint(l.Features) {
			t.Errorf("%s: QGIS counts %d rows, SQL %s", name, l.Features, got)
		}
		if len(l.Categories) != len(present.Looks) {
			t.Errorf("%s has %d categories, want %d", name, len(l.Categories), len(present.Looks))
		}
		for _, look := range present.Looks {
			key := string(look.Utility)
			if look.Utility == "unknown" {
				key = "" // all others
			}
			c, ok := l.Categories[key]
			if !ok || c.Label != look.Name+" ("+look.Letters+")" || len(c.Strokes) == 0 {
				t.Errorf("%s: category %q is %+v", name, key, c)
				continue
			}
			sameLook(t, name, look, c.Strokes)
		}
	}
	lines, readings := layers["lines"], layers["readings"]
	if !lines.Labels || !lines.Halo || lines.Points < 7 || !strings.Contains(lines.Label, `"line_id"`) || !strings.Contains(lines.Label, `"depth_95_max_m"`) {
		t.Errorf("labels of lines: %+v", lines)
	}
	if !readings.Labels || readings.Label != `"feature"` || layers["vertices"].Labels {
		t.Errorf("labels of points: %q, vertices %v", readings.Label, layers["vertices"].Labels)
	}
	if lines.Farthest != 0 || layers["corridors"].Farthest != 0 || layers["doubtful"].Farthest != 0 || layers["vertices"].Farthest != 250 {
		t.Errorf("drawn from 1 : %v (lines), %v (doubtful), %v (vertices) on", lines.Farthest, layers["doubtful"].Farthest, layers["vertices"].Farthest)
	}
	dark := 0
	for c, n := range drawn(t, m, picture, 0) {
		if c.R < 70 && c.G < 75 && c.B < 85 {
			dark += n
		}
	}
	if dark < 300 {
		t.Errorf("%d dots of casings and letters", dark)
	}
}

// sameLook compares what QGIS draws a utility with in a layer to its look.
func sameLook(t *testing.T, layer string, look present.Look, strokes []qgisStroke) {
	t.Helper()
	top, want := strokes[len(strokes)-1], hex(look.Colour)
	switch layer {
	case "corridors":
		if top.Class != "SimpleFill" || top.Colour != want || top.Opacity < 40 || top.Opacity > 120 {
			t.Errorf("corridor of %s: %+v, want a band of %s that shows what is below", look.Utility, top, want)
		}
	case "lines":
		if len(strokes) != 2 || strokes[0].Width <= top.Width || top.Colour != want || top.Opacity != 255 {
			t.Errorf("line of %s: %+v, want %s on a wider casing", look.Utility, strokes, want)
		}
		dash := make([]float64, len(look.Dash))
		for i := range dash {
			dash[i] = look.Dash[i] * top.Width
		}
		if !slices.EqualFunc(dash, top.Dash, func(a, b float64) bool { return same(a, b, 0.006) }) {
			t.Errorf("line of %s is dashed %v mm, want %v", look.Utility, top.Dash, dash)
		}
	case "doubtful":
		if top.Colour != "#ffffff" || len(top.Dash) != 2 || len(strokes) != 2 || !slices.Equal(top.Dash, strokes[0].Dash) || strokes[0].Width <= 1.5 {
			t.Errorf("doubtful stretch of %s: %+v, want white dashes in dark ones that are wider than a line", look.Utility, strokes)
		}
	default:
		if top.Class != "SimpleMarker" || top.Colour != want {
			t.Errorf("%s of %s: %+v, want marks of %s", layer, look.Utility, top, want)
		}
	}
}

func hex(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

// The invented day of the README, from its logs to QGIS's picture.
func TestQGISDrawsTheDemoDay(t *testing.T) {
	sources, _, err := survey.Paths([]string{"../testdata/demo/day.nmea", "../testdata/demo/readings.csv"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	in, err := survey.Open(t.Context(), sources)
	if err != nil {
		t.Fatal(err)
	}
	day, err := survey.Run(t.Context(), in, survey.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	m := day.Map()
	file := filepath.Join(write(t, m, format(t, "gpkg"), export.Options{CRS: lookup(t, 32628)}), "map.gpkg")
	picture := filepath.Join(t.TempDir(), "map.png")
	layers := inQGIS(t, file, picture, "1600", "1200")
	parts := 0
	for _, l := range m.Lines {
		parts += len(l.Parts)
	}
	if layers["lines"].Features != parts || layers["corridors"].Features != parts || layers["doubtful"].Features == 0 {
		t.Errorf("QGIS counts %d lines, %d corridors, %d doubtful stretches of %d parts", layers["lines"].Features, layers["corridors"].Features, layers["doubtful"].Features, parts)
	}
	drawn(t, m, picture, 0.25)
}

// QGIS draws the placemarks of KML in the same colours, bands below lines.
func TestQGISDrawsKML(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	picture := filepath.Join(t.TempDir(), "map.png")
	inQGIS(t, filepath.Join(write(t, m, format(t, "kml"), export.Options{}), "map.kml"), picture, "1600", "1200")
	drawn(t, m, picture, 0)
}

// drawn looks for the day's utilities in a picture: in their colours and no
// other, each with a band unless its half-width is so narrow, m, that the stroke
// of the line hides it at the picture's scale.
func drawn(t *testing.T, m *result.Map, picture string, narrow float64) (seen map[color.RGBA]int) {
	t.Helper()
	seen = colours(t, picture)
	inDay := map[color.RGBA]bool{}
	for _, l := range m.Lines {
		inDay[present.LookOf(l.Utility).Colour] = true
	}
	for _, p := range m.Readings {
		inDay[present.LookOf(p.Reading.Utility).Colour] = true
	}
	for _, look := range present.Looks {
		switch n := seen[look.Colour]; {
		case inDay[look.Colour] && n < 30:
			t.Errorf("%s: %d dots of %s", look.Utility, n, hex(look.Colour))
		case !inDay[look.Colour] && n > 0:
			t.Errorf("%s is not in the day, but %d dots are of %s", look.Utility, n, hex(look.Colour))
		}
	}
	for i := range m.Lines {
		l := &m.Lines[i]
		wide := 0.0
		for j := range l.Parts {
			wide = max(wide, result.StatsOf(m, l, &l.Parts[j]).HalfMax)
		}
		if pale := over(present.LookOf(l.Utility).Colour, seen); wide >= narrow && pale < 50 {
			t.Errorf("%s, up to ± %.2f m: %d dots of a band", l.ID, wide, pale)
		}
	}
	return seen
}

// over counts dots of a colour laid over white, by a quarter to a half.
func over(c color.RGBA, seen map[color.RGBA]int) (n int) {
	for p, count := range seen {
		for alpha := 60.0; alpha <= 130; alpha++ {
			mix := func(v, top uint8) bool { return same(float64(v), 255-(255-float64(top))*alpha/255, 1.5) }
			if mix(p.R, c.R) && mix(p.G, c.G) && mix(p.B, c.B) {
				n += count
				break
			}
		}
	}
	return n
}

// colours counts a picture's dots by colour.
func colours(t *testing.T, picture string) map[color.RGBA]int {
	t.Helper()
	f, err := os.Open(picture)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	out := map[color.RGBA]int{}
	for y := img.Bounds().Min.Y; y < img.Bounds().Max.Y; y++ {
		for x := img.Bounds().Min.X; x < img.Bounds().Max.X; x++ {
			out[color.RGBAModel.Convert(img.At(x, y)).(color.RGBA)]++
		}
	}
	return out
}
