package survey_test

import (
	"errors"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"tracemap/internal/survey"
)

var second = regexp.MustCompile(`(T\d\d:\d\d:)(\d\d)(\.\d+)?Z`)

// cutTo writes a log's times as a program does that drops what is below a step of
// so many seconds.
func cutTo(log string, step int) string {
	return second.ReplaceAllStringFunc(log, func(t string) string {
		m := second.FindStringSubmatch(t)
		n, _ := strconv.Atoi(m[2]) // two digits
		n -= n % step
		return m[1] + strconv.Itoa(n/10) + strconv.Itoa(n%10) + "Z"
	})
}

// Times cut to minutes are refused with the cause; cut to 5 s they widen the map,
// which says so.
func TestCutTimes(t *testing.T) {
	log, readings := demo(t)
	for _, step := range []int{60, 30} {
		_, err := survey.Run(t.Context(), open(t, source("day.nmea", log), source("readings.csv", cutTo(readings, step))), survey.DefaultOptions())
		if !errors.Is(err, survey.ErrNoMap) || !strings.Contains(err.Error(), "cut to multiples of") {
			t.Errorf("times cut to %d s: %v, want them refused", step, err)
		}
	}
	whole, cut := run(t, log, readings, nil), run(t, log, cutTo(readings, 5), nil)
	if !contains(cut.Summary.Warnings, "cut to multiples of 5 s") || contains(whole.Summary.Warnings, "cut to multiples") {
		t.Errorf("warnings %q", cut.Summary.Warnings)
	}
	mean := func(half []float64) (m float64) {
		for _, h := range half {
			m += h / float64(len(half))
		}
		return m
	}
	var a, b []float64
	for i := range whole.Lines {
		for _, v := range whole.Lines[i].Parts[0].Vertices {
			a = append(a, v.Sigma)
		}
	}
	for i := range cut.Lines {
		for _, v := range cut.Lines[i].Parts[0].Vertices {
			b = append(b, v.Sigma)
		}
	}
	if !(mean(b) > mean(a)) || math.IsNaN(mean(b)) {
		t.Errorf("mean σ across %v m with times cut, %v m with whole ones", mean(b), mean(a))
	}
}
