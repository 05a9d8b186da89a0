package geodesy

import "math"

// webMercatorCode is EPSG:3857, in which most of the web's maps are.
const webMercatorCode = 3857

// webMercator is EPSG method 1024, Popular Visualisation Pseudo-Mercator: the
// sphere's Mercator projection of latitudes that are the ellipsoid's.
type webMercator struct{ radius float64 }

func (m webMercator) forward(lat, lon float64) (east, north float64) {
	return m.radius * wrapDegrees(lon) * degree, m.radius * math.Asinh(math.Tan(lat*degree))
}

func (m webMercator) inverse(east, north float64) (lat, lon float64) {
	return math.Atan(math.Sinh(north/m.radius)) / degree, wrapDegrees(east / m.radius / degree)
}

func webMercatorCRS(base geographic) *CRS {
	return &CRS{code: webMercatorCode, name: "WGS 84 / Pseudo-Mercator", base: base, esri: "WGS_1984_Web_Mercator_Auxiliary_Sphere",
		area: Area{Name: "World between 85.06°S and 85.06°N", West: -180, South: -85.06, East: 180, North: 85.06},
		grid: &grid{conversion: "Popular Visualisation Pseudo-Mercator", method: "webmerc", unit: metre, proj: webMercator{base.ellipsoid.a}}}
}

// Distorts reports whether lengths on the grid are far from those on the ground:
// in EPSG:3857, by 1/cos(latitude). Files in it can be read; none is written.
func (c *CRS) Distorts() bool { return c.code == webMercatorCode }
