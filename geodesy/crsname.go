package geodesy

import (
	"encoding/csv"
	"strconv"
	"strings"
	"sync"
)

// CRSNamed gives the built-in system of a name: the one of the EPSG dataset
// ("ETRS89 / UTM zone 32N") or the one in Esri's dialect of well-known text
// ("ETRS_1989_UTM_Zone_32N"), which is all that a Shapefile's .prj has. Case and
// anything but letters, figures and signs do not matter.
func CRSNamed(name string) (*CRS, bool) {
	names, err := crsNames()
	if err != nil {
		return nil, false
	}
	code, ok := names[foldCRSName(name)]
	if !ok {
		return nil, false
	}
	c, err := LookupCRS(code)
	return c, err == nil
}

// CRSAt returns the built-in projected systems whose area of use holds a place, in
// the order of the table. Longitude and latitude count, in any frame.
func CRSAt(g Geo) ([]*CRS, error) {
	rows := csv.NewReader(strings.NewReader(crsTable))
	rows.Comment = '#'
	all, err := rows.ReadAll()
	if err != nil {
		return nil, err
	}
	var out []*CRS
	for _, f := range all {
		code, err := strconv.Atoi(f[0])
		if err != nil {
			continue // the header
		}
		if c, err := LookupCRS(code); err == nil && c.Area().Contains(g) {
			out = append(out, c)
		}
	}
	return out, nil
}

// crsNames maps folded names to codes. Of two systems of one name, which are
// the two- and three-dimensional one, the former is meant.
var crsNames = sync.OnceValues(func() (map[string]int, error) {
	bases, err := loadBases()
	if err != nil {
		return nil, err
	}
	names := map[string]int{}
	put := func(name string, code int) {
		if key := foldCRSName(name); key != "" {
			if _, taken := names[key]; !taken {
				names[key] = code
			}
		}
	}
	for _, b := range bases {
		put(b.name, b.code)
		put(orElse(b.esri, "GCS_"+underscored(b.name)), b.code)
	}
	csvr := csv.NewReader(strings.NewReader(crsTable))
	csvr.Comment = '#'
	rows, err := csvr.ReadAll()
	if err != nil {
		return nil, err
	}
	for _, f := range rows {
		code, err := strconv.Atoi(f[0])
		if err != nil {
			continue // the header
		}
		put(f[1], code)
		put(orElse(f[19], underscored(f[1])), code)
	}
	return names, nil
})

// foldCRSName keeps what tells names apart.
func foldCRSName(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '+' || r == '-':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		}
		return -1
	}, s)
}
