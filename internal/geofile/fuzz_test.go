package geofile_test

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/ncruces/go-sqlite3"

	"tracemap/internal/geofile"
)

// check demands of whatever was read that it can be used: finite places, lines
// with points, a place for every message.
func check(t *testing.T, f *geofile.File) {
	t.Helper()
	for _, l := range f.Layers {
		for _, g := range l.Features {
			if g.Where == "" {
				t.Error("a feature without a place in the file")
			}
			for _, line := range g.Lines {
				if len(line) == 0 {
					t.Error("a line without points")
				}
				for _, v := range line {
					if math.IsNaN(v.X+v.Y) || math.IsInf(v.X, 0) || math.IsInf(v.Y, 0) || math.IsInf(v.Z, 0) {
						t.Errorf("a line through %v", v)
					}
				}
			}
		}
	}
	for _, a := range f.Aside {
		if a.Where == "" || a.Reason == "" {
			t.Errorf("set aside without a word: %v", a)
		}
	}
}

// fuzz opens what the fuzzer thinks of under a name, as a stranger's file.
func fuzz(f *testing.F, name string, seeds ...[]byte) {
	for _, s := range seeds {
		f.Add(s)
	}
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, data []byte) {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o666); err != nil {
			t.Fatal(err)
		}
		if got, err := geofile.Open(context.Background(), path); err == nil {
			check(t, got)
		}
	})
}

func FuzzGeoJSON(f *testing.F) {
	fuzz(f, "a.geojson", []byte(asBuilt), []byte(`{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[1,2]}]}`),
		[]byte(`{"type":"Feature","crs":{"type":"EPSG","properties":{"code":25832}},"geometry":{"type":"LineString","coordinates":[[1,2,3,4],[null,1e999]]},"properties":{"a":[1]}}`))
}

func FuzzKML(f *testing.F) {
	fuzz(f, "a.kml", []byte(`<kml><Document><name>a</name><Folder><name>b</name><Placemark id="1"><name>&lt;</name><ExtendedData><Data name="x"><value>1</value></Data></ExtendedData><MultiGeometry><LineString><coordinates>1,2,3 4,5,6</coordinates></LineString></MultiGeometry></Placemark></Folder></Document></kml>`),
		[]byte(`<!DOCTYPE a [<!ENTITY b "c">]><kml xmlns:gx="x"><Placemark><gx:Track><gx:coord>1 2 3</gx:coord></gx:Track></Placemark></kml>`))
}

func FuzzCSV(f *testing.F) {
	fuzz(f, "a.csv", []byte("id,wkt\n1,\"LINESTRING Z (1 2 3, 4 5 6)\"\n"), []byte("a;b\nSRID=4326;MULTILINESTRING((1 2,3 4),EMPTY);\"x\n"))
}

func FuzzDXF(f *testing.F) {
	fuzz(f, "a.dxf", []byte(drawing("0\nLWPOLYLINE\n8\nA\n70\n1\n10\n0\n20\n0\n42\n1\n10\n1\n20\n1\n42\n-1e300\n", "0\nSPLINE\n71\n2\n40\n0\n40\n0\n40\n0\n40\n1\n40\n1\n40\n1\n10\n2\n20\n0\n10\n2\n20\n1\n10\n1\n20\n1\n",
		"0\nARC\n10\n0\n20\n0\n40\n1e9\n50\n0\n51\n359\n", "0\nPOLYLINE\n70\n9\n0\nVERTEX\n10\n1\n20\n1\n0\nSEQEND\n")))
}

func FuzzShapefile(f *testing.F) {
	fuzz(f, "a.shp", shape(polyline(3, 1, 2, 1, 2, 3, 4), polyline(13, 1, 2, 1, 2, 3, 4, 0, 0, 7, 8)), shape(polyline(3, 0xffffffff, 0x7fffffff)))
}

// FuzzDBF reads a table beside a good main file.
func FuzzDBF(f *testing.F) {
	table := make([]byte, 65)
	table[4], table[8], table[10], table[32], table[43], table[48], table[64] = 2, 65, 6, 'N', 'C', 5, '\r'
	f.Add(append(table, []byte(" abcde fghij")...))
	dir := f.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "a.shp"), shape(polyline(3, 1, 2, 1, 2, 3, 4), polyline(3, 1, 2, 1, 2, 3, 4)), 0o666); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if err := os.WriteFile(filepath.Join(dir, "a.dbf"), data, 0o666); err != nil {
			t.Fatal(err)
		}
		got, err := geofile.Open(context.Background(), filepath.Join(dir, "a.shp"))
		if err != nil || len(got.Layers[0].Features) != 2 {
			t.Fatalf("%+v, %v", got, err)
		}
	})
}

func FuzzArchive(f *testing.F) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	if w, err := z.Create("doc.kml"); err == nil {
		w.Write([]byte("<kml><Placemark><LineString><coordinates>1,2 3,4</coordinates></LineString></Placemark></kml>"))
	}
	z.Close()
	fuzz(f, "a.kmz", b.Bytes(), []byte("\x1f\x8b\x08"))
}

// database makes a GeoPackage with one table and the given geometry.
func database(t testing.TB, path string, blob []byte) {
	t.Helper()
	db, err := sqlite3.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.Exec(`CREATE TABLE gpkg_geometry_columns(table_name, column_name, geometry_type_name, srs_id, z, m);
		CREATE TABLE gpkg_spatial_ref_sys(srs_name, srs_id, organization, organization_coordsys_id, definition);
		INSERT INTO gpkg_geometry_columns VALUES('a "b"','geom','LINESTRING',25832,0,0);
		INSERT INTO gpkg_spatial_ref_sys VALUES('x',25832,'EPSG',25832,'undefined');
		CREATE TABLE "a ""b"""(fid INTEGER PRIMARY KEY, geom BLOB, name TEXT, depth REAL)`); err != nil {
		t.Fatal(err)
	}
	s, _, err := db.Prepare(`INSERT INTO "a ""b""" VALUES(1, ?, 'W1', 1.25), (2, NULL, 'W2', NULL)`)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.BindBlob(1, blob); err != nil {
		t.Fatal(err)
	}
	if err := s.Exec(); err != nil {
		t.Fatal(err)
	}
}

// gpkgLine is a GeoPackage geometry: a line in ISO well-known binary with z.
func gpkgLine(ordinates ...float64) []byte {
	b := append([]byte("GP\x00\x01"), 0, 0, 0, 0, 1)
	b = binary.LittleEndian.AppendUint32(b, 1002)
	b = binary.LittleEndian.AppendUint32(b, uint32(len(ordinates)/3))
	for _, v := range ordinates {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return b
}

func TestGeoPackage(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.gpkg")
	database(t, path, gpkgLine(1, 2, 3, 4, 5, 6))
	f, err := geofile.Open(context.Background(), path)
	if err != nil || len(f.Layers) != 1 || len(f.Layers[0].Features) != 1 || len(f.Aside) != 1 {
		t.Fatalf("%+v, %v", f, err)
	}
	l := f.Layers[0]
	if l.CRS == nil || l.CRS.Code() != 25832 || l.Name != `a "b"` {
		t.Errorf("%+v", l)
	}
	wantLine(t, l.Features[0].Lines[0], 0, 1, 2, 3, 4, 5, 6)
	wantAttr(t, &l.Features[0], "depth", "1.25")
	if entries, _ := os.ReadDir(filepath.Dir(path)); len(entries) != 1 {
		t.Errorf("files beside the database: %v", entries)
	}
}

// Geometries within geometries end somewhere.
func TestGeoPackageNesting(t *testing.T) {
	b := append([]byte("GP\x00\x01"), 0, 0, 0, 0)
	for range 1 << 16 {
		b = append(b, 1, 7, 0, 0, 0, 1, 0, 0, 0)
	}
	path := filepath.Join(t.TempDir(), "a.gpkg")
	database(t, path, append(b, make([]byte, 64)...))
	f, err := geofile.Open(context.Background(), path)
	if err != nil || len(f.Aside) != 2 {
		t.Fatalf("%+v, %v", f, err)
	}
}

// FuzzGeometry reads one geometry out of a table. The database is made once, then
// only its geometry is changed: making it took a hundred times as long as reading.
func FuzzGeometry(f *testing.F) {
	f.Add(gpkgLine(1, 2, 3, 4, 5, 6))
	f.Add(append([]byte("GP\x00\x01"), 0, 0, 0, 0, 0, 0, 0, 0, 5, 0xff, 0xff, 0xff, 0xff))
	path := filepath.Join(f.TempDir(), "a.gpkg")
	if memory, err := os.MkdirTemp("/dev/shm", "tracemap-fuzz-"); err == nil { // no disk to wait for
		f.Cleanup(func() { os.RemoveAll(memory) })
		path = filepath.Join(memory, "a.gpkg")
	}
	database(f, path, nil)
	db, err := sqlite3.Open(path)
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { db.Close() })
	if err := db.Exec("PRAGMA synchronous = OFF; PRAGMA journal_mode = MEMORY"); err != nil {
		f.Fatal(err)
	}
	change, _, err := db.Prepare(`UPDATE "a ""b""" SET geom = ? WHERE fid = 1`)
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { change.Close() })
	f.Fuzz(func(t *testing.T, blob []byte) {
		if err := change.BindBlob(1, blob); err != nil {
			t.Fatal(err)
		}
		if err := change.Exec(); err != nil {
			t.Fatal(err)
		}
		got, err := geofile.Open(context.Background(), path)
		if err != nil {
			t.Fatal(err)
		}
		check(t, got)
	})
}

// FuzzDatabase spoils the bytes of a whole GeoPackage.
func FuzzDatabase(f *testing.F) {
	path := filepath.Join(f.TempDir(), "seed.gpkg")
	database(f, path, gpkgLine(1, 2, 3, 4, 5, 6))
	seed, err := os.ReadFile(path)
	if err != nil {
		f.Fatal(err)
	}
	fuzz(f, "a.gpkg", seed)
}
