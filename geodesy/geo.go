// Package geodesy holds the ellipsoid, a local map plane, map projections and
// reference frames. Angles are degrees, lengths metres, heights ellipsoidal.
package geodesy

// Geo is a place on or near the earth in geodetic coordinates.
type Geo struct {
	Lat, Lon float64 // degrees, north and east positive
	H        float64 // ellipsoidal height, m; NaN where unknown
}
