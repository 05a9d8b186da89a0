package fieldlogs

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/internal/lab/score"
	"tracemap/nmea"
	"tracemap/readings"
)

// A Laid is how invented readings fared on a real log: the positions and their
// errors are the receiver's, the line and the locating are invented.
type Laid struct {
	Log, Against string
	Quality      nmea.Quality // the weakest that the stretch rests on
	Readings     int          // of the whole log
	score.Extent
}

// Locating is invented at this depth, m, with this σ across the line, m: √((2
// cm)² + (5 % of depth)²), of whose variance a share is new at every reading and
// the rest is correlated over so many metres. Common practice, no source.
const (
	laidDepth = 1.2
	laidPin   = 0.063
	laidWhite = 0.6
	laidReach = 12.0
)

// pins gives how far the operator stands to the left of the line, reading after
// reading.
type pins struct {
	rng    *rand.Rand
	shared float64
}

// next is for a reading so many metres after the last one.
func (p *pins) next(after float64) float64 {
	keep := math.Exp(-after / laidReach)
	p.shared = keep*p.shared + math.Sqrt(1-keep*keep)*p.rng.NormFloat64()
	return laidPin * (math.Sqrt(laidWhite)*p.rng.NormFloat64() + math.Sqrt(1-laidWhite)*p.shared)
}

// A scene is a log with invented work laid on it.
type scene struct {
	log, against string
	here         *geodesy.Local
	epochs       []nmea.Epoch
	csv          strings.Builder
	rows         int
	truth        map[string][]plane.Polyline // by line
	options      fuse.Options
}

func newScene(log, against string, es []nmea.Epoch, here *geodesy.Local) *scene {
	s := &scene{log: log, against: against, here: here, epochs: slices.Clone(es), truth: map[string][]plane.Polyline{}}
	s.csv.WriteString("time,line,utility,method,response,frequency_hz,depth_m,current_ma\n")
	s.options = fuse.DefaultOptions()
	s.options.AntennaHeight = 2
	return s
}

func (s *scene) read(t time.Time, line string, rng *rand.Rand) {
	depth := laidDepth + math.Hypot(0.03, 0.04*laidDepth)*rng.NormFloat64()
	fmt.Fprintf(&s.csv, "%s,%s,water,direct,peak,8192,%.3f,%.1f\n", t.Format(time.RFC3339Nano), line, depth, 40+2*rng.NormFloat64())
	s.rows++
}

// shift moves the epochs by a displacement of each: the operator's walk, and how
// far he stands from the line. The antenna is then where the reference says plus
// the displacement, and the log's error stays what it was.
func (s *scene) shift(by []plane.Pt) {
	for i := range s.epochs {
		e := &s.epochs[i]
		g := s.here.Inverse(at(s.here, e).Add(by[i]))
		e.Lat, e.Lon = g.Lat, g.Lon
		e.Speed, e.Course = float32(math.NaN()), float32(math.NaN()) // of the walk that was
	}
}

// locate runs track and fit, the clock known, and scores the lines by quality.
func (s *scene) locate(ctx context.Context) ([]Laid, error) {
	log, err := readings.Read(ctx, []readings.Source{{Name: "laid.csv", R: strings.NewReader(s.csv.String())}}, readings.Options{})
	if err != nil {
		return nil, err
	}
	tr, err := track.Build(ctx, s.epochs)
	if err != nil {
		return nil, err
	}
	known := &clock.Result{Sigma: 0.01, Method: "given", Determined: true, Ref: tr.Start, RunnerUp: math.NaN()}
	res, err := fuse.Locate(ctx, tr, log.Readings, known, s.options)
	if err != nil {
		return nil, err
	}
	sum := map[nmea.Quality]score.Extent{}
	for _, l := range res.Lines {
		for _, p := range l.Parts {
			s.judge(res, s.truth[l.ID], p.Vertices, sum)
		}
	}
	var out []Laid
	for q := range 256 {
		if e, ok := sum[nmea.Quality(q)]; ok {
			out = append(out, Laid{Log: s.log, Against: s.against, Quality: nmea.Quality(q), Readings: s.rows, Extent: e})
		}
	}
	return out, nil
}

// judge samples a part every quarter of a metre.
func (s *scene) judge(res *fuse.Result, truth []plane.Polyline, vs []fuse.Vertex, sum map[nmea.Quality]score.Extent) {
	const step = 0.25 // m
	for k := 1; k < len(vs); k++ {
		a, b := &vs[k-1], &vs[k]
		from, to := s.here.Forward(res.Plane.Inverse(a.At)), s.here.Forward(res.Plane.Inverse(b.At))
		n := max(1, math.Ceil(from.Dist(to)/step))
		q := max(a.Quality, b.Quality)
		for i := range int(n) {
			t := (float64(i) + 0.5) / n
			off, _ := nearest(truth, from.Lerp(to, t))
			e := sum[q]
			e.Sample(from.Dist(to)/n, off, a.Sigma+t*(b.Sigma-a.Sigma))
			sum[q] = e
		}
	}
}

// Lay reads the logs in a folder and lays invented readings on those that have a
// reference.
func Lay(ctx context.Context, dir string) ([]Laid, error) {
	var out []Laid
	for _, f := range []func(context.Context, string) ([]*scene, error){inventedWalks, layDrive, layWalk} {
		scenes, err := f(ctx, dir)
		if err != nil {
			return nil, err
		}
		var of []Laid // the scenes of one log and quality together
		for _, s := range scenes {
			one, err := s.locate(ctx)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", s.log, err)
			}
			of = gather(of, one)
		}
		out = append(out, of...)
	}
	return out, nil
}

func gather(all, more []Laid) []Laid {
	for _, m := range more {
		k := slices.IndexFunc(all, func(l Laid) bool {
			return l.Log == m.Log && l.Against == m.Against && l.Quality == m.Quality
		})
		if k < 0 {
			all = append(all, m)
			continue
		}
		all[k].Readings += m.Readings
		all[k].Extent.Add(m.Extent)
	}
	return all
}
