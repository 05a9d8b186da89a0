package geofile_test

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
	"testing"

	"github.com/ncruces/go-sqlite3"

	"tracemap/internal/geofile"
)

// packed writes a file of a few kilobytes that unpacks to what fill writes.
func packed(t *testing.T, name string, fill func(w io.Writer)) string {
	t.Helper()
	var b bytes.Buffer
	if strings.HasSuffix(name, ".gz") {
		z := gzip.NewWriter(&b)
		fill(z)
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
	} else {
		z := zip.NewWriter(&b)
		w, err := z.Create("doc.kml")
		if err != nil {
			t.Fatal(err)
		}
		fill(w)
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
	}
	return written(t, name, b.Bytes())
}

func written(t *testing.T, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func repeat(w io.Writer, head, piece string, n int, tail string) {
	chunk := strings.Repeat(piece, 1<<20/len(piece)+1)
	io.WriteString(w, head)
	for left := n * len(piece); left > 0; {
		k, _ := io.WriteString(w, chunk[:min(left, len(chunk)/len(piece)*len(piece))])
		left -= k
	}
	io.WriteString(w, tail)
}

// A file of kilobytes cannot make the reader keep gigabytes: it is refused with
// the place where the room was used up. The heap is bounded by the runtime, so
// that a reader without bounds would end the test.
func TestRecordsMadeToHurtAreRefused(t *testing.T) {
	if testing.Short() {
		t.Skip("unpacks a gigabyte")
	}
	const most = 3 << 30 // bytes: two copies of what is unpacked, what is kept, and room for the collector
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(2 << 30))
	for _, c := range []struct {
		name string
		fill func(io.Writer)
		want string
	}{
		{"folders.kmz", func(w io.Writer) {
			repeat(w, "<kml><Folder><name>", "n", 4<<20, "</name>")
			repeat(w, "", "<Placemark><Point><coordinates>1,2</coordinates></Point></Placemark>", 8000, "</Folder></kml>")
		}, "cut it to the site"},
		{"rows.csv.gz", func(w io.Writer) { repeat(w, "wkt,a\n", ",\n", 16<<20, "") }, "cut it to the site"},
		{"items.geojson.gz", func(w io.Writer) {
			repeat(w, `{"type":"FeatureCollection","features":[1`, ",1", 16<<20, "]}")
		}, "cut it to the site"},
		{"swelling.csv.gz", func(w io.Writer) { repeat(w, "wkt,a\n", "x", 300<<20, "") }, "unpacks to more"},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := geofile.Open(t.Context(), packed(t, c.name, c.fill))
		runtime.ReadMemStats(&after)
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, want one line with %q", c.name, err, c.want)
		}
		if grown := int64(after.HeapSys) - int64(before.HeapSys); grown > most {
			t.Errorf("%s: the heap grew by %d MB", c.name, grown>>20)
		}
	}
}

// A caller who has left stops the reader.
func TestReaderStopsWhenItsCallerLeaves(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for name, fill := range map[string]func(io.Writer){
		"rows.csv.gz":      func(w io.Writer) { repeat(w, "wkt,a\n", "POINT(1 2),b\n", 1000, "") },
		"items.geojson.gz": func(w io.Writer) { repeat(w, `{"type":"FeatureCollection","features":[1`, ",1", 1000, "]}") },
		"marks.kmz": func(w io.Writer) {
			repeat(w, "<kml>", "<Placemark><Point><coordinates>1,2</coordinates></Point></Placemark>", 1000, "</kml>")
		},
		"drawing.dxf.gz": func(w io.Writer) {
			repeat(w, "0\nSECTION\n2\nENTITIES\n", "0\nLINE\n10\n1\n20\n2\n11\n3\n21\n4\n", 1000, "0\nENDSEC\n0\nEOF\n")
		},
	} {
		if _, err := geofile.Open(ctx, packed(t, name, fill)); !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v, want it stopped", name, err)
		}
	}
}

// A coordinate system's text that stands in itself a thousand times, and a
// geometry that does, are refused by their form, not worked through.
func TestNestedTextsAreRefused(t *testing.T) {
	nested := `{"type":"GeometryCollection","geometries":[`
	for name, text := range map[string]string{
		"deep.geojson": `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":` +
			strings.Repeat(nested, 4000) + strings.Repeat("]}", 4000) + `}]}`,
		"deep.csv": "wkt,crs\n\"LINESTRING(0 0,1 1)\",\"" + strings.Repeat("COMPD[", 80_000) + "\"\n",
	} {
		f, err := geofile.Open(t.Context(), written(t, name, []byte(text)))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		refused := len(f.Aside) == 1 && strings.Contains(f.Aside[0].Reason, "within each other") || len(f.Layers) == 1 && f.Layers[0].CRSError != nil
		if !refused {
			t.Errorf("%s: aside %v, system %v; want it refused", name, f.Aside, f.Layers[0].CRSError)
		}
	}
}

// Of a GeoPackage only tables are read: a view may go on for ever, and so may the
// view that lists the tables. No function of the file's own definitions is run.
func TestViewsOfAGeoPackageAreNotRun(t *testing.T) {
	endless := "WITH RECURSIVE n(fid) AS (SELECT 1 UNION ALL SELECT fid+1 FROM n) SELECT fid, x'4750' AS geom FROM n"
	for name, schema := range map[string][]string{
		"a view of features": {
			"CREATE TABLE gpkg_geometry_columns (table_name TEXT, column_name TEXT, srs_id INTEGER)",
			"INSERT INTO gpkg_geometry_columns VALUES ('v','geom',0)", "CREATE VIEW v AS " + endless,
		},
		"a view of tables": {"CREATE VIEW gpkg_geometry_columns AS SELECT 'n' AS table_name, 'geom' AS column_name, 0 AS srs_id FROM (" + endless + ")"},
		"a column that is computed": {
			"CREATE TABLE gpkg_geometry_columns (table_name TEXT, column_name TEXT, srs_id INTEGER)",
			"INSERT INTO gpkg_geometry_columns VALUES ('t','geom',0)",
			"CREATE TABLE t (fid INTEGER PRIMARY KEY, geom BLOB, fat AS (zeroblob(1000000000)))", "INSERT INTO t(fid) VALUES (1)",
		},
	} {
		path := filepath.Join(t.TempDir(), "made.gpkg")
		db, err := sqlite3.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		for _, q := range schema {
			if err := db.Exec(q); err != nil {
				t.Fatalf("%s: %v", q, err)
			}
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
		f, err := geofile.Open(t.Context(), path)
		if err == nil && (len(f.Aside) == 0 || len(f.Layers) > 0) {
			t.Errorf("%s: read as %+v", name, f)
		}
		if err != nil && strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %q is more than a line", name, err)
		}
	}
}
