package geodesy_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"tracemap/geodesy"
	"tracemap/internal/python"
)

// gdalScript asks PROJ, by GDAL's Python module, for the coordinates of places
// in every system, and whether our well-known texts mean the same system.
const gdalScript = `
import json, sys
from osgeo import osr
osr.UseExceptions()
out = []
for q in json.load(sys.stdin):
    crs = osr.SpatialReference(); crs.ImportFromEPSG(q["code"])
    base = osr.SpatialReference(); base.ImportFromEPSG(q["base"])
    for s in (crs, base):
        s.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    a = {"xy": [], "same": {}}
    if crs.IsProjected():
        tr = osr.CoordinateTransformation(base, crs)
        a["xy"] = [tr.TransformPoint(p[0], p[1])[:2] for p in q["lonlat"]]
    for kind, text in q["wkt"].items():
        ours = osr.SpatialReference()
        try:
            if kind == "esri":
                ours.ImportFromESRI([text])
            else:
                ours.ImportFromWkt(text)
        except Exception as e:
            a["same"][kind] = str(e)
            continue
        if kind == "wkt2":
            same = ours.IsSame(crs, ["IGNORE_DATA_AXIS_TO_SRS_AXIS_MAPPING=YES", "CRITERION=EQUIVALENT"])
            a["same"][kind] = "" if same else crs.ExportToWkt(["FORMAT=WKT2_2019"])
        else:
            a["same"][kind] = crs.ExportToWkt(["FORMAT=WKT1_" + ("ESRI" if kind == "esri" else "GDAL")])
    out.append(a)
print(json.dumps(out))
`

type gdalQuestion struct {
	Code   int               `json:"code"`
	Base   int               `json:"base"`
	LonLat [][2]float64      `json:"lonlat"`
	WKT    map[string]string `json:"wkt"`
}

type gdalAnswer struct {
	XY   [][2]float64      `json:"xy"`
	Same map[string]string `json:"same"`
}

// tableCodes gives code and base of all systems in the tables.
func tableCodes(t *testing.T) (codes, bases []int) {
	for _, name := range []string{"epsg/crs.csv", "epsg/bases.csv"} {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		r := csv.NewReader(f)
		r.Comment = '#'
		rows, err := r.ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range rows[1:] {
			code, _ := strconv.Atoi(row[0])
			base := code
			if name == "epsg/crs.csv" {
				base, _ = strconv.Atoi(row[2])
			}
			codes, bases = append(codes, code), append(bases, base)
		}
	}
	return codes, bases
}

var all = flag.Bool("all", false, "ask other programs about every coordinate system, not one in ten")

func someOf(list []int) []int {
	var some []int
	for i := 0; i < len(list); i += 10 {
		some = append(some, list[i])
	}
	return some
}

var number = regexp.MustCompile(`-?\d+\.\d+`)

// sameText compares two texts but for the last digit of numbers; for the axes
// of systems with north first, which we leave out so that no reader turns the
// coordinates; for Esri's own names of the feet, which PROJ does not write; and
// for what PROJ makes up where Esri has no name.
func sameText(ours, theirs string) bool {
	for _, r := range [][2]string{
		{`,AXIS["Northing",NORTH],AXIS["Easting",EAST]`, ""}, {`,AXIS["Latitude",NORTH],AXIS["Longitude",EAST]`, ""},
		{`"US survey foot",0.304800609601219]]`, `"Foot_US",0.304800609601219]]`}, {`UNIT["foot",0.3048]]`, `UNIT["Foot",0.3048]]`},
		{"Gauss_Kruger", "Transverse_Mercator"}, {"(ftUS)", "_ftUS"}, {`GEOGCS["GCS_`, `GEOGCS["`},
	} {
		theirs = strings.ReplaceAll(theirs, r[0], r[1])
	}
	ours = strings.NewReplacer(`GEOGCS["GCS_`, `GEOGCS["`, "(ftUS)", "_ftUS").Replace(ours)
	a, b := number.FindAllString(ours, -1), number.FindAllString(theirs, -1)
	if number.ReplaceAllString(ours, "") != number.ReplaceAllString(theirs, "") || len(a) != len(b) {
		return false
	}
	for i := range a {
		x, _ := strconv.ParseFloat(a[i], 64)
		y, _ := strconv.ParseFloat(b[i], 64)
		if math.Abs(x-y) > 2e-13 {
			return false
		}
	}
	return true
}

func TestEveryCRSAgainstGDAL(t *testing.T) {
	interpreter := python.With(t, "osgeo.osr", "python3-gdal")
	codes, bases := tableCodes(t)
	if !*all {
		codes, bases = someOf(codes), someOf(bases)
	}
	var questions []gdalQuestion
	for i, code := range codes {
		c, err := geodesy.LookupCRS(code)
		if err != nil {
			t.Fatal(err)
		}
		base := bases[i]
		if code == 2056 {
			base = 4258 // Forward starts from the frame, not from the datum CH1903+
		}
		q := gdalQuestion{Code: code, Base: base, WKT: map[string]string{"wkt1": c.WKT1(), "wkt2": c.WKT2(), "esri": c.WKTEsri()}}
		a := c.Area()
		width := math.Mod(a.East-a.West+360, 360)
		for _, f := range [][2]float64{{0, 0}, {0.5, 0.5}, {0.9, 0.2}, {1, 1}} {
			q.LonLat = append(q.LonLat, [2]float64{a.West + f[0]*width, a.South + f[1]*(a.North-a.South)})
		}
		questions = append(questions, q)
	}
	in, err := json.Marshal(questions)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(interpreter, "-c", gdalScript)
	cmd.Stdin = bytes.NewReader(in)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var answers []gdalAnswer
	if err := json.Unmarshal(out, &answers); err != nil {
		t.Fatal(err)
	}
	for i, q := range questions {
		c, _ := geodesy.LookupCRS(q.Code)
		for k, xy := range answers[i].XY {
			g := geodesy.Geo{Lon: q.LonLat[k][0], Lat: q.LonLat[k][1], H: math.NaN()}
			if err := compareXY(c, g, xy[0], xy[1]); err != nil {
				t.Error(err)
			}
		}
		for kind, theirs := range answers[i].Same {
			if theirs != "" && !sameText(q.WKT[kind], theirs) {
				t.Errorf("EPSG:%d: %s is not the same:\nours   %s\ntheirs %s", q.Code, kind, q.WKT[kind], theirs)
			}
		}
	}
}

func compareXY(c *geodesy.CRS, g geodesy.Geo, x, y float64) error {
	u := c.Unit().Metres
	gx, gy, _, err := c.Forward(g, c.Frame(), math.NaN())
	if err != nil || !(math.Hypot(gx-x, gy-y)*u < 1e-3) {
		return fmt.Errorf("%v at %.6f %.6f: %.4f %.4f %v, want %.4f %.4f: %.4g m", c, g.Lat, g.Lon, gx, gy, err, x, y, math.Hypot(gx-x, gy-y)*u)
	}
	return nil
}
