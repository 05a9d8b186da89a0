package simulate

import (
	"bytes"
	"io"
	"math/rand/v2"
)

// Dirt says how much of the receiver's log was damaged on its way: the chance
// of each damage a sentence (or an epoch, for Repeat).
type Dirt struct {
	Flip    float64 // a character changed
	Drop    float64 // a byte lost
	Cut     float64 // the end lost with its line end: the next sentence follows at once
	LineEnd float64 // only the line end lost
	Junk    float64 // 10–80 binary bytes before the sentence
	Repeat  float64 // an epoch written twice
	Back    float64 // after an epoch the last few come again: a reconnect
}

// Dirty gives dirt of every kind at one rate.
func Dirty(rate float64) Dirt {
	return Dirt{Flip: rate, Drop: rate, Cut: rate, LineEnd: rate, Junk: rate, Repeat: rate, Back: rate / 5}
}

// A soiler writes sentences and damages some of them.
type soiler struct {
	dirt  Dirt
	rng   *rand.Rand
	tally *Tally
	past  [][]byte // the last epochs
}

func newSoiler(d Dirt, rng *rand.Rand, tally *Tally) *soiler {
	return &soiler{dirt: d, rng: rng, tally: tally}
}

func (s *soiler) chance(p float64) bool { return p > 0 && s.rng.Float64() < p }

// write writes an epoch's sentences; ends are where each ends in buf.
func (s *soiler) write(w io.Writer, buf []byte, ends []int) {
	if s.dirt == (Dirt{}) {
		s.count(buf)
		w.Write(buf)
		return
	}
	from := 0
	for _, end := range ends {
		s.sentence(w, buf[from:end])
		from = end
	}
	if s.chance(s.dirt.Repeat) {
		s.again(w, buf, "repeat")
	}
	s.past = append(s.past, bytes.Clone(buf))
	if len(s.past) > 5 {
		s.past = s.past[1:]
	}
	if s.chance(s.dirt.Back) {
		for _, b := range s.past {
			s.again(w, b, "back")
		}
	}
}

func (s *soiler) again(w io.Writer, buf []byte, kind string) {
	s.tally.Damaged[kind]++
	s.count(buf)
	w.Write(buf)
}

// count adds whole sentences to the tally.
func (s *soiler) count(buf []byte) {
	for len(buf) > 0 {
		s.tally.Sentences[kindOf(buf)]++
		buf = buf[bytes.IndexByte(buf, '\n')+1:]
	}
}

// kindOf gives the name of the sentence's type without making a new string for
// the usual ones.
func kindOf(b []byte) string {
	switch string(b[3:6]) {
	case "GGA":
		return "GGA"
	case "RMC":
		return "RMC"
	case "GST":
		return "GST"
	case "GSA":
		return "GSA"
	case "GSV":
		return "GSV"
	case "VTG":
		return "VTG"
	}
	return string(b[3:6])
}

func (s *soiler) sentence(w io.Writer, b []byte) {
	star := bytes.IndexByte(b, '*')
	damage := func(kind string) { s.tally.Damaged[kind]++ }
	if s.chance(s.dirt.Junk) {
		damage("junk")
		junk := make([]byte, 10+s.rng.IntN(71))
		for i := range junk {
			junk[i] = byte(s.rng.IntN(256))
		}
		copy(junk, "\xb5\x62")
		w.Write(junk)
	}
	switch {
	case s.chance(s.dirt.Flip):
		damage("flip")
		bad := bytes.Clone(b)
		i := 1 + s.rng.IntN(star-1)
		for bad[i] == b[i] || bytes.IndexByte([]byte("$*!\\"), bad[i]) >= 0 {
			bad[i] = byte(0x20 + s.rng.IntN(0x5f))
		}
		w.Write(bad)
	case s.chance(s.dirt.Drop):
		damage("drop")
		i := 1 + s.rng.IntN(star-1)
		w.Write(b[:i])
		w.Write(b[i+1:])
	case s.chance(s.dirt.Cut):
		damage("cut")
		w.Write(b[:3+s.rng.IntN(star-3)])
	case s.chance(s.dirt.LineEnd):
		damage("line_end")
		s.count(b)
		w.Write(b[:len(b)-2])
	default:
		s.count(b)
		w.Write(b)
	}
}
