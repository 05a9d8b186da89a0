package result

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/nmea"
	"tracemap/present"
	"tracemap/remarks"
)

// A Level is how far a day's map can be used.
type Level int

// The levels of a verdict, the best first.
const (
	Good Level = iota
	WithCare
	NotUsable
)

// String returns the level in the words that people read, the same everywhere.
func (l Level) String() string {
	return [...]string{"Good", "Usable with care", "Not usable"}[l]
}

// MarshalText returns the level as programs read it in summary.json.
func (l Level) MarshalText() ([]byte, error) {
	return []byte([...]string{"good", "care", "unusable"}[l]), nil
}

// A Verdict says what a day's map is good for, in plain words. Good means that the
// map holds within the widths it shows; it is never leave to dig. A day has one: it
// is made once and goes into summary.json, onto the terminal, the report and the page.
type Verdict struct {
	Level   Level    `json:"level"`
	Summary string   `json:"summary"`  // one or two sentences: what was located, how well
	Reasons []string `json:"reasons"`  // why it is not better; empty when good
	NotTold []string `json:"not_told"` // what the crew did not say; never lowers the level
}

// The limits of the verdict's rules: docs/verdict.md gives the figures behind each.
const (
	wideWidth      = 0.5  // m, half-width over which a stretch is called wide
	uselessWidth   = 1.0  // m, half-width over which a stretch locates nothing
	shareOfLength  = 0.1  // of the located length, before a weakness counts
	shareUseless   = 0.02 // of the located length over uselessWidth, before it counts
	shareUnplaced  = 0.05 // of the readings, before the loss counts
	shareUnread    = 0.05 // of the rows, before those that could not be read count
	shareAside     = 0.1  // of the readings on lines, before what was set aside counts
	shareOfClock   = 0.1  // of a part's half-width, before what the clock adds to it counts
	halfOfReadings = 0.5  // without a place, over which nothing may be concluded
)

// VerdictRules states the rules of Judge, for the report.
func VerdictRules(u present.Units) []string {
	percent := func(share float64) string { return fmt.Sprintf("%.0f %%", 100*share) }
	return []string{
		"Not usable: nothing was located, or nothing with a length; or more than half of the readings have no position; or the 95 % half-width is over " + u.Depth(uselessWidth) + " on more than half of the located length.",
		"Usable with care: a clock that is not known to the second adds more than a tenth to the width on over " + percent(shareOfLength) + " of the length; or over " + percent(shareUnread) + " of the rows could not be read; or over " + percent(shareUnplaced) + " of the readings have no position; or over " + percent(shareAside) +
			" of those on lines were set aside; or the half-width is over " + u.Depth(wideWidth) + " on more than " + percent(shareOfLength) + " of the length or over " + u.Depth(uselessWidth) + " on more than " + percent(shareUseless) +
			"; or on more than " + percent(shareOfLength) + " of the length no depth was read or the fix was weaker than RTK float; or a test hole contradicts the map; or part of a line lies in a distorted field, where the receiver's position jumped, or on one or two readings; or a part could not be computed.",
		"Good: none of these. Good means that the map holds within the widths it shows. It does not mean that digging is safe.",
		"What the crew did not state, such as the antenna height or the reference frame, is listed separately and does not lower the verdict.",
	}
}

// Judged returns the day's verdict: the one in the summary, or, for a map that has
// none yet, the one that Judge gives.
func (m *Map) Judged() Verdict {
	if m.Summary != nil && m.Summary.Verdict != nil {
		return *m.Summary.Verdict
	}
	return Judge(m)
}

// Judge returns the verdict on a map by the rules that VerdictRules states.
func Judge(m *Map) Verdict {
	t := take(m)
	v := Verdict{Summary: t.sentence(m)}
	add := func(l Level, yes bool, text string, args ...any) {
		if yes {
			v.Level = max(v.Level, l)
			v.Reasons = append(v.Reasons, fmt.Sprintf(text, args...))
		}
	}
	u := m.Units()
	share := func(length float64) float64 { return length / max(t.length, 1e-9) }
	percent := func(x float64) int { return int(present.Round(100*x, 0)) }
	unplaced := float64(t.unplaced) / float64(max(t.readings, 1))
	useless := share(t.useless)

	add(NotUsable, t.parts == 0, "No line was located.")
	add(NotUsable, t.parts > 0 && t.length == 0, "No line has a length: %s on readings at one place.", present.Count(t.parts, "part rests", "parts rest"))
	add(WithCare, len(t.missing) > 0, "A defect of the program kept parts of these lines from being computed, and they are missing: %s.", list(t.missing))
	add(NotUsable, unplaced > halfOfReadings, "%d of %d readings have no position.", t.unplaced, t.readings)
	add(NotUsable, useless > 0.5, "On %d %% of the length the true line may lie more than %s to either side.", percent(useless), u.Depth(uselessWidth))
	clockAdds, clockOn := clockWidth(m)
	add(WithCare, share(clockOn) > shareOfLength, "The locator's clock %s, which adds up to %s to either side on %d %% of the length.", howKnown(m.Clock), u.Depth(clockAdds), percent(share(clockOn)))
	add(WithCare, len(m.Aside) > 0 && float64(len(m.Aside)) > shareUnread*float64(t.readings), "%d of %d rows of the readings log could not be read.", len(m.Aside), t.readings)
	lost := t.unplaced - len(m.Aside)
	add(WithCare, unplaced <= halfOfReadings && float64(lost) > shareUnplaced*float64(t.readings), "%d of %d readings have no position.", lost, t.readings)
	add(WithCare, t.onLines > 0 && float64(t.aside) > shareAside*float64(t.onLines), "%d of %d readings on lines were set aside.", t.aside, t.onLines)
	wide := share(t.wide) > shareOfLength && useless <= 0.5
	add(WithCare, wide, "On %d %% of the length the true line may lie more than %s to either side.", percent(share(t.wide)), u.Depth(wideWidth))
	add(WithCare, useless > shareUseless && useless <= 0.5, "These stretches may lie more than %s to either side: %s.", u.Depth(uselessWidth), stretches(m, u, isUseless))
	add(WithCare, share(t.noDepth) > shareOfLength, "On %d %% of the length no depth was read.", percent(share(t.noDepth)))
	add(WithCare, share(t.weakFix) > shareOfLength, "On %d %% of the length the fix was weaker than RTK float.", percent(share(t.weakFix)))
	for _, f := range []struct{ what, text string }{
		{contradictions(m, u), "Test holes show the line elsewhere than the map, beyond its width: %s."},
		{stretches(m, u, flagged(remarks.Distorted|remarks.PeakNullApart)), "The field is distorted; place and depth may be further off than the widths say: %s."},
		{stretches(m, u, flagged(remarks.GNSSJump)), "The receiver's position jumped, as after a false fix; the line may be further off than its width says: %s."},
		{list(t.flagged(m, remarks.SinglePoint|remarks.TwoPoints)), "These parts rest on one or two readings: %s."},
	} {
		add(WithCare, f.what != "", f.text, f.what)
	}
	return v
}

// howKnown says how well the day's clock, or that known least, was tied to UTC.
func howKnown(r *clock.Result) string {
	if r == nil || r.Worst().State == clock.Unknown {
		return "could not be tied to UTC"
	}
	return fmt.Sprintf("was tied to UTC only to within ±%.1f s", present.HalfWidth(r.Worst().Sigma))
}

// WidenedByClock reports whether the clock adds more than a tenth to the widest
// half-width of a part: less is not seen in a width of two digits.
func WidenedByClock(p *fuse.Part) bool {
	widest := 0.0
	for i := range p.Vertices {
		widest = max(widest, present.HalfWidth(p.Vertices[i].Sigma))
	}
	return p.ClockWidth > shareOfClock*widest
}

// clockWidth returns the most, m, that a clock that is not known adds to a half-width of
// the parts that it widens noticeably, and the length of these, m.
func clockWidth(m *Map) (width, length float64) {
	if m.Clock == nil || m.Clock.Worst().State == clock.Known {
		return 0, 0
	}
	for _, part := range m.Parts() {
		if WidenedByClock(part) {
			width, length = max(width, part.ClockWidth), length+part.Length()
		}
	}
	return width, length
}

// contradictions names the places at which test holes contradict the map.
func contradictions(m *Map, u present.Units) string {
	var out []string
	for i := range m.Lines {
		for j := range m.Lines[i].Events {
			e := &m.Lines[i].Events[j]
			if e.Kind != remarks.PotholeContradicts {
				continue
			}
			text := fmt.Sprintf("%s at %s (seen %s deep", m.Lines[i].ID, u.Length(e.Station), u.Depth(e.After))
			if present.Known(e.Before) {
				text += ", located " + u.Depth(e.Before)
			}
			out = append(out, text+", "+u.Depth(math.Abs(e.Across))+" beside the line)")
		}
	}
	return list(out)
}

// isUseless reports whether a stretch is so wide that it locates nothing.
func isUseless(a, b *fuse.Vertex) bool { return present.HalfWidth((a.Sigma+b.Sigma)/2) > uselessWidth }

// flagged returns what reports whether either end of a stretch has a flag of f.
func flagged(f remarks.Set) func(a, b *fuse.Vertex) bool {
	return func(a, b *fuse.Vertex) bool { return (a.Flags | b.Flags).Any(f) }
}

// stretches names the parts with stretches of a kind, the longest first, each with the
// length that is; "" when there is none.
func stretches(m *Map, u present.Units, is func(a, b *fuse.Vertex) bool) string {
	type stretch struct {
		name   string
		length float64
	}
	var all []stretch
	for line, part := range m.Parts() {
		s := stretch{name: PartName(line, part)}
		vs := part.Vertices
		for i := 1; i < len(vs); i++ {
			if is(&vs[i-1], &vs[i]) {
				s.length += vs[i].Station - vs[i-1].Station
			}
		}
		if s.length > 0 {
			all = append(all, s)
		}
	}
	slices.SortStableFunc(all, func(a, b stretch) int { return cmp.Compare(b.length, a.length) })
	var names []string
	for _, s := range all {
		names = append(names, fmt.Sprintf("%s (%s)", s.name, u.Length(s.length)))
	}
	return list(names)
}

// tally counts what the rules ask for. Lengths are metres.
type tally struct {
	missing                                   []string // lines with parts that were not computed
	parts, readings, unplaced, onLines, aside int
	length, wide, useless, noDepth, weakFix   float64
	halfLengths                               [][2]float64 // half-width, length
}

func take(m *Map) tally {
	var t tally
	for _, part := range m.Parts() {
		t.parts++
		vs := part.Vertices
		for i := 1; i < len(vs); i++ {
			t.stretch(&vs[i-1], &vs[i])
		}
	}
	t.readings, t.unplaced = len(m.Readings)+len(m.Aside), len(m.Aside)
	for i := range m.Readings {
		p := &m.Readings[i]
		if p.Flags.Has(remarks.NotComputed) && !slices.Contains(t.missing, p.LineID) {
			t.missing = append(t.missing, p.LineID)
		}
		switch {
		case !p.OK:
			t.unplaced++
		case p.Reading.OnLine():
			t.onLines++
			if !p.Used {
				t.aside++
			}
		}
	}
	return t
}

func (t *tally) stretch(a, b *fuse.Vertex) {
	length := b.Station - a.Station
	half := present.HalfWidth((a.Sigma + b.Sigma) / 2)
	t.length += length
	t.halfLengths = append(t.halfLengths, [2]float64{half, length})
	if half > wideWidth {
		t.wide += length
	}
	if isUseless(a, b) {
		t.useless += length
	}
	if !present.Known(a.Depth) || !present.Known(b.Depth) {
		t.noDepth += length
	}
	if strength[Weaker(a.Quality, b.Quality)] < strength[nmea.QualityRTKFloat] {
		t.weakFix += length
	}
}

// median is the half-width that half of the length stays within, m.
func (t *tally) median() float64 {
	sorted := slices.Clone(t.halfLengths)
	slices.SortFunc(sorted, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	sum := 0.0
	for _, h := range sorted {
		if sum += h[1]; sum >= t.length/2 {
			return h[0]
		}
	}
	return 0
}

// sentence says what was located and how well.
func (t *tally) sentence(m *Map) string {
	u := m.Units()
	if t.parts == 0 {
		return fmt.Sprintf("No line was located from %d readings.", t.readings)
	}
	text := fmt.Sprintf("%s located, %s in all, from %d of %d readings.", present.Count(len(m.Lines), "line was", "lines were"), u.Length(t.length), t.readings-t.unplaced, t.readings)
	if t.length > 0 {
		text += fmt.Sprintf(" Half of that length is known within ± %s across the line; depth was read on %.0f %% of it.", u.Depth(t.median()), 100-present.Round(100*t.noDepth/t.length, 0))
	}
	return text
}

// flagged names the parts with any of the flags.
func (t *tally) flagged(m *Map, f remarks.Set) []string {
	var out []string
	for line, part := range m.Parts() {
		if FlagsOf(line, part).Any(f) {
			out = append(out, PartName(line, part))
		}
	}
	return out
}

// list joins names, the first few of many.
func list(names []string) string {
	const most = 4
	text := ""
	for i, name := range names {
		if i == most && len(names) > most+1 {
			return text + fmt.Sprintf(" and %d more", len(names)-most)
		}
		if i > 0 {
			text += "; "
		}
		text += name
	}
	return text
}
