package otherdays

import "math"

// A sky is how good a solution the receiver has: the figure of GGA, the size
// of its slow error for each horizontal axis when HDOP is 1, and over how long
// it is alike.
type sky struct {
	fix        int
	slow, keep [2]float64 // from … to: m, s
	quick      float64    // Gauss–Markov over a few seconds, m
	white      float64
}

var (
	fixed      = sky{4, [2]float64{0.005, 0.014}, [2]float64{60, 900}, 0.003, 0.003}
	float      = sky{5, [2]float64{0.15, 0.40}, [2]float64{80, 500}, 0.03, 0.01}
	sbas       = sky{2, [2]float64{0.35, 0.85}, [2]float64{60, 500}, 0.08, 0.03}
	autonomous = sky{1, [2]float64{1.0, 2.6}, [2]float64{50, 900}, 0.15, 0.05}
)

// An epoch is what the receiver says at one instant, beside what is true.
type epoch struct {
	t             float64
	at            spot
	up            float64 // of the antenna, above the ellipsoid
	fix           int
	speed, course float64 // m/s; degrees from north
	sigma         spot    // of each axis as the receiver believes, m
	sigmaUp       float64
	hdop          float64
}

// A span is a stretch of time, seconds since the day's start.
type span struct{ from, to float64 }

// A veil is the error of one quality of solution while it lasts.
type veil struct{ e, n, u [2]*memory }

// begin returns the errors of a new solution, and the σ of its slow part by axis.
func (s sky) begin(d dice, hdop float64) (veil, spot) {
	slow, keep := hdop*d.between(s.slow[0], s.slow[1]), d.between(s.keep[0], s.keep[1])
	quick := d.between(2, 12)
	pair := func(k float64) [2]*memory {
		return [2]*memory{newMemory(d, k*slow, keep), newMemory(d, k*s.quick, quick)}
	}
	north := d.between(0.8, 1.4)
	return veil{pair(1), pair(north), pair(1.7)}, spot{slow, north * slow}
}

func (v veil) after(d dice, dt float64) (e, n, u float64) {
	return v.e[0].after(d, dt) + v.e[1].after(d, dt), v.n[0].after(d, dt) + v.n[1].after(d, dt), v.u[0].after(d, dt) + v.u[1].after(d, dt)
}

// groundHeight is the ellipsoidal height of the ground, m.
func groundHeight(p spot) float64 { return 212 + 0.012*p.e - 0.007*p.n }

// receive returns the receiver's epochs along a path, and the spans in which
// its integers were wrong.
func (k kind) receive(d dice, w *walker, antenna float64) (list []epoch, wrong []span) {
	end := w.now()
	rate := []float64{1, 1, 2, 5, 5}[d.IntN(5)]
	if k.rate > 0 {
		rate = k.rate
	}
	lag := d.between(k.lag[0], k.lag[1])
	boast := d.between(0.55, 1.15)
	drift := spot{}
	sort := k.sky
	hdop := d.between(0.7, 1.4)
	v, size := sort.begin(d, hdop)
	until := d.between(100, 500)
	integers, integersUp, holdUntil := spot{}, 0.0, -1.0
	ghost, ghostFrom, ghostTo := spot{}, 0.0, -1.0
	ghostPeriod := 1.0
	vel := spot{}
	dark := -1.0
	for i := 0; float64(i)/rate <= end; i++ {
		t, dt := float64(i)/rate, 1/rate
		if k.mixed && t > until { // between trees: float for a while, and back
			if sort.fix == 4 {
				sort, until = float, t+d.between(20, 150)
			} else {
				sort, until = fixed, t+d.between(100, 500)
			}
			v, size = sort.begin(d, hdop)
			if d.chance(0.3) {
				dark = t + d.between(2, 12)
			}
		}
		if k.wrong > 0 && t > holdUntil {
			if integers != (spot{}) {
				integers, integersUp = spot{}, 0
			} else if d.chance(k.wrong * dt / 3600) {
				integers = spot{}.plus(heading(d.between(0, 2*math.Pi)), d.between(0.2, 0.9))
				integersUp = d.normal(0.4)
				holdUntil = t + d.between(10, 60)
				wrong = append(wrong, span{t, min(holdUntil, end)})
			}
		}
		if k.ghosts > 0 && t > ghostTo && d.chance(k.ghosts*dt/3600) {
			ghostFrom, ghostTo, ghostPeriod = t, t+d.between(8, 60), d.between(15, 90)
			ghost = spot{}.plus(heading(d.between(0, 2*math.Pi)), size.e*math.Abs(d.normal(2.5)))
		}
		e, n, u := v.after(d, dt)
		if k.roams > 0 {
			drift.e += d.normal(k.roams * math.Sqrt(dt))
			drift.n += d.normal(k.roams * math.Sqrt(dt))
		}
		foot := w.along(t)
		ahead := w.along(t + 0.05).minus(w.along(t - 0.05))
		true2 := spot{}.plus(ahead, 1/0.1)
		a := 1.0
		if lag > 0 {
			a = 1 - math.Exp(-dt/lag)
		}
		vel = vel.plus(true2.minus(vel), a)
		if t < dark {
			continue
		}
		p := foot.plus(spot{e, n}, 1).plus(integers, 1).plus(drift, 1).plus(spot{d.normal(sort.white), d.normal(sort.white)}, 1)
		if t < ghostTo {
			p = p.plus(ghost, math.Sin(2*math.Pi*(t-ghostFrom)/ghostPeriod)*math.Sin(math.Pi*(t-ghostFrom)/(ghostTo-ghostFrom)))
		}
		said := vel.plus(spot{d.normal(0.03), d.normal(0.03)}, 1)
		bearing := math.Mod(math.Atan2(said.e, said.n)*180/math.Pi+360, 360)
		believe := func(slow float64) float64 { return max(0.004, boast*math.Hypot(slow, sort.white)) }
		list = append(list, epoch{
			t: t, at: p, up: groundHeight(foot) + antenna + u + integersUp, fix: sort.fix,
			speed: said.length(), course: bearing, sigma: spot{believe(size.e), believe(size.n)}, sigmaUp: 1.7 * believe(size.e), hdop: hdop,
		})
	}
	return list, wrong
}

// along returns where the foot is at a time.
func (w *walker) along(t float64) spot {
	x := min(max(0, t/tick), float64(len(w.where)-2))
	i := int(x)
	return w.where[i].plus(w.where[i+1].minus(w.where[i]), x-float64(i))
}
