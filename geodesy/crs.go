package geodesy

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// CRS is a coordinate system of the EPSG dataset: a reference frame and, for a
// map grid, a projection. It is made by LookupCRS, never changes and is safe
// for use by several goroutines.
type CRS struct {
	code     int
	name     string
	base     geographic
	grid     *grid      // nil when coordinates are latitude and longitude
	shift    *ShiftGrid // from the datum to the base's frame; nil for none
	threeD   bool
	esri     string // the name in Esri's dialect of well-known text
	area     Area
	accuracy float64
}

// grid is what a projected system has more than a geographic one.
type grid struct {
	conversion string // the projection's own name
	method     string
	params     []float64 // in the order of newProjection, lengths in the unit
	unit       Unit
	northFirst bool
	proj       projection
}

// Unit is the unit of a system's two horizontal coordinates. Heights are metres
// always.
type Unit struct {
	Name   string  // "degree", "metre", "foot", "US survey foot"
	Metres float64 // length in metres; 0 for degrees
	epsg   int
}

// The US survey foot is 1200/3937 m exactly. It is 2 ppm longer than the
// international foot: 1.2 m at a false easting of 2,000,000 ft.
var (
	degrees      = Unit{Name: "degree", epsg: 9122}
	metre        = Unit{Name: "metre", Metres: 1, epsg: 9001}
	foot         = Unit{Name: "foot", Metres: 0.3048, epsg: 9002}
	usSurveyFoot = Unit{Name: "US survey foot", Metres: 1200. / 3937, epsg: 9003}
)

// Area is the area of use of a system: a box in degrees. West is greater than
// East where it crosses the date line.
type Area struct {
	Name                     string
	West, South, East, North float64
}

// Contains reports whether a place lies in the area.
func (a Area) Contains(g Geo) bool {
	lon := wrapDegrees(g.Lon)
	within := lon >= a.West && lon <= a.East
	if a.West > a.East {
		within = lon >= a.West || lon <= a.East
	}
	return within && g.Lat >= a.South && g.Lat <= a.North
}

// Code is the EPSG code.
func (c *CRS) Code() int { return c.code }

// Name is the name in the EPSG dataset, such as "ETRS89 / UTM zone 32N".
func (c *CRS) Name() string { return c.name }

// String is "EPSG:25832 (ETRS89 / UTM zone 32N)".
func (c *CRS) String() string { return fmt.Sprintf("EPSG:%d (%s)", c.code, c.name) }

// IsProjected reports whether coordinates are east and north on a map grid
// rather than longitude and latitude.
func (c *CRS) IsProjected() bool { return c.grid != nil }

// Frame is the reference frame. National realizations of ETRS89 are taken for
// ETRF2000; Accuracy says how well that holds.
func (c *CRS) Frame() Frame { return c.base.frame }

// Datum is the name of the datum in the EPSG dataset.
func (c *CRS) Datum() string { return c.base.datum }

// Accuracy tells, m, how well the datum is what Frame says: 0 where it is that
// by definition, 0.05 to 0.1 for national realizations of a frame. It is an
// upper bound by common practice, from the spread between realizations; the
// EPSG dataset gives 0 to 0.1 m for the same null transformations.
func (c *CRS) Accuracy() float64 { return c.accuracy }

// Area is the area of use. Outside it a projection is exact still, but its
// scale is not what the grid's users expect, and the datum may not be in use.
func (c *CRS) Area() Area { return c.area }

// Unit is the unit of the horizontal coordinates.
func (c *CRS) Unit() Unit {
	if c.grid == nil {
		return degrees
	}
	return c.grid.unit
}

// AxisOrder tells which coordinate the EPSG dataset names first: "east, north",
// "north, east" or "latitude, longitude". Forward and Inverse have east (or
// longitude) first always, as GeoPackage, Shapefile, DXF and GeoJSON files do;
// field books, web services and some programs keep the official order.
func (c *CRS) AxisOrder() string {
	switch {
	case c.grid == nil:
		return "latitude, longitude"
	case c.grid.northFirst:
		return "north, east"
	}
	return "east, north"
}

// Forward gives the coordinates of a place in the system: x east, y north in
// Unit, or x longitude, y latitude for a geographic system. The place is given
// in a frame, as observed at an epoch (see Transform); both frames the same,
// the epoch does not matter. h is the height above the ellipsoid of the
// system's frame, m, NaN where the place has none; a national grid's own
// heights are above sea level and another matter.
//
// The projection is right within 1 µm in the area of use. Places are not held
// against that area (see Area). An error is given where Transform gives one and
// where the projection has no value.
func (c *CRS) Forward(g Geo, from Frame, epoch float64) (x, y, h float64, err error) {
	g, err = Transform(g, from, c.base.frame, epoch)
	if err != nil {
		return 0, 0, 0, fmt.Errorf("finding coordinates in EPSG:%d: %w", c.code, err)
	}
	h = g.H
	if g, err = c.toDatum(g); err != nil {
		return 0, 0, 0, fmt.Errorf("finding coordinates in %v: %w", c, err)
	}
	if c.grid == nil {
		return wrapDegrees(g.Lon), g.Lat, h, nil
	}
	e, n := c.grid.proj.forward(g.Lat, g.Lon)
	if math.IsNaN(e+n) || math.IsInf(e+n, 0) {
		return 0, 0, 0, fmt.Errorf("finding coordinates in %v: it shows no place at %.6f, %.6f", c, g.Lat, g.Lon)
	}
	return e / c.grid.unit.Metres, n / c.grid.unit.Metres, h, nil
}

// Inverse gives the place, in a frame, of coordinates in the system; see
// Forward for their meaning. Forward and Inverse agree within 1 µm in the area
// of use.
func (c *CRS) Inverse(x, y, h float64, to Frame, epoch float64) (Geo, error) {
	g := Geo{Lat: y, Lon: x, H: h}
	if c.grid != nil {
		g.Lat, g.Lon = c.grid.proj.inverse(x*c.grid.unit.Metres, y*c.grid.unit.Metres)
		if math.IsNaN(g.Lat + g.Lon) {
			return Geo{}, fmt.Errorf("finding the place of %v, %v: %v does not reach there", x, y, c)
		}
	}
	g, err := c.fromDatum(g)
	if err == nil {
		g, err = Transform(g, c.base.frame, to, epoch)
	}
	if err != nil {
		return Geo{}, fmt.Errorf("finding the place of %v, %v in EPSG:%d: %w", x, y, c.code, err)
	}
	return g, nil
}

// toDatum takes a place in the frame to the datum, by the grid where there is one.
func (c *CRS) toDatum(g Geo) (Geo, error) {
	if c.shift == nil {
		return c.base.toDatum(g), nil
	}
	return c.shift.Inverse(g)
}

func (c *CRS) fromDatum(g Geo) (Geo, error) {
	if c.shift == nil {
		return c.base.fromDatum(g), nil
	}
	return c.shift.Forward(g)
}

// Grid is the grid between the system's datum and its frame; nil for none.
func (c *CRS) Grid() *ShiftGrid { return c.shift }

// ParseCRS reads "EPSG:25832", "epsg:25832", a bare "25832" or
// "urn:ogc:def:crs:EPSG::25832".
func ParseCRS(s string) (*CRS, error) { return ParseCRSOn(s, nil) }

// ParseCRSOn is ParseCRS for a system whose datum a grid leads to; with a grid of
// nil it is ParseCRS.
func ParseCRSOn(s string, grid *ShiftGrid) (*CRS, error) {
	text := strings.ToUpper(strings.TrimSpace(s))
	for _, prefix := range []string{"URN:OGC:DEF:CRS:", "EPSG:", ":"} {
		text = strings.TrimPrefix(text, prefix)
	}
	code, err := strconv.Atoi(text)
	if err != nil || code <= 0 {
		return nil, fmt.Errorf("coordinate system %q is not an EPSG code such as EPSG:25832", s)
	}
	if grid != nil {
		return LookupCRSOn(code, grid)
	}
	return LookupCRS(code)
}
