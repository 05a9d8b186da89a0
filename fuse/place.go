package fuse

import (
	"math"
	"slices"

	"tracemap/fuse/clock"
	"tracemap/fuse/noise"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/readings"
	"tracemap/remarks"
)

// place puts every reading on the ground: its time through the clock, the
// antenna from the track, down by the antenna's height and back by its lever
// arm. A reading without a position keeps the reason in its flags.
func place(tr *track.Track, rs []readings.Reading, cl *clock.Result, opt Options) []Placed {
	out := make([]Placed, len(rs))
	for i := range rs {
		r, own := &rs[i], cl.Of(i)
		p := &out[i]
		*p = Placed{Reading: r, Flags: r.Flags, Geo: unknownGeo(), SigmaH: math.NaN(), Station: math.NaN(), Offset: math.NaN(), Radius: math.NaN(), Chain: -1}
		if own == nil || !own.Narrow() {
			p.Flags |= remarks.ClockUncertain
		}
		if _, assumed := opt.Antenna(); assumed {
			p.Flags |= remarks.AntennaAssumed
		}
		if r.Time.IsZero() || own == nil {
			p.Flags |= remarks.TimeMissing
		} else {
			p.UTC = own.UTC(r.Time)
			p.T = tr.Seconds(p.UTC)
			s, ok := tr.At(p.T)
			p.Flags |= s.Flags
			if ok {
				fromTrack(tr, p, s, own, opt)
				continue
			}
		}
		fromOwnPosition(tr, p)
	}
	if opt.AntennaForward != 0 || opt.AntennaRight != 0 {
		takeOffLever(tr, out, opt)
	}
	return out
}

// takeOffLever moves the readings from under the antenna to under the locator.
// The operator faces along the line: from the reading before on the same line to
// the one after, as the antenna stood at them.
func takeOffLever(tr *track.Track, ps []Placed, opt Options) {
	order := make([]int, 0, len(ps))
	for i := range ps {
		if ps[i].OK && ps[i].Chain >= 0 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return compare(ps[a].T, ps[b].T) })
	antenna := make([]plane.Pt, len(order))
	for n, i := range order {
		antenna[n] = ps[i].At
	}
	near := func(n, m int) bool {
		if m < 0 || m >= len(order) {
			return false
		}
		a, b := &ps[order[n]], &ps[order[m]]
		return math.Abs(a.T-b.T) < faceTime && nameKey(a.Reading.Line) == nameKey(b.Reading.Line)
	}
	for n, i := range order {
		p := &ps[i]
		from, to := antenna[n], antenna[n]
		if near(n, n-1) {
			from = antenna[n-1]
		}
		if near(n, n+1) {
			to = antenna[n+1]
		}
		ahead := to.Sub(from)
		if ahead.Len() < 0.5 {
			ahead = heading(tr, p.T, p.Velocity)
		}
		ahead = ahead.Unit()
		p.At = p.At.Sub(ahead.Mul(opt.AntennaForward)).Add(ahead.Left().Mul(opt.AntennaRight))
		h := p.Geo.H
		p.Geo = tr.Plane.Inverse(p.At)
		p.Geo.H = h
		// A few degrees of turning the body, common practice, no source.
		p.QuickVar += sq(faceSigma) * (sq(opt.AntennaForward) + sq(opt.AntennaRight))
	}
}

const (
	faceTime  = 60.0 // s between readings that tell where the operator faced
	faceSigma = 0.15 // rad, one σ of that direction
)

func unknownGeo() geodesy.Geo {
	return geodesy.Geo{Lat: math.NaN(), Lon: math.NaN(), H: math.NaN()}
}

func fromTrack(tr *track.Track, p *Placed, s track.State, cl *clock.Result, opt Options) {
	p.OK = true
	p.Quality = s.Quality
	p.Velocity = s.Velocity
	p.Chain = s.Chain
	p.At = s.At
	p.Geo = tr.Plane.Inverse(p.At)
	height, assumed := opt.Antenna()
	p.Geo.H = s.H - height
	if p.Slide = cl.Sigma; cl.Narrow() {
		p.Slide = 0
		p.ClockShift = clockShift(tr, p.T, s, cl.Sigma)
	}
	tilt := noise.TiltSigma * height
	p.QuickVar = s.QuickVar + tilt*tilt
	if opt.TimeStep > 0 {
		// Half of the step, not its standard deviation: what all readings have in
		// common of it shows only where the clock was estimated. In which direction
		// the line runs is not known yet.
		p.QuickVar += sq(clockShift(tr, p.T, s, opt.TimeStep/2).Len())
	}
	p.SlowE, p.SlowN, p.SlowEN = s.Slow.EE, s.Slow.NN, s.Slow.EN
	p.SigmaH = s.SigmaH
	if assumed {
		p.SigmaH = math.Hypot(p.SigmaH, assumedHeightSigma)
	}
}

// clockShift is by how much a clock error of one σ displaces a reading: its way
// in that time, averaged over both signs.
func clockShift(tr *track.Track, t float64, s track.State, sigma float64) plane.Pt {
	early, ok1 := tr.At(t - sigma)
	late, ok2 := tr.At(t + sigma)
	switch {
	case ok1 && ok2:
		return late.At.Sub(early.At).Mul(0.5)
	case ok1:
		return s.At.Sub(early.At)
	case ok2:
		return late.At.Sub(s.At)
	}
	return s.Velocity.Mul(sigma)
}

// AssumedAntennaHeight is the antenna's height above the ground, m, where nobody
// measured it: a pole with the tip on the ground. Common practice, no source.
const AssumedAntennaHeight = 2.0

// assumedHeightSigma is how far, m, an assumed antenna height may be off.
const assumedHeightSigma = 0.15

// heading is the direction in which the operator walks at t, and faces: that of
// the shortest time about t in which the antenna got on by more than a step
// without wandering about. A sweep across the line goes to and fro; it turns the
// motion, not the operator.
func heading(tr *track.Track, t float64, velocity plane.Pt) plane.Pt {
	for _, half := range []float64{1.5, 3, 5, 8, 12, 20, 30} {
		before, ok1 := tr.At(t - half)
		after, ok2 := tr.At(t + half)
		if !ok1 || !ok2 {
			break
		}
		on := after.At.Sub(before.At)
		if on.Len() < 1.5 {
			continue
		}
		way := 0.0
		last := before.At
		for u := -half; u <= half; u += 0.5 {
			if m, ok := tr.At(t + u); ok {
				way += m.At.Dist(last)
				last = m.At
			}
		}
		if on.Len() > straightWalk*way {
			return on.Unit()
		}
	}
	// Nothing but sweeps: the widest look there is.
	before, ok1 := tr.At(t - 20)
	after, ok2 := tr.At(t + 20)
	if on := after.At.Sub(before.At); ok1 && ok2 && on.Len() > 1 {
		return on.Unit()
	}
	return velocity.Unit()
}

// straightWalk is the share of the way that gets on, from which a walk counts as
// straight.
const straightWalk = 0.8

// fromOwnPosition uses the position that the locator logged itself, where the
// receiver's log has none.
func fromOwnPosition(tr *track.Track, p *Placed) {
	r := p.Reading
	if math.IsNaN(r.Lat) || math.IsNaN(r.Lon) || r.Flags.Has(remarks.OwnPositionFar) {
		return
	}
	p.OK = true
	p.Quality = ownQuality(r.Fix)
	p.Flags |= track.FlagsOf(p.Quality)
	p.At = tr.Plane.Forward(geodesy.Geo{Lat: r.Lat, Lon: r.Lon})
	p.Geo = geodesy.Geo{Lat: r.Lat, Lon: r.Lon, H: math.NaN()}
	e := nmea.Epoch{Quality: p.Quality, HDOP: float32(r.HDOP), SigmaN: float32(math.NaN())}
	h, _ := noise.Of(&e)
	p.SlowE, p.SlowN = h.EE, h.NN
	p.QuickVar = 0.1 * h.Mean()
}

// ownQuality reads the fix that a locator logged with its own position.
func ownQuality(text string) nmea.Quality {
	if gga, known := readings.FixQuality(text); known && gga >= 1 && gga <= 6 {
		return nmea.Quality(gga) // these are GGA's figures
	}
	return nmea.QualityUnknown
}
