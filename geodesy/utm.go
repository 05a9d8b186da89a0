package geodesy

import (
	"fmt"
	"math"
)

// UTMZone gives the zone number, 1 to 60, of a place, with the exceptions of
// western Norway (32V is widened to 3° E) and Svalbard (31X, 33X, 35X and 37X
// only). UTM is defined from 80° south to 84° north; elsewhere, and for NaN, the
// zone is 0. A place on a zone's border belongs to the one east of it.
func UTMZone(g Geo) int {
	if !(g.Lat >= -80 && g.Lat <= 84) || math.IsNaN(g.Lon) || math.IsInf(g.Lon, 0) {
		return 0
	}
	lon := wrapDegrees(g.Lon)
	if lon == 180 {
		lon = -180
	}
	switch {
	case g.Lat >= 56 && g.Lat < 64 && lon >= 3 && lon < 12:
		return 32
	case g.Lat >= 72 && lon >= 0 && lon < 42:
		return 31 + 2*int((lon+3)/12)
	}
	return int(math.Floor((lon+180)/6)) + 1
}

// UTMCode gives the EPSG code of the UTM system on a frame about a place:
// WGS 84, ETRS89, NAD83(2011), NAD83(CSRS) version 7, GDA2020 and GDA94. An
// error is given where there is none.
func UTMCode(g Geo, f Frame) (int, error) {
	zone := UTMZone(g)
	if zone == 0 {
		return 0, fmt.Errorf("no UTM zone at latitude %v, longitude %v", g.Lat, g.Lon)
	}
	first, last, code := 0, -1, 0 // the frame's zones and the code of zone 0
	switch south := g.Lat < 0; {
	case f == FrameWGS84 && south:
		first, last, code = 1, 60, 32700
	case f == FrameWGS84:
		first, last, code = 1, 60, 32600
	case f == FrameETRF2000 && !south:
		first, last, code = 28, 37, 25800
	case f == FrameNAD83 && !south && zone >= 59:
		first, last, code = 59, 60, 6328-59
	case f == FrameNAD83 && !south:
		first, last, code = 1, 19, 6329
	case f == FrameNAD83CSRS && !south:
		first, last, code = 7, 22, 22700
	case f == FrameGDA2020 && south:
		first, last, code = 46, 59, 7846-46
	case f == FrameGDA94 && south:
		first, last, code = 48, 58, 28300
	}
	if zone < first || zone > last {
		return 0, fmt.Errorf("no UTM system on %v in zone %d", f, zone)
	}
	return code + zone, nil
}
