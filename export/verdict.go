package export

import (
	"fmt"
	"slices"

	"tracemap/flags"
	"tracemap/fuse"
	"tracemap/nmea"
)

// A Level is how far a day's map can be used.
type Level int

// The levels of a verdict, the best first.
const (
	Good Level = iota
	WithCare
	NotUsable
)

// String gives the level in the words of the report.
func (l Level) String() string {
	return [...]string{"Good", "Usable with care", "Not usable"}[l]
}

// A Verdict is what a day's map is good for, in plain words. Good means that the
// map holds within the widths it shows; it is never leave to dig.
type Verdict struct {
	Level   Level
	Summary string   // one or two sentences: what was located, how well
	Reasons []string // why it is not better; empty when good
}

// The limits of the verdict's rules. They are this project's own; the widths are
// set beside the tolerance zones of 18 to 24 inches, 0.46 to 0.61 m, inside which
// most states of the US ask for hand tools.
const (
	wideWidth     = 0.5  // m, half-width over which a stretch is called wide
	uselessWidth  = 1.0  // m, half-width over which a stretch locates nothing
	shareOfLength = 0.1  // of the located length, before a weakness counts
	shareUnplaced = 0.05 // of the readings, before the loss counts
	shareAside    = 0.1  // of the readings on lines, before what was set aside counts
)

// VerdictRules states the rules of Judge, for the report.
func VerdictRules(u Units) []string {
	return []string{
		"Not usable: nothing was located, or more than half of the readings got no place, or on more than half of the located length the 95 % half-width is over " + u.Depth(uselessWidth) + ".",
		fmt.Sprintf("Usable with care: the clocks could not be tied together; or more than %.0f %% of the readings got no place; or more than %.0f %% of those on lines were set aside; or on more than %.0f %% of the length the half-width is over %s, the depth was not read, or the fix was weaker than RTK float; or a part is distorted, or rests on one or two readings; or the antenna height or the reference frame was assumed.", 100*shareUnplaced, 100*shareAside, 100*shareOfLength, u.Depth(wideWidth)),
		"Good: none of these. Good means that the map holds within the widths it shows. It is not leave to dig.",
	}
}

// Judge gives the verdict on a map by the rules that VerdictRules states.
func Judge(m *Map) Verdict {
	t := take(m)
	v := Verdict{Summary: t.sentence(m)}
	add := func(l Level, yes bool, text string, args ...any) {
		if yes {
			v.Level = max(v.Level, l)
			v.Reasons = append(v.Reasons, fmt.Sprintf(text, args...))
		}
	}
	u := Units{m.Meta.Imperial}
	share := func(length float64) float64 { return length / max(t.length, 1e-9) }
	percent := func(x float64) int { return int(round(100*x, 0)) }
	unplaced := float64(t.unplaced) / float64(max(t.readings, 1))

	add(NotUsable, t.parts == 0, "No line was located.")
	add(NotUsable, unplaced > 0.5, "%d of %d readings got no place.", t.unplaced, t.readings)
	add(NotUsable, share(t.useless) > 0.5, "On %d %% of the length the true line may lie more than %s to either side.", percent(share(t.useless)), u.Depth(uselessWidth))
	add(WithCare, m.Clock != nil && !m.Clock.Determined, "The locator's clock could not be tied to UTC; every width allows for that as far as it can.")
	add(WithCare, unplaced > shareUnplaced && unplaced <= 0.5, "%d of %d readings got no place.", t.unplaced, t.readings)
	add(WithCare, t.onLines > 0 && float64(t.aside) > shareAside*float64(t.onLines), "%d of %d readings on lines were set aside.", t.aside, t.onLines)
	add(WithCare, share(t.wide) > shareOfLength && share(t.useless) <= 0.5, "On %d %% of the length the true line may lie more than %s to either side.", percent(share(t.wide)), u.Depth(wideWidth))
	add(WithCare, share(t.noDepth) > shareOfLength, "On %d %% of the length no depth was read.", percent(share(t.noDepth)))
	add(WithCare, share(t.weakFix) > shareOfLength, "On %d %% of the length the fix was weaker than RTK float.", percent(share(t.weakFix)))
	for _, f := range []struct {
		flag flags.Set
		text string
	}{
		{flags.Distorted, "Distorted stretches: %s."},
		{flags.SinglePoint | flags.TwoPoints, "Resting on one or two readings only: %s."},
	} {
		names := t.flagged(m, f.flag)
		add(WithCare, len(names) > 0, f.text, list(names))
	}
	add(WithCare, t.flags.Has(flags.AntennaAssumed), "The antenna height was assumed; heights hang on it.")
	add(WithCare, t.flags.Has(flags.FrameAssumed), "The reference frame was assumed; the whole map may be shifted by up to a metre or two.")
	return v
}

// tally counts what the rules ask for. Lengths are metres.
type tally struct {
	parts, readings, unplaced, onLines, aside int
	length, wide, useless, noDepth, weakFix   float64
	halfLengths                               [][2]float64 // half-width, length
	flags                                     flags.Set
}

func take(m *Map) tally {
	var t tally
	for _, r := range partRows(m) {
		t.parts++
		t.flags |= r.Flags
		vs := r.part.Vertices
		for i := 1; i < len(vs); i++ {
			t.stretch(&vs[i-1], &vs[i])
		}
	}
	t.readings, t.unplaced = len(m.Readings)+len(m.Aside), len(m.Aside)
	for i := range m.Readings {
		p := &m.Readings[i]
		t.flags |= p.Flags & (flags.AntennaAssumed | flags.FrameAssumed)
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
	half := HalfWidth((a.Sigma + b.Sigma) / 2)
	t.length += length
	t.halfLengths = append(t.halfLengths, [2]float64{half, length})
	if half > wideWidth {
		t.wide += length
	}
	if half > uselessWidth {
		t.useless += length
	}
	if !known(a.Depth) || !known(b.Depth) {
		t.noDepth += length
	}
	if strength[Weaker(a.Quality, b.Quality)] < strength[nmea.QualityRTKFloat] {
		t.weakFix += length
	}
}

// median is the half-width that half of the length stays within, m.
func (t *tally) median() float64 {
	sorted := slices.Clone(t.halfLengths)
	slices.SortFunc(sorted, func(a, b [2]float64) int {
		switch {
		case a[0] < b[0]:
			return -1
		case a[0] > b[0]:
			return 1
		}
		return 0
	})
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
	u := Units{m.Meta.Imperial}
	if t.parts == 0 {
		return fmt.Sprintf("No line was located from %d readings.", t.readings)
	}
	text := fmt.Sprintf("%s located, %s in all, from %d of %d readings.", plural(len(m.Lines), "line was", "lines were"), u.Length(t.length), t.readings-t.unplaced, t.readings)
	if t.length > 0 {
		text += fmt.Sprintf(" Half of that length is known within ± %s across the line; depth was read on %.0f %% of it.", u.Depth(t.median()), 100-round(100*t.noDepth/t.length, 0))
	}
	return text
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// flagged names the parts with any of the flags.
func (t *tally) flagged(m *Map, f flags.Set) []string {
	var out []string
	for _, r := range partRows(m) {
		if r.Flags.Any(f) {
			out = append(out, r.lineName())
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
