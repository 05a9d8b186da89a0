package export_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/peterstace/simplefeatures/geom"

	"tracemap/export"
	"tracemap/geodesy"
	"tracemap/internal/lab/invented"
)

// table reads a CSV file strictly and gives its header and rows by name.
func table(t *testing.T, dir, name string) ([]string, []map[string]string) {
	t.Helper()
	b := read(t, dir, name)
	if n, crlf := bytes.Count(b, []byte("\n")), bytes.Count(b, []byte("\r\n")); n != crlf {
		t.Errorf("%s: %d line feeds, %d of them CRLF (RFC 4180 §2.1)", name, n, crlf)
	}
	records, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var rows []map[string]string
	for _, rec := range records[1:] {
		row := map[string]string{}
		for i, h := range records[0] {
			if _, twice := row[h]; twice {
				t.Fatalf("%s: column %s twice", name, h)
			}
			row[h] = rec[i]
		}
		rows = append(rows, row)
	}
	return records[0], rows
}

// The columns that users' programs rely on come first, in this order.
func TestCSVColumns(t *testing.T) {
	dir := write(t, invented.Day(invented.Atlantic), format(t, "csv"), export.Options{})
	for name, want := range map[string]string{
		"lines.csv":    "line_id,part,utility,method,frequency_hz,readings,length_m,depth_min_m,depth_max_m,half_width_mean_m,half_width_max_m,depth_95_max_m,class,scheme,surveyed_from,surveyed_to,frame,flags,job,operator,source,caution",
		"vertices.csv": "line_id,part,vertex,station_m,lon,lat,ground_height_m,depth_m,height_m,half_width_m,depth_95_m,current_ma,flags",
		"readings.csv": "time,line,utility,method,response,frequency_hz,depth_m,current_ma,signal_pct,gain_db,compass_deg,null_offset_m,bottom_coil,top_coil,coil_spacing_m,diameter_mm,feature,measured_depth_m,logged_lat,logged_lon,hdop,fix,note,utc,lon,lat,ground_height_m,radius_95_m,line_id,part,station_m,offset_m,placed,flags",
	} {
		header, _ := table(t, dir, name)
		if got := strings.Join(header, ","); !strings.HasPrefix(got, want) {
			t.Errorf("%s: header %s\nwant first %s", name, got, want)
		}
	}
}

// readings.csv has a row for everything that came in, in the order of the log.
func TestCSVReadingsAddUp(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	_, rows := table(t, write(t, m, format(t, "csv"), export.Options{}), "readings.csv")
	if want := m.Summary.Readings.Total; len(rows) != want {
		t.Fatalf("%d rows, %d came in", len(rows), want)
	}
	placed, last := 0, 0
	for _, r := range rows {
		row, err := strconv.Atoi(r["row"])
		if err != nil || row <= last {
			t.Errorf("row %q after row %d", r["row"], last)
		}
		last = row
		if r["placed"] == "true" {
			placed++
		}
		if (r["placed"] == "true") != (r["lon"] != "") || (r["lon"] == "") != (r["radius_95_m"] == "") {
			t.Errorf("row %d: placed %s, lon %q, radius %q", row, r["placed"], r["lon"], r["radius_95_m"])
		}
	}
	if placed != m.Summary.Readings.Placed {
		t.Errorf("%d rows placed, summary says %d", placed, m.Summary.Readings.Placed)
	}
	bad := rows[3] // line 5 of the file, line 1 being the header
	if bad["flags"] != "bad_row" || bad["remark"] != `depth_m: found "1..2": not a number` || bad["placed"] != "false" || bad["time"] != "" {
		t.Errorf("the row that could not be read: %v", bad)
	}
}

// Points carry the line they lie on.
func TestCSVPointOnLine(t *testing.T) {
	_, rows := table(t, write(t, invented.Day(invented.Atlantic), format(t, "csv"), export.Options{}), "readings.csv")
	got := map[string]string{}
	for _, r := range rows {
		if r["feature"] != "" {
			got[r["feature"]] = r["line_id"] + "/" + r["part"]
		}
	}
	if got["valve"] != "W-1/1" || got["pothole"] != "W-1/1" || got["marker"] != "/" {
		t.Errorf("points lie on %v", got)
	}
}

// One σ becomes 95 % once: 1.96 across a line and in depth, 2.448 for a circle.
// Source of the factors: quantiles of the normal and of χ² with two degrees.
func TestFactorsOf95(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	dir := write(t, m, format(t, "csv"), export.Options{})
	_, vertices := table(t, dir, "vertices.csv")
	v := m.Lines[0].Parts[0].Vertices[1]
	near(t, vertices[1]["half_width_m"], 1.959964*v.Sigma, 0.0006)
	near(t, vertices[1]["depth_95_m"], 1.959964*v.SigmaDepth, 0.0006)
	near(t, vertices[1]["cover_m"], v.Depth-0.084, 0.0006)
	near(t, vertices[1]["height_m"], v.Ground.H-v.Depth, 0.0006)
	near(t, vertices[1]["height_95_m"], 1.959964*math.Hypot(v.SigmaDepth, v.SigmaH), 0.0006)
	_, rows := table(t, dir, "readings.csv")
	near(t, rows[0]["radius_95_m"], 2.447747*m.Readings[0].Radius, 0.0006)
	if p := math.Exp(-2.448 * 2.448 / 2); math.Abs(p-0.05) > 1e-4 { // Rayleigh tail
		t.Errorf("2.448 leaves %.5f outside", p)
	}
	_, lines := table(t, dir, "lines.csv")
	var sum, length, most float64
	vs := m.Lines[0].Parts[0].Vertices
	for i := range vs {
		most = max(most, 1.96*vs[i].Sigma)
		if i > 0 {
			d := vs[i].Station - vs[i-1].Station
			sum, length = sum+d*1.96*(vs[i].Sigma+vs[i-1].Sigma)/2, length+d
		}
	}
	near(t, lines[0]["half_width_mean_m"], sum/length, 0.0006)
	near(t, lines[0]["half_width_max_m"], most, 0.0006)
	near(t, lines[0]["length_m"], length, 0.0006)
}

// near compares a written number with what it should be; both are rounded to the
// millimetre, so tolerance is half of that and a little.
func near(t *testing.T, got string, want, tolerance float64) {
	t.Helper()
	v, err := strconv.ParseFloat(got, 64)
	if err != nil || math.Abs(v-want) > tolerance {
		t.Errorf("got %q, want %.4f", got, want)
	}
}

// A name that a spreadsheet would run as a formula is made text; numbers stay.
func TestCSVGuardsFormulas(t *testing.T) {
	m := invented.Day(geodesy.Geo{Lat: -36.5, Lon: -70, H: 0})
	m.Lines[0].ID, m.Lines[1].ID = "@SUM(1)", "-1"
	_, rows := table(t, write(t, m, format(t, "csv"), export.Options{}), "vertices.csv")
	var ids []string
	for _, r := range rows {
		if !slices.Contains(ids, r["line_id"]) {
			ids = append(ids, r["line_id"])
		}
		if !strings.HasPrefix(r["lat"], "-36.") {
			t.Fatalf("lat %q", r["lat"])
		}
	}
	if want := []string{"'@SUM(1)", "'-1", "'=1+2 Straße Ø東", "ring"}; !slices.Equal(ids, want) {
		t.Errorf("line ids %q, want %q", ids, want)
	}
}

// The geometry of lines.csv is what lines.geojson holds, by another parser.
func TestCSVGeometryEqualsGeoJSON(t *testing.T) {
	for _, c := range invented.Cases() {
		t.Run(c.Name, func(t *testing.T) {
			_, rows := table(t, write(t, c.Map, format(t, "csv"), export.Options{}), "lines.csv")
			features := collections(t, c.Map)["lines"].Features
			if len(rows) != len(features) {
				t.Fatalf("%d rows, %d features", len(rows), len(features))
			}
			for i, r := range rows {
				fromWKT, err := geom.UnmarshalWKT(r["wkt"])
				if err != nil {
					t.Fatalf("%s: %v", r["wkt"], err)
				}
				fromJSON, err := geom.UnmarshalGeoJSON(features[i].Geometry)
				if err != nil {
					t.Fatal(err)
				}
				if !geom.ExactEquals(fromWKT, fromJSON) {
					t.Errorf("CSV %s\nGeoJSON %s", fromWKT.AsText(), fromJSON.AsText())
				}
			}
		})
	}
}
