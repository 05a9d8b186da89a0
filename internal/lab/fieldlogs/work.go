package fieldlogs

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
)

// headings is in how many directions a walk is laid on a log of a receiver at
// rest: its error is nearly one vector, which lies across some of them and along
// others.
const headings = 12

// inventedWalks lays a walk with one right angle, at 0.8 m/s, on the logs of
// receivers that stood still.
func inventedWalks(ctx context.Context, dir string) ([]*scene, error) {
	list, err := standing(ctx, dir)
	if err != nil {
		return nil, err
	}
	var out []*scene
	for _, s := range list {
		for h := range headings {
			out = append(out, walkOn(s, h))
		}
	}
	return out, nil
}

const laidSpeed, laidEvery = 0.8, 3 // m/s; s between readings

func walkOn(of *series, heading int) *scene {
	// The plane's origin is the reference: errs are what the log says from it.
	place := localAt(&of.epochs[0])
	first := plane.Pt{E: of.errs[0][0], N: of.errs[1][0]}
	ref := at(place, &of.epochs[0]).Sub(first)
	here := geodesy.NewLocal(place.Inverse(ref))
	s := newScene(of.log, of.against, of.epochs, here)
	rng := rand.New(rand.NewPCG(uint64(heading), 7))
	sin, cos := math.Sincos(2 * math.Pi * float64(heading) / headings)
	ahead := plane.Pt{E: sin, N: cos}
	length := laidSpeed * of.times[len(of.times)-1]
	corner := ahead.Mul(length / 2)
	end := corner.Add(ahead.Left().Mul(length / 2))
	s.truth["L1"] = []plane.Polyline{{{}, corner, end}}
	var by []plane.Pt
	pin := &pins{rng: rng}
	const spacing = laidSpeed * laidEvery
	from, to := 0.0, pin.next(math.Inf(1))
	for i := range of.epochs {
		if i%laidEvery == 0 {
			from, to = to, pin.next(spacing)
			s.read(of.epochs[i].UTC(), "L1", rng)
		}
		off := from + (to-from)*float64(i%laidEvery)/laidEvery
		walked := laidSpeed * of.times[i]
		at, across := ahead.Mul(walked), ahead.Left()
		if walked > length/2 {
			at, across = corner.Add(ahead.Left().Mul(walked-length/2)), ahead.Mul(-1)
		}
		by = append(by, at.Add(across.Mul(off)))
	}
	s.shift(by)
	return s
}

// layDrive lays a line under each straight of a car's way, with a reading every
// second. The reference is another antenna on the same car; how far the two
// stand apart is taken from the log itself, one pair of numbers for all of it.
func layDrive(ctx context.Context, dir string) ([]*scene, error) {
	es, ref, err := drive(ctx, dir)
	if err != nil {
		return nil, err
	}
	across, along := body(driveLog, "", es, ref)
	asIs := rolling("reference track, as if one antenna", es, ref)
	arm := rolling("reference track, lever arm known", es, ref)
	arm.options.AntennaForward = median(along.errs[0])
	arm.options.AntennaRight = -median(across.errs[0])
	return []*scene{asIs, arm}, nil
}

// maxCarGap is what a fast car goes within one second, m, and some.
const maxCarGap = 40

func rolling(against string, es []nmea.Epoch, ref *path) *scene {
	s := newScene(driveLog, against, es, ref.here)
	s.options.MaxGap = maxCarGap
	rng := rand.New(rand.NewPCG(1, 7))
	pin := &pins{rng: rng}
	by := make([]plane.Pt, len(es))
	name, number := "", 0
	var last plane.Pt
	for i := range es {
		q, v, ok := ref.where(es[i].Nanos)
		if !ok || !goingStraight(ref, es[i].Nanos) {
			name = ""
			continue
		}
		if name == "" {
			number++
			name = fmt.Sprintf("L%d", number)
			s.truth[name] = []plane.Polyline{nil}
		}
		by[i] = v.Unit().Left().Mul(pin.next(q.Dist(last)))
		last = q
		s.truth[name][0] = append(s.truth[name][0], q)
		s.read(es[i].UTC(), name, rng)
	}
	s.shift(by)
	return s
}

// layWalk lays a line under the path that was drawn of a pedestrian's walk:
// readings every third second, a new line every 150 m of way.
func layWalk(ctx context.Context, dir string) ([]*scene, error) {
	es, here, lines, err := walk(ctx, dir)
	if err != nil {
		return nil, err
	}
	s := newScene(walkLog, "path drawn on a map", es, here)
	rng := rand.New(rand.NewPCG(2, 7))
	by := make([]plane.Pt, len(es))
	pin := &pins{rng: rng}
	const every, way = 3, 150.0
	number, length := 1, 0.0
	last := at(here, &es[0])
	for i := range es {
		q := at(here, &es[i])
		length += q.Dist(last)
		last = q
		if length > way || i > 0 && es[i].Nanos-es[i-1].Nanos > int64(10*time.Second) {
			number, length = number+1, 0
		}
		name := fmt.Sprintf("L%d", number)
		s.truth[name] = lines
		if i%every == 0 {
			_, dir := nearest(lines, q)
			by[i] = dir.Left().Mul(pin.next(every * 1.3)) // 1.3 m/s: the walk's mean
			s.read(es[i].UTC(), name, rng)
		}
	}
	s.shift(by)
	return []*scene{s}, nil
}
