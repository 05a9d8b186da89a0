package geodesy

import (
	"math"

	"tracemap/geodesy/plane"
)

// A Walk projects the places of a walk onto a Local one after the other, several
// times as fast as Local.Forward. Where it stays near a place it goes by a quadratic
// in latitude and longitude about that place, which differs from the projection by
// less than 0.1 µm. It is for one goroutine.
type Walk struct {
	local  *Local
	middle Geo // of the quadratic; NaN before there is one
	last   Geo // place that the quadratic did not reach
	e, n   quadratic
}

// walkReach, degrees, is how far from its middle a quadratic serves: 22 m along a
// meridian, where the first term left out is below 1e-8 m.
const walkReach = 2e-4

// Walk begins a walk.
func (l *Local) Walk() *Walk {
	nowhere := Geo{Lat: math.NaN(), Lon: math.NaN()}
	return &Walk{local: l, middle: nowhere, last: nowhere}
}

// Forward is that of the Local.
func (w *Walk) Forward(g Geo) plane.Pt {
	if within(g, w.middle) {
		lat, lon := g.Lat-w.middle.Lat, g.Lon-w.middle.Lon
		return plane.Pt{E: w.e.at(lat, lon), N: w.n.at(lat, lon)}
	}
	// A quadratic is laid where the walk stays, not where it leaps, and not over a pole.
	if within(g, w.last) && math.Abs(g.Lat) < 90-walkReach {
		w.lay(g)
	}
	w.last = g
	return w.local.Forward(g)
}

func within(g, middle Geo) bool {
	return math.Abs(g.Lat-middle.Lat) <= walkReach && math.Abs(g.Lon-middle.Lon) <= walkReach
}

// lay fits both quadratics to seven places.
func (w *Walk) lay(middle Geo) {
	at := func(lat, lon float64) plane.Pt {
		return w.local.Forward(Geo{Lat: middle.Lat + lat*walkReach, Lon: middle.Lon + lon*walkReach})
	}
	o := at(0, 0)
	north, south, east, west := at(1, 0), at(-1, 0), at(0, 1), at(0, -1)
	across, back := at(1, 1), at(-1, -1)
	w.middle = middle
	w.e = quadraticOf(o.E, north.E, south.E, east.E, west.E, across.E, back.E)
	w.n = quadraticOf(o.N, north.N, south.N, east.N, west.N, across.N, back.N)
}

// A quadratic in latitude and longitude from a middle, degrees.
type quadratic struct{ c, lat, lon, lat2, lon2, both float64 }

func (q *quadratic) at(lat, lon float64) float64 {
	return q.c + lat*(q.lat+lat*q.lat2+lon*q.both) + lon*(q.lon+lon*q.lon2)
}

// quadraticOf is the one through values at its middle, one reach to either side, and
// at two corners.
func quadraticOf(o, north, south, east, west, across, back float64) quadratic {
	const d = walkReach
	return quadratic{
		c:    o,
		lat:  (north - south) / (2 * d),
		lon:  (east - west) / (2 * d),
		lat2: (north - 2*o + south) / (2 * d * d),
		lon2: (east - 2*o + west) / (2 * d * d),
		both: (across - north - east + 2*o - south - west + back) / (2 * d * d),
	}
}
