package export_test

import (
	"encoding/json"
	"image/color"
	"math"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"tracemap/export"
	"tracemap/internal/lab/invented"
	"tracemap/internal/python"
	"tracemap/present"
)

// What ezdxf, an independent library, reads of a drawing.
const readDrawing = `
import collections, json, sys
import ezdxf
from ezdxf.colors import DXF_DEFAULT_COLORS
out = []
for file in sys.argv[1:]:
    doc = ezdxf.readfile(file)
    audit = doc.audit()
    d = {"version": doc.dxfversion, "errors": [e.message for e in audit.errors], "fixes": [f.message for f in audit.fixes]}
    d["layers"] = {l.dxf.name: [l.dxf.color, l.dxf.linetype] for l in doc.layers}
    d["palette"] = {str(l.dxf.color): DXF_DEFAULT_COLORS[l.dxf.color] for l in doc.layers}
    windows = doc.viewports.get("*Active") if "*Active" in doc.viewports else []
    d["windows"] = [[w.dxf.center[0], w.dxf.center[1], w.dxf.height] for w in windows]
    d["lines"], d["texts"] = [], []
    for e in doc.modelspace():
        if e.dxftype() == "POLYLINE":
            d["lines"].append({"layer": e.dxf.layer, "space": e.is_3d_polyline, "closed": e.is_closed, "at": [list(v.dxf.location) for v in e.vertices]})
        if e.dxftype() == "TEXT":
            d["texts"].append({"layer": e.dxf.layer, "text": e.plain_text(), "turned": e.dxf.rotation, "height": e.dxf.height, "at": list(e.dxf.align_point or e.dxf.insert)})
    out.append(d)
json.dump(out, sys.stdout)
`

type drawing struct {
	Version       string
	Errors, Fixes []string
	Layers        map[string][]any
	Palette       map[string]uint32
	Windows       [][3]float64
	Lines         []struct {
		Layer         string
		Space, Closed bool
		At            [][3]float64
	}
	Texts []struct {
		Layer, Text    string
		Turned, Height float64
		At             [3]float64
	}
}

func drawings(t *testing.T, files ...string) (out []drawing) {
	t.Helper()
	b, err := exec.Command(python.With(t, "ezdxf", "python3-ezdxf"), append([]string{"-c", readDrawing}, files...)...).Output()
	if err != nil {
		t.Fatalf("%v %s", err, stderr(err))
	}
	if err := json.Unmarshal(b, &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// An independent library finds nothing to mend in the drawing of any map.
func TestDXFPassesAudit(t *testing.T) {
	var files, names []string
	for _, c := range invented.Cases() {
		f := format(t, "dxf")
		files, names = append(files, filepath.Join(write(t, c.Map, f, options(t, f, c.Map)), "map.dxf")), append(names, c.Name)
	}
	for i, d := range drawings(t, files...) {
		if d.Version != "AC1009" || len(d.Errors)+len(d.Fixes) > 0 {
			t.Errorf("%s: %s, errors %v, to mend %v", names[i], d.Version, d.Errors, d.Fixes)
		}
	}
}

// A layer for each utility and kind, in the utility's colour; doubtful stretches
// dashed in a colour that is no utility's, over lines that are whole; the drawing
// opens on its content.
func TestDXFLayers(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	d := drawings(t, filepath.Join(write(t, m, format(t, "dxf"), export.Options{CRS: lookup(t, 32626)}), "map.dxf"))[0]
	for _, look := range present.Looks {
		for _, kind := range []string{"LINE", "CORRIDOR", "READING", "POINT", "TEXT", "DEPTH", "LINE_NO_HEIGHT", "DOUBTFUL"} {
			l := d.Layers[strings.ToUpper(string(look.Utility))+"_"+kind]
			wantColour, wantType := float64(look.ACI), "CONTINUOUS"
			if kind == "DOUBTFUL" {
				wantColour = 7
			}
			if kind == "DOUBTFUL" || kind == "LINE_NO_HEIGHT" {
				wantType = "DASHED"
			}
			if len(l) != 2 || l[0] != wantColour || l[1] != wantType {
				t.Errorf("layer of %s, %s: %v, want colour %v, %s", look.Utility, kind, l, wantColour, wantType)
			}
		}
	}
	count := map[string]int{}
	vertices := map[string]int{}
	for _, l := range d.Lines {
		count[l.Layer]++
		vertices[l.Layer] += len(l.At)
		if space := strings.HasSuffix(l.Layer, "_LINE"); l.Space != space {
			t.Errorf("%s: a line in space is %v", l.Layer, l.Space)
		}
		if ring := strings.HasSuffix(l.Layer, "_CORRIDOR"); l.Closed != ring {
			t.Errorf("%s: closed is %v", l.Layer, l.Closed)
		}
	}
	// Two doubtful stretches that meet are one line of three vertices.
	if count["ELECTRIC_DOUBTFUL"] != 1 || vertices["ELECTRIC_DOUBTFUL"] != 3 || vertices["ELECTRIC_LINE"] != len(m.Lines[2].Parts[0].Vertices) {
		t.Errorf("lines %v, vertices %v", count, vertices)
	}
	if len(d.Windows) != 1 {
		t.Fatalf("windows %v", d.Windows)
	}
	w := d.Windows[0]
	for _, l := range d.Lines {
		for _, at := range l.At {
			if math.Abs(at[0]-w[0]) > w[2]*1.5/2 || math.Abs(at[1]-w[1]) > w[2]/2 {
				t.Fatalf("%v is outside the window %v", at, w)
			}
		}
	}
}

// Texts say names, depths and widths as the tables do, at a height that is read on
// a plan, upright and along their line.
func TestDXFTexts(t *testing.T) {
	m := graded(t, "pas128")
	opt := export.Options{CRS: lookup(t, 32626)}
	d := drawings(t, filepath.Join(write(t, m, format(t, "dxf"), opt), "map.dxf"))[0]
	_, lines := table(t, write(t, m, format(t, "csv"), opt), "lines.csv")
	water := lines[0]
	var texts []string
	for _, x := range d.Texts {
		if x.Height < 0.299 || x.Height > 1 || x.Turned <= -90.001 || x.Turned > 90.001 {
			t.Errorf("%q is %v m high, turned %v°", x.Text, x.Height, x.Turned)
		}
		texts = append(texts, x.Layer+": "+x.Text)
	}
	all := strings.Join(texts, "\n")
	for _, want := range []string{
		"WATER_TEXT: W " + water["line_id"],
		"depth " + metres(t, water, "depth_min_m") + "-" + metres(t, water, "depth_max_m") + " m ±" + metres(t, water, "depth_95_max_m"),
		"cover " + metres(t, water, "cover_min_m") + "-" + metres(t, water, "cover_max_m") + " m",
		"width ±" + metres(t, water, "half_width_max_m") + " m",
		lines[3]["class"] + " of pas128 suggested",
		"CAUTION: " + present.Caution,
		"NOTE: Coordinates: EPSG:32626 (WGS 84 / UTM zone 26N), unit metre; heights are above the ellipsoid",
		"NOTE: Reference frame: WGS84",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("no text %q in\n%s", want, all)
		}
	}
	_, vertices := table(t, write(t, m, format(t, "csv"), opt), "vertices.csv")
	for _, v := range vertices[:1] { // the first vertex of the water line
		near := 0
		for _, x := range d.Texts {
			if x.Layer == "WATER_DEPTH" && x.Text == metres(t, v, "depth_m")+" m" && math.Hypot(x.At[0]-field(t, v, "x"), x.At[1]-field(t, v, "y")) < 1 {
				near++
			}
		}
		if near != 1 {
			t.Errorf("%d depths beside vertex %s of %s", near, v["vertex"], v["line_id"])
		}
	}
}

// metres is a cell to the centimetre.
func metres(t *testing.T, row map[string]string, name string) string {
	t.Helper()
	return strconv.FormatFloat(field(t, row, name), 'f', 2, 64)
}

// Indices of colours look like the colours they stand for, by the table of an
// independent library: the same hue within 25°.
func TestDXFColours(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	d := drawings(t, filepath.Join(write(t, m, format(t, "dxf"), export.Options{CRS: lookup(t, 32626)}), "map.dxf"))[0]
	for _, look := range present.Looks {
		v, ok := d.Palette[strconv.Itoa(look.ACI)]
		if !ok {
			t.Fatalf("no colour %d", look.ACI)
		}
		got, want := hue(color.RGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 255}), hue(look.Colour)
		if math.Abs(math.Remainder(got-want, 360)) > 25 {
			t.Errorf("%s: colour %d has hue %.0f°, want %.0f°", look.Utility, look.ACI, got, want)
		}
	}
}

// hue is a colour's angle on the wheel, degrees.
func hue(c color.RGBA) float64 {
	r, g, b := float64(c.R), float64(c.G), float64(c.B)
	return math.Atan2(math.Sqrt(3)*(g-b), 2*r-g-b) * 180 / math.Pi
}
