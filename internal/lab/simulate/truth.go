package simulate

import (
	"encoding/json"
	"io"
	"math"
	"time"

	"tracemap/geodesy"
)

// jsonTruth is the shape of the truth file.
type jsonTruth struct {
	Scenario string       `json:"scenario"`
	Seed     uint64       `json:"seed"`
	Origin   [3]float64   `json:"origin"` // longitude, latitude, ellipsoidal height
	Start    string       `json:"start"`
	Clock    jsonClock    `json:"clock"`
	Second   *jsonClock   `json:"second_clock,omitempty"` // of a second locator
	Mount    jsonMount    `json:"mount"`
	Lines    []jsonLine   `json:"lines"`
	Readings []jsonRead   `json:"readings"`
	Spells   []jsonSpell  `json:"spells"`
	Track    []jsonTrack  `json:"track"`
	NMEA     Tally        `json:"nmea"`
	Record   []Difference `json:"record_differences"`
}

type jsonClock struct {
	Offset float64 `json:"offset_s"`
	Drift  float64 `json:"drift_ppm"`
	Step   float64 `json:"resolution_s"`
	Cut    bool    `json:"cut"`
}

type jsonMount struct {
	Height  float64 `json:"height_m"`
	Forward float64 `json:"forward_m"`
	Right   float64 `json:"right_m"`
}

type jsonLine struct {
	ID       string       `json:"id"`
	Utility  string       `json:"utility"`
	Closed   bool         `json:"closed"`
	Diameter float64      `json:"diameter_m"`
	Surveyed Range        `json:"surveyed_m"` // stations of the first and the last reading
	Points   [][4]float64 `json:"points"`     // longitude, latitude, depth, station
	Corners  []jsonCorner `json:"corners"`
	Steps    []jsonStep   `json:"current_steps"`
	Distort  []jsonDirty  `json:"distorted"`
}

type jsonCorner struct {
	Station float64 `json:"station_m"`
	Lon     float64 `json:"lon"`
	Lat     float64 `json:"lat"`
	Turn    float64 `json:"turn_deg"`
}

type jsonStep struct {
	Station float64 `json:"station_m"`
	Factor  float64 `json:"factor"`
	Branch  string  `json:"branch"`
}

type jsonDirty struct {
	From   float64 `json:"from_m"`
	To     float64 `json:"to_m"`
	Offset float64 `json:"offset_m"`
	Depth  float64 `json:"depth_m"`
	Share  float64 `json:"share"`
}

type jsonRead struct {
	Row       int      `json:"row"` // line of the readings log; the header is line 1
	UTC       string   `json:"utc"`
	Line      string   `json:"line"`
	Feature   string   `json:"feature,omitempty"`
	Pass      int      `json:"pass"`
	Station   float64  `json:"station_m"`
	Lon       float64  `json:"lon"` // of the line at that station
	Lat       float64  `json:"lat"`
	AtLon     float64  `json:"locator_lon"`
	AtLat     float64  `json:"locator_lat"`
	Depth     *float64 `json:"depth_m"`
	Current   *float64 `json:"current_ma"`
	Lock      bool     `json:"neighbour_lock,omitempty"`
	Distorted bool     `json:"distorted,omitempty"`
}

type jsonSpell struct {
	Fault   string     `json:"fault"`
	From    string     `json:"from"`
	To      string     `json:"to"`
	Quality int        `json:"quality,omitempty"`
	Offset  [3]float64 `json:"offset_m"`
}

type jsonTrack struct {
	From   string       `json:"from"`
	Points [][3]float64 `json:"points"` // longitude, latitude, s since from; one a second
}

// WriteTruth writes what was really there as JSON: lines with depth and
// station, readings, clock, faults, and what the record says wrongly.
func (d *Day) WriteTruth(w io.Writer) error {
	tally, err := d.WriteNMEA(io.Discard)
	if err != nil {
		return err
	}
	p := geodesy.NewLocal(d.Scenario.Origin)
	o, c, m := d.Scenario.Origin, d.Scenario.Clock, d.Scenario.Mount
	t := jsonTruth{
		Scenario: d.Scenario.Name, Seed: d.Scenario.Seed,
		Origin: [3]float64{o.Lon, o.Lat, o.H}, Start: instant(d.Scenario.Start),
		Clock: jsonClock(c), Second: (*jsonClock)(d.Scenario.Second),
		Mount: jsonMount{m.Height, m.Forward, m.Right},
		NMEA:  tally, Record: d.Differences, Spells: []jsonSpell{},
	}
	for _, l := range d.Lines {
		t.Lines = append(t.Lines, l.json(p))
	}
	for i, r := range d.Readings {
		t.Readings = append(t.Readings, d.jsonRead(p, i, r))
	}
	for _, s := range d.Spells {
		t.Spells = append(t.Spells, jsonSpell{s.Fault.String(), instant(d.utc(s.From)), instant(d.utc(s.To)), s.Quality, s.Offset})
	}
	for i := range d.Tracks {
		t.Track = append(t.Track, d.jsonTrack(p, &d.Tracks[i]))
	}
	return json.NewEncoder(w).Encode(t)
}

func instant(t time.Time) string { return t.Format("2006-01-02T15:04:05.000Z07:00") }

// round keeps so many decimals: the truth file stays short and the same on
// every machine.
func round(v float64, decimals int) float64 {
	k := math.Pow10(decimals)
	return math.Round(v*k) / k
}

func (l *Line) json(p *geodesy.Local) jsonLine {
	out := jsonLine{
		ID: l.ID, Utility: l.Utility, Closed: l.Closed, Diameter: l.Diameter,
		Surveyed: Range{round(l.Surveyed[0], 3), round(l.Surveyed[1], 3)},
		Corners:  []jsonCorner{}, Steps: []jsonStep{}, Distort: []jsonDirty{},
	}
	for i, q := range l.Path.Points {
		g := p.Inverse(q)
		out.Points = append(out.Points, [4]float64{round(g.Lon, 9), round(g.Lat, 9), round(l.Depth[i], 4), round(l.Path.Stations[i], 4)})
	}
	for _, c := range l.Corners {
		g := p.Inverse(c.At)
		out.Corners = append(out.Corners, jsonCorner{round(c.Station, 4), round(g.Lon, 9), round(g.Lat, 9), c.Turn})
	}
	for _, s := range l.Steps {
		out.Steps = append(out.Steps, jsonStep{round(s.Station, 3), round(s.Factor, 4), s.Branch})
	}
	for _, s := range l.Stretches {
		out.Distort = append(out.Distort, jsonDirty{round(s.From, 3), round(s.To, 3), round(s.Offset, 3), round(s.Depth, 3), round(s.Share, 3)})
	}
	return out
}

func (d *Day) jsonRead(p *geodesy.Local, i int, r *Reading) jsonRead {
	g, at := p.Inverse(r.True), p.Inverse(r.At)
	out := jsonRead{
		Row: i + 2, UTC: instant(d.utc(r.Time)), Feature: r.Feature, Pass: r.Pass,
		Station: round(r.Station, 4),
		Lon:     round(g.Lon, 9), Lat: round(g.Lat, 9), AtLon: round(at.Lon, 9), AtLat: round(at.Lat, 9),
		Lock: r.Lock, Distorted: r.Distorted,
	}
	if r.Line != nil {
		depth, current := round(r.Depth, 4), round(r.Current, 2)
		out.Line, out.Depth, out.Current = r.Line.ID, &depth, &current
	}
	return out
}

func (d *Day) jsonTrack(p *geodesy.Local, t *Track) jsonTrack {
	out := jsonTrack{From: instant(d.utc(t.Start))}
	const every = 10 // samples
	for k := 0; k < len(t.Points); k += every {
		g := p.Inverse(t.Points[k])
		out.Points = append(out.Points, [3]float64{round(g.Lon, 9), round(g.Lat, 9), float64(k / every)})
	}
	return out
}
