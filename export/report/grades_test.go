package report_test

import (
	"strings"
	"testing"

	"tracemap/grade"
	"tracemap/internal/lab/invented"
	"tracemap/present"
	"tracemap/result"
)

// With a scheme the page shows each class with its figures, what is asked here, and
// where that comes from; what part of each line it is suggested for; and never a
// class above what detection alone supports.
func TestClassesOnThePage(t *testing.T) {
	for _, s := range grade.Schemes() {
		m := invented.Day(invented.Atlantic)
		scheme, err := grade.Lookup(s.Name)
		if err != nil {
			t.Fatal(err)
		}
		m.Scheme, m.Meta.Scheme = scheme, s.Name
		page := plain(render(t, m))
		for i := range s.Rows {
			r := &s.Rows[i]
			for _, want := range []string{r.Basis, r.Figures, r.Source, r.FromMemory} {
				if !strings.Contains(page, want) {
					t.Errorf("%s: %q is missing", s.Name, want)
				}
			}
		}
		for _, want := range []string{s.Title, s.Edition, s.Ceiling, s.Level, "A licensed professional decides", "never suggested", "Length by suggested class"} {
			if s.Name == "fr2012" && want == "never suggested" {
				continue // every class there may be
			}
			if !strings.Contains(page, want) {
				t.Errorf("%s: %q is missing", s.Name, want)
			}
		}
	}
}

// With no scheme the page still lists what a professional needs, line by line, and
// says why some schemes are not offered.
func TestEvidenceOnThePage(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	page := plain(render(t, m))
	_, evidence, ok := strings.Cut(page, "The evidence, line by line")
	if !ok {
		t.Fatal("no evidence")
	}
	evidence, _, _ = strings.Cut(evidence, "Cautions</h2>")
	for _, want := range []string{
		"direct connection, 8.192 kHz", "passive signal, 50 Hz", "RTK float", "not read", "seen in 1 pothole", "set aside", "distorted",
		"never assigned by software", "CSA S250", "ASCE/UESI/CI 75", "records",
	} {
		if !strings.Contains(evidence, want) {
			t.Errorf("%q is missing in %s", want, evidence)
		}
	}
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			s := result.StatsOf(m, &m.Lines[i], &m.Lines[i].Parts[j])
			if want := "± " + (present.Units{}).Depth(s.HalfMax); !strings.Contains(evidence, want) {
				t.Errorf("%s, part %d: %q is missing", m.Lines[i].ID, j+1, want)
			}
		}
	}
	if strings.Contains(page, "Length by suggested class") {
		t.Error("classes without a scheme")
	}
}

// plain is a page as a person reads its blanks and signs.
func plain(page string) string {
	return strings.NewReplacer("\u00A0", " ", "&#43;", "+", "&#39;", "'", "&amp;", "&", "&#34;", `"`).Replace(page)
}
