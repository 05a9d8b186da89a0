package main

import (
	"fmt"
	"math"

	"tracemap/internal/score"
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
	{"days", func(r *row) string { return fmt.Sprint(len(r.lateral)) }, nil},
	{"refused", func(r *row) string {
		if r.score == nil {
			return "-"
		}
		return fmt.Sprint(r.refused())
	}, func(r *row) bool { return r.refused() > 0 }},
	{"km", func(r *row) string { return number(total(r.lateral).Length/1000, 2) }, nil},
	{"cover%", func(r *row) string { return number(100*total(r.lateral).Coverage(), 1) }, missesCoverage},
	{"±", func(r *row) string { return number(100*spread(r.lateral), 1) }, nil},
	{"need", func(r *row) string { return number(total(r.lateral).Factor(), 2) }, nil},
	{"half", func(r *row) string { return number(total(r.lateral).MeanHalf(), 3) }, nil},
	{"rmse", func(r *row) string { return number(total(r.lateral).RMSE(), 3) }, nil},
	{"sharp", func(r *row) string { return number(total(r.lateral).Sharpness(), 2) }, func(r *row) bool { return total(r.lateral).Sharpness() > maxSharpness }},
	{"÷dots", ofScore(func(s *score.Score) string { return number(s.Gain(), 2) }), func(r *row) bool { return r.name == gainPreset && r.score.Gain() > maxGain }},
	{"dcover%", ofScore(func(s *score.Score) string { return number(100*s.Depth.Coverage(), 1) }), missesDepth},
	{"dneed", ofScore(func(s *score.Score) string { return number(s.Depth.Factor(), 2) }), nil},
	{"dsharp", ofScore(func(s *score.Score) string { return number(s.Depth.Sharpness(), 2) }), nil},
	{"bends", ofScore(func(s *score.Score) string { return fmt.Sprint(len(s.Corners)) }), nil},
	{"bend95", ofScore(func(s *score.Score) string { return number(s.Corner(0.95), 2) }), func(r *row) bool { return r.every(fixed) && r.score.Corner(0.95) > maxBend }},
	{"bendmax", ofScore(func(s *score.Score) string { return number(s.Corner(1), 2) }), nil},
	{"compl%", ofScore(func(s *score.Score) string { return number(100*s.Completeness(), 1) }), func(r *row) bool { return r.score != nil && r.score.Completeness() < minComplete }},
	{"known", ofClock(func(c clocks) string { return fmt.Sprintf("%d/%d", c.determined, c.days) }), nil},
	{"cmax", ofClock(func(c clocks) string { return number(c.worst, 2) }), missesClock},
	{"crms", ofClock(func(c clocks) string { return number(c.rms, 2) }), nil},
	{"cmax÷σ", ofClock(func(c clocks) string { return number(c.ratio, 1) }), func(r *row) bool { return r.score != nil && clocksOf(r.score.Clocks).ratio > 3 }},
	{"wrong", ofClock(func(c clocks) string { return fmt.Sprint(c.wrong) }), func(r *row) bool { return r.score != nil && clocksOf(r.score.Clocks).wrong > 0 }},
	{"u>3σ", ofClock(func(c clocks) string { return fmt.Sprint(c.undetBeyond) }), func(r *row) bool { return r.score != nil && clocksOf(r.score.Clocks).undetBeyond > 0 }},
	{"locks", ofScore(func(s *score.Score) string { return hits(s.Known, s.Locks, s.Wronged) }), nil},
	{"steps", ofScore(func(s *score.Score) string { return hits(s.StepsFound, s.Steps, s.StepsFalse) }), nil},
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
