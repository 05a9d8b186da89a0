package readings

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// A timeFormat is a way of writing times that the user has stated: a row of
// steps, or seconds or milliseconds since 1970.
type timeFormat struct {
	steps   []formatStep
	perUnix float64 // units a second of a plain count since 1970-01-01 UTC; 0 for steps
}

// A formatStep takes one token, or one character that is none.
type formatStep struct {
	token   string
	literal byte
	lo, hi  int // figures
}

// formatTokens are tried in this order at each place of a format.
var formatTokens = []string{"YYYY", "YY", "MMM", "MM", "DD", "hh", "mm", "ss", "AM", "±hh:mm", "±hhmm", "Z"}

// newTimeFormat reads a format such as "DD.MM.YYYY hh:mm:ss". A fraction behind
// the seconds is accepted whether the format shows it (fff) or not.
func newTimeFormat(text string) (*timeFormat, error) {
	switch text {
	case "":
		return nil, nil
	case "unix":
		return &timeFormat{perUnix: 1}, nil
	case "unix_ms":
		return &timeFormat{perUnix: 1000}, nil
	}
	f := &timeFormat{}
	for rest := text; rest != ""; {
		if len(rest) >= 4 && strings.IndexByte(".,:", rest[0]) >= 0 && rest[1:4] == "fff" {
			rest = strings.TrimLeft(rest[1:], "f")
			continue
		}
		token := ""
		for _, t := range formatTokens {
			if strings.HasPrefix(rest, t) {
				token = t
				break
			}
		}
		if token == "" {
			if c := rest[0]; c != 'T' && (c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= 0x80) {
				return nil, badKey("format", "%q: %q is no token; tokens are %s fff, or unix, unix_ms",
					text, string([]rune(rest)[0]), strings.Join(formatTokens, " "))
			}
			f.steps = append(f.steps, formatStep{literal: rest[0]})
			rest = rest[1:]
			continue
		}
		f.steps = append(f.steps, formatStep{token: token})
		rest = rest[len(token):]
	}
	return f, f.settle(text)
}

// settle checks that a format says everything once and sets the count of
// figures: one or two for month, day and hour where signs stand around them,
// else two, so that a time cut short is not taken for another.
func (f *timeFormat) settle(text string) error {
	count := map[string]int{}
	for i := range f.steps {
		s := &f.steps[i]
		count[s.token]++
		s.lo, s.hi = 2, 2
		alone := (i == 0 || f.steps[i-1].token == "") && (i+1 == len(f.steps) || f.steps[i+1].token == "")
		switch s.token {
		case "YYYY":
			s.lo, s.hi = 4, 4
		case "MM", "DD", "hh":
			if alone {
				s.lo = 1
			}
		}
	}
	if count["YYYY"]+count["YY"] != 1 || count["MM"]+count["MMM"] != 1 || count["DD"] != 1 ||
		count["hh"] != 1 || count["mm"] != 1 || count["ss"] != 1 {
		return badKey("format", "%q: it needs YYYY (or YY), MM (or MMM), DD, hh, mm and ss once each, as in \"DD.MM.YYYY hh:mm:ss\"", text)
	}
	return nil
}

// parse reads a text wholly.
func (f *timeFormat) parse(text string) (st stamp, reason string) {
	if f.perUnix != 0 {
		return f.parseUnix(text)
	}
	s := scan{text}
	for _, step := range f.steps {
		if !s.take(step, &st) {
			return st, notMapped
		}
	}
	switch {
	case s.rest != "":
		return st, notMapped
	case !st.valid():
		return st, noSuchTime
	}
	return st, ""
}

// take reads one step.
func (s *scan) take(step formatStep, st *stamp) (ok bool) {
	switch step.token {
	case "":
		return s.one(string(step.literal)) != 0
	case "YYYY":
		st.year, ok = s.figures(step.lo, step.hi)
	case "YY":
		st.year, ok = s.figures(step.lo, step.hi)
		st.year += 2000
	case "MMM":
		st.month, ok = s.monthName()
	case "MM":
		st.month, ok = s.figures(step.lo, step.hi)
	case "DD":
		st.day, ok = s.figures(step.lo, step.hi)
	case "hh":
		st.hour, ok = s.figures(step.lo, step.hi)
	case "mm":
		st.min, ok = s.figures(step.lo, step.hi)
	case "ss":
		if st.sec, ok = s.figures(step.lo, step.hi); ok && s.isFraction() {
			s.rest = s.rest[1:]
			ok = s.fraction(st)
		}
	case "AM":
		before := s.rest
		ok = s.half(st) && s.rest != before
	default:
		ok = s.zone(st)
	}
	return ok
}

// isFraction reports whether a mark and a figure follow.
func (s *scan) isFraction() bool {
	return len(s.rest) > 1 && strings.IndexByte(".,:", s.rest[0]) >= 0 && s.rest[1] >= '0' && s.rest[1] <= '9'
}

// monthName takes an English month, short or whole.
func (s *scan) monthName() (month int, ok bool) {
	for m := time.January; m <= time.December; m++ {
		for _, name := range []string{m.String(), m.String()[:3]} {
			if len(s.rest) >= len(name) && strings.EqualFold(s.rest[:len(name)], name) {
				s.rest = s.rest[len(name):]
				return int(m), true
			}
		}
	}
	return 0, false
}

// parseUnix reads a count since 1970-01-01 00:00:00 UTC.
func (f *timeFormat) parseUnix(text string) (st stamp, reason string) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.Abs(v) > 1e14 {
		return st, notMapped
	}
	whole, part := math.Modf(v / f.perUnix)
	t := time.Unix(int64(whole), int64(math.Round(part*1e6))*1000).UTC()
	st = stamp{year: t.Year(), month: int(t.Month()), day: t.Day(), hour: t.Hour(), min: t.Minute(), sec: t.Second(),
		nano: t.Nanosecond(), hasZone: true}
	if !st.valid() || st.year > 9999 {
		return st, noSuchTime
	}
	return st, ""
}
