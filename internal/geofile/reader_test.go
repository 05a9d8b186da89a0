package geofile_test

import (
	"archive/zip"
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tracemap/internal/geofile"
)

// open writes a file and reads it.
func open(t *testing.T, name string, data []byte) (*geofile.File, error) {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o666); err != nil {
		t.Fatal(err)
	}
	return geofile.Open(context.Background(), path)
}

// read is open for a file that must be readable.
func read(t *testing.T, name, text string) *geofile.File {
	t.Helper()
	f, err := open(t, name, []byte(text))
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return f
}

func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

// wantLine demands a line of given coordinates, x y z in turn; NaN for no z.
func wantLine(t *testing.T, got []geofile.Vertex, tolerance float64, want ...float64) {
	t.Helper()
	if len(got)*3 != len(want) {
		t.Fatalf("line %v has %d points, want %d", got, len(got), len(want)/3)
	}
	for i, v := range got {
		for k, c := range []float64{v.X, v.Y, v.Z} {
			if w := want[3*i+k]; !same(c, w) && !(math.Abs(c-w) <= tolerance) {
				t.Errorf("point %d, ordinate %d is %v, want %v", i, k, c, w)
			}
		}
	}
}

func wantAttr(t *testing.T, f *geofile.Feature, name, want string) {
	t.Helper()
	if got, _ := f.Attr(name); got != want {
		t.Errorf("%s: %s is %q, want %q", f.Where, name, got, want)
	}
}

var nan = math.NaN()

// One file says the same in the forms that GeoJSON is met in.
func TestGeoJSONForms(t *testing.T) {
	const feature = `{"type":"Feature","id":7,"properties":{"id":"W1","depth_m":1.05,"none":null,"n":3},"geometry":{"type":"LineString","coordinates":[[11.5,48.1,-1.2],[11.6,48.2,-1.3]]}}`
	for name, text := range map[string]string{
		"collection": `{"type":"FeatureCollection","features":[` + feature + `]}`,
		"feature":    feature,
		"sequence":   "\x1e" + feature + "\n",
		"lines":      feature + "\n",
		"mark":       "\ufeff" + feature,
	} {
		t.Run(name, func(t *testing.T) {
			f := read(t, "a.geojson", text)
			if len(f.Layers) != 1 || len(f.Layers[0].Features) != 1 {
				t.Fatalf("%+v", f)
			}
			l := f.Layers[0]
			if l.CRS == nil || l.CRS.Code() != 4326 || !l.Assumed {
				t.Errorf("system %v, assumed %v", l.CRS, l.Assumed)
			}
			g := l.Features[0]
			wantAttr(t, &g, "id", "W1")
			wantAttr(t, &g, "depth_m", "1.05")
			wantAttr(t, &g, "n", "3")
			if _, ok := g.Attr("none"); ok || g.ID != "7" {
				t.Errorf("feature %+v", g)
			}
			wantLine(t, g.Lines[0], 0, 11.5, 48.1, -1.2, 11.6, 48.2, -1.3)
		})
	}
}

// What cannot be used is set aside and stops nothing; what is not asked for is
// counted.
func TestGeoJSONAside(t *testing.T) {
	f := read(t, "a.geojson", `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::25832"}},"features":[
		{"type":"Feature","geometry":null,"properties":null},
		{"type":"Feature","geometry":{"type":"LineString","coordinates":[[null,2],[3,4]]},"properties":{}},
		{"type":"Feature","geometry":{"type":"LineString","coordinates":[[1],[3,4]]},"properties":{}},
		{"type":"Feature","geometry":{"type":"LineString","coordinates":[]},"properties":{}},
		{"type":"Feature","geometry":{"type":"Curve","coordinates":[[1,2],[3,4]]},"properties":{}},
		{"type":"Feature","geometry":{"type":"LineString","coordinates":[[1,2],[3,4]]},"properties":[]},
		12,
		{"type":"Feature","geometry":{"type":"Polygon","coordinates":[[[1,2],[3,4],[5,6],[1,2]]]},"properties":{}},
		{"type":"Feature","geometry":{"type":"MultiLineString","coordinates":[[[1,2],[3,4]],[[5,6,7],[8,9,10]]]},"properties":{}},
		{"type":"Feature","geometry":{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[1,2]},{"type":"LineString","coordinates":[[1,2],[1,2]]}]},"properties":{}}
	]}`)
	l := f.Layers[0]
	if l.CRS == nil || l.CRS.Code() != 25832 || l.Assumed {
		t.Errorf("system %v, assumed %v", l.CRS, l.Assumed)
	}
	if len(f.Aside) != 6 { // the empty line is nothing, and no harm
		t.Errorf("set aside %d: %v", len(f.Aside), f.Aside)
	}
	if len(l.Features) != 3 || l.Features[0].Others != 1 || len(l.Features[1].Lines) != 2 || len(l.Features[2].Points) != 1 {
		t.Errorf("features %+v", l.Features)
	}
}

// Files that are something else are told so, in words that help.
func TestNoRecord(t *testing.T) {
	var archive bytes.Buffer
	z := zip.NewWriter(&archive)
	w, _ := z.Create("readme.txt")
	w.Write([]byte("nothing"))
	z.Close()
	for _, c := range []struct{ name, text, says string }{
		{"a.txt", "", "is empty"},
		{"a.txt", "   \n", "is empty"},
		{"a.bin", "\x00\x01\x02\x03", "not a format that can be read"},
		{"a.gpx", "<?xml version='1.0'?><gpx></gpx>", `root "gpx"`},
		{"a.kml", "<kml><Document>", "line 1: not XML"},
		{"a.json", `{"type":"Topology"}`, "TopoJSON"},
		{"a.json", `{"a":1}`, "without a type"},
		{"a.json", "{\n\"type\": \"Feature\",\n}", "line 3"},
		{"a.json", `{"type":"FeatureCollection","features":[`, "ends too early"},
		{"a.csv", "id,depth\n1,2\n", "without a column of well-known text"},
		{"a.dxf", "AutoCAD Binary DXF\r\n\x1a\x00", "ASCII"},
		{"a.dwg", "AC1032\x00", "DWG"},
		{"a.dbf", "\x03abc", ".shp"},
		{"a.shp", "\x00\x00\x27\x0a", "cut off"},
		{"a.zip", archive.String(), "archive without a file"},
		{"a.gz", "\x1f\x8b\x08\x00", "unpacking"},
		{"a.gpkg", "SQLite format 3\x00", "GeoPackage"},
	} {
		_, err := open(t, c.name, []byte(c.text))
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s %.20q: %v, want %q", c.name, c.text, err, c.says)
		}
		if err != nil && strings.Contains(err.Error(), os.TempDir()) {
			t.Errorf("%s: the path stands in %q", c.name, err)
		}
	}
	if _, err := geofile.Open(context.Background(), t.TempDir()); err == nil || !strings.Contains(err.Error(), "folder") {
		t.Errorf("a folder: %v", err)
	}
	if _, err := geofile.Open(context.Background(), filepath.Join(t.TempDir(), "none")); err == nil || !strings.Contains(err.Error(), "no such file") {
		t.Errorf("nothing: %v", err)
	}
}

// Well-known text is met in many spellings.
func TestCSV(t *testing.T) {
	f := read(t, "a.csv", "id;depth_m;WKT;srid\r\n"+
		"A;1,2;LINESTRING (1 2, 3 4);25832\r\n"+
		"B;'-1;linestring z(1 2 3, 4 5 6);25832\r\n"+
		"C;;LINESTRINGZ(1 2 3, 4 5 6);25832\r\n"+
		"D;;LINESTRING(1 2 3, 4 5 6);25832\r\n"+
		"E;;SRID=25832;\r\n"+ // a separator within the text splits it
		"F;;MULTILINESTRING ((1 2, 3 4), (5 6, 7 8));25832\r\n"+
		"G;;LINESTRING (1 2, 3 4);4326\r\n"+
		"H;;POINT (1 2);25832\r\n"+
		"I;;"+strings.Repeat("GEOMETRYCOLLECTION(", 50)+"POINT (1 2)"+strings.Repeat(")", 50)+";25832\r\n"+
		"J;;;25832\r\n"+
		"K;;LINESTRING (1 2, 3 4);25832;more\r\n")
	l := f.Layers[0]
	if l.CRS == nil || l.CRS.Code() != 25832 {
		t.Errorf("system %v (%v)", l.CRS, l.CRSError)
	}
	if len(f.Aside) != 5 {
		t.Errorf("set aside: %v", f.Aside)
	}
	if len(l.Features) != 6 {
		t.Fatalf("%d features", len(l.Features))
	}
	for i, want := range [][]float64{{1, 2, nan, 3, 4, nan}, {1, 2, 3, 4, 5, 6}, {1, 2, 3, 4, 5, 6}, {1, 2, 3, 4, 5, 6}} {
		wantLine(t, l.Features[i].Lines[0], 0, want...)
	}
	wantAttr(t, &l.Features[1], "depth_m", "-1")
	if l.Features[1].Where != "line 3" {
		t.Errorf("where: %s", l.Features[1].Where)
	}

	f = read(t, "b.csv", "name\tgeom\nA\tSRID=3044;LINESTRING (1 2, 3 4)\n")
	if l = f.Layers[0]; len(l.Features) != 1 || l.CRSError == nil && l.CRS == nil {
		t.Errorf("%+v", f)
	}
	f = read(t, "c.csv", "what,where\nA,\"LINESTRING (1 2, 3 4)\"\n")
	if l = f.Layers[0]; len(l.Features) != 1 || l.CRS != nil || l.CRSError != nil {
		t.Errorf("a text without a system: %+v", f)
	}
	f = read(t, "d.csv", "name,wkt\nK\xfchlung,\"LINESTRING (1 2, 3 4)\"\n")
	wantAttr(t, &f.Layers[0].Features[0], "name", "Kühlung")
}

func TestKML(t *testing.T) {
	const text = `<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE kml [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]>
<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2"><Document><name>Record</name>
<Folder><name>Water</name><Folder><name>Mains</name>
<Placemark id="p1"><name>W1</name><ExtendedData><Data name="depth_m"><displayName>Depth</displayName><value>1.05</value></Data>
<SchemaData schemaUrl="#s"><SimpleData name="dn">160</SimpleData></SchemaData></ExtendedData>
<LineString><coordinates> 11.5,48.1,0
 11.6,48.2 </coordinates></LineString></Placemark></Folder>
<Placemark><name>W2</name><MultiGeometry><LineString><coordinates>1,2 3,4</coordinates></LineString><LineString><coordinates>5,6 7,8</coordinates></LineString><Point><coordinates>1,2</coordinates></Point></MultiGeometry></Placemark>
</Folder>
<Placemark><name>T</name><gx:Track><gx:coord>1 2 3</gx:coord><gx:coord>4 5 6</gx:coord></gx:Track></Placemark>
<Placemark><name>bad</name><LineString><coordinates>1;2 3;4</coordinates></LineString></Placemark>
<Placemark><name>area</name><Polygon><outerBoundaryIs><LinearRing><coordinates>1,2 3,4 5,6 1,2</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>
</Document></kml>`
	check := func(t *testing.T, f *geofile.File) {
		t.Helper()
		l := f.Layers[0]
		if len(l.Features) != 4 || len(f.Aside) != 1 {
			t.Fatalf("%d features, aside %v", len(l.Features), f.Aside)
		}
		g := l.Features[0]
		if g.Group != "Record/Water/Mains" || g.ID != "p1" {
			t.Errorf("group %q, id %q", g.Group, g.ID)
		}
		wantAttr(t, &g, "name", "W1")
		wantAttr(t, &g, "depth_m", "1.05")
		wantAttr(t, &g, "dn", "160")
		wantLine(t, g.Lines[0], 0, 11.5, 48.1, 0, 11.6, 48.2, nan)
		if g = l.Features[1]; g.Group != "Record/Water" || len(g.Lines) != 2 || len(g.Points) != 1 {
			t.Errorf("%+v", g)
		}
		wantLine(t, l.Features[2].Lines[0], 0, 1, 2, 3, 4, 5, 6)
		if l.Features[3].Others != 1 {
			t.Errorf("area %+v", l.Features[3])
		}
	}
	check(t, read(t, "a.kml", text))

	var kmz bytes.Buffer
	z := zip.NewWriter(&kmz)
	for _, m := range []struct{ name, text string }{{"images/a.png", "x"}, {"doc.kml", text}} {
		w, err := z.Create(m.name)
		if err != nil {
			t.Fatal(err)
		}
		w.Write([]byte(m.text))
	}
	z.Close()
	f := read(t, "a.kmz", kmz.String())
	if f.Format != "KMZ" {
		t.Errorf("format %s", f.Format)
	}
	check(t, f)
}

// Entities that grow and elements without an end cost nothing.
func TestHostileXML(t *testing.T) {
	var b strings.Builder
	b.WriteString(`<!DOCTYPE kml [<!ENTITY a0 "ha">`)
	for i := 1; i < 30; i++ {
		b.WriteString(`<!ENTITY a` + string(rune('0'+i%10)) + ` "&a0;&a0;&a0;&a0;&a0;&a0;&a0;&a0;">`)
	}
	b.WriteString(`]><kml><Placemark><name>&a9;&a9;</name><LineString><coordinates>1,2 3,4</coordinates></LineString></Placemark></kml>`)
	if f, err := open(t, "a.kml", []byte(b.String())); err == nil {
		if name, _ := f.Layers[0].Features[0].Attr("name"); len(name) > 20 {
			t.Errorf("an entity grew to %d bytes", len(name))
		}
	}
	if _, err := open(t, "a.kml", []byte("<kml>"+strings.Repeat("<a>", 1<<20))); err == nil || !strings.Contains(err.Error(), "deep") {
		t.Errorf("a million open elements: %v", err)
	}
}

// What is packed may not unpack without end.
func TestZipBomb(t *testing.T) {
	if testing.Short() {
		t.Skip("unpacks half a gigabyte")
	}
	var kmz bytes.Buffer
	z := zip.NewWriter(&kmz)
	w, err := z.Create("doc.kml")
	if err != nil {
		t.Fatal(err)
	}
	w.Write([]byte("<kml>"))
	zeros := make([]byte, 1<<20)
	for range 600 {
		w.Write(zeros)
	}
	z.Close()
	if _, err := open(t, "a.kmz", kmz.Bytes()); err == nil || !strings.Contains(err.Error(), "unpacks to more than") {
		t.Errorf("600 MB of zeros in %d bytes: %v", kmz.Len(), err)
	}
}
