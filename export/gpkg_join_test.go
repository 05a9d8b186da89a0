package export_test

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"tracemap/export"
	"tracemap/geodesy"
	"tracemap/internal/lab/invented"
	"tracemap/result"
)

// Days joined hold every row of each, told apart by the column day, in a file that
// GDAL's validator of GeoPackages finds nothing wrong with; in another coordinate
// system, too.
func TestJoinedGeoPackage(t *testing.T) {
	utm, err := geodesy.LookupCRS(32633)
	if err != nil {
		t.Fatal(err)
	}
	origin := geodesy.Geo{Lat: 47.5, Lon: 15.2, H: 300}
	for _, opt := range []export.Options{{}, {CRS: utm}} {
		var parts []export.GPKGPart
		sum := map[string]int{}
		for i, m := range []*result.Map{invented.Day(origin), invented.Empty(origin), invented.Day(geodesy.Geo{Lat: 47.51, Lon: 15.21, H: 310})} {
			file := filepath.Join(write(t, m, format(t, "gpkg"), opt), "map.gpkg")
			parts = append(parts, export.GPKGPart{Path: file, Day: []string{"Mill Lane, revision 2", "nothing", "Quay, revision 1"}[i]})
			for layer, n := range counts(t, file) {
				sum[layer] += n
			}
		}
		joined, again := filepath.Join(t.TempDir(), "map.gpkg"), filepath.Join(t.TempDir(), "map.gpkg")
		for _, path := range []string{joined, again} {
			if err := export.JoinGeoPackages(t.Context(), path, "3 days", parts); err != nil {
				t.Fatal(err)
			}
		}
		a, _ := os.ReadFile(joined)
		if b, _ := os.ReadFile(again); !bytes.Equal(a, b) {
			t.Error("the same days twice: other bytes")
		}
		if out, err := validate(t, "-c", "import sys\nfrom osgeo_utils.samples import validate_gpkg\nerrors = validate_gpkg.check(sys.argv[1], abort_at_first_error=False, extra_checks=True, warning_as_error=True)\nprint(errors)\nsys.exit(bool(errors))", joined); err != nil {
			t.Errorf("%v\n%s", err, out)
		}
		got := counts(t, joined)
		for layer, n := range sum {
			if layer == "layer_styles" {
				n /= len(parts) // a style a layer
			}
			if got[layer] != n || n == 0 && layer == "lines" {
				t.Errorf("layer %s has %d rows, want %d", layer, got[layer], n)
			}
		}
		out, err := exec.Command(tool(t, "ogrinfo"), "-ro", "-q", "-sql", "SELECT day, count(*) AS n FROM readings GROUP BY day ORDER BY day", joined).CombinedOutput()
		if text := string(out); err != nil || !strings.Contains(text, "Mill Lane, revision 2") || !strings.Contains(text, "Quay, revision 1") {
			t.Errorf("days: %v %s", err, text)
		}
		// The R-tree finds the rows of the second day by place.
		box := []string{"15.205", "47.505", "15.22", "47.52"}
		if opt.CRS == nil {
			out, err = exec.Command(tool(t, "ogrinfo"), append([]string{"-ro", "-so", "-spat"}, append(box, joined, "lines")...)...).CombinedOutput()
			if all := counts(t, parts[2].Path)["lines"]; err != nil || !regexp.MustCompile(`Feature Count: [1-`+strconv.Itoa(all)+`]\n`).Match(out) {
				t.Errorf("about the second day's place, want %d lines: %v %s", all, err, out)
			}
		}
	}
}

// counts gives the features of each layer as GDAL counts them.
func counts(t *testing.T, file string) map[string]int {
	t.Helper()
	out, err := exec.Command(tool(t, "ogrinfo"), "-ro", "-so", "-al", file).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	n := map[string]int{}
	for _, m := range regexp.MustCompile(`(?s)Layer name: (\w+).*?Feature Count: (\d+)`).FindAllStringSubmatch(string(out), -1) {
		if n[m[1]], err = strconv.Atoi(m[2]); err != nil {
			t.Fatal(err)
		}
	}
	return n
}

func TestJoinRefuses(t *testing.T) {
	origin := geodesy.Geo{Lat: 47.5, Lon: 15.2, H: 300}
	utm, err := geodesy.LookupCRS(32633)
	if err != nil {
		t.Fatal(err)
	}
	a := filepath.Join(write(t, invented.Day(origin), format(t, "gpkg"), export.Options{}), "map.gpkg")
	b := filepath.Join(write(t, invented.Day(origin), format(t, "gpkg"), export.Options{CRS: utm}), "map.gpkg")
	err = export.JoinGeoPackages(t.Context(), filepath.Join(t.TempDir(), "x.gpkg"), "", []export.GPKGPart{{Path: a, Day: "a"}, {Path: b, Day: "b"}})
	if !errors.Is(err, export.ErrOtherCRS) {
		t.Errorf("two coordinate systems: %v", err)
	}
	if err := export.JoinGeoPackages(t.Context(), filepath.Join(t.TempDir(), "x.gpkg"), "", nil); err == nil {
		t.Error("nothing joined without an error")
	}
	if err := export.JoinGeoPackages(t.Context(), a, "", []export.GPKGPart{{Path: b, Day: "b"}}); err == nil {
		t.Error("a file that was there was written over")
	}
}
