package simulate

import (
	"math"
	"math/rand/v2"
)

// SlowModel says how the slow error of a position changes with time. All have
// the same variance and, roughly, the same correlation time τ; they differ in
// what else an estimator might rest on.
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
	return newMarkov(tau, rng)
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
