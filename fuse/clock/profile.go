package clock

import (
	"math"
	"slices"

	"tracemap/fuse/noise"
)

// A course is the law of a quantity along a line, of the logarithm of a depth or a
// current: a level that each pass has for itself, a random function of the station, what
// the later pass errs along it for some metres, and noise that is new at every reading. The function is rough or smooth: its
// covariance falls as exp(−Δs/reach) or as (1 + √3·Δs/reach)·exp(−√3·Δs/reach), Matérn's
// with ν = 1/2 and 3/2 (C. Rasmussen, C. Williams: Gaussian Processes for Machine
// Learning, §4.2.1 – from memory).
type course struct {
	white  float64 // variance of the noise
	spread float64 // variance of the function
	reach  float64 // m
	smooth bool
	known  bool // there were enough readings to tell the law
}

const (
	// fewestOfCourse readings tell a law.
	fewestOfCourse = 8
	// leastWhite is the least standard deviation of the noise: logs are written to a
	// centimetre or a per cent.
	leastWhite = 0.01
	// anyLevel is the variance of a pass's level: depths and currents of lines differ by
	// factors.
	anyLevel = 1.0
	// passError is the variance of what one pass errs against another for as long as
	// noise.DepthLength: the part that neighbouring readings have in common, of both
	// passes, half of it a distorted field that both have alike.
	passError = noise.DepthShared * noise.DepthRel * noise.DepthRel
	// outlier, squared, in standard deviations: what lies further off is a lock or a
	// mistake, and counts as if it lay so far.
	outlier = 9.0
)

// A sounding is a value at a station; reading is its place among those of the pair.
type sounding struct {
	s, y    float64
	reading int
	second  bool // of the later pass
}

const states = 5

// A filter goes along a line and tells each value's log-likelihood given those
// before it: Kalman's, for the function, its slope and the levels of two passes.
type filter struct {
	c     *course
	x     [states]float64 // function, slope, level of the first pass, of the later one, its error
	p     [states][states]float64
	at    float64 // station reached
	begun bool
	// Sums over the values: their number, the squared innovations over their
	// variances, and the logarithms of the variances.
	n, z2, logs float64
}

func (c *course) filter() filter {
	k := filter{c: c}
	k.p[0][0], k.p[2][2], k.p[3][3], k.p[4][4] = c.spread, anyLevel, anyLevel, passError
	if c.smooth {
		k.p[1][1] = 3 * c.spread / (c.reach * c.reach)
	}
	return k
}

// advance takes the function on by so many metres.
func (k *filter) advance(by float64) {
	var a, b, c, d float64 // the transition of function and slope
	if k.c.smooth {
		l := math.Sqrt(3) / k.c.reach
		e := math.Exp(-l * by)
		a, b, c, d = e*(1+l*by), e*by, -e*l*l*by, e*(1-l*by)
	} else {
		a = math.Exp(-by / k.c.reach)
	}
	k.x[0], k.x[1] = a*k.x[0]+b*k.x[1], c*k.x[0]+d*k.x[1]
	p := &k.p
	e := math.Exp(-by / noise.DepthLength)
	k.x[4] *= e
	for j := range 4 {
		p[4][j] *= e
		p[j][4] = p[4][j]
	}
	p[4][4] = passError + e*e*(p[4][4]-passError)
	for j := 2; j < states; j++ {
		p[0][j], p[1][j] = a*p[0][j]+b*p[1][j], c*p[0][j]+d*p[1][j]
		p[j][0], p[j][1] = p[0][j], p[1][j]
	}
	// What is stationary stays so: P = P∞ + F·(P − P∞)·Fᵀ.
	still := 0.0
	if k.c.smooth {
		still = 3 * k.c.spread / (k.c.reach * k.c.reach)
	}
	f, s, m := p[0][0]-k.c.spread, p[1][1]-still, p[0][1]
	p[0][0] = k.c.spread + a*a*f + 2*a*b*m + b*b*s
	p[1][1] = still + c*c*f + 2*c*d*m + d*d*s
	p[0][1] = a*c*f + (a*d+b*c)*m + b*d*s
	p[1][0] = p[0][1]
}

// next takes a value in and returns its log-likelihood, up to a constant.
func (k *filter) next(v *sounding) float64 {
	if by := math.Abs(v.s - k.at); k.begun && by > 0 {
		k.advance(by)
	}
	k.at, k.begun = v.s, true
	level, err := 2, 0.0
	if v.second {
		level, err = 3, 1
	}
	off := v.y - k.x[0] - k.x[level] - err*k.x[4]
	var g [states]float64 // covariance of the state with the value
	for i := range g {
		g[i] = k.p[i][0] + k.p[i][level] + err*k.p[i][4]
	}
	variance := g[0] + g[level] + err*g[4] + k.c.white
	z2 := min(off*off/variance, outlier)
	l := math.Log(variance)
	k.n++
	k.z2 += z2
	k.logs += l
	taken := max(variance, off*off/outlier)
	for i := range g {
		k.x[i] += g[i] / taken * off
		for j := range g {
			k.p[i][j] -= g[i] * g[j] / taken
		}
	}
	return -0.5 * (l + z2)
}

// courseOf finds the law that explains a line's passes best, each by itself: the
// likelihood is highest over a grid of reaches and of shares of the noise, and the
// size follows from the innovations.
func courseOf(passes [][]sounding) course {
	var steps []float64
	for _, p := range passes {
		for i := 1; i < len(p); i++ {
			steps = append(steps, math.Abs(p[i].y-p[i-1].y))
		}
	}
	if len(steps) < fewestOfCourse {
		return course{}
	}
	slices.Sort(steps)
	unit := max(1.4826*steps[len(steps)/2], leastWhite)
	unit *= unit
	best, top := course{}, math.Inf(-1)
	for _, smooth := range []bool{false, true} {
		for _, reach := range []float64{4, 8, 16, 32, 64} {
			for _, ratio := range []float64{0.1, 0.3, 1, 3, 10, 30, 100, 300, 1000} {
				c := course{white: unit, spread: ratio * unit, reach: reach, smooth: smooth, known: true}
				var n, z2, logs float64
				for _, p := range passes {
					k := c.filter()
					for i := range p {
						if k.next(&p[i]); i == 0 {
							k.n, k.z2, k.logs = 0, 0, 0 // the first one only tells the level
						}
					}
					n, z2, logs = n+k.n, z2+k.z2, logs+k.logs
				}
				size := max(z2/n, leastWhite*leastWhite/unit)
				if like := -0.5 * (logs + n*math.Log(size) + z2/size); like > top {
					top = like
					c.white, c.spread = size*c.white, size*c.spread
					best = c
				}
			}
		}
	}
	return best
}
