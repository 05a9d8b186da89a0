package simulate

import (
	"math"
	"math/rand/v2"
)

// A constellation is what is in view of one satellite system: invented numbers
// on invented circles, there for the volume of a real log.
type constellation struct {
	talker  string
	system  int // NMEA 4.11 system id
	signal  int
	numbers []int
	phase   []float64
	tilt    []float64
}

func newSky(rng *rand.Rand) [4]constellation {
	sky := [4]constellation{
		{talker: "GP", system: 1, signal: 1}, {talker: "GL", system: 2, signal: 1},
		{talker: "GA", system: 3, signal: 7}, {talker: "GB", system: 4, signal: 1},
	}
	for i, first := range []int{2, 65, 3, 6} {
		for k := range []int{13, 10, 14, 18}[i] {
			sky[i].numbers = append(sky[i].numbers, first+2*k)
			sky[i].phase = append(sky[i].phase, 2*math.Pi*rng.Float64())
			sky[i].tilt = append(sky[i].tilt, rng.Float64())
		}
	}
	return sky
}

// at gives elevation and azimuth of the k-th satellite, whole degrees.
func (c *constellation) at(k int, t float64) (elevation, azimuth int) {
	turn := c.phase[k] + t*2*math.Pi/43082 // half a sidereal day
	elevation = int(8 + 76*c.tilt[k]*(0.5+0.5*math.Sin(turn)))
	azimuth = int(math.Mod(turn*57.3+180*c.tilt[k], 360))
	return elevation, azimuth
}

func (s *speaker) sky(e *Epoch) {
	for i := range s.satellite {
		s.gsa(e, &s.satellite[i])
	}
	for i := range s.satellite {
		s.gsv(e, &s.satellite[i])
	}
}

func (s *speaker) gsa(e *Epoch, c *constellation) {
	s.begin("GNGSA")
	if e.Quality == qNone {
		s.text("A,1,,,,,,,,,,,,,99.99,99.99,99.99")
	} else {
		s.text("A,3")
		for i := range 12 {
			s.buf = append(s.buf, ',')
			if i < len(c.numbers) {
				s.two(c.numbers[i])
			}
		}
		s.number(2*e.Told*e.HDOP, 2)
		s.number(e.Told*e.HDOP, 2)
		s.number(math.Sqrt(3)*e.Told*e.HDOP, 2)
	}
	s.integer(c.system)
	s.end()
}

func (s *speaker) gsv(e *Epoch, c *constellation) {
	n := len(c.numbers)
	sentences := (n + 3) / 4
	for i := range sentences {
		s.begin(c.talker + "GSV")
		s.integer(sentences)
		s.integer(i + 1)
		s.buf = append(s.buf, ',')
		s.two(n)
		for k := 4 * i; k < min(n, 4*i+4); k++ {
			elevation, azimuth := c.at(k, e.Time)
			s.buf = append(s.buf, ',')
			s.two(c.numbers[k])
			s.buf = append(s.buf, ',')
			s.two(elevation)
			s.buf = append(s.buf, ',', byte('0'+azimuth/100))
			s.two(azimuth % 100)
			s.buf = append(s.buf, ',')
			s.two(25 + elevation/4 + s.rng.IntN(4))
		}
		s.integer(c.signal)
		s.end()
	}
}
