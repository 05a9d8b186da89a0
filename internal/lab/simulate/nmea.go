package simulate

import (
	"bufio"
	"io"
	"math"
	"math/rand/v2"
	"strconv"
	"time"
)

// A Tally counts what a receiver's log holds.
type Tally struct {
	Sentences map[string]int `json:"sentences"` // by type, whole and with a right checksum
	Damaged   map[string]int `json:"damaged"`   // by kind of damage
	Epochs    int            `json:"epochs"`    // logged, with a position, before any damage
}

// geoidAbove is the receiver's idea of the geoid above the ellipsoid, m.
const geoidAbove = 58.3

// WriteNMEA writes what the receiver logged: GGA, RMC and, where asked for,
// GST, VTG, ZDA, GSA and GSV of each epoch, with the scenario's dirt.
func (d *Day) WriteNMEA(w io.Writer) (Tally, error) {
	out := bufio.NewWriterSize(w, 1<<16)
	s := newSpeaker(d.Scenario)
	tally := Tally{Sentences: map[string]int{}, Damaged: map[string]int{}}
	soil := newSoiler(d.Scenario.Dirt, stream(d.Scenario.Seed, "dirt"), &tally)
	for e := range d.Epochs() {
		if !e.Logged {
			continue
		}
		if e.Quality != qNone {
			tally.Epochs++
		}
		s.say(e)
		soil.write(out, s.buf, s.ends)
	}
	return tally, out.Flush()
}

// A speaker puts epochs into sentences.
type speaker struct {
	g         GNSS
	decimals  int
	rng       *rand.Rand
	buf       []byte
	ends      []int // of the sentences in buf
	from      int   // start of the sentence being written
	satellite [4]constellation
}

func newSpeaker(s Scenario) *speaker {
	sp := &speaker{g: s.GNSS, decimals: s.GNSS.Decimals, rng: stream(s.Seed, "sentences")}
	if sp.decimals == 0 {
		sp.decimals = 5
		if s.GNSS.Profile == RTKFixed || s.GNSS.Profile == Mixed {
			sp.decimals = 7
		}
	}
	sp.satellite = newSky(sp.rng)
	return sp
}

// say replaces buf by the sentences of an epoch.
func (s *speaker) say(e *Epoch) {
	s.buf, s.ends = s.buf[:0], s.ends[:0]
	s.gga(e)
	s.rmc(e)
	if s.g.VTG {
		s.vtg(e)
	}
	if s.g.GST {
		s.gst(e)
	}
	if e.UTC.Nanosecond() != 0 {
		return
	}
	if s.g.ZDA {
		s.zda(e)
	}
	if s.g.Satellites {
		s.sky(e)
	}
}

func (s *speaker) begin(address string) {
	s.from = len(s.buf)
	s.buf = append(s.buf, '$')
	s.buf = append(s.buf, address...)
}

// end adds the checksum: the XOR of all bytes between $ and *.
func (s *speaker) end() {
	var sum byte
	for _, b := range s.buf[s.from+1:] {
		sum ^= b
	}
	const hex = "0123456789ABCDEF"
	s.buf = append(s.buf, '*', hex[sum>>4], hex[sum&15], '\r', '\n')
	s.ends = append(s.ends, len(s.buf))
}

func (s *speaker) text(t string) { s.buf = append(append(s.buf, ','), t...) }

func (s *speaker) number(v float64, decimals int) {
	s.buf = strconv.AppendFloat(append(s.buf, ','), v, 'f', decimals, 64)
}

func (s *speaker) integer(v int) { s.buf = strconv.AppendInt(append(s.buf, ','), int64(v), 10) }

func (s *speaker) two(v int) { s.buf = append(s.buf, byte('0'+v/10), byte('0'+v%10)) }

// clock writes hhmmss.ss.
func (s *speaker) clock(t time.Time) {
	s.buf = append(s.buf, ',')
	s.two(t.Hour())
	s.two(t.Minute())
	s.two(t.Second())
	s.buf = append(s.buf, '.')
	s.two(t.Nanosecond() / 1e7)
}

// angle writes degrees and minutes with leading zeros, and the half of the world.
func (s *speaker) angle(deg float64, digits int, halves string) {
	half := halves[0]
	if deg < 0 {
		deg, half = -deg, halves[1]
	}
	unit := math.Pow10(s.decimals)
	minutes := int64(math.Round(deg * 60 * unit)) // in units of the last decimal
	whole := minutes / (60 * int64(unit))
	minutes -= whole * 60 * int64(unit)
	s.buf = append(s.buf, ',')
	if digits == 3 {
		s.buf = append(s.buf, byte('0'+whole/100))
		whole %= 100
	}
	s.two(int(whole))
	s.two(int(minutes / int64(unit)))
	s.buf = append(s.buf, '.')
	rest := minutes % int64(unit)
	for scale := int64(unit) / 10; scale > 0; scale /= 10 {
		s.buf = append(s.buf, byte('0'+rest/scale%10))
	}
	s.buf = append(s.buf, ',', half)
}

func (s *speaker) place(e *Epoch) {
	s.angle(e.Geo.Lat, 2, "NS")
	s.angle(e.Geo.Lon, 3, "EW")
}

func (s *speaker) gga(e *Epoch) {
	s.begin("GNGGA")
	s.clock(e.UTC)
	if e.Quality == qNone {
		s.text(",,,,0,00,99.99,,,,,,")
		s.end()
		return
	}
	s.place(e)
	s.integer(e.Quality)
	s.buf = append(s.buf, ',')
	s.two(e.Satellites)
	s.number(e.Told*e.HDOP, 2)
	s.number(e.Geo.H-geoidAbove, 3)
	s.text("M")
	s.number(geoidAbove, 3)
	s.text("M")
	if age := grades[e.Quality].age; age > 0 {
		s.number(age*(0.7+0.6*s.rng.Float64()), 1)
		s.text("0000")
	} else {
		s.text(",")
	}
	s.end()
}

const knot = 1852.0 / 3600 // m/s

func (s *speaker) rmc(e *Epoch) {
	s.begin("GNRMC")
	s.clock(e.UTC)
	if e.Quality == qNone {
		s.text("V,,,,,,")
	} else {
		s.text("A")
		s.place(e)
		s.motion(e, knot)
	}
	s.buf = append(s.buf, ',')
	y, m, day := e.UTC.Date()
	s.two(day)
	s.two(int(m))
	s.two(y % 100)
	mode := byte('N')
	if e.Quality != qNone {
		mode = grades[e.Quality].mode
	}
	s.buf = append(s.buf, ',', ',', ',', mode, ',', 'V')
	s.end()
}

// motion writes speed and course from the Doppler shift, good to some
// centimetres a second whatever the position is; no course at rest.
func (s *speaker) motion(e *Epoch, unit float64) {
	const doppler = 0.03 // m/s, σ an axis; common practice, no source
	ve := e.Velocity.E + doppler*s.rng.NormFloat64()
	vn := e.Velocity.N + doppler*s.rng.NormFloat64()
	speed := math.Hypot(ve, vn)
	s.number(speed/unit, 3)
	if speed < 0.15 {
		s.text("")
		return
	}
	s.number(math.Mod(math.Atan2(ve, vn)*180/math.Pi+360, 360), 2)
}

func (s *speaker) vtg(e *Epoch) {
	s.begin("GNVTG")
	speed := e.Velocity.Len()
	if speed < 0.15 {
		s.text("")
	} else {
		s.number(math.Mod(azimuthOf(e.Velocity)+360, 360), 2)
	}
	s.text("T,,M")
	s.number(speed/knot, 3)
	s.text("N")
	s.number(speed*3.6, 3)
	s.text("K,")
	mode := byte('N')
	if e.Quality != qNone {
		mode = grades[e.Quality].mode
	}
	s.buf = append(s.buf, mode)
	s.end()
}

// gst writes the receiver's own idea of its σ: the truth times a scale. It
// knows nothing of jumps and false fixes.
func (s *speaker) gst(e *Epoch) {
	s.begin("GNGST")
	s.clock(e.UTC)
	if e.Quality == qNone {
		s.text(",,,,,,")
		s.end()
		return
	}
	k := s.g.GSTScale * e.Told
	s.number(20*e.Major*(0.8+0.4*s.rng.Float64()), 3) // residuals: not a σ of the position
	if s.g.Ellipse {
		s.number(k*e.Major, 3)
		s.number(k*e.Minor, 3)
		s.number(math.Mod(e.Azimuth+360, 180), 1)
	} else {
		s.text(",,")
	}
	s.number(k*e.Sigma[1], 3)
	s.number(k*e.Sigma[0], 3)
	s.number(k*e.Sigma[2], 3)
	s.end()
}

func (s *speaker) zda(e *Epoch) {
	s.begin("GNZDA")
	s.clock(e.UTC)
	y, m, day := e.UTC.Date()
	s.buf = append(s.buf, ',')
	s.two(day)
	s.buf = append(s.buf, ',')
	s.two(int(m))
	s.integer(y)
	s.text("00,00")
	s.end()
}
