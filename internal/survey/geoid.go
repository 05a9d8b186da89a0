package survey

import (
	"cmp"
	"math"
	"slices"
	"time"

	"tracemap/fuse"
	"tracemap/nmea"
	"tracemap/result"
)

// maxGeoidAge is how far in time the receiver's word on its geoid may lie from a
// reading. The separation changes by centimetres a kilometre and nobody locates
// faster than that.
const maxGeoidAge = time.Minute

// tellsGeoid reports whether the receiver told a geoid separation that can be
// one: 0 throughout is what it says that knows none.
func (d *Day) tellsGeoid() bool {
	return slices.ContainsFunc(d.NMEA.Epochs, func(e nmea.Epoch) bool { return e.Sep == e.Sep && e.Sep != 0 })
}

// geoid gives the receiver's own separations at readings, by their time, and at
// vertices, between the readings of their part; nil when it told none.
func (d *Day) geoid() *result.Geoid {
	if !d.geoidTold {
		return nil
	}
	g := &result.Geoid{Readings: make([]float64, len(d.Located.Readings)), Vertices: map[*fuse.Part][]float64{}}
	parts := map[partName][]separation{}
	for i := range d.Located.Readings {
		p := &d.Located.Readings[i]
		g.Readings[i] = math.NaN()
		if !p.OK {
			continue
		}
		g.Readings[i] = separationAt(d.NMEA.Epochs, p.UTC.UnixNano())
		if p.Part > 0 && !math.IsNaN(g.Readings[i]) {
			name := partName{p.LineID, p.Part}
			parts[name] = append(parts[name], separation{p.Station, g.Readings[i]})
		}
	}
	for i := range d.Located.Lines {
		line := &d.Located.Lines[i]
		for j := range line.Parts {
			part := &line.Parts[j]
			told := parts[partName{line.ID, part.Number}]
			slices.SortStableFunc(told, func(a, b separation) int { return cmp.Compare(a.station, b.station) })
			values := make([]float64, len(part.Vertices))
			for k := range part.Vertices {
				values[k] = separationOn(told, part.Vertices[k].Station)
			}
			g.Vertices[part] = values
		}
	}
	return g
}

type partName struct {
	line string
	part int
}

// A separation is what was told at a station of a part.
type separation struct{ station, metres float64 }

// separationAt is the separation told nearest in time, m.
func separationAt(epochs []nmea.Epoch, nanos int64) float64 {
	at, _ := slices.BinarySearchFunc(epochs, nanos, func(e nmea.Epoch, n int64) int { return cmp.Compare(e.Nanos, n) })
	best, age := math.NaN(), maxGeoidAge
	look := func(i, step int) {
		for ; i >= 0 && i < len(epochs); i += step {
			e := &epochs[i]
			away := time.Duration(e.Nanos - nanos).Abs()
			if away >= age {
				return
			}
			if e.Sep == e.Sep {
				best, age = float64(e.Sep), away
				return
			}
		}
	}
	look(at, 1)
	look(at-1, -1)
	return best
}

// separationOn interpolates between stations; beyond the ends the last one holds.
func separationOn(told []separation, station float64) float64 {
	at, _ := slices.BinarySearchFunc(told, station, func(s separation, x float64) int { return cmp.Compare(s.station, x) })
	switch {
	case len(told) == 0:
		return math.NaN()
	case at == 0:
		return told[0].metres
	case at == len(told):
		return told[at-1].metres
	}
	a, b := told[at-1], told[at]
	if b.station == a.station {
		return a.metres
	}
	return a.metres + (station-a.station)/(b.station-a.station)*(b.metres-a.metres)
}
