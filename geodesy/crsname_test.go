package geodesy_test

import (
	"strings"
	"testing"

	"tracemap/geodesy"
)

// Every built-in system is found by its own name and by the name that its .prj
// has. Checks against: itself, there and back.
func TestCRSNamed(t *testing.T) {
	for name, want := range map[string]int{
		"ETRS89 / UTM zone 32N":  25832,
		"ETRS_1989_UTM_Zone_32N": 25832,
		"etrs89 / utm zone 32n":  25832,
		"WGS 84":                 4326,
		"GCS_WGS_1984":           4326,
		"NAD_1983_2011_StatePlane_Colorado_Central_FIPS_0502": 6427,
		"CH1903+_LV95":  2056,
		"GCS_ETRS_1989": 4258,
	} {
		c, ok := geodesy.CRSNamed(name)
		if !ok || c.Code() != want {
			t.Errorf("%q is %v, %v; want EPSG:%d", name, c, ok, want)
		}
	}
	for _, name := range []string{"", " / ", "British_National_Grid", "NAD83", "GCS_North_American_1983"} {
		if c, ok := geodesy.CRSNamed(name); ok {
			t.Errorf("%q is %v, want none", name, c)
		}
	}
	n := 0
	for _, r := range [][2]int{{2056, 2056}, {6350, 6363}, {6366, 6640}, {7844, 7860}, {25828, 25838}, {28348, 28358}, {32601, 32660}} {
		for code := r[0]; code <= r[1]; code++ {
			c, err := geodesy.LookupCRS(code)
			if err != nil {
				continue
			}
			n++
			_, esri, _ := strings.Cut(c.WKTEsri(), `"`)
			esri, _, _ = strings.Cut(esri, `"`)
			for _, name := range []string{c.Name(), esri} {
				if got, ok := geodesy.CRSNamed(name); !ok || got.Code() != code {
					t.Errorf("%q is %v, %v; want %v", name, got, ok, c)
				}
			}
		}
	}
	if n < 300 {
		t.Errorf("only %d systems tried", n)
	}
}
