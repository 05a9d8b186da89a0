package clock_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/readings"
)

// Walks are days without a halt, made here from the ground up and not by the
// generator that accuracy is measured with: a plan of lines, a walk along them, the
// receiver's epochs, and a log of readings on a clock of its own.

// A walkKind is a way of going about the lines of a site.
type walkKind struct {
	name    string
	lines   func(*rand.Rand) []ground
	returns float64 // share of the lines that are walked back as well
	pauses  float64 // chance per reading of standing about for 10–120 s
	zone    bool    // the clock may be set to another zone or day
}

// A ground is a line that lies there, with the name the crew gives it.
type ground struct {
	name string
	path plane.Polyline
}

var walkKinds = []walkKind{
	{name: "apart", lines: apartLines},
	{name: "street", lines: streetLines},
	{name: "street under one name", lines: func(r *rand.Rand) []ground { return renamed(streetLines(r), "E") }},
	{name: "street without names", lines: func(r *rand.Rand) []ground { return renamed(streetLines(r), "") }},
	{name: "crossings", lines: crossingLines},
	{name: "crossings under one name", lines: func(r *rand.Rand) []ground { return renamed(crossingLines(r), "E") }},
	{name: "loops", lines: loopLines},
	{name: "curves", lines: curveLines},
	{name: "pauses", lines: apartLines, pauses: 0.03},
	{name: "street with pauses", lines: streetLines, pauses: 0.02},
	{name: "return", lines: apartLines, returns: 1},
	{name: "some return", lines: curveLines, returns: 0.4},
	{name: "street, some return", lines: streetLines, returns: 0.4},
	{name: "return, wrong zone", lines: apartLines, returns: 1, zone: true},
}

func uniform(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

func dir(azimuth float64) plane.Pt { return plane.Pt{E: math.Sin(azimuth), N: math.Cos(azimuth)} }

// straights joins pieces that turn by up to so much.
func straights(r *rand.Rand, from plane.Pt, azimuth, length, turn float64) plane.Polyline {
	path := plane.Polyline{from}
	for length > 0 {
		step := min(uniform(r, 8, 40), length)
		path = append(path, path[len(path)-1].Add(dir(azimuth).Mul(step)))
		length -= step
		azimuth += uniform(r, -turn, turn)
	}
	return path
}

func apartLines(r *rand.Rand) (out []ground) {
	for k := range 3 + r.IntN(5) {
		from := plane.Pt{E: uniform(r, 0, 250), N: uniform(r, 0, 250)}
		out = append(out, ground{fmt.Sprint("W", k), straights(r, from, uniform(r, 0, 7), uniform(r, 40, 140), 0.8)})
	}
	return out
}

// streetLines run side by side, half a metre to three metres apart, and are walked
// to and fro.
func streetLines(r *rand.Rand) (out []ground) {
	path := straights(r, plane.Pt{}, uniform(r, 0, 7), uniform(r, 50, 150), 0.15)
	beside := 0.0
	for k := range 3 + r.IntN(4) {
		line := make(plane.Polyline, len(path))
		for i := range path {
			a, b := path[max(i-1, 0)], path[min(i+1, len(path)-1)]
			line[i] = path[i].Add(b.Sub(a).Unit().Left().Mul(beside))
		}
		if k%2 == 1 {
			for i, j := 0, len(line)-1; i < j; i, j = i+1, j-1 {
				line[i], line[j] = line[j], line[i]
			}
		}
		out = append(out, ground{fmt.Sprint("S", k), line})
		beside += uniform(r, 0.5, 3)
	}
	return out
}

func crossingLines(r *rand.Rand) (out []ground) {
	for k := range 4 + r.IntN(4) {
		c := plane.Pt{E: uniform(r, -15, 15), N: uniform(r, -15, 15)}
		a, half := uniform(r, 0, 7), uniform(r, 20, 60)
		out = append(out, ground{fmt.Sprint("X", k), plane.Polyline{c.Sub(dir(a).Mul(half)), c, c.Add(dir(a).Mul(half))}})
	}
	return out
}

// loopLines close, double back beside themselves, or wind up.
func loopLines(r *rand.Rand) (out []ground) {
	for k := range 3 + r.IntN(3) {
		c := plane.Pt{E: uniform(r, 0, 200), N: uniform(r, 0, 200)}
		var path plane.Polyline
		switch r.IntN(3) {
		case 0: // a ring, and some metres of it again
			radius := uniform(r, 8, 25)
			for a := 0.0; a < 2*math.Pi*1.08; a += 0.1 {
				path = append(path, c.Add(dir(a).Mul(radius)))
			}
		case 1: // there and back beside itself
			a, l, w := uniform(r, 0, 7), uniform(r, 20, 60), uniform(r, 0.7, 4)
			end := c.Add(dir(a).Mul(l))
			path = plane.Polyline{c, end, end.Add(dir(a).Left().Mul(w)), c.Add(dir(a).Left().Mul(w))}
		default:
			for a := 0.0; a < 5*math.Pi; a += 0.1 {
				path = append(path, c.Add(dir(a).Mul(3+0.9*a)))
			}
		}
		out = append(out, ground{fmt.Sprint("L", k), path})
	}
	return out
}

func curveLines(r *rand.Rand) (out []ground) {
	for k := range 3 + r.IntN(4) {
		at := plane.Pt{E: uniform(r, 0, 200), N: uniform(r, 0, 200)}
		a, bend := uniform(r, 0, 7), uniform(r, -0.03, 0.03)
		path := plane.Polyline{at}
		for range int(uniform(r, 40, 140)) {
			a += bend
			bend += 0.004 * r.NormFloat64()
			at = at.Add(dir(a))
			path = append(path, at)
		}
		out = append(out, ground{fmt.Sprint("C", k), path})
	}
	return out
}

func renamed(gs []ground, name string) []ground {
	for k := range gs {
		gs[k].name = name
	}
	return gs
}

// A profile is a smooth random function of the station, of spread 1.
type profile struct{ amp, wave, phase [6]float64 }

func newProfile(r *rand.Rand, length float64) (p profile) {
	for k := range p.amp {
		p.amp[k], p.wave[k], p.phase[k] = r.NormFloat64()/math.Sqrt(3), 2*math.Pi/uniform(r, 15, 2*length+30), uniform(r, 0, 7)
	}
	return p
}

func (p *profile) at(s float64) (v float64) {
	for k := range p.amp {
		v += p.amp[k] * math.Sin(p.wave[k]*s+p.phase[k])
	}
	return v
}

// A walkDay is such a day with the truth about its clock.
type walkDay struct {
	kind   string
	seed   uint64
	tr     *track.Track
	rs     []readings.Reading
	offset float64 // locator's clock − UTC at the track's start, s
	drift  float64 // s/s
}

// off is the true offset at an instant of the locator's clock.
func (w *walkDay) off(locator time.Time) float64 {
	return w.offset + w.drift*(locator.Sub(dawn).Seconds()-w.offset)
}

const walkStep = 0.2 // s, between epochs: 5 Hz

func inventWalk(t testing.TB, kind walkKind, seed uint64) *walkDay {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 77))
	w := &walkDay{kind: kind.name, seed: seed, drift: 20e-6 * r.NormFloat64()}
	switch r.IntN(3) {
	case 0: // right
		w.offset, w.drift = 0, 0
	case 1:
		w.offset = uniform(r, -20, 20)
	default:
		w.offset = math.Copysign(math.Pow(10, uniform(r, 1, 2.8)), r.Float64()-0.5)
	}
	if kind.zone {
		w.offset += []float64{3600, -3600, 7200, 5.5 * 3600, 12 * 3600, 86400}[r.IntN(6)]
	}
	var at []plane.Pt
	now := func() float64 { return float64(len(at)) * walkStep }
	stand := func(s float64) {
		for range int(s / walkStep) {
			at = append(at, at[len(at)-1])
		}
	}
	goTo := func(p plane.Pt, speed float64) {
		from := at[len(at)-1]
		n := int(math.Ceil(p.Dist(from) / speed / walkStep))
		for k := 1; k <= n; k++ {
			at = append(at, from.Lerp(p, float64(k)/float64(n)))
		}
	}
	spacing := []float64{uniform(r, 2, 5), uniform(r, 0.8, 1.5)}[r.IntN(2)] // m, or a log written all the time
	depthNoise, currentNoise := uniform(r, 0.02, 0.07), uniform(r, 0.02, 0.08)
	noDepth := r.IntN(6) == 0
	cut := r.IntN(3) == 0
	lead := uniform(r, 5, 600)
	type pass struct {
		g     *ground
		depth *profile
		curr  *profile
		base  [2]float64
		vary  [2]float64
		back  bool
	}
	var passes, later []pass
	gs := kind.lines(r)
	for k := range gs {
		l := gs[k].path.Length()
		d, c := newProfile(r, l), newProfile(r, l)
		p := pass{&gs[k], &d, &c, [2]float64{uniform(r, 0.6, 2), uniform(r, 10, 80)}, [2]float64{uniform(r, 0.02, 0.3), uniform(r, 0, 0.15)}, r.IntN(2) == 0}
		passes = append(passes, p)
		if r.Float64() < kind.returns {
			p.back = !p.back
			if r.IntN(2) == 0 {
				passes = append(passes, p)
			} else {
				later = append(later, p)
			}
		}
	}
	passes = append(passes, later...)
	at = append(at, passes[0].g.path[0].Add(plane.Pt{E: uniform(r, -12, 12), N: uniform(r, -12, 12)}))
	stand(lead)
	stamp := func() time.Time {
		u := now()
		s := u + w.offset + w.drift*u
		if cut {
			s = math.Floor(s)
		}
		return dawn.Add(time.Duration(s * 1e9))
	}
	for _, p := range passes {
		length := p.g.path.Length()
		along := func(s float64) plane.Pt {
			if p.back {
				s = length - s
			}
			at, _ := p.g.path.At(s)
			return at
		}
		goTo(along(0), uniform(r, 1, 1.5))
		stand(uniform(r, 0, 15))
		speed, next, pace := uniform(r, 0.5, 1.4), uniform(r, 0, 2), 0.0
		for s := 0.0; s < length; {
			pace += walkStep/6*(-pace) + 0.04*r.NormFloat64()
			s += walkStep * speed * max(0.3, 1+pace)
			at = append(at, along(min(s, length)))
			if s < next || s > length {
				continue
			}
			x := s
			if p.back {
				x = length - s
			}
			b := bare(stamp())
			b.Line = p.g.name
			if !noDepth {
				b.Depth = p.base[0] * (1 + p.vary[0]*p.depth.at(x)) * (1 + depthNoise*r.NormFloat64())
			}
			b.Current = p.base[1] * math.Exp(-0.003*x+p.vary[1]*p.curr.at(x)+currentNoise*r.NormFloat64())
			w.rs = append(w.rs, b)
			next = s + spacing*uniform(r, 0.7, 1.3)
			if r.Float64() < kind.pauses {
				stand(uniform(r, 10, 120))
			}
		}
	}
	stand(uniform(r, 5, 600))
	w.tr = receive(t, r, at)
	return w
}

// receive makes the track that a receiver logs: fixed, or with code positions.
func receive(t testing.TB, r *rand.Rand, at []plane.Pt) *track.Track {
	local := geodesy.NewLocal(geodesy.Geo{Lat: 47.5, Lon: -17.75})
	none := float32(nan)
	quality, quick, slow, said := nmea.QualityRTKFixed, 0.006, 0.012, float32(0.014)
	if r.IntN(3) == 0 {
		quality, quick, slow, said = nmea.QualityDGPS, 0.02, 0.5, 0.5
	}
	phi := math.Exp(-walkStep / 200)
	in := slow * math.Sqrt(1-phi*phi)
	bias := plane.Pt{E: slow * r.NormFloat64(), N: slow * r.NormFloat64()}
	epochs := make([]nmea.Epoch, len(at))
	for k := range at {
		bias = bias.Mul(phi).Add(plane.Pt{E: in * r.NormFloat64(), N: in * r.NormFloat64()})
		g := local.Inverse(at[k].Add(bias).Add(plane.Pt{E: quick * r.NormFloat64(), N: quick * r.NormFloat64()}))
		epochs[k] = nmea.Epoch{
			Nanos: dawn.Add(time.Duration(float64(k) * walkStep * 1e9)).UnixNano(), Lat: g.Lat, Lon: g.Lon, Alt: 40, Sep: 30,
			SigmaN: said, SigmaE: said, SigmaU: none, HDOP: 1, VDOP: none, Age: none, Speed: none, Course: none, Quality: quality,
		}
	}
	tr, err := track.Build(context.Background(), epochs)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}
