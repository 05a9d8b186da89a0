package simulate

import (
	"math"
	"math/rand/v2"
)

// SlowModel says how the slow error of a position changes with time. All have
// the same variance and, roughly, the same correlation time τ; they differ in
// what else an estimator might rest on. The first three take turns with the
// seed; Smooth has presets of its own.
type SlowModel uint8

const (
	// GaussMarkov is a first-order Gauss–Markov process, correlation e^(−t/τ).
	GaussMarkov SlowModel = iota
	// TwoScale is the sum of two Gauss–Markov processes, 40 % of the variance at
	// τ/4 and 60 % at 3τ. Network RTK is fitted better by two parts than by one:
	// Odolinski, GPS Solutions 16 (2012), doi 10.1007/s10291-011-0213-0.
	TwoScale
	// BoundedWalk is a random walk between two walls, evenly distributed between
	// them: it never exceeds √3 σ, and it is not Gaussian.
	BoundedWalk
	// Smooth is a critically damped second-order process, correlation
	// (1 + t/T)·e^(−t/T): it has a velocity, and within seconds it hardly moves.
	// Receivers filter their positions; logs of receivers at rest look like this
	// (docs/gnss-noise.md). Who takes the size of the slow error from how much it
	// changes within a minute is deceived by it.
	Smooth
)

// A process is a stationary random process of mean 0 and variance 1.
type process interface {
	// step moves on by dt seconds (or metres) and gives the new value.
	step(dt float64) float64
}

func newProcess(m SlowModel, tau float64, rng *rand.Rand) process {
	switch m {
	case TwoScale:
		return &sum{
			weights: [2]float64{math.Sqrt(0.4), math.Sqrt(0.6)},
			parts:   [2]process{newMarkov(tau/4, rng), newMarkov(3*tau, rng)},
		}
	case BoundedWalk:
		return &bounded{tau: tau, rng: rng, x: math.Sqrt(3) * (2*rng.Float64() - 1)}
	}
	if m == Smooth {
		const eFold = 2.1462 // (1 + x)·e^(−x) = 1/e
		return &gliding{t: tau / eFold, x: rng.NormFloat64(), v: rng.NormFloat64(), rng: rng}
	}
	return newMarkov(tau, rng)
}

// gliding is x with its velocity v, in units of 1/t; both have variance 1 and are
// independent at one instant.
type gliding struct {
	t, x, v float64
	rng     *rand.Rand
}

func (m *gliding) step(dt float64) float64 {
	// State after u = dt/t: Φ = e^(−u)·[1+u, u; −u, 1−u]; the noise added makes the
	// variances 1 again, by its Cholesky factor.
	u := dt / m.t
	e := math.Exp(-u)
	a, b, c, d := e*(1+u), e*u, -e*u, e*(1-u)
	xx, xv, vv := 1-a*a-b*b, -a*c-b*d, 1-c*c-d*d
	l := math.Sqrt(max(xx, 0))
	k := 0.0
	if l > 0 {
		k = xv / l
	}
	z, w := m.rng.NormFloat64(), m.rng.NormFloat64()
	m.x, m.v = a*m.x+b*m.v+l*z, c*m.x+d*m.v+k*z+math.Sqrt(max(vv-k*k, 0))*w
	return m.x
}

type markov struct {
	tau, x      float64
	dt, phi, in float64 // of the last step
	rng         *rand.Rand
}

func newMarkov(tau float64, rng *rand.Rand) *markov {
	return &markov{tau: tau, x: rng.NormFloat64(), rng: rng}
}

func (m *markov) step(dt float64) float64 {
	if dt != m.dt {
		m.dt, m.phi = dt, math.Exp(-dt/m.tau)
		m.in = math.Sqrt(1 - m.phi*m.phi)
	}
	m.x = m.phi*m.x + m.in*m.rng.NormFloat64()
	return m.x
}

type sum struct {
	weights [2]float64
	parts   [2]process
}

func (s *sum) step(dt float64) float64 {
	return s.weights[0]*s.parts[0].step(dt) + s.weights[1]*s.parts[1].step(dt)
}

// bounded is Brownian motion reflected at ±√3. Its slowest mode decays at
// D(π/2√3)², so D = 12/(π²τ) gives the correlation time τ.
type bounded struct {
	tau, x float64
	rng    *rand.Rand
}

func (b *bounded) step(dt float64) float64 {
	wall := math.Sqrt(3)
	if dt > 10*b.tau {
		b.x = wall * (2*b.rng.Float64() - 1)
		return b.x
	}
	b.x += math.Sqrt(2*12/(math.Pi*math.Pi*b.tau)*dt) * b.rng.NormFloat64()
	for math.Abs(b.x) > wall {
		b.x = math.Copysign(2*wall, b.x) - b.x
	}
	return b.x
}

// profile is a process sampled along a line.
type profile struct {
	every  float64
	values []float64
}

// newProfile samples an exponentially correlated process of variance 1 along
// length metres.
func newProfile(length, correlation float64, rng *rand.Rand) profile {
	p := profile{every: 0.5}
	m := newMarkov(correlation, rng)
	for s := 0.0; s < length+2*p.every; s += p.every {
		p.values = append(p.values, m.step(p.every))
	}
	return p
}

func (p profile) at(s float64) float64 {
	x := min(max(s/p.every, 0), float64(len(p.values)-2))
	i := int(x)
	return p.values[i] + (x-float64(i))*(p.values[i+1]-p.values[i])
}
