package main

import (
	"fmt"
	"math"

	"tracemap/internal/lab/score"
)

// A column of the table. Its meaning is told in docs/accuracy.md; a test holds
// the two together.
type column struct {
	name string
	cell func(r *row) string
	// misses reports whether the figure is beyond the goal for such a row; nil for
	// a figure without a goal.
	misses func(r *row) bool
}

var columns = []column{
	{"days", func(r *row) string { return fmt.Sprint(len(r.fits)) }, nil},
	{"refused", func(r *row) string {
		if r.score == nil {
			return "-"
		}
		return fmt.Sprint(r.refused())
	}, func(r *row) bool { return r.refused() > 0 }},
	{"km", ofLateral(func(e score.Extent) string { return number(e.Length/1000, 2) }), nil},
	{"cover%", ofLateral(func(e score.Extent) string { return number(100*e.Coverage(), 1) }), missesCoverage},
	{"±", func(r *row) string { return number(100*spread(laterals(r.fits)), 1) }, nil},
	{"need", ofLateral(func(e score.Extent) string { return number(e.Factor(), 2) }), nil},
	{"half", ofLateral(func(e score.Extent) string { return number(e.MeanHalf(), 3) }), nil},
	{"rmse", ofLateral(func(e score.Extent) string { return number(e.RMSE(), 3) }), nil},
	{"sharp", ofLateral(func(e score.Extent) string { return number(e.Sharpness(), 2) }), func(r *row) bool { return total(r.fits).Lateral.Sharpness() > maxSharpness }},
	{"÷dots", ofScore(func(s *score.Score) string { return number(s.Gain(), 2) }), func(r *row) bool { return r.name == gainPreset && r.score.Gain() > maxGain }},
	{"dcover%", ofDepth(func(e score.Extent) string { return number(100*e.Coverage(), 1) }), missesDepth},
	{"d±", func(r *row) string { return number(100*spread(depths(r.fits)), 1) }, nil},
	{"dneed", ofDepth(func(e score.Extent) string { return number(e.Factor(), 2) }), nil},
	{"dsharp", ofDepth(func(e score.Extent) string { return number(e.Sharpness(), 2) }), func(r *row) bool { return total(r.fits).Depth.Sharpness() > maxSharpness }},
	{"dbias%", ofDepth(func(e score.Extent) string { return number(100*e.Bias(), 1) }), nil},
	{"bends", ofScore(func(s *score.Score) string { return fmt.Sprint(len(s.Corners)) }), nil},
	{"bend95", ofScore(func(s *score.Score) string { return number(s.Corner(0.95), 2) }), func(r *row) bool { return r.every(fixed) && r.score.Corner(0.95) > maxBend }},
	{"compl%", ofScore(func(s *score.Score) string { return number(100*s.Completeness(), 1) }), func(r *row) bool { return r.score != nil && r.score.Completeness() < minComplete }},
	{"known", ofClock(func(c clocks) string { return fmt.Sprintf("%d/%d", c.determined, c.all) }), nil},
	{"cmax", ofClock(func(c clocks) string { return number(c.worst, 2) }), missesClock},
	{"cmax÷σ", ofClock(func(c clocks) string { return number(c.ratio, 1) }), func(r *row) bool { return r.score != nil && clocksOf(r.score.Clocks).ratio > 3 }},
	{"wrong", ofClock(func(c clocks) string { return fmt.Sprint(c.wrong) }), func(r *row) bool { return r.score != nil && clocksOf(r.score.Clocks).wrong > 0 }},
	{"c>3σ", ofClock(func(c clocks) string { return fmt.Sprint(c.beyond) }), func(r *row) bool { return r.score != nil && clocksOf(r.score.Clocks).beyond > 0 }},
	{"locks", ofScore(func(s *score.Score) string { return hits(s.Known, s.Locks, s.Wronged) }), nil},
	{"steps", ofScore(func(s *score.Score) string { return hits(s.StepsFound, s.Steps, s.StepsFalse) }), nil},
	{"plain%", ofScore(func(s *score.Score) string { return number(100*stepped(s), 0) }), nil},
	{"jumps/h", ofScore(func(s *score.Score) string { return number(jumps(s), 1) }), nil},
}

// stepped is the share of the lines without a step of which one was told.
func stepped(s *score.Score) float64 { return float64(s.PlainStepped) / float64(s.Plain) }

// jumps is how many jumps an hour were told of receivers that had none.
func jumps(s *score.Score) float64 { return float64(s.JumpsFalse) / s.SteadyHours }

func ofLateral(f func(score.Extent) string) func(*row) string {
	return func(r *row) string { return f(total(r.fits).Lateral) }
}

func ofDepth(f func(score.Extent) string) func(*row) string {
	return func(r *row) string { return f(total(r.fits).Depth) }
}

// number writes a figure; "-" where there is none.
func number(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "-"
	}
	return fmt.Sprintf("%.*f", decimals, v)
}

// hits writes found/missed/false.
func hits(found, all, wrong int) string { return fmt.Sprintf("%d/%d/%d", found, all-found, wrong) }

func ofScore(f func(*score.Score) string) func(*row) string {
	return func(r *row) string {
		if r.score == nil {
			return "-"
		}
		return f(r.score)
	}
}

func ofClock(f func(clocks) string) func(*row) string {
	return ofScore(func(s *score.Score) string { return f(clocksOf(s.Clocks)) })
}
