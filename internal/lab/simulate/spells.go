package simulate

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// Spells asks for a number of spells, each lasting so many seconds.
type Spells struct {
	Count  int
	Length Range
}

// A Fault is what ails the receiver during a spell.
type Fault uint8

// The faults.
const (
	Outage Fault = iota
	NoFix
	Jump
	FalseFix
	Degraded // a quality other than the profile's
)

var faultNames = [...]string{"outage", "no_fix", "jump", "false_fix", "degraded"}

func (f Fault) String() string { return faultNames[f] }

// A Spell is a time during which something ails the receiver.
type Spell struct {
	Fault    Fault
	From, To float64 // s since the scenario's start
	Quality  int     // as GGA field 6 tells it, for Degraded
	Offset   vec     // m, for Jump and FalseFix: at its middle
	Drift    vec     // m/s, for FalseFix
}

// spells draws when the receiver suffers what.
func spells(s Scenario, d *Day) []Spell {
	rng := stream(s.Seed, "spells")
	g := s.GNSS
	var out []Spell
	add := func(f Fault, ask Spells, dress func(*Spell)) {
		for range ask.Count {
			length := ask.Length.draw(rng)
			from, to := d.workTime(rng)
			start := Range{from, max(from, to-length)}.draw(rng)
			sp := Spell{Fault: f, From: start, To: start + length}
			dress(&sp)
			out = append(out, sp)
		}
	}
	none := func(*Spell) {}
	add(Outage, g.Outages, none)
	add(NoFix, g.NoFix, none)
	add(Jump, g.Jumps, func(sp *Spell) {
		size := max(1, 3*grades[profileQuality[g.Profile]].sigma) * Range{1, 4}.draw(rng)
		sp.Offset = aim(rng, size)
	})
	add(FalseFix, g.FalseFixes, func(sp *Spell) {
		sp.Offset = aim(rng, Range{0.3, 1.5}.draw(rng))
		sp.Drift = aim(rng, 0.0005)
	})
	add(Degraded, g.Floats, func(sp *Spell) { sp.Quality = qFloat })
	if g.Profile == Mixed {
		out = append(out, alternate(d, rng)...)
	}
	slices.SortStableFunc(out, func(a, b Spell) int { return cmp.Compare(a.From, b.From) })
	return out
}

// workTime is the time between the first and the last reading of some session.
func (d *Day) workTime(rng *rand.Rand) (from, to float64) {
	t := either(rng, d.Tracks)
	from, to = t.End(), t.Start
	for _, r := range d.Readings {
		if r.Time >= t.Start && r.Time <= t.End() {
			from, to = min(from, r.Time), max(to, r.Time)
		}
	}
	return from, max(from, to)
}

// alternate draws the float and differential spells of a mixed day: fixed for
// five minutes, float for two, on average.
func alternate(d *Day, rng *rand.Rand) []Spell {
	var out []Spell
	for _, t := range d.Tracks {
		at := t.Start
		for {
			at += 300 * rng.ExpFloat64()
			sp := Spell{Fault: Degraded, Quality: qFloat, From: at, To: at + 10 + 110*rng.ExpFloat64()}
			if rng.Float64() < 0.12 {
				sp.Quality = qDifferential
			}
			if at = sp.To; at > t.End() {
				break
			}
			out = append(out, sp)
		}
	}
	return out
}

// aim is a vector of a horizontal size in a random direction, with a height of
// up to its size.
func aim(rng *rand.Rand, size float64) vec {
	d := direction(360 * rng.Float64()).Mul(size)
	return vec{d.E, d.N, size * (2*rng.Float64() - 1)}
}
