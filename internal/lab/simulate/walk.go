package simulate

import (
	"math"
	"math/rand/v2"

	"tracemap/geodesy/plane"
)

// trackStep is the time between the samples of a track, s.
const trackStep = 0.1

// A Track is the way of the locator over the ground in one session of work.
type Track struct {
	Start   float64    // s since the scenario's start
	Points  []plane.Pt // every 0.1 s: under the locator
	Heading []float32  // azimuth that the operator faces, degrees, likewise
}

// End is the time of the last sample.
func (t *Track) End() float64 { return t.Start + float64(len(t.Points)-1)*trackStep }

// At is the place at a time within the session.
func (t *Track) At(at float64) plane.Pt {
	x := min(max((at-t.Start)/trackStep, 0), float64(len(t.Points)-1))
	i := min(int(x), len(t.Points)-2)
	return t.Points[i].Lerp(t.Points[i+1], x-float64(i))
}

// A walker moves the locator and writes the track.
type walker struct {
	track  Track
	rng    *rand.Rand
	at     plane.Pt // without the sway
	face   float64  // degrees
	sway   plane.Pt
	moving bool
}

// Common practice, no source: a person who stands still with a locator holds it
// within a centimetre, and one who walks sways a little more.
const (
	swayStanding = 0.007 // m, σ an axis
	swayWalking  = 0.012
	swayTime     = 1.0 // s, correlation
	turnTime     = 0.4 // s in which the body turns
)

func newWalker(start float64, at plane.Pt, rng *rand.Rand) *walker {
	w := &walker{track: Track{Start: start}, rng: rng, at: at}
	w.emit(at, 0)
	return w
}

// now is the time of the last sample.
func (w *walker) now() float64 { return w.track.End() }

func (w *walker) emit(at plane.Pt, face float64) {
	sigma := swayStanding
	if w.moving {
		sigma = swayWalking
	}
	phi := math.Exp(-trackStep / swayTime)
	in := sigma * math.Sqrt(1-phi*phi)
	w.sway = w.sway.Mul(phi).Add(plane.Pt{E: in * w.rng.NormFloat64(), N: in * w.rng.NormFloat64()})
	w.face += math.Remainder(face-w.face, 360) * (1 - math.Exp(-trackStep/turnTime))
	w.at = at
	w.track.Points = append(w.track.Points, at.Add(w.sway))
	w.track.Heading = append(w.track.Heading, float32(w.face))
}

// stand stays for some seconds.
func (w *walker) stand(seconds float64) {
	w.moving = false
	for range int(math.Round(seconds / trackStep)) {
		w.emit(w.at, w.face)
	}
}

// walk goes straight to a place, speeding up and slowing down at 1 m/s², facing
// the way it goes.
func (w *walker) walk(to plane.Pt, speed float64) { w.move(to, speed, math.NaN()) }

// swing moves the locator to a place while the body faces another way.
func (w *walker) swing(to plane.Pt, speed, face float64) { w.move(to, speed, face) }

func (w *walker) move(to plane.Pt, speed, face float64) {
	const accel = 1.0 // m/s²
	from, way := w.at, to.Sub(w.at)
	length := way.Len()
	if length < 1e-3 {
		return
	}
	if math.IsNaN(face) {
		face = azimuthOf(way)
	}
	speed = min(speed, math.Sqrt(length*accel))
	ramp := speed / accel
	total := length/speed + ramp
	w.moving = true
	for k := 1.0; ; k++ {
		t := k * trackStep
		if t >= total {
			w.emit(to, face)
			return
		}
		var s float64
		switch {
		case t < ramp:
			s = accel * t * t / 2
		case t < total-ramp:
			s = speed * (t - ramp/2)
		default:
			s = length - accel*(total-t)*(total-t)/2
		}
		w.emit(from.Add(way.Mul(s/length)), face)
	}
}

// follow walks along a line from one station to another without a halt, a
// distance aside that lateral gives; passed is called at each sample with the
// station reached. The pace varies by a tenth over some seconds.
func (w *walker) follow(p *Path, from, to, speed float64, lateral func(float64) float64, passed func(before, after, at float64)) {
	pace := newMarkov(8, w.rng)
	w.moving = true
	sense := math.Copysign(1, to-from)
	for s := from; s != to; {
		before := s
		s += sense * trackStep * speed * max(0.5, 1+0.1*pace.step(trackStep))
		if (to-s)*sense < 0 {
			s = to
		}
		along := p.Along(s)
		w.emit(p.At(s).Add(along.Left().Mul(lateral(s))), azimuthOf(along.Mul(sense)))
		passed(before, s, w.now())
	}
}

func azimuthOf(d plane.Pt) float64 { return math.Atan2(d.E, d.N) * 180 / math.Pi }
