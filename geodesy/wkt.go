package geodesy

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// WKT1 gives the system as well-known text of OGC 01-009 in the form that GDAL
// and PROJ write, with EPSG codes; it is what a GeoPackage's
// gpkg_spatial_ref_sys.definition holds. Coordinates are meant east first. For
// three-dimensional systems, which this text cannot tell, it is that of the
// two-dimensional one.
func (c *CRS) WKT1() string {
	b := c.base
	geog := wktNode("GEOGCS", quote(b.name),
		wktNode("DATUM", quote(b.datumWKT1()),
			wktNode("SPHEROID", quote(b.ellipsoid.name), digits(b.ellipsoid.a), digits(b.ellipsoid.InverseFlattening()), authority(b.ellipsoidCode)),
			authority(b.datumCode)),
		wktNode("PRIMEM", `"Greenwich"`, "0", authority(8901)),
		unitWKT1(degrees), authority(b.code))
	if c.grid == nil {
		return geog
	}
	m := methodTexts[c.grid.method]
	parts := []string{quote(c.name), geog, wktNode("PROJECTION", quote(m.gdal))}
	for i, p := range m.params {
		parts = append(parts, wktNode("PARAMETER", quote(p.gdal), digits(c.grid.params[i])))
	}
	parts = append(parts, unitWKT1(c.grid.unit))
	if !c.grid.northFirst {
		parts = append(parts, `AXIS["Easting",EAST]`, `AXIS["Northing",NORTH]`)
	}
	return wktNode("PROJCS", append(parts, authority(c.code))...)
}

// WKTEsri gives the system as a Shapefile's .prj file holds it: Esri's dialect,
// its names and no codes.
func (c *CRS) WKTEsri() string {
	b := c.base
	geog := wktNode("GEOGCS", quote(orElse(b.esri, "GCS_"+underscored(b.name))),
		wktNode("DATUM", quote(b.datumEsri()),
			wktNode("SPHEROID", quote(b.ellipsoidEsri()), decimal(b.ellipsoid.a), decimal(b.ellipsoid.InverseFlattening()))),
		wktNode("PRIMEM", `"Greenwich"`, "0.0"),
		wktNode("UNIT", `"Degree"`, decimal(degree)))
	if c.grid == nil {
		return geog
	}
	g := c.grid
	m := methodTexts[g.method]
	parts := []string{quote(orElse(c.esri, underscored(c.name))), geog, wktNode("PROJECTION", quote(m.esri))}
	for _, name := range m.esriOrder {
		i := m.index(name)
		v := g.params[i]
		if name == "Azimuth" && v > 180 {
			v -= 360
		}
		parts = append(parts, wktNode("PARAMETER", quote(name), decimal(v)))
	}
	unit := map[int]string{metre.epsg: "Meter", foot.epsg: "Foot", usSurveyFoot.epsg: "Foot_US"}[g.unit.epsg]
	return wktNode("PROJCS", append(parts, wktNode("UNIT", quote(unit), decimal(g.unit.Metres)))...)
}

// WKT2 gives the system as well-known text of ISO 19162:2019 (OGC 18-010r7),
// with the official axis order and the area of use. Ensembles of datums (WGS 84,
// ETRS89) are written as one datum, which every reader takes.
func (c *CRS) WKT2() string {
	b := c.base
	datum := wktNode("DATUM", quote(strings.TrimSuffix(b.datum, " ensemble")),
		wktNode("ELLIPSOID", quote(b.ellipsoid.name), digits(b.ellipsoid.a), digits(b.ellipsoid.InverseFlattening()), lengthUnit(metre)))
	if b.refEpoch != "" {
		datum = wktNode("DYNAMIC", wktNode("FRAMEEPOCH", b.refEpoch)) + "," + datum
	}
	greenwich := wktNode("PRIMEM", `"Greenwich"`, "0", angleUnit)
	place := wktNode("USAGE", wktNode("SCOPE", `"Not known."`), wktNode("AREA", quote(c.area.Name)),
		wktNode("BBOX", digits(c.area.South), digits(c.area.West), digits(c.area.North), digits(c.area.East)))
	if c.grid == nil {
		axes := []string{wktNode("CS", "ellipsoidal", "2"),
			wktNode("AXIS", `"geodetic latitude (Lat)"`, "north", wktNode("ORDER", "1"), angleUnit),
			wktNode("AXIS", `"geodetic longitude (Lon)"`, "east", wktNode("ORDER", "2"), angleUnit)}
		if c.threeD {
			axes[0] = wktNode("CS", "ellipsoidal", "3")
			axes = append(axes, wktNode("AXIS", `"ellipsoidal height (h)"`, "up", wktNode("ORDER", "3"), lengthUnit(metre)))
		}
		return wktNode("GEOGCRS", quote(b.name), datum, greenwich, strings.Join(axes, ","), place, id(c.code))
	}
	g := c.grid
	m := methodTexts[g.method]
	conversion := []string{quote(g.conversion), wktNode("METHOD", quote(m.name), id(m.epsg))}
	for i, p := range m.params {
		conversion = append(conversion, wktNode("PARAMETER", quote(p.name), digits(g.params[i]), p.kind.unit(g.unit), id(p.epsg)))
	}
	axis := func(name, way string, order int) string {
		return wktNode("AXIS", quote(name), way, wktNode("ORDER", strconv.Itoa(order)), lengthUnit(g.unit))
	}
	axes := axis("easting (E)", "east", 1) + "," + axis("northing (N)", "north", 2)
	if g.northFirst {
		axes = axis("northing (N)", "north", 1) + "," + axis("easting (E)", "east", 2)
	}
	return wktNode("PROJCRS", quote(c.name),
		wktNode("BASEGEOGCRS", quote(b.name), datum, greenwich, id(b.code)),
		wktNode("CONVERSION", conversion...),
		wktNode("CS", "Cartesian", "2"), axes, place, id(c.code))
}

// datumWKT1 is the datum's name as the older text has it.
func (b geographic) datumWKT1() string {
	if b.frame == FrameWGS84 {
		return "WGS_1984"
	}
	return underscored(strings.TrimSuffix(b.datum, " ensemble"))
}

func (b geographic) datumEsri() string {
	return orElse(b.esriDatum, "D_"+underscored(b.datum))
}

func (b geographic) ellipsoidEsri() string {
	if b.ellipsoid.name == "WGS 84" {
		return "WGS_1984"
	}
	return underscored(b.ellipsoid.name)
}

const angleUnit = `ANGLEUNIT["degree",0.0174532925199433]`

func lengthUnit(u Unit) string { return wktNode("LENGTHUNIT", quote(u.Name), digits(u.Metres)) }

func unitWKT1(u Unit) string {
	size := u.Metres
	if size == 0 {
		size = degree
	}
	return wktNode("UNIT", quote(u.Name), digits(size), authority(u.epsg))
}

func authority(code int) string { return fmt.Sprintf(`AUTHORITY["EPSG","%d"]`, code) }
func id(code int) string        { return fmt.Sprintf(`ID["EPSG",%d]`, code) }
func quote(s string) string     { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }

func wktNode(keyword string, parts ...string) string {
	return keyword + "[" + strings.Join(parts, ",") + "]"
}

// digits writes a number with 15 significant digits, as the usual writers do.
func digits(v float64) string { return strconv.FormatFloat(v, 'g', 15, 64) }

// decimal is digits with a decimal point in it always.
func decimal(v float64) string {
	s := strconv.FormatFloat(roundDigits(v), 'f', -1, 64)
	if !strings.Contains(s, ".") {
		s += ".0"
	}
	return s
}

// roundDigits rounds to 15 significant digits.
func roundDigits(v float64) float64 {
	r, err := strconv.ParseFloat(digits(v), 64)
	if err != nil {
		return math.NaN()
	}
	return r
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// underscored turns all but letters, digits, + and - into single underscores.
func underscored(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '+' || r == '-':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "_"):
			b.WriteByte('_')
		}
	}
	return strings.TrimSuffix(b.String(), "_")
}
