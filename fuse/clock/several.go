package clock

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"time"

	"tracemap/fuse/track"
	"tracemap/readings"
	"tracemap/remarks"
)

// An Own is one of the clocks of a day that has several: an instrument's, or the same
// instrument's from where its date and time were lost.
type Own struct {
	*Result            // nil where nothing ties this clock to UTC
	Name     string    // the instrument as logged, else the file
	After    time.Time // what the same clock had shown before it went back; zero where it did not
	From, To time.Time // of its readings, on this clock
	Readings int       // with a time
}

// Of returns the clock that the reading of an index is on; nil for one that nothing
// ties to UTC.
func (r *Result) Of(reading int) *Result {
	if r.of == nil {
		return r
	}
	return r.Several[r.of[reading]].Result
}

// Worst returns that of the day's clocks that is known least.
func (r *Result) Worst() *Result {
	worst := r
	for _, own := range r.Several {
		if own.Result != nil && (own.State < worst.State || own.State == worst.State && own.Sigma > worst.Sigma) {
			worst = own.Result
		}
	}
	return worst
}

// Differ reports whether the clocks of a day that has several disagree, beyond three σ
// of the difference, or one of them is not tied to UTC.
func (r *Result) Differ() bool {
	for _, own := range r.Several {
		if own.Result == nil {
			return true
		}
		if math.Abs(own.Offset-r.OffsetAt(own.Ref)) > 3*math.Hypot(own.Sigma, r.Sigma) {
			return true
		}
	}
	return false
}

const (
	// fewestOwn readings with a time give a clock an estimate of its own.
	fewestOwn = 8
	// clearlyApart, s, beyond three σ of the difference are two clocks: people set a
	// clock to the second.
	clearlyApart = 1.0
	// A clock that goes back by more than lostBack, s, between two rows of a log that else
	// goes forward has lost its date. One that goes on by more than lostOn was set again,
	// or what comes before is older work. Choices.
	lostBack = 6 * 3600.0
	lostOn   = 15 * 86400.0
	// So large a share of the steps of a log that goes forward are not back.
	mostlyOn = 0.9
	// seenAgain rows confirm a jump: a single row's time may be wrong.
	seenAgain = 3
)

// A group is the readings, by index and in the log's order, that one clock stamped.
type group struct {
	name  string
	named bool // by the log's column for the instrument
	index []int
	after time.Time // the last time before the clock went back; zero where it did not
}

// groups parts the readings by their instrument, or file where no instrument is
// named, and each of these where its clock jumps.
func groups(rs []readings.Reading) []group {
	var out []group
	at := map[string]int{}
	for i := range rs {
		r := &rs[i]
		if r.Time.IsZero() || r.Flags.Has(remarks.SetAsideByHand) {
			continue
		}
		name, named := strings.TrimSpace(r.Instrument), true
		if name == "" {
			name, named = r.File, false
		}
		key := strings.ToLower(name)
		if !named {
			key = "\x00" + name
		}
		k, ok := at[key]
		if !ok {
			k = len(out)
			at[key] = k
			out = append(out, group{name: name, named: named})
		}
		out[k].index = append(out[k].index, i)
	}
	var cut []group
	for _, g := range out {
		cut = append(cut, g.cut(rs)...)
	}
	return cut
}

// cut parts a group where its clock jumps.
func (g group) cut(rs []readings.Reading) []group {
	at := func(k int) time.Time { return rs[g.index[k]].Time }
	on := 0
	for k := 1; k < len(g.index); k++ {
		if !at(k).Before(at(k - 1)) {
			on++
		}
	}
	if float64(on) < mostlyOn*float64(len(g.index)-1) {
		return []group{g}
	}
	var out []group
	from := 0
	last := time.Time{}
	for k := range g.index {
		if k > from && jumped(last, at(k)) {
			if k+seenAgain > len(g.index) || slices.ContainsFunc([]int{k + 1, k + seenAgain - 1}, func(j int) bool { return jumped(at(k), at(j)) }) {
				continue // one row's own mistake
			}
			out = append(out, group{g.name, g.named, g.index[from:k], g.after})
			if from, g.after = k, (time.Time{}); at(k).Before(last) {
				g.after = last
			}
		}
		last = at(k)
	}
	return append(out, group{g.name, g.named, g.index[from:], g.after})
}

func jumped(from, to time.Time) bool {
	step := to.Sub(from).Seconds()
	return step < -lostBack || step > lostOn
}

// alignSeveral estimates the clocks of a day on which more than one stamped the
// readings; nil where one offset holds for all.
//
// What a person stated holds for every clock but one that has jumped since.
func alignSeveral(ctx context.Context, tr *track.Track, rs []readings.Reading, together *Result, stated bool) (*Result, error) {
	all := groups(rs)
	if len(all) < 2 {
		return nil, nil
	}
	own := make([]*Result, len(all))
	ends := map[string]time.Time{} // of a clock's readings so far, UTC
	for k, g := range all {
		if stated && g.after.IsZero() {
			own[k] = together
			ends[g.name] = together.UTC(rs[g.index[len(g.index)-1]].Time)
			continue
		}
		if len(g.index) < fewestOwn {
			continue
		}
		d := newDay(tr, pick(rs, g.index))
		r, err := d.estimateOwn(ctx, g, ends[g.name])
		if err != nil && !errors.Is(err, ErrNoOverlap) {
			return nil, err
		}
		if own[k] = r; r != nil {
			ends[g.name] = r.UTC(rs[g.index[len(g.index)-1]].Time)
		}
	}
	main := -1
	for k := range all {
		if own[k] != nil && (main < 0 || len(all[k].index) > len(all[main].index)) {
			main = k
		}
	}
	if main < 0 {
		return nil, nil
	}
	var shared []int // groups that the main clock's offset holds for
	for k := range all {
		if k == main || all[k].onClockOf(&all[main], own[k], own[main]) {
			shared = append(shared, k)
		}
	}
	if len(shared) == len(all) && together != nil {
		return nil, nil
	}
	first := own[main]
	if len(shared) > 1 && !stated {
		var index []int
		for _, k := range shared {
			index = append(index, all[k].index...)
		}
		slices.Sort(index)
		var err error
		if first, err = newDay(tr, pick(rs, index)).estimate(ctx); err != nil {
			return nil, err
		}
	}
	return several(rs, all, own, shared, main, first), nil
}

// estimateOwn estimates the clock of one group. One that lost its date may be off by
// years; its readings came after those before the jump.
func (d *day) estimateOwn(ctx context.Context, g group, before time.Time) (*Result, error) {
	if g.after.IsZero() || before.IsZero() {
		return d.estimate(ctx)
	}
	_, end := d.tr.Span()
	d.lo, d.hi = slices.Max(d.times)-end, slices.Min(d.times)-d.tr.Seconds(before)
	if d.lo > d.hi {
		return nil, ErrNoOverlap // the receiver's log ends too early
	}
	d.lost = true
	r, err := d.estimate(ctx)
	if err == nil && r.State == Unknown {
		return nil, ErrNoOverlap
	}
	return r, err
}

// onClockOf reports whether a group's readings are taken to be on the main clock:
// those of a file whose own estimate does not contradict it, and those of too few
// readings to tell, unless the clock jumped.
func (g *group) onClockOf(main *group, own, other *Result) bool {
	switch {
	case !g.after.IsZero() && own == nil:
		return false
	case own == nil:
		return true
	case own == other:
		return true
	case g.named && !strings.EqualFold(g.name, main.name):
		return false
	}
	apart := math.Abs(own.OffsetAt(own.Ref) - other.OffsetAt(own.Ref))
	return own.State == Unknown || other.State == Unknown || apart <= 3*math.Hypot(own.Sigma, other.Sigma)+clearlyApart
}

// several puts the clocks together, the main one first.
func several(rs []readings.Reading, all []group, own []*Result, shared []int, main int, first *Result) *Result {
	r := *first
	r.of = make([]int, len(rs))
	add := func(k int, c Own) {
		c.Name, c.After = all[k].name, all[k].after
		r.Several = append(r.Several, c)
	}
	add(main, Own{Result: first})
	for k := range all {
		if slices.Contains(shared, k) {
			continue
		}
		for _, i := range all[k].index {
			r.of[i] = len(r.Several)
		}
		add(k, Own{Result: own[k]})
	}
	for i := range rs {
		if t := rs[i].Time; !t.IsZero() {
			c := &r.Several[r.of[i]]
			c.Readings++
			if c.From.IsZero() || t.Before(c.From) {
				c.From = t
			}
			if t.After(c.To) {
				c.To = t
			}
		}
	}
	return &r
}

func pick(rs []readings.Reading, index []int) []readings.Reading {
	out := make([]readings.Reading, len(index))
	for k, i := range index {
		out[k] = rs[i]
	}
	return out
}
