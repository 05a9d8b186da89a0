package nmea

import (
	"math"

	gonmea "github.com/adrianmo/go-nmea"
)

// Half of a log is GSV, and the sky changes slowly: it is looked at now and then.

// Sky is what GSV told of the satellites, the mean of a few looks.
type Sky struct {
	Looks  int                // 0 where GSV is missing or cannot be read
	InView map[string]float64 // satellites in view, by system as SystemName gives it
	CN0    float64            // carrier to noise density of the signals tracked, dB-Hz; NaN where none is
}

// lookEvery is how many GSV there are from one look to the next: some eight
// minutes of a receiver for four systems.
const lookEvery = 4096

// longestLook is how many GSV one look takes at most. Receivers of today write up to
// thirty an epoch, a group for each signal of each system.
const longestLook = 64

// looker looks at the GSV of a log. Which ones depends on their number alone, and
// not on how the log was cut into chunks.
type looker struct {
	lib  library
	seen int // GSV that went by
	next int // number of the one at which the next look begins
	look look

	// Sums over the looks.
	looks, signals, noise int // noise: C/N0, dB-Hz
	inView                map[string]int
}

// look is all GSV of one epoch: from the start of a group to where the same group
// starts again.
type look struct {
	read, signals, noise int

	groups map[group]bool
	listed map[group]bool // by number, signal left out
}

// group names a talker's GSV for one signal, or one satellite of a talker.
type group struct {
	talker string
	number int64
}

// take looks at the GSV that start at these places of a chunk.
func (k *looker) take(data []byte, starts []uint32) {
	for i := max(0, k.next-k.seen); i < len(starts); i++ {
		if k.hear(data[starts[i]:]) {
			continue
		}
		k.endLook()
		k.next = ((k.seen+i)/lookEvery + 1) * lookEvery
		i = k.next - k.seen - 1
	}
	k.seen += len(starts)
}

// hear takes one GSV in, and reports whether the look goes on.
func (k *looker) hear(data []byte) bool {
	if k.look.read++; k.look.read > longestLook {
		return false
	}
	s, err := k.lib.read(data)
	m, ok := s.(gonmea.GSV)
	if err != nil || !ok {
		return true
	}
	if id := (group{m.Talker, m.SystemID}); m.MessageNumber == 1 {
		if k.look.groups[id] {
			return false
		}
		if k.look.groups == nil {
			k.look.groups, k.look.listed = map[group]bool{}, map[group]bool{}
		}
		k.look.groups[id] = true
	}
	if k.look.groups == nil {
		return true // the rest of a group whose start went by
	}
	for _, sat := range m.Info {
		if sat.SVPRNNumber > 0 {
			k.look.listed[group{m.Talker, sat.SVPRNNumber}] = true
		}
		if sat.SNR > 0 && sat.SNR < 100 { // two digits; empty where not tracked
			k.look.signals++
			k.look.noise += int(sat.SNR)
		}
	}
	return true
}

// endLook adds the look at hand up.
func (k *looker) endLook() {
	if k.look.groups != nil {
		k.looks++
	}
	k.signals += k.look.signals
	k.noise += k.look.noise
	for sat := range k.look.listed {
		k.inView[systemName(sat.talker)]++
	}
	k.look = look{}
}

// sky gives the means. A look that the log's end cuts off counts only where there
// is no other.
func (k *looker) sky() Sky {
	if k.looks == 0 {
		k.endLook()
	}
	sky := Sky{Looks: k.looks, CN0: math.NaN()}
	if k.looks > 0 {
		sky.InView = map[string]float64{}
	}
	for name, n := range k.inView {
		sky.InView[name] = float64(n) / float64(k.looks)
	}
	if k.signals > 0 {
		sky.CN0 = float64(k.noise) / float64(k.signals)
	}
	return sky
}

// systemName gives the system that a talker's satellites are of. Old receivers
// list SBAS as GPS.
func systemName(talker string) string {
	switch talker {
	case "GP":
		return "GPS"
	case "GL":
		return "GLONASS"
	case "GA":
		return "Galileo"
	case "GB", "BD":
		return "BeiDou"
	case "GQ", "QZ":
		return "QZSS"
	case "GI":
		return "NavIC"
	}
	return "other"
}
