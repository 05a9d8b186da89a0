package survey

import (
	"fmt"
	"math"
	"slices"

	"tracemap/fuse/clock"
	"tracemap/fuse/noise"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/present"
	"tracemap/readings"
	"tracemap/remarks"
)

// ownTolerance is how far, m, a reading's own position may lie from the track
// beyond three σ before it is taken for wrong; ownReach how far from any place of
// the track where the two have no time in common: a crew goes on while the
// receiver is silent. Choices.
const (
	ownTolerance = 30.0
	ownReach     = 2000.0
)

// fewestCompared positions are enough to judge all of a log by their median.
const fewestCompared = 3

// checkReach gives up own positions that lie far from all of the track, before
// they can tell anything about the clock.
func (d *Day) checkReach() {
	from, to := d.Track.Span()
	const most = 2000
	step := max(1, (to-from)/most)
	way := slices.DeleteFunc(d.Track.Sample(from, step, int((to-from)/step)+1), func(p plane.Pt) bool { return math.IsNaN(p.E) })
	within := func(at geodesy.Geo) bool {
		p := d.Track.Plane.Forward(at)
		return slices.ContainsFunc(way, func(q plane.Pt) bool { return p.Dist(q) <= ownReach })
	}
	var far []int
	for i := range d.Readings.Readings {
		if r := &d.Readings.Readings[i]; hasOwn(r) && len(way) > 0 && !within(geodesy.Geo{Lat: r.Lat, Lon: r.Lon}) {
			far = append(far, i)
		}
	}
	d.giveUpOwn(far, fmt.Sprintf("more than %.0f km from the receiver's track", ownReach/1000), func(at geodesy.Geo, _ int) bool { return within(at) })
}

// checkOwn holds own positions against the track at their time. Where most of
// them disagree, none is used.
func (d *Day) checkOwn() {
	var off []float64
	var all []int
	for i := range d.Readings.Readings {
		r := &d.Readings.Readings[i]
		if !hasOwn(r) || r.Flags.Has(remarks.OwnPositionFar) {
			continue
		}
		all = append(all, i)
		if v, ok := d.ownDistance(geodesy.Geo{Lat: r.Lat, Lon: r.Lon}, i); ok {
			off = append(off, v)
		}
	}
	if len(off) < fewestCompared {
		return
	}
	slices.Sort(off)
	if median := off[len(off)/2]; median > 0 {
		d.giveUpOwn(all, fmt.Sprintf("%.0f m from the receiver's track at the time of their readings (median beyond three σ)", median+ownTolerance),
			func(at geodesy.Geo, i int) bool { v, ok := d.ownDistance(at, i); return ok && v <= 0 })
	}
}

// ownDistance is by how much a position lies further from the track at the
// reading's time than the tolerance and three σ allow; not ok where the track has
// no place then.
func (d *Day) ownDistance(at geodesy.Geo, reading int) (beyond float64, ok bool) {
	r, cl := &d.Readings.Readings[reading], d.Clock.Of(reading)
	if r.Time.IsZero() || cl == nil {
		return 0, false
	}
	s, ok := d.Track.At(d.Track.Seconds(cl.UTC(r.Time)))
	if !ok {
		return 0, false
	}
	e := ownEpoch(r)
	h, _ := noise.Of(&e)
	sigma := math.Sqrt(h.Mean() + s.Slow.Mean() + s.QuickVar)
	if !cl.Determined && !math.IsNaN(cl.Sigma) {
		sigma += s.Velocity.Len() * cl.Sigma
	}
	return d.Track.Plane.Forward(at).Dist(s.At) - ownTolerance - 3*sigma, true
}

// giveUpOwn flags positions so that nothing uses them, and says in a warning what
// would bring most of them to the track, where something simple does.
func (d *Day) giveUpOwn(which []int, where string, fits func(geodesy.Geo, int) bool) {
	if len(which) == 0 {
		return
	}
	guess := ""
	for _, m := range mixUps {
		n := 0
		for _, i := range which {
			r := &d.Readings.Readings[i]
			if at := m.undo(geodesy.Geo{Lat: r.Lat, Lon: r.Lon}); math.Abs(at.Lat) <= 90 && fits(at, i) {
				n++
			}
		}
		if 10*n >= 9*len(which) {
			guess = ": " + m.what
			break
		}
	}
	for _, i := range which {
		d.Readings.Readings[i].Flags |= remarks.OwnPositionFar
	}
	d.note("%s %s, not used%s", present.Count(len(which), "position in the readings log lies", "positions in the readings log lie"), where, guess)
}

// mixUps are what people and exports do to coordinates.
var mixUps = []struct {
	what string
	undo func(geodesy.Geo) geodesy.Geo
}{
	{"latitude and longitude look swapped", func(g geodesy.Geo) geodesy.Geo { return geodesy.Geo{Lat: g.Lon, Lon: g.Lat} }},
	{"the longitude looks to have the wrong sign (east is positive)", func(g geodesy.Geo) geodesy.Geo { return geodesy.Geo{Lat: g.Lat, Lon: -g.Lon} }},
	{"the latitude looks to have the wrong sign (north is positive)", func(g geodesy.Geo) geodesy.Geo { return geodesy.Geo{Lat: -g.Lat, Lon: g.Lon} }},
	{"latitude and longitude look to have the wrong signs", func(g geodesy.Geo) geodesy.Geo { return geodesy.Geo{Lat: -g.Lat, Lon: -g.Lon} }},
	{"latitude and longitude look swapped, and the sign of one wrong", func(g geodesy.Geo) geodesy.Geo { return geodesy.Geo{Lat: g.Lon, Lon: -g.Lat} }},
	{"latitude and longitude look swapped, and the sign of one wrong", func(g geodesy.Geo) geodesy.Geo { return geodesy.Geo{Lat: -g.Lon, Lon: g.Lat} }},
}

func hasOwn(r *readings.Reading) bool { return !math.IsNaN(r.Lat) && !math.IsNaN(r.Lon) }

// hasOwnPositions reports whether any reading knows where it was taken.
func (d *Day) hasOwnPositions() bool {
	return d.Readings != nil && slices.ContainsFunc(d.Readings.Readings, func(r readings.Reading) bool { return hasOwn(&r) })
}

// ownEpoch is a reading's own position as a receiver's.
func ownEpoch(r *readings.Reading) nmea.Epoch {
	nan := float32(math.NaN())
	e := nmea.Epoch{Lat: r.Lat, Lon: r.Lon, Alt: math.NaN(), Sep: nan, SigmaN: nan, SigmaE: nan, SigmaU: nan, HDOP: float32(r.HDOP), VDOP: nan,
		Age: nan, Speed: nan, Course: nan, Heading: nan, Quality: nmea.QualityUnknown}
	if gga, known := readings.FixQuality(r.Fix); known && gga >= 1 && gga <= 6 {
		e.Quality = nmea.Quality(gga)
	}
	if !r.Time.IsZero() {
		e.Nanos = r.Time.UnixNano()
	}
	return e
}

// onOwnPositions reports whether the day has no receiver's log, and the readings
// know themselves where they were taken.
func (d *Day) onOwnPositions() bool { return len(d.inputs.receiver()) == 0 }

// takeOwn makes the receiver's log out of the readings' own positions, for what
// is counted and for the frame; the track stays empty, so that each reading is
// placed where it says.
func (d *Day) takeOwn() error {
	log := &nmea.Log{Stats: nmea.Stats{Sentences: map[string]int{}, Fix: map[string]int{}, Other: map[string]nmea.Other{}},
		Files: []nmea.File{{Name: d.inputs.FirstReadings()}}}
	for i := range d.Readings.Readings {
		if r := &d.Readings.Readings[i]; hasOwn(r) {
			e := ownEpoch(r)
			log.Epochs = append(log.Epochs, e)
			log.Stats.Fix[e.Quality.String()]++
			if t := e.UTC(); e.Nanos != 0 && (log.Stats.From.IsZero() || t.Before(log.Stats.From)) {
				log.Stats.From = t
			} else if e.Nanos != 0 && t.After(log.Stats.To) {
				log.Stats.To = t
			}
		}
	}
	if len(log.Epochs) == 0 {
		return refuse(ErrNoSentence, "no receiver's log, and no positions in the readings: %s; give the NMEA log of the same day, or readings with lat and lon", d.inputs.found())
	}
	if log.Stats.To.IsZero() {
		log.Stats.To = log.Stats.From
	}
	log.Stats.Epochs = len(log.Epochs)
	log.DateUnknown = log.Stats.From.IsZero()
	slices.SortStableFunc(log.Epochs, func(a, b nmea.Epoch) int { return int(max(-1, min(1, a.Nanos-b.Nanos))) })
	d.NMEA = log
	d.note("no receiver's log: lines rest on the positions in the readings log, whose σ is taken from the kind of fix and HDOP")
	if n := log.Stats.Fix[nmea.QualityUnknown.String()]; n > 0 {
		d.note("%s of which kind is not said (column fix): taken as good to some metres", present.Count(n, "position", "positions"))
	}
	return d.moveOwn()
}

// moveOwn brings the readings' positions into the map's frame.
func (d *Day) moveOwn() error {
	if d.opt.Frame == "" {
		return nil
	}
	from, err := geodesy.ParseFrame(d.opt.Frame)
	if err != nil || from == mapFrame || from.Alone() {
		return err
	}
	epoch := year(d.NMEA.Stats.From)
	if d.NMEA.DateUnknown {
		return refuse(ErrNoFix, "positions in %s cannot be brought into the map's frame without a date: give the readings a time", d.opt.Frame)
	}
	for i := range d.Readings.Readings {
		r := &d.Readings.Readings[i]
		if !hasOwn(r) {
			continue
		}
		moved, err := geodesy.Transform(geodesy.Geo{Lat: r.Lat, Lon: r.Lon}, from, mapFrame, epoch)
		if err != nil {
			return fmt.Errorf("%s line %d: %w", r.File, r.Row, err)
		}
		r.Lat, r.Lon = moved.Lat, moved.Lon
	}
	return nil
}

// ownTrack is a track without a place, about the middle of the readings, and the
// clock that needs none.
func (d *Day) ownTrack() {
	var lat, lon []float64
	e := d.NMEA.Epochs
	for i := range e {
		lat = append(lat, e[i].Lat)
		lon = append(lon, math.Remainder(e[i].Lon-e[0].Lon, 360))
	}
	slices.Sort(lat)
	slices.Sort(lon)
	origin := geodesy.Geo{Lat: lat[len(lat)/2], Lon: math.Remainder(lon[len(lon)/2]+e[0].Lon, 360)}
	d.Track = track.Empty(origin, d.NMEA.Stats.From)
	d.Clock = &clock.Result{Ref: d.NMEA.Stats.From, Method: "positions", State: clock.Known, Determined: true, RunnerUp: math.NaN()}
	d.opt.Fuse.AntennaHeight, _ = d.opt.Fuse.Antenna() // the positions are the readings' own
}
