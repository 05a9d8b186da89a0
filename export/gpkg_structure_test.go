package export_test

import (
	"encoding/binary"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/ext/rtree"

	"tracemap/export"
	"tracemap/internal/lab/invented"
)

// gpkgColumns are the columns of the tables in OGC 12-128r17 (GeoPackage 1.3.1),
// annex C, in order: name, type, * for NOT NULL; a 12-063 column is that of
// extension F.10, WKT for coordinate reference systems.
var gpkgColumns = map[string]string{
	"gpkg_spatial_ref_sys":         "srs_name TEXT*, srs_id INTEGER, organization TEXT*, organization_coordsys_id INTEGER*, definition TEXT*, description TEXT, definition_12_063 TEXT*",
	"gpkg_contents":                "table_name TEXT*, data_type TEXT*, identifier TEXT, description TEXT, last_change DATETIME*, min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER",
	"gpkg_geometry_columns":        "table_name TEXT*, column_name TEXT*, geometry_type_name TEXT*, srs_id INTEGER*, z TINYINT*, m TINYINT*",
	"gpkg_extensions":              "table_name TEXT, column_name TEXT, extension_name TEXT*, definition TEXT*, scope TEXT*",
	"gpkg_data_columns":            "table_name TEXT*, column_name TEXT*, name TEXT, title TEXT, description TEXT, mime_type TEXT, constraint_name TEXT",
	"gpkg_data_column_constraints": "constraint_name TEXT*, constraint_type TEXT*, value TEXT, min NUMERIC, min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT",
	"gpkg_metadata":                "id INTEGER*, md_scope TEXT*, md_standard_uri TEXT*, mime_type TEXT*, metadata TEXT*",
	"gpkg_metadata_reference":      "reference_scope TEXT*, table_name TEXT, column_name TEXT, row_id_value INTEGER, timestamp DATETIME*, md_file_id INTEGER*, md_parent_id INTEGER",
}

// gpkgTriggers are those of annex F.3 (R-tree spatial indexes) of the same text.
var gpkgTriggers = []string{"insert", "update1", "update2", "update3", "update4", "delete"}

// A gpkgFile answers questions in SQL.
type gpkgFile struct {
	t  *testing.T
	db *sqlite3.Conn
}

func openGPKG(t *testing.T, file string) gpkgFile {
	t.Helper()
	db, err := sqlite3.OpenFlags(file, sqlite3.OPEN_READONLY)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	if err := rtree.Register(db); err != nil {
		t.Fatal(err)
	}
	return gpkgFile{t, db}
}

// rows gives every row as texts, blobs as they are, NULL as "NULL".
func (g gpkgFile) rows(sql string) (out [][]string) {
	g.t.Helper()
	s, _, err := g.db.Prepare(sql)
	if err != nil {
		g.t.Fatalf("%s: %v", sql, err)
	}
	defer s.Close()
	for s.Step() {
		row := make([]string, s.ColumnCount())
		for i := range row {
			if row[i] = s.ColumnText(i); s.ColumnType(i) == sqlite3.NULL {
				row[i] = "NULL"
			}
		}
		out = append(out, row)
	}
	if err := s.Err(); err != nil {
		g.t.Fatalf("%s: %v", sql, err)
	}
	return out
}

// Each map's GeoPackage has the structure that the standard asks for.
func TestGPKGStructure(t *testing.T) {
	for _, c := range invented.Cases() {
		t.Run(c.Name, func(t *testing.T) {
			g := openGPKG(t, filepath.Join(write(t, c.Map, format(t, "gpkg"), export.Options{}), "map.gpkg"))
			g.identity()
			g.tables()
			g.systems("4326")
			g.features("4326")
			g.extensions()
		})
	}
	g := openGPKG(t, filepath.Join(write(t, invented.Day(invented.Atlantic), format(t, "gpkg"), export.Options{CRS: lookup(t, 32626)}), "map.gpkg"))
	g.systems("32626")
	g.features("32626")
}

// Requirements 1, 2, 6 and 7: a sound SQLite 3 file that says what it is.
func (g gpkgFile) identity() {
	for pragma, want := range map[string]string{"application_id": "1196444487", "user_version": "10300", "integrity_check": "ok"} {
		if got := g.rows("PRAGMA " + pragma); len(got) != 1 || got[0][0] != want {
			g.t.Errorf("%s is %v, want %s", pragma, got, want)
		}
	}
	if bad := g.rows("PRAGMA foreign_key_check"); len(bad) > 0 {
		g.t.Errorf("foreign keys: %v", bad)
	}
}

func (g gpkgFile) tables() {
	for table, want := range gpkgColumns {
		var got []string
		for _, c := range g.rows("PRAGMA table_info(" + table + ")") {
			text := c[1] + " " + c[2]
			if c[3] == "1" {
				text += "*"
			}
			got = append(got, text)
		}
		if s := strings.Join(got, ", "); s != want {
			g.t.Errorf("%s: %s\nwant %s", table, s, want)
		}
	}
}

// Requirement 11: the two undefined systems and WGS 84; and the one in use.
func (g gpkgFile) systems(code string) {
	for id, want := range map[string]string{"-1": "NONE -1 undefined", "0": "NONE 0 undefined"} {
		if got := g.rows("SELECT organization||' '||organization_coordsys_id||' '||definition FROM gpkg_spatial_ref_sys WHERE srs_id=" + id); len(got) != 1 || got[0][0] != want {
			g.t.Errorf("system %s: %v, want %s", id, got, want)
		}
	}
	for _, id := range []string{"4326", code} {
		got := g.rows("SELECT organization, organization_coordsys_id, definition, definition_12_063 FROM gpkg_spatial_ref_sys WHERE srs_id=" + id)
		if len(got) != 1 || got[0][0] != "EPSG" || got[0][1] != id || !strings.Contains(got[0][2], `AUTHORITY["EPSG","`+id+`"]`) || !strings.Contains(got[0][3], `ID["EPSG",`+id+`]`) {
			g.t.Errorf("system %s: %v", id, got)
		}
	}
}

// features holds each layer to its entries: contents with the true extent, the
// geometry column, blobs with header and envelope, the index and its triggers.
func (g gpkgFile) features(srs string) {
	layers := g.rows("SELECT table_name, data_type, identifier, srs_id, min_x, min_y, max_x, max_y, last_change, description FROM gpkg_contents WHERE data_type='features' ORDER BY 1")
	if len(layers) != 5 {
		g.t.Fatalf("layers %v", layers)
	}
	for _, l := range layers {
		name := l[0]
		if l[3] != srs || l[9] == "" || len(l[8]) != len("2031-05-06T07:30:00.000Z") || !strings.HasSuffix(l[8], "Z") {
			g.t.Errorf("contents: %v", l)
		}
		column := g.rows("SELECT column_name, geometry_type_name, srs_id, z, m FROM gpkg_geometry_columns WHERE table_name='" + name + "'")
		z := "2" // heights where they are known
		if name == "corridors" || name == "doubtful" {
			z = "0"
		}
		if len(column) != 1 || column[0][0] != "geom" || column[0][2] != srs || column[0][3] != z || column[0][4] != "0" {
			g.t.Errorf("%s: geometry column %v, want z %s", name, column, z)
			continue
		}
		info := g.rows("SELECT name, type, pk FROM pragma_table_info('" + name + "') WHERE cid<2")
		if fmt.Sprint(info) != fmt.Sprintf("[[fid INTEGER 1] [geom %s 0]]", column[0][1]) {
			g.t.Errorf("%s begins with %v", name, info)
		}
		box, heights := g.blobs(name, srs, z)
		want := [4]string{"NULL", "NULL", "NULL", "NULL"}
		if !math.IsInf(box[0], 1) {
			for i := range box {
				want[i] = g.rows(fmt.Sprintf("SELECT CAST(%v AS REAL)", box[i]))[0][0]
			}
		}
		if [4]string(l[4:8]) != want {
			g.t.Errorf("%s: extent %v, that of the geometries is %v", name, l[4:8], want)
		}
		if name == "vertices" && strings.Contains(g.t.Name(), "day") && heights == 0 {
			g.t.Error("no vertex has a height")
		}
		for _, what := range gpkgTriggers {
			if got := g.rows("SELECT sql FROM sqlite_schema WHERE type='trigger' AND name='rtree_" + name + "_geom_" + what + "'"); len(got) != 1 {
				g.t.Errorf("%s: trigger %s is there %d times", name, what, len(got))
			}
		}
	}
}

// blobs goes through a layer's geometries (requirement 19: GeoPackageBinary) and
// the index beside it, and gives their extent and how many have heights.
func (g gpkgFile) blobs(layer, srs, z string) (box [4]float64, heights int) {
	box = [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	indexed := 0
	for _, r := range g.rows(`SELECT fid, geom, r.minx, r.miny, r.maxx, r.maxy FROM "` + layer + `" LEFT JOIN rtree_` + layer + `_geom r ON r.id=fid`) {
		if r[1] == "NULL" {
			if r[2] != "NULL" {
				g.t.Errorf("%s %s has no geometry and is in the index", layer, r[0])
			}
			continue
		}
		b := []byte(r[1])
		if string(b[:2]) != "GP" || b[2] != 0 || b[3]&^0b1111 != 0 || b[3]&1 != 1 || fmt.Sprint(int32(binary.LittleEndian.Uint32(b[4:]))) != srs {
			g.t.Errorf("%s %s: header % x", layer, r[0], b[:8])
			continue
		}
		head, body := 8, [4]float64{}
		if envelope := b[3] >> 1 & 7; envelope == 1 {
			head += 32
			for i, at := range []int{0, 2, 1, 3} { // minx, maxx, miny, maxy
				body[at] = math.Float64frombits(binary.LittleEndian.Uint64(b[8+8*i:]))
			}
		} else if envelope != 0 {
			g.t.Errorf("%s %s: envelope %d", layer, r[0], envelope)
		}
		kind := binary.LittleEndian.Uint32(b[head+1:])
		if b[head] != 1 || kind%1000 < 1 || kind%1000 > 6 || kind/1000 > 1 || kind >= 1000 && z == "0" {
			g.t.Errorf("%s %s: order %d, type %d", layer, r[0], b[head], kind)
		}
		if kind >= 1000 {
			heights++
		}
		if head == 8 { // a point is its own envelope
			for i := range body {
				body[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[head+5+8*(i%2):]))
			}
		}
		indexed += g.inside(layer, r, body)
		box = [4]float64{min(box[0], body[0]), min(box[1], body[1]), max(box[2], body[2]), max(box[3], body[3])}
	}
	if got := g.rows("SELECT count(*) FROM rtree_" + layer + "_geom")[0][0]; got != fmt.Sprint(indexed) {
		g.t.Errorf("%s: %s boxes in the index, want %d", layer, got, indexed)
	}
	return box, heights
}

// inside compares a box of the index, kept in single precision, to the geometry's.
func (g gpkgFile) inside(layer string, r []string, body [4]float64) int {
	for i, v := range body {
		var got float64
		if _, err := fmt.Sscan(r[2+i], &got); err != nil {
			g.t.Errorf("%s %s is not in the index", layer, r[0])
			return 0
		}
		out := got <= v
		if i > 1 {
			out = got >= v
		}
		if !out || math.Abs(got-v) > 2e-7*max(1, math.Abs(v)) {
			g.t.Errorf("%s %s: %v in the index, %v in the geometry", layer, r[0], got, v)
		}
	}
	return 1
}

// extensions are registered with what they are used on (requirements 58 to 64, 75,
// and those of metadata and schema).
func (g gpkgFile) extensions() {
	got := map[string]string{}
	for _, r := range g.rows("SELECT coalesce(table_name,'')||'/'||coalesce(column_name,''), extension_name, scope FROM gpkg_extensions") {
		got[r[1]+" "+r[0]] = r[2]
	}
	want := map[string]string{
		"gpkg_crs_wkt gpkg_spatial_ref_sys/definition_12_063": "read-write",
		"gpkg_metadata gpkg_metadata/":                        "read-write",
		"gpkg_metadata gpkg_metadata_reference/":              "read-write",
		"gpkg_schema gpkg_data_columns/":                      "read-write",
		"gpkg_schema gpkg_data_column_constraints/":           "read-write",
	}
	for _, layer := range []string{"lines", "corridors", "readings", "vertices", "doubtful"} {
		want["gpkg_rtree_index "+layer+"/geom"] = "write-only"
	}
	for name, scope := range want {
		if got[name] != scope {
			g.t.Errorf("extension %s: %q, want %s", name, got[name], scope)
		}
	}
	if len(got) != len(want) {
		g.t.Errorf("extensions %v", got)
	}
	for _, r := range g.rows("SELECT table_name, column_name FROM gpkg_data_columns WHERE coalesce(description,'')=''") {
		g.t.Errorf("%v is not described", r)
	}
}
