package main

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
	"testing"

	"tracemap/fuse"
	"tracemap/internal/lab/score"
	"tracemap/internal/survey"
	"tracemap/nmea"
)

// tested are the days of the tests of widths: good and poor fixes, both kinds of
// work, straights, bends and curves. The clock is given, so that the widths are
// judged alone.
var tested = []days{
	{"rtk-stopgo", 10}, {"rtk-walk", 6}, {"rtk-return", 8}, {"cables-and-curves", 6}, {"loops-and-parallels", 4},
	{"rtk-bends", 6}, {"mixed-stopgo", 10}, {"mixed-return", 8}, {"sbas-stopgo", 8}, {"sbas-return", 8},
	{"autonomous-stopgo", 8}, {"autonomous-walk", 8},
}

type days struct {
	preset string
	n      int
}

// bounds of a share of the length: the goal's, and how much the share of one day
// spreads about the mean of its kind (seen over 20 days each: RTK 0.04, less
// good fixes 0.06, float, which comes in short stretches, 0.09). A goal counts
// as missed when the mean of n days lies beyond it by three standard errors.
var bounds = []struct {
	name      string
	quality   nmea.Quality // unknown: all together
	low, high float64
	daySpread float64
}{
	{"all", nmea.QualityUnknown, coverLow, coverHigh, 0.05},
	{"fix:rtk", nmea.QualityRTKFixed, coverLowest, coverHighest, 0.04},
	{"fix:float", nmea.QualityRTKFloat, coverLowest, coverHighest, 0.09},
	{"fix:dgps", nmea.QualityDGPS, coverLowest, coverHighest, 0.06},
	{"fix:autonomous", nmea.QualityAutonomous, coverLowest, coverHighest, 0.06},
}

// mostOff is the factor by which the widths of all days together may be wrong,
// either way: that of the goal for sharpness. By chance the factor of 90 days
// varies by 0.04 (0.07 for 1 % of coverage, of which chance makes 0.5 %).
const mostOff = maxSharpness

// Nobody makes the widths narrower, or wider, unseen.
func TestWidthsAreTrue(t *testing.T) {
	s, cover := scored(t, 1)
	for _, c := range complaints(s, cover) {
		t.Error(c)
	}
	// None of these days loses its fix for long. 90 days are good to 0.5 %.
	if got := s.Completeness(); got < minComplete-0.015 {
		t.Errorf("completeness %.3f, want at least %.3f", got, minComplete-0.015)
	}
}

// The bounds would notice: the same maps with widths a third narrower, or 1.6
// times as wide, are refused for their widths and for their depths.
func TestBoundsNotice(t *testing.T) {
	for _, k := range []float64{0.65, 1.6} {
		s, cover := scored(t, k)
		if got := complaints(s, cover); len(got) < 2 {
			t.Errorf("widths × %v: only %q", k, got)
		}
	}
}

// complaints holds days against the bounds.
func complaints(s *score.Score, cover map[nmea.Quality][]score.Extent) []string {
	var out []string
	for _, b := range bounds {
		got, n := s.Lateral.Coverage(), s.Days
		if b.quality != nmea.QualityUnknown {
			got, n = sum(cover[b.quality]).Coverage(), len(cover[b.quality])
		}
		room := 3 * b.daySpread / math.Sqrt(float64(n))
		low, high := b.low-room, min(b.high+room, 0.9995)
		if !(got >= low && got <= high) {
			out = append(out, fmt.Sprintf("coverage, %s: %.4f on %d days, want between %.4f and %.4f", b.name, got, n, low, high))
		}
	}
	for _, k := range []struct {
		name string
		e    score.Extent
	}{{"half-widths", s.Lateral}, {"depths' 95 %", s.Depth}} {
		if f := k.e.Factor(); !(f >= 1/mostOff && f <= mostOff) {
			out = append(out, fmt.Sprintf("%s hold 95 %% when multiplied by %.2f, want between %.2f and %.2f", k.name, f, 1/mostOff, mostOff))
		}
	}
	return out
}

// A made map beside the day it was made of.
type madeMap struct {
	name string
	seed uint64
	day  *invented
	out  *survey.Day
	err  error
}

// maps are those of the tested days, made once.
var maps = sync.OnceValue(func() []madeMap { return convertAll(tested, true) })

func convertAll(list []days, knownClock bool) []madeMap {
	var out []madeMap
	for _, k := range list {
		for i := range k.n {
			out = append(out, madeMap{name: k.preset, seed: base(k.preset) + 1 + uint64(i)})
		}
	}
	each(len(out), func(i int) {
		m := &out[i]
		m.day = named(m.name)[0].invent(m.seed)
		if knownClock {
			m.day.tellClock()
		}
		m.out, m.err = convert(context.Background(), m.day, func(string) {})
	})
	return out
}

// each calls f for 0 … n−1, as many at a time as there are processors.
func each(n int, f func(int)) {
	var wait sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := range next {
				f(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wait.Wait()
}

// scored scores the tested days with all σ multiplied by k: all together, and
// each day's lengths by fix quality.
func scored(t *testing.T, k float64) (*score.Score, map[nmea.Quality][]score.Extent) {
	t.Helper()
	made := maps()
	scores := make([]*score.Score, len(made))
	each(len(made), func(i int) {
		if m := made[i]; m.err == nil {
			scores[i] = score.Judge(m.day.truth, stretched(m.out.Located, k), m.out.Clock)
		}
	})
	all, cover := &score.Score{}, map[nmea.Quality][]score.Extent{}
	for i, s := range scores {
		if s == nil {
			t.Fatalf("%s seed %d: %v", made[i].name, made[i].seed, made[i].err)
		}
		all.Add(s)
		for _, q := range nmeaQualities {
			if e := s.ByQuality[q].Lateral; e.Length > 0 {
				cover[q] = append(cover[q], e)
			}
		}
	}
	return all, cover
}

// stretched is a copy with all σ of lines multiplied by k.
func stretched(res *fuse.Result, k float64) *fuse.Result {
	out := *res
	out.Lines = nil
	for _, l := range res.Lines {
		parts := l.Parts
		l.Parts = nil
		for _, p := range parts {
			vertices := p.Vertices
			p.Vertices = nil
			for _, v := range vertices {
				v.Sigma, v.SigmaDepth = k*v.Sigma, k*v.SigmaDepth
				p.Vertices = append(p.Vertices, v)
			}
			l.Parts = append(l.Parts, p)
		}
		out.Lines = append(out.Lines, l)
	}
	return &out
}
