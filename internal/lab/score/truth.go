package score

import (
	"math"
	"time"

	"tracemap/geodesy"
	"tracemap/internal/lab/otherdays"
	"tracemap/internal/lab/simulate"
)

// Truth is what an invented day was made from, as far as it is judged,
// whichever generator made it.
type Truth struct {
	Origin geodesy.Geo // of the plane of the lines' paths
	Lines  []*Line
	Rows   []Row // of the readings log, in its order: the first is the file's row 2
	Fixes  []Fix // as the receiver logged them
	// Steady says that the receiver kept one quality of fix and never jumped: all
	// jumps that are told of such a day are false.
	Steady bool
}

// A Line is a true line, of which the stations from Surveyed[0] to Surveyed[1]
// were located.
type Line struct {
	Path     simulate.Path
	Depth    func(station float64) float64 // of the centre, m
	Corners  []simulate.Corner
	Closed   bool
	Steps    []float64 // stations at which the current really steps
	Surveyed [2]float64
}

// A Row is the truth behind a row of the readings log.
type Row struct {
	Line    *Line // nil for a row that belongs to no line
	Feature string
	Station float64
	Time    time.Time // when it was taken, UTC
	Stamp   time.Time // what the locator wrote
	Lock    bool      // it was taken on a neighbour
}

// A Fix is a position as it was logged.
type Fix struct {
	Time time.Time
	At   geodesy.Geo
}

// Simulated returns the truth of a day of internal/lab/simulate.
func Simulated(d *simulate.Day) *Truth {
	at := func(t float64) time.Time { return d.Scenario.Start.Add(time.Duration(t * float64(time.Second))) }
	t := &Truth{Origin: d.Scenario.Origin, Steady: len(d.Spells) == 0}
	own := map[*simulate.Line]*Line{}
	for _, l := range d.Lines {
		if l.Method == "sonde" { // points, not a line
			continue
		}
		line := &Line{Path: l.Path, Depth: l.DepthAt, Corners: l.Corners, Closed: l.Closed, Surveyed: l.Surveyed}
		for _, s := range l.Steps {
			line.Steps = append(line.Steps, s.Station)
		}
		own[l] = line
		t.Lines = append(t.Lines, line)
	}
	for _, r := range d.Readings {
		t.Rows = append(t.Rows, Row{Line: own[r.Line], Feature: r.Feature, Station: r.Station, Time: at(r.Time), Stamp: d.Stamp(r), Lock: r.Lock})
	}
	for e := range d.Epochs() {
		if e.Logged && e.Quality != 0 {
			t.Fixes = append(t.Fixes, Fix{at(e.Time), e.Geo})
		}
	}
	return t
}

// Other returns the truth of a day of internal/lab/otherdays.
func Other(d *otherdays.Day) *Truth {
	first := d.Truth.Lines[0].Points[0]
	t := &Truth{Origin: geodesy.Geo{Lat: first.Lat, Lon: first.Lon, H: first.Ground}, Steady: d.Truth.Steady}
	here := geodesy.NewLocal(t.Origin)
	for _, l := range d.Truth.Lines {
		line := &Line{Steps: l.Steps, Surveyed: [2]float64{1e9, -1e9}}
		var depths []float64
		for i, p := range l.Points {
			at := here.Forward(geodesy.Geo{Lat: p.Lat, Lon: p.Lon, H: p.Ground})
			station := 0.0
			if i > 0 {
				station = line.Path.Stations[i-1] + at.Dist(line.Path.Points[i-1])
			}
			line.Path.Points, line.Path.Stations = append(line.Path.Points, at), append(line.Path.Stations, station)
			depths = append(depths, p.Depth)
		}
		line.Depth = (&simulate.Line{Path: line.Path, Depth: depths}).DepthAt
		line.Corners = corners(&line.Path)
		t.Lines = append(t.Lines, line)
	}
	for _, r := range d.Truth.Rows {
		l := t.Lines[r.Line]
		t.Rows = append(t.Rows, Row{Line: l, Feature: r.Feature, Station: r.Station, Time: r.Time, Stamp: r.Stamp, Lock: r.Locked})
		if r.Feature == "" && !r.Locked {
			l.Surveyed[0], l.Surveyed[1] = min(l.Surveyed[0], r.Station), max(l.Surveyed[1], r.Station)
		}
	}
	for _, f := range d.Truth.Fixes {
		t.Fixes = append(t.Fixes, Fix{f.Time, geodesy.Geo{Lat: f.Lat, Lon: f.Lon}})
	}
	return t
}

// corners finds the vertices at which a dense path turns by more than 15° at once.
func corners(p *simulate.Path) []simulate.Corner {
	var out []simulate.Corner
	for i := 1; i < len(p.Points)-1; i++ {
		a, b := p.Points[i].Sub(p.Points[i-1]), p.Points[i+1].Sub(p.Points[i])
		if turn := math.Atan2(a.Cross(b), a.Dot(b)) * 180 / math.Pi; math.Abs(turn) > 15 {
			out = append(out, simulate.Corner{Station: p.Stations[i], At: p.Points[i], Turn: turn})
		}
	}
	return out
}
