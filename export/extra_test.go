package export_test

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"tracemap/readings"
	"tracemap/result"
)

// withExtra puts columns of the log that are none of ours into a map's readings: owner,
// the same everywhere; crew, another in each; length_m, called like one of ours; and
// Précision, beyond ASCII.
func withExtra(m *result.Map) *result.Map {
	for i := range m.Readings {
		m.Readings[i].Reading.Extra = []readings.Field{
			{Name: "Owner (as told)", Value: "=Town & Works"}, {Name: "crew", Value: fmt.Sprint("c", i)}, {Name: "Length_M", Value: "7"}, {Name: "Précision", Value: "bonne"},
		}
	}
	return m
}

// GDAL reads the log's further columns from every format: per reading, and per line
// where all its readings agree.
func TestGDALReadsFurtherColumns(t *testing.T) {
	m := withExtra(graded(t, "as5488"))
	crs := options(t, format(t, "shp"), m)
	gpkg := filepath.Join(write(t, m, format(t, "gpkg"), crs), "map.gpkg")
	geojson, shp := write(t, m, format(t, "geojson"), crs), write(t, m, format(t, "shp"), crs)
	long := map[string]string{"owner": "Owner_as_told", "crew": "crew", "length": "Length_M_2", "precision": "Précision"}
	short := map[string]string{"owner": "owner_as_t", "crew": "crew", "length": "length_m_2", "precision": "prcision"}
	for _, c := range []struct {
		what, file, layer string
		names             map[string]string
	}{
		{"gpkg", gpkg, "", long},
		{"geojson", filepath.Join(geojson, "%s.geojson"), "file", long},
		{"shp", filepath.Join(shp, "%s.shp"), "file", short},
	} {
		for _, layer := range []string{"lines", "readings"} {
			file, of := c.file, layer
			if c.layer == "file" {
				file, of = fmt.Sprintf(c.file, layer), ""
			}
			features := ogr(t, file, of).Features
			if len(features) == 0 {
				t.Errorf("%s %s: no feature", c.what, layer)
			}
			for i, f := range features {
				if layer == "lines" && (f.Properties["readings"] == nil || fmt.Sprint(f.Properties["readings"]) == "0") {
					continue
				}
				for key, want := range map[string]string{"owner": "=Town & Works", "length": "7", "precision": "bonne"} {
					if got := f.Properties[c.names[key]]; strings.TrimPrefix(fmt.Sprint(got), "'") != want {
						t.Fatalf("%s %s, row %d: %s is %v, want %q", c.what, layer, i+1, c.names[key], got, want)
					}
				}
				if got, there := f.Properties[c.names["crew"]]; layer == "readings" && (!there || !strings.HasPrefix(fmt.Sprint(got), "c")) {
					t.Fatalf("%s readings, row %d: crew is %v", c.what, i+1, got)
				}
			}
		}
	}
	head, rows := table(t, write(t, m, format(t, "csv"), crs), "readings.csv")
	if !strings.Contains(strings.Join(head, ","), ",Owner_as_told,crew,Length_M_2,Précision") || rows[0]["Owner_as_told"] != "'=Town & Works" {
		t.Errorf("readings.csv: %v, owner %q", head, rows[0]["Owner_as_told"])
	}
	if kml := string(read(t, write(t, m, format(t, "kml"), crs), "map.kml")); !strings.Contains(kml, `<SimpleData name="Owner_as_told">=Town &amp; Works</SimpleData>`) {
		t.Error("map.kml lacks the owner")
	}
}

// Columns beyond those that a file holds stand together in its last one.
func TestTooManyFurtherColumns(t *testing.T) {
	m := graded(t, "as5488")
	r := m.Readings[0].Reading
	for k := range 300 {
		r.Extra = append(r.Extra, readings.Field{Name: fmt.Sprintf("a long name %d", k), Value: fmt.Sprint(k)})
	}
	crs := options(t, format(t, "shp"), m)
	write(t, m, format(t, "shp"), crs) // which fails where a name comes twice or a row is too long
	_, rows := table(t, write(t, m, format(t, "csv"), crs), "readings.csv")
	more := ""
	for _, row := range rows {
		more += row["more_columns"]
	}
	if !strings.HasPrefix(more, "a long name 99: 99; ") || !strings.HasSuffix(more, "; a long name 299: 299") {
		t.Errorf("more_columns = %q", more)
	}
}
