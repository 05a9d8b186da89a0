package web_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Two days – here the same crew's, one with a row more – come as one GeoPackage in
// which each day's rows are told apart, as kept and in another system.
func TestSeveralDaysAsOneGeoPackage(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	more := append(demo(t, "readings.csv"), "2026-05-12T09:40:00Z,W9,water,direct,peak,8192,1.0,20,50,60,0,0,100,,,\n"...)
	var d day
	if code := o.ask("POST", "/api/v1/days", object{"title": "Quay", "originals": []object{
		{"sha256": o.upload("day.nmea", demo(t, "day.nmea")).Original.SHA256}, {"sha256": o.upload("more.csv", more).Original.SHA256},
	}}, &d); code != 201 {
		t.Fatalf("second day: status %d", code)
	}
	o.settled("/api/v1/days/2")
	for _, query := range []string{"days=1,2", "days=1:1,2&crs=EPSG:32628"} {
		var b []byte
		if code := o.ask("GET", "/api/v1/geopackage?"+query, nil, &b); code != 200 || !bytes.HasPrefix(b, []byte("SQLite format 3\x00")) {
			t.Fatalf("%s: status %d: %.200s", query, code, b)
		}
		path := filepath.Join(t.TempDir(), "map.gpkg")
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		ogrinfo, err := exec.LookPath("ogrinfo")
		if err != nil {
			if os.Getenv("CI") == "true" {
				t.Fatal("no ogrinfo: install gdal-bin")
			}
			t.Skip("no ogrinfo here: install gdal-bin")
		}
		out, err := exec.Command(ogrinfo, "-ro", "-q", "-sql", "SELECT day, count(*) AS n FROM readings GROUP BY day ORDER BY day", path).CombinedOutput()
		text := string(out)
		if err != nil || !strings.Contains(text, "Demo (day 1), revision 1") || !strings.Contains(text, "Quay (day 2), revision 1") || !strings.Contains(text, "n (Integer) = 236") {
			t.Errorf("%s: %v %s", query, err, text)
		}
	}
	for query, want := range map[string]int{"": 422, "days=x": 422, "days=9": 404, "days=1:9": 404, "days=1&crs=EPSG:1": 422, "days=" + strings.Repeat("1,", 401) + "1": 422} {
		if code := o.ask("GET", "/api/v1/geopackage?"+query, nil, nil); code != want {
			t.Errorf("%s: status %d, want %d", query, code, want)
		}
	}
	var b []byte
	if code := o.ask("GET", "/api/v1/days/1/revisions/1/export?format=csv&scheme=pas128", nil, &b); code != 200 || !strings.Contains(unzip(t, b)["lines.csv"], "pas128") {
		t.Errorf("other accuracy classes: status %d", code)
	}
	if code := o.ask("GET", "/api/v1/days/1/revisions/1/export?scheme=best", nil, nil); code != 422 {
		t.Errorf("unknown classes: status %d", code)
	}
	for _, name := range []string{"kmz", "dxf", "shp", "gpkg", "geojson", "kml"} {
		if code := o.ask("GET", fmt.Sprintf("/api/v1/days/1/revisions/1/export?format=%s", name), nil, &b); code != 200 || len(unzip(t, b)) < 3 {
			t.Errorf("%s: status %d", name, code)
		}
	}
}
