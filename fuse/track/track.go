// Package track turns the receiver's epochs into a smoothed track: where the
// antenna was at any time of the day, how fast it moved, and how well that is
// known – the quick part of the GNSS error, which smoothing lessens, kept apart
// from the slow part, which it does not.
//
// The track is cut into chains: a chain ends where the receiver falls silent,
// where the fix quality changes and where the position steps. Nothing is
// smoothed across an end, and no silence longer than noise.MaxBridge is bridged.
package track

import (
	"context"
	"errors"
	"math"
	"sort"
	"time"

	"tracemap/fuse/noise"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/internal/parallel"
	"tracemap/nmea"
	"tracemap/remarks"
)

// ErrNoFix says that no epoch has a position worth placing anything by.
var ErrNoFix = errors.New("no usable position in the receiver's log")

// A node is one epoch after smoothing.
type node struct {
	t       float64  // s since Start
	at, vel plane.Pt // m, m/s
	h       float64  // antenna's ellipsoidal height, m; NaN where never given
	quick   float64  // variance of one axis of the smoothed quick error, m²
	slow    noise.Horizontal
	sigmaH  float32 // total, m
	accel   float32 // density of the acceleration since the node before, m²/s³
	chain   int32
	quality nmea.Quality
}

// Track is a day's smoothed path. It is immutable and safe for concurrent use.
type Track struct {
	Plane  *geodesy.Local
	Start  time.Time // of the first usable epoch
	nodes  []node
	chains []chain
	// Quick is the measured quick σ of one axis, m, by fix quality.
	Quick map[nmea.Quality]float64
	// Accel is the spectral density of the walker's acceleration, m²/s³.
	Accel float64
	// Rejected counts epochs set aside because they jump; Unusable those whose
	// quality is not a measurement.
	Rejected, Unusable int
	Steps              []Step
	looks              int // at a fix, while the track was smoothed: what that costs
}

// A chain is a run of nodes smoothed as one.
type chain struct {
	first, last int     // nodes, inclusive
	extra       float64 // variance added to the slow part because the chain is displaced against its neighbours, m²
	suspect     bool
}

// A Step is a place where the position moved faster than a person does.
type Step struct {
	T    float64 // s since Start
	By   plane.Pt
	Odds float64 // that the receiver stepped, not the person: 0 to 1
	From nmea.Quality
	To   nmea.Quality
}

// State is the antenna at one instant.
type State struct {
	At, Velocity plane.Pt
	H            float64 // ellipsoidal height of the antenna, m; NaN where unknown
	SigmaH       float64
	QuickVar     float64 // m², one axis
	Slow         noise.Horizontal
	Quality      nmea.Quality
	// Chain numbers the stretch of the track that was smoothed as one. Slow errors
	// of different chains are not the same.
	Chain int
	Flags remarks.Set
}

// Build smooths the epochs, which must be in order of time. Cost is linear.
func Build(ctx context.Context, epochs []nmea.Epoch) (_ *Track, err error) {
	defer parallel.Recover("the track", &err)
	parallel.Trip("the track")
	tr := &Track{Quick: map[nmea.Quality]float64{}}
	usable := make([]int32, 0, len(epochs))
	for i := range epochs {
		if !noise.Fixes[epochs[i].Quality].Usable {
			tr.Unusable++
			continue
		}
		usable = append(usable, int32(i))
	}
	if len(usable) == 0 {
		return nil, ErrNoFix
	}
	first := &epochs[usable[0]]
	tr.Start = first.UTC()
	tr.Plane = geodesy.NewLocal(middle(epochs, usable))
	raw := project(tr, epochs, usable)
	calm(raw)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	tr.measureQuick(raw)
	tr.smooth(raw)
	if len(tr.nodes) == 0 {
		return nil, ErrNoFix
	}
	tr.judgeSteps()
	return tr, ctx.Err()
}

// middle is the origin of the day's plane: the median latitude and longitude, so
// that one wild fix does not move it. Longitudes are taken around the first one,
// which keeps a day on the antimeridian together.
func middle(epochs []nmea.Epoch, usable []int32) geodesy.Geo {
	step := max(1, len(usable)/2000)
	var lat, lon []float64
	ref := epochs[usable[0]].Lon
	for k := 0; k < len(usable); k += step {
		e := &epochs[usable[k]]
		lat = append(lat, e.Lat)
		lon = append(lon, math.Remainder(e.Lon-ref, 360))
	}
	sort.Float64s(lat)
	sort.Float64s(lon)
	return geodesy.Geo{Lat: lat[len(lat)/2], Lon: math.Remainder(lon[len(lon)/2]+ref, 360)}
}

// A fix is an epoch in the plane, before smoothing.
type fix struct {
	t        float64
	at       plane.Pt
	h        float64
	total    noise.Horizontal
	doppler  plane.Pt // velocity from the receiver, m/s; NaN where not given
	vertical float32
	quality  nmea.Quality
}

func project(tr *Track, epochs []nmea.Epoch, usable []int32) []fix {
	start := epochs[usable[0]].Nanos
	out := make([]fix, len(usable))
	const each = 8192
	side := parallel.Group{Part: "projection"}
	for first := 0; first < len(usable); first += each {
		side.Go(func() {
			walk := tr.Plane.Walk()
			for k := first; k < min(first+each, len(usable)); k++ {
				out[k] = fixOf(walk, &epochs[usable[k]], start)
			}
		})
	}
	side.Wait()
	return out
}

func fixOf(walk *geodesy.Walk, e *nmea.Epoch, start int64) (f fix) {
	f.t = float64(e.Nanos-start) * 1e-9
	f.at = walk.Forward(geodesy.Geo{Lat: e.Lat, Lon: e.Lon})
	f.h = e.Height()
	var vertical float64
	f.total, vertical = noise.Of(e)
	f.vertical = float32(vertical)
	f.quality = e.Quality
	if e.Speed < 0.05 { // receivers leave the course empty at rest
		return f
	}
	sin, cos := math.Sincos(float64(e.Course) * math.Pi / 180)
	f.doppler = plane.Pt{E: float64(e.Speed) * sin, N: float64(e.Speed) * cos}
	return f
}

// Seconds is an instant in seconds since Start.
func (tr *Track) Seconds(t time.Time) float64 { return t.Sub(tr.Start).Seconds() }

// Empty is a track that has no place at any time, with its plane about the origin:
// for readings that know themselves where they were taken.
func Empty(origin geodesy.Geo, start time.Time) *Track {
	return &Track{Plane: geodesy.NewLocal(origin), Start: start, Quick: map[nmea.Quality]float64{}}
}

// Span gives the first and the last time of the track, s since Start.
func (tr *Track) Span() (from, to float64) {
	return tr.nodes[0].t, tr.nodes[len(tr.nodes)-1].t
}

// At gives the antenna at time t, s since Start. When there is no position the
// flags say why and ok is false. Between two epochs the path is the cubic that
// their smoothed positions and velocities fix, which is the model's own.
func (tr *Track) At(t float64) (s State, ok bool) {
	n := tr.nodes
	k := sort.Search(len(n), func(i int) bool { return n[i].t > t })
	s, from, ok := tr.behind(t, k)
	switch {
	case !ok:
	case from == betweenNodes:
		s.QuickVar = tr.quickBetween(k, t)
	default:
		s.QuickVar = tr.quickBeside(from, t)
	}
	return s, ok
}

// Sample gives the antenna's places at n times, from and every step after it, s;
// NaN where there is none.
func (tr *Track) Sample(from, step float64, n int) []plane.Pt {
	out := make([]plane.Pt, n)
	const each = 8192
	side := parallel.Group{Part: "places at equal times"}
	for first := 0; first < n; first += each {
		side.Go(func() {
			k := sort.Search(len(tr.nodes), func(i int) bool { return tr.nodes[i].t > from+float64(first)*step })
			for i := first; i < min(first+each, n); i++ {
				t := from + float64(i)*step
				for k < len(tr.nodes) && tr.nodes[k].t <= t {
					k++
				}
				out[i] = plane.Pt{E: math.NaN(), N: math.NaN()}
				if s, _, ok := tr.behind(t, k); ok {
					out[i] = s.At
				}
			}
		})
	}
	side.Wait()
	return out
}

// betweenNodes, in place of a node, says that a time lies between two of one chain.
const betweenNodes = -1

// behind gives the antenna at time t, which lies ahead of node k but not of the
// one before, and the node from which it is carried there. Its QuickVar, which few
// ask for, is still to be had.
func (tr *Track) behind(t float64, k int) (s State, from int, ok bool) {
	n := tr.nodes
	if len(n) == 0 {
		return State{}, 0, false
	}
	if t < n[0].t-0.5 || t > n[len(n)-1].t+0.5 {
		return State{Flags: remarks.OutsideLog}, 0, false
	}
	switch {
	case k == 0:
		return tr.state(0, t), 0, true
	case k == len(n):
		return tr.state(k-1, t), k - 1, true
	}
	a, b := &n[k-1], &n[k]
	h := b.t - a.t
	if h > noise.MaxBridge {
		// Right beside an epoch the position is still known.
		if t-a.t <= 0.5 {
			return tr.state(k-1, t), k - 1, true
		}
		if b.t-t <= 0.5 {
			return tr.state(k, t), k, true
		}
		return State{Flags: remarks.InOutage}, 0, false
	}
	if a.chain != b.chain {
		near := k - 1
		if b.t-t < t-a.t {
			near = k
		}
		return tr.state(near, t), near, true
	}
	return tr.between(a, b, (t-a.t)/h), betweenNodes, true
}

// state carries node k, beyond which its chain does not go, over the short time to t
// with its own velocity.
func (tr *Track) state(k int, t float64) State {
	n := &tr.nodes[k]
	dt := t - n.t
	return State{
		At:       n.at.Add(n.vel.Mul(dt)),
		Velocity: n.vel,
		H:        n.h,
		SigmaH:   float64(n.sigmaH),
		Slow:     tr.slow(n),
		Quality:  n.quality,
		Chain:    int(n.chain),
		Flags:    tr.flagsOf(n),
	}
}

func (tr *Track) between(a, b *node, u float64) State {
	h := b.t - a.t
	u2, u3 := u*u, u*u*u
	h00, h10, h01, h11 := 2*u3-3*u2+1, u3-2*u2+u, 3*u2-2*u3, u3-u2
	d00, d10, d01, d11 := (6*u2-6*u)/h, 3*u2-4*u+1, (6*u-6*u2)/h, 3*u2-2*u
	at := a.at.Mul(h00).Add(a.vel.Mul(h10 * h)).Add(b.at.Mul(h01)).Add(b.vel.Mul(h11 * h))
	vel := a.at.Mul(d00).Add(a.vel.Mul(d10)).Add(b.at.Mul(d01)).Add(b.vel.Mul(d11))
	near := a
	if u > 0.5 {
		near = b
	}
	return State{
		At:       at,
		Velocity: vel,
		H:        a.h*(1-u) + b.h*u,
		SigmaH:   float64(near.sigmaH),
		Slow:     tr.slow(near),
		Quality:  near.quality,
		Chain:    int(near.chain),
		Flags:    tr.flagsOf(near),
	}
}

// slow is the node's slow covariance with what its chain's steps add.
func (tr *Track) slow(n *node) noise.Horizontal {
	s := n.slow
	s.EE += tr.chains[n.chain].extra
	s.NN += tr.chains[n.chain].extra
	return s
}

func (tr *Track) flagsOf(n *node) remarks.Set {
	f := FlagsOf(n.quality)
	if tr.chains[n.chain].suspect {
		f |= remarks.GNSSJump
	}
	return f
}

// FlagsOf is the remark that a fix of that quality deserves.
func FlagsOf(q nmea.Quality) (f remarks.Set) {
	switch q {
	case nmea.QualityRTKFloat:
		f = remarks.FloatFix
	case nmea.QualityDGPS, nmea.QualityPPS:
		f = remarks.CodeFix
	case nmea.QualityAutonomous, nmea.QualityUnknown:
		f = remarks.AutonomousFix
	case nmea.QualityEstimated:
		f = remarks.EstimatedFix
	}
	return f
}
