package fieldlogs

import (
	"context"
	"math"
	"slices"
	"time"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
)

// A series is a log's errors against a reference, epoch by epoch.
type series struct {
	log       string
	against   string // what the errors are measured against
	axes      string // which axes: "E, N" or "across"
	centred   bool   // the reference is the log's own mean
	epochs    []nmea.Epoch
	times     []float64 // s
	errs      [][]float64
	qualities []nmea.Quality
}

func (s *series) add(e nmea.Epoch, t float64, errs ...float64) {
	if s.errs == nil {
		s.errs = make([][]float64, len(errs))
	}
	s.epochs, s.times, s.qualities = append(s.epochs, e), append(s.times, t), append(s.qualities, e.Quality)
	for a, v := range errs {
		s.errs[a] = append(s.errs[a], v)
	}
}

// about gives the errors of a receiver that stood still, against a known place
// or its own mean (nil).
func about(log, against string, es []nmea.Epoch, place *geodesy.Geo) *series {
	s := &series{log: log, against: against, axes: "E, N", centred: place == nil}
	here := localAt(&es[0])
	var mean plane.Pt
	if place != nil {
		mean = here.Forward(*place)
	} else {
		for i := range es {
			mean = mean.Add(at(here, &es[i]).Mul(1 / float64(len(es))))
		}
	}
	for i := range es {
		d := at(here, &es[i]).Sub(mean)
		s.add(es[i], seconds(es, i), d.E, d.N)
	}
	return s
}

// Standing still: how far a position may go within one second, m, and how long
// at least, s. A vehicle's engine and a fixed solution's noise stay below it.
const (
	stillStep = 0.03
	stillTime = 120
)

// still gives the longest stretch of a log on which the receiver did not move.
func still(es []nmea.Epoch) []nmea.Epoch {
	here := localAt(&es[0])
	var best []nmea.Epoch
	for i := 0; i < len(es); {
		j := i + 1
		for j < len(es) && es[j].Nanos-es[j-1].Nanos < 2e9 && at(here, &es[j]).Dist(at(here, &es[j-1])) < stillStep {
			j++
		}
		if j-i > len(best) && es[j-1].Nanos-es[i].Nanos >= stillTime*1e9 {
			best = es[i:j]
		}
		i = j
	}
	return best
}

// path is a reference track: a smooth curve through its epochs.
type path struct {
	here *geodesy.Local
	t    []float64 // s since start
	at   []plane.Pt
	vel  []plane.Pt
	from int64 // ns
}

func pathOf(here *geodesy.Local, es []nmea.Epoch) *path {
	p := &path{here: here, from: es[0].Nanos}
	for i := range es {
		p.t, p.at = append(p.t, seconds(es, i)), append(p.at, at(here, &es[i]))
	}
	for i := range p.at {
		a, b := max(0, i-1), min(len(p.at)-1, i+1)
		p.vel = append(p.vel, p.at[b].Sub(p.at[a]).Mul(1/(p.t[b]-p.t[a])))
	}
	return p
}

// where gives place and velocity at an instant: the cubic through the epochs
// about it. ok is false outside and in gaps.
func (p *path) where(nanos int64) (q, v plane.Pt, ok bool) {
	t := float64(nanos-p.from) * 1e-9
	k, exact := slices.BinarySearch(p.t, t)
	if exact {
		return p.at[k], p.vel[k], true
	}
	if k == 0 || k == len(p.t) || p.t[k]-p.t[k-1] > 1.5 {
		return q, v, false
	}
	h := p.t[k] - p.t[k-1]
	u := (t - p.t[k-1]) / h
	u2, u3 := u*u, u*u*u
	q = p.at[k-1].Mul(2*u3 - 3*u2 + 1).Add(p.vel[k-1].Mul(h * (u3 - 2*u2 + u))).
		Add(p.at[k].Mul(3*u2 - 2*u3)).Add(p.vel[k].Mul(h * (u3 - u2)))
	return q, p.vel[k-1].Lerp(p.vel[k], u), true
}

// Going straight: the speed, m/s, above which a reference track's direction
// tells along from across, and the turn, radians a second, below which the
// vehicle points where it goes. In a bend its nose turns inward of the way by
// degrees, and with it the antennas' lever arm.
const (
	moving   = 2.0
	straight = 0.03
)

func goingStraight(ref *path, nanos int64) bool {
	_, a, ok1 := ref.where(nanos - 1e9)
	_, b, ok2 := ref.where(nanos + 1e9)
	return ok1 && ok2 && a.Len() > moving && b.Len() > moving && math.Abs(a.Unit().Cross(b.Unit())) < 2*straight
}

// body gives errors against a reference track as a rider of the vehicle sees
// them, ahead and to the left, where it goes straight: another antenna on the
// same vehicle is off by a constant there.
func body(log, against string, es []nmea.Epoch, ref *path) (across, along *series) {
	across = &series{log: log, against: against, axes: "across"}
	along = &series{log: log, against: against, axes: "along"}
	for i := range es {
		q, v, ok := ref.where(es[i].Nanos)
		if !ok || !goingStraight(ref, es[i].Nanos) {
			continue
		}
		d := at(ref.here, &es[i]).Sub(q)
		across.add(es[i], seconds(es, i), v.Unit().Cross(d))
		along.add(es[i], seconds(es, i), v.Unit().Dot(d))
	}
	return across, along
}

// acrossPath gives distances from the nearest line of a path without times.
func acrossPath(log, against string, es []nmea.Epoch, here *geodesy.Local, lines []plane.Polyline) *series {
	s := &series{log: log, against: against, axes: "across"}
	for i := range es {
		off, dir := nearest(lines, at(here, &es[i]))
		// Left of a line that is drawn against the walk is right: let the sign be
		// that of the north-west half, which is the same either way.
		if dir.E-dir.N < 0 {
			off = -off
		}
		s.add(es[i], seconds(es, i), off)
	}
	return s
}

// all reads the logs that have a reference and gives their errors.
func all(ctx context.Context, dir string) ([]*series, error) {
	var out []*series
	for _, f := range []func(context.Context, string) ([]*series, error){standing, driving, walking} {
		s, err := f(ctx, dir)
		if err != nil {
			return nil, err
		}
		out = append(out, s...)
	}
	return out, nil
}

// dunedin is the place that the header of its log states.
var dunedin = geodesy.Geo{Lat: -45.877591500, Lon: 170.500124833}

// standing are receivers at rest.
func standing(ctx context.Context, dir string) ([]*series, error) {
	var out []*series
	fixed, err := read(ctx, dir, "f9p-rtk-gns-nodate.nmea", time.Date(2021, 1, 1, 0, 0, 0, 0, time.UTC))
	if err != nil {
		return nil, err
	}
	out = append(out, about("f9p-rtk-gns-nodate.nmea", "own mean, parked", still(fixed), nil))
	for _, name := range []string{"static-gst.log", "ubx-mixed-2008.ubx", "f9p-static-gst.log"} {
		es, err := read(ctx, dir, name, time.Time{})
		if err != nil {
			return nil, err
		}
		out = append(out, about(name, "own mean", es, nil))
		if name == "f9p-static-gst.log" {
			out = append(out, about(name, "stated place", es, &dunedin))
		}
	}
	return out, nil
}

// driving is a car with a better instrument aboard.
func driving(ctx context.Context, dir string) ([]*series, error) {
	es, ref, err := drive(ctx, dir)
	if err != nil {
		return nil, err
	}
	across, along := body(driveLog, "reference track", es, ref)
	return []*series{across, along}, nil
}

const driveLog = "f9k-rtk-drive-a.nmea"

// drive reads the car's log and its reference. The reference's sentences with a
// date have wrong checksums: it is dated by the log.
func drive(ctx context.Context, dir string) ([]nmea.Epoch, *path, error) {
	es, err := read(ctx, dir, driveLog, time.Time{})
	if err != nil {
		return nil, nil, err
	}
	truth, err := read(ctx, dir, "f9k-rtk-drive-a.truth.nmea", es[0].UTC())
	if err != nil {
		return nil, nil, err
	}
	return es, pathOf(localAt(&es[0]), truth), nil
}

const walkLog = "phone-walk.nmea"

// walk reads the pedestrian's log and the path that was drawn on a map.
func walk(ctx context.Context, dir string) ([]nmea.Epoch, *geodesy.Local, []plane.Polyline, error) {
	es, err := read(ctx, dir, walkLog, time.Time{})
	if err != nil {
		return nil, nil, nil, err
	}
	here := localAt(&es[0])
	lines, err := readPath(dir, "phone-walk.truth.geojson", here)
	return es, here, lines, err
}

func walking(ctx context.Context, dir string) ([]*series, error) {
	es, here, lines, err := walk(ctx, dir)
	if err != nil {
		return nil, err
	}
	return []*series{acrossPath(walkLog, "path drawn on a map", es, here, lines)}, nil
}

// of is the part of a series on one fix quality.
func (s *series) of(q nmea.Quality) *series {
	out := &series{log: s.log, against: s.against, axes: s.axes, centred: s.centred}
	for i := range s.epochs {
		if s.qualities[i] != q {
			continue
		}
		var errs []float64
		for _, axis := range s.errs {
			errs = append(errs, axis[i])
		}
		out.add(s.epochs[i], s.times[i], errs...)
	}
	return out
}

// kinds lists the fix qualities of a series.
func (s *series) kinds() []nmea.Quality {
	out := slices.Clone(s.qualities)
	slices.Sort(out)
	return slices.Compact(out)
}

func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := slices.Sorted(slices.Values(v))
	return s[len(s)/2]
}
