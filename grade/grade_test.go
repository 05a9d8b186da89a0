package grade_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tracemap/grade"
)

func scheme(t *testing.T, name string) *grade.Scheme {
	t.Helper()
	s, err := grade.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

var nan = math.NaN()

// The limits of each scheme, just kept and just passed; the figures and where
// they come from stand in the table.
func TestLimits(t *testing.T) {
	for _, c := range []struct {
		scheme string
		place  grade.Place
		want   string
	}{
		{"pas128", grade.Place{Horizontal: 0.249, Depth: 1.5, Vertical: 0.59}, "B2"},
		{"pas128", grade.Place{Horizontal: 0.251, Depth: 1.5, Vertical: 0.59}, "B3"},
		{"pas128", grade.Place{Horizontal: 0.249, Depth: 1.5, Vertical: 0.61}, "B3"},
		{"pas128", grade.Place{Horizontal: 0.249, Depth: nan, Vertical: nan}, "B3"},
		{"pas128", grade.Place{Horizontal: 0.499, Depth: nan, Vertical: nan}, "B3"},
		{"pas128", grade.Place{Horizontal: 0.501, Depth: 1.5, Vertical: 0.1}, ""},
		{"pas128", grade.Place{Horizontal: 0.3, Depth: 4, Vertical: 0.1}, "B3"}, // 40 % of 4 m would be 1.6 m: not used
		{"pas128", grade.Place{Horizontal: nan, Depth: 1, Vertical: 0.1}, ""},
		{"as5488", grade.Place{Horizontal: 0.299, Depth: 1.5, Vertical: 0.49}, "B"},
		{"as5488", grade.Place{Horizontal: 0.301, Depth: 1.5, Vertical: 0.49}, ""},
		{"as5488", grade.Place{Horizontal: 0.299, Depth: 1.5, Vertical: 0.51}, ""},
		{"as5488", grade.Place{Horizontal: 0.299, Depth: nan, Vertical: nan}, ""},
		{"fr2012", grade.Place{Horizontal: 0.149, Depth: 1, Vertical: 0.149, Diameter: true}, "A"},
		{"fr2012", grade.Place{Horizontal: 0.151, Depth: 1, Vertical: 0.1, Diameter: true}, "B"},
		{"fr2012", grade.Place{Horizontal: 0.1, Depth: 1, Vertical: 0.151, Diameter: true}, "B"},
		{"fr2012", grade.Place{Horizontal: 0.149, Depth: 1, Vertical: 0.1}, "B"}, // the crown is not known
		{"fr2012", grade.Place{Horizontal: 0.189, Depth: 1, Vertical: 0.189, Cable: true}, "A"},
		{"fr2012", grade.Place{Horizontal: 0.191, Depth: 1, Vertical: 0.1, Cable: true}, "B"},
		{"fr2012", grade.Place{Horizontal: 0.1, Depth: nan, Vertical: nan, Cable: true}, "B"},
		{"fr2012", grade.Place{Horizontal: 0.569, Depth: nan, Vertical: nan}, "B"},
		{"fr2012", grade.Place{Horizontal: 0.571, Depth: 1, Vertical: 0.1}, "C"},
		{"fr2012", grade.Place{Horizontal: nan}, "C"},
		{"none", grade.Place{Horizontal: 0.01, Depth: 1, Vertical: 0.01}, ""},
	} {
		if got := scheme(t, c.scheme).Of(c.place); got != c.want {
			t.Errorf("%s: %+v: %q, want %q", c.scheme, c.place, got, c.want)
		}
	}
}

// However good a place is, it is never suggested what one technique cannot
// support.
func TestCeiling(t *testing.T) {
	best := grade.Place{Horizontal: 0, Depth: 1, Vertical: 0, Diameter: true}
	for name, want := range map[string]string{"pas128": "B2", "as5488": "B", "fr2012": "A"} {
		if got := scheme(t, name).Of(best); got != want {
			t.Errorf("%s: a perfect place is suggested %q, want %q", name, got, want)
		}
	}
}

// A place that is worse in anything is never suggested a better class.
func TestWorseIsNeverBetter(t *testing.T) {
	figure := func(most float64) *rapid.Generator[float64] { return rapid.Float64Range(0, most) }
	rapid.Check(t, func(rt *rapid.T) {
		s := scheme(t, rapid.SampledFrom(grade.Names()[1:]).Draw(rt, "scheme"))
		a := grade.Place{Horizontal: figure(2).Draw(rt, "plan"), Depth: figure(4).Draw(rt, "depth"), Vertical: figure(1).Draw(rt, "vertical"),
			Cable: rapid.Bool().Draw(rt, "cable"), Diameter: rapid.Bool().Draw(rt, "diameter")}
		b := a
		b.Horizontal += figure(1).Draw(rt, "more in plan")
		b.Vertical += figure(1).Draw(rt, "more in depth")
		if rapid.Bool().Draw(rt, "no depth") {
			b.Depth, b.Vertical = nan, nan
		}
		if s.Worse(s.Of(a), s.Of(b)) != s.Of(b) {
			rt.Errorf("%+v: %q, worse %+v: %q", a, s.Of(a), b, s.Of(b))
		}
	})
}

func TestWorse(t *testing.T) {
	s := scheme(t, "pas128")
	for _, c := range [][3]string{{"B2", "B3", "B3"}, {"B3", "B2", "B3"}, {"B2", "", ""}, {"", "B2", ""}, {"B2", "B2", "B2"}} {
		if got := s.Worse(c[0], c[1]); got != c[2] {
			t.Errorf("the worse of %q and %q: %q, want %q", c[0], c[1], got, c[2])
		}
	}
}

// Every row says where its figures come from, and what nobody has read.
func TestRowsHaveSources(t *testing.T) {
	for _, s := range grade.Schemes() {
		if s.Edition == "" || s.Ceiling == "" || s.Level == "" {
			t.Errorf("%s: edition, ceiling or level is not said", s.Name)
		}
		for _, r := range s.Rows {
			if r.Source == "" || r.Basis == "" || r.Figures == "" {
				t.Errorf("%s %s: source, basis or figures are not said", s.Name, r.Class)
			}
			if r.Suggest && r.Source == "none" {
				t.Errorf("%s %s: suggested by figures that nobody has read", s.Name, r.Class)
			}
		}
	}
}

// What is not offered is refused with the reason, and with what is.
func TestRefusals(t *testing.T) {
	for name, why := range map[string]string{
		"asce": "professional's judgment", "ASCE 38-22": "professional's judgment", "asce38": "never assigned by software", "QL-B": "name the scheme",
		"asce-75": "newly laid", "csa": "as-built records", "S250": "not readable", "csa_s250": "not readable", "papyrus": "there are none, pas128, as5488, fr2012",
	} {
		_, err := grade.Lookup(name)
		if err == nil || !strings.Contains(err.Error(), why) || !strings.Contains(err.Error(), "pas128") {
			t.Errorf("%s: %v, want %q and what there is", name, err, why)
		}
	}
}
