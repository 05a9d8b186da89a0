package geofile

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"tracemap/geodesy"
)

// wgs84 is the system of formats that know no other. It is longitude and
// latitude on WGS 84.
func wgs84() *geodesy.CRS {
	crs, err := geodesy.LookupCRS(4326)
	if err != nil {
		panic("EPSG:4326 is built in: " + err.Error())
	}
	return crs
}

// lookup gives the system of a name as files write it: EPSG:25832,
// urn:ogc:def:crs:EPSG::25832, urn:ogc:def:crs:OGC:1.3:CRS84,
// http://www.opengis.net/def/crs/EPSG/0/25832, or well-known text.
func lookup(said string) (*geodesy.CRS, error) {
	text := strings.TrimSpace(said)
	upper := strings.ToUpper(text)
	switch {
	case strings.Contains(upper, "["):
		return fromWKT(text)
	case strings.HasSuffix(upper, "CRS84"), strings.HasSuffix(upper, "CRS84H"):
		return wgs84(), nil
	case strings.Contains(upper, "EPSG"):
		digits := upper[strings.LastIndexFunc(upper, func(r rune) bool { return r < '0' || r > '9' })+1:]
		if code, err := strconv.Atoi(digits); err == nil {
			return geodesy.LookupCRS(code)
		}
	}
	if crs, ok := geodesy.CRSNamed(text); ok {
		return crs, nil
	}
	return nil, fmt.Errorf("the coordinate system %q is not known", shorten(text))
}

// withCRS fills in what a file says of its system.
func (l *Layer) withCRS(said string) {
	l.CRS, l.CRSError = lookup(said)
	l.Assumed = false
}

var (
	wktName = regexp.MustCompile(`^\s*[A-Za-z0-9_]+\s*\[\s*"((?:[^"]|"")*)"`)
	// The code of the whole system stands last, after all nodes within.
	wktCode      = regexp.MustCompile(`(?i)(?:AUTHORITY|ID)\s*\[\s*"EPSG"\s*,\s*"?(\d+)"?\s*\]\s*\]\s*$`)
	wktParameter = regexp.MustCompile(`(?i)PARAMETER\s*\[\s*"([^"]*)"\s*,\s*([-+0-9.eE]+)`)
	wktUnit      = regexp.MustCompile(`(?i)[^A-Z](?:LENGTH)?UNIT\s*\[\s*"[^"]*"\s*,\s*([-+0-9.eE]+)`)
)

// fromWKT finds the system of a well-known text: by its EPSG code, else by its
// name. A text that has the name of a system and other parameters is refused: it
// is another system.
func fromWKT(text string) (*geodesy.CRS, error) {
	if len(text) > maxWKT {
		return nil, fmt.Errorf("the coordinate system's well-known text has %d kB, more than the %d that are read", len(text)>>10, maxWKT>>10)
	}
	upper := strings.ToUpper(strings.TrimSpace(text[:min(len(text), 20)]))
	if strings.HasPrefix(upper, "COMPD") || strings.HasPrefix(upper, "COMPOUND") {
		if inner := firstNode(text); inner != "" { // a compound system holds no other compound one
			return fromSingleWKT(inner)
		}
	}
	return fromSingleWKT(text)
}

// maxWKT bounds a well-known text, bytes; the longest of the EPSG dataset have
// some 10 kB.
const maxWKT = 64 << 10

func fromSingleWKT(text string) (*geodesy.CRS, error) {
	if m := wktCode.FindStringSubmatch(text); m != nil {
		if code, err := strconv.Atoi(m[1]); err == nil {
			return geodesy.LookupCRS(code)
		}
	}
	m := wktName.FindStringSubmatch(text)
	if m == nil {
		return nil, fmt.Errorf("the coordinate system is not well-known text: %q", shorten(text))
	}
	name := strings.ReplaceAll(m[1], `""`, `"`)
	crs, ok := geodesy.CRSNamed(name)
	if !ok {
		return nil, fmt.Errorf("the coordinate system %q is not built in", shorten(name))
	}
	if !sameParameters(text, crs.WKTEsri()) && !sameParameters(text, crs.WKT1()) {
		return nil, fmt.Errorf("the coordinate system is called %q and has other parameters than %v", shorten(name), crs)
	}
	return crs, nil
}

// firstNode gives the first node within the outermost one: the horizontal part
// of a compound system.
func firstNode(text string) string {
	open := strings.IndexByte(text, '[')
	if open < 0 {
		return ""
	}
	rest := text[open+1:]
	_, rest, found := strings.Cut(rest, ",")
	if !found {
		return ""
	}
	depth := 0
	for i := range len(rest) {
		switch rest[i] {
		case '[':
			depth++
		case ']':
			if depth--; depth == 0 {
				return strings.TrimSpace(rest[:i+1])
			}
			if depth < 0 {
				return ""
			}
		}
	}
	return ""
}

// sameParameters reports whether two texts give the same values to the
// parameters that both name, and the same unit.
func sameParameters(a, b string) bool {
	pa, pb := parameters(a), parameters(b)
	for name, v := range pa {
		if w, ok := pb[name]; ok && !near(v, w) || !ok && v != 0 {
			return false
		}
	}
	ua, ub := wktUnit.FindAllStringSubmatch(a, -1), wktUnit.FindAllStringSubmatch(b, -1)
	if len(ua) == 0 || len(ub) == 0 {
		return len(ua) == len(ub)
	}
	va, _ := strconv.ParseFloat(ua[len(ua)-1][1], 64)
	vb, _ := strconv.ParseFloat(ub[len(ub)-1][1], 64)
	return near(va, vb)
}

func parameters(text string) map[string]float64 {
	out := map[string]float64{}
	for _, m := range wktParameter.FindAllStringSubmatch(text, -1) {
		if v, err := strconv.ParseFloat(m[2], 64); err == nil {
			out[strings.ToLower(strings.ReplaceAll(m[1], " ", "_"))] = v
		}
	}
	return out
}

// near allows for the digits that writers of .prj files keep: 1e-9 tells the US
// survey foot from the international one, which are 2e-6 apart, with room.
func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(1, math.Abs(a), math.Abs(b)) }

// shorten cuts a text for a message.
func shorten(s string) string {
	const most = 60
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	return string(r[:most]) + "…"
}
