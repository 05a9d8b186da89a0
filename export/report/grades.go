package report

import (
	"fmt"
	"slices"
	"strings"

	"tracemap/fuse"
	"tracemap/grade"
	"tracemap/present"
	"tracemap/result"
)

// A gradesView is what the page says of accuracy classes: the scheme that was asked
// for, what of each part it comes to, and, with any scheme or none, the evidence
// that a licensed professional needs to decide.
type gradesView struct {
	Scheme *grade.Scheme
	Rows   []gradeRow
	Shares []shareRow
	Parts  []evidenceRow
	Others []string
}

// A gradeRow is a class of the scheme and what is asked of a place for it.
type gradeRow struct {
	Class, Basis, Figures, Asked, Source string
}

type shareRow struct{ Letters, Name, Shares string }

// An evidenceRow is the evidence for a part.
type evidenceRow struct {
	Letters, Name, Signal, Fix, Plan, Depth, Readings, Doubts string
}

// others says what is never assigned or not offered, whatever was asked for.
var others = []string{
	"ASCE/UESI/CI 38: a quality level is a licensed professional's judgment of the evidence – records, surface features, geophysics, exposure – and is never assigned by software. An electromagnetic depth is no part of it.",
	"CSA S250 and ASCE/UESI/CI 75 are not offered: their tables could not be read when this was written, and both are for exposed or newly laid plant.",
	"Evidence that is needed for the decision and is not in the data: the records and whether they agree; valves, chambers and other features seen; what was exposed, where and by whom; whether every line that is there gave a signal; who is responsible.",
}

func grades(m *result.Map, u present.Units) gradesView {
	v := gradesView{Scheme: m.Scheme, Others: others}
	if m.Scheme != nil {
		for i := range m.Scheme.Rows {
			r := &m.Scheme.Rows[i]
			source := r.Source
			if r.FromMemory != "" {
				source += "; from memory: " + r.FromMemory
			}
			v.Rows = append(v.Rows, gradeRow{r.Class, r.Basis, r.Figures, asked(r, u), source})
		}
	}
	onPart := byPart(m)
	for i := range m.Lines {
		line := &m.Lines[i]
		for j := range line.Parts {
			part := &line.Parts[j]
			if len(part.Vertices) == 0 {
				continue
			}
			letters, name := present.LookOf(line.Utility).Letters, result.PartName(line, part)
			v.Parts = append(v.Parts, evidenceOf(m, line, part, onPart[partKey{line.ID, part.Number}], u))
			if shares := result.ClassShares(m, line, part); len(shares) > 0 {
				v.Shares = append(v.Shares, shareRow{letters, name, sharesText(shares, u)})
			}
		}
	}
	return v
}

// asked says what a place's own 95 % bounds must be for a class to be suggested.
func asked(r *grade.Row, u present.Units) string {
	if !r.Suggest {
		return "never suggested"
	}
	var out []string
	if bound(r.Horizontal) {
		text := "plan ± " + u.Depth(r.Horizontal)
		if r.Flexible != r.Horizontal {
			text += ", cables ± " + u.Depth(r.Flexible)
		}
		out = append(out, text)
	}
	switch {
	case bound(r.Share):
		out = append(out, fmt.Sprintf("depth ± %.0f %%", r.Share*100))
	case bound(r.Vertical):
		out = append(out, "depth ± "+u.Depth(r.Vertical))
	}
	if r.Crown {
		out = append(out, "diameter known")
	}
	if len(out) == 0 {
		return "nothing"
	}
	return strings.Join(out, "; ")
}

// bound reports whether a limit is one.
func bound(v float64) bool { return present.Known(v) && v > 0 }

func sharesText(shares []result.ClassShare, u present.Units) string {
	var out []string
	for _, s := range shares {
		class := s.Class
		if class == "" {
			class = "none"
		}
		out = append(out, class+" "+u.Length(s.Length))
	}
	return strings.Join(out, ", ")
}

// evidenceOf sums up what a part rests on.
func evidenceOf(m *result.Map, line *fuse.Line, part *fuse.Part, on *partMembers, u present.Units) evidenceRow {
	s := result.StatsOf(m, line, part)
	row := evidenceRow{
		Letters: present.LookOf(line.Utility).Letters, Name: result.PartName(line, part), Signal: present.MethodName(line.Method),
		Fix: present.FixName(s.Weakest), Plan: "± " + u.Depth(s.HalfMax), Depth: "not read", Readings: fmt.Sprint(part.Readings),
	}
	if present.Known(line.Frequency) {
		row.Signal += ", " + present.Hertz(line.Frequency)
	}
	if present.Known(s.DepthMin) {
		row.Depth = "± " + u.Depth(s.Depth95Max)
	}
	if on != nil {
		aside := 0
		for _, p := range on.readings {
			if !p.Used {
				aside++
			}
		}
		if aside > 0 {
			row.Readings += fmt.Sprintf(", %d set aside", aside)
		}
		seen := slices.DeleteFunc(slices.Clone(on.points), func(p *fuse.Placed) bool { return !present.Known(p.Reading.MeasuredDepth) })
		if len(seen) > 0 {
			row.Depth += ", seen in " + present.Count(len(seen), "pothole", "potholes")
		}
	}
	row.Doubts = "–"
	if d := s.Flags & present.Doubtful; d != 0 {
		row.Doubts = present.RemarkWords(d)
	}
	return row
}
