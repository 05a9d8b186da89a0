package otherdays

import "time"

// A kind is a way of working on a kind of day; each seed draws within it.
type kind struct {
	name string
	what string // one line for the table

	lines       int
	street      bool // three to five lines 0.7–1.6 m apart that share the signal's return
	tees        bool // a main with branches that take a part of the current
	steps       bool // half of the lines have a real step of the current
	depth       [2]float64
	ma          [2]float64
	digits      int // of the logged current behind the point
	coil        float64
	single      bool // a single horizontal coil points, not the difference of two
	skill       [2]float64
	locks       float64 // share of the readings that belong to a neighbour
	holes       bool    // test holes, with the depth seen
	instruments int

	swept   bool // pointed by swinging across the line; else planted
	spacing [2]float64
	through bool // walked through without a stop
	passes  int
	speed   [2]float64
	every   [2]float64 // seconds between readings of a walked line

	sky    sky
	mixed  bool    // fixed, with spells of float and of nothing
	wrong  float64 // wrong integers, times an hour
	ghosts float64 // bursts of multipath, times an hour
	roams  float64 // random walk of the position, m/√s
	rate   float64 // epochs a second; 0: any
	lag    [2]float64
	noGST  bool

	clock string // right, seconds, minutes, hours, drifting
	cut   time.Duration
}

// usual returns what most kinds have in common: three lines, half a metre to
// two metres deep, a good current, an ordinary technician, a fixed receiver.
func usual(name, what string, change func(*kind)) kind {
	k := kind{
		name: name, what: what, lines: 3,
		depth: [2]float64{0.6, 2}, ma: [2]float64{20, 120}, digits: 1, coil: 0.006,
		skill: [2]float64{0.7, 1.3}, locks: 0.01, spacing: [2]float64{2, 5}, passes: 1,
		speed: [2]float64{0.5, 1.1}, every: [2]float64{2, 5}, sky: fixed, lag: [2]float64{0, 0.6}, clock: "seconds",
	}
	change(&k)
	return k
}

func walked(k *kind) { k.through = true }

var kinds = []kind{
	usual("planted", "pole planted at every reading", func(k *kind) {}),
	usual("planted-clock-right", "as planted, with a locator on UTC", func(k *kind) { k.clock = "right" }),
	usual("swept", "pole swung across the line, then planted", func(k *kind) { k.swept = true }),
	usual("walked-once", "walked along once, a reading every 2–5 s", walked),
	usual("walked-once-clock-right", "as walked once, with a locator on UTC", func(k *kind) { walked(k); k.clock = "right" }),
	usual("walked-twice", "walked there and back", func(k *kind) { walked(k); k.passes = 2; k.lines = 2 }),
	usual("dense", "walked with a reading every 0.5–1 s", func(k *kind) { walked(k); k.every = [2]float64{0.5, 1} }),
	usual("dense-twice", "as dense, there and back", func(k *kind) { walked(k); k.every = [2]float64{0.5, 1}; k.passes = 2; k.lines = 2 }),
	usual("slow-velocity", "walked, velocity lags by 0.6–1 s", func(k *kind) { walked(k); k.lag = [2]float64{0.6, 1}; k.rate = 5 }),
	usual("deep", "lines 2–5 m deep", func(k *kind) { k.depth = [2]float64{2, 5} }),
	usual("deep-dense", "lines 2–5 m deep, walked, a reading every 0.5–1 s", func(k *kind) { walked(k); k.depth = [2]float64{2, 5}; k.every = [2]float64{0.5, 1} }),
	usual("street", "three to five lines 0.7–1.6 m apart", func(k *kind) { k.street = true; k.depth = [2]float64{0.6, 1.6}; k.locks = 0 }),
	usual("street-walked", "the same, walked along", func(k *kind) { walked(k); k.street = true; k.depth = [2]float64{0.6, 1.6}; k.locks = 0 }),
	usual("street-single-coil", "the same, pointed with one coil", func(k *kind) { k.street = true; k.depth = [2]float64{0.6, 1.6}; k.locks = 0; k.single = true }),
	usual("tees", "a main with branches", func(k *kind) { k.tees = true; k.locks = 0 }),
	usual("good-hand", "pointing twice as well as usual", func(k *kind) { k.skill = [2]float64{0.45, 0.55} }),
	usual("poor-hand", "pointing half as well as usual", func(k *kind) { k.skill = [2]float64{1.8, 2.2} }),
	usual("good-hand-close", "pointing twice as well, a reading a metre", func(k *kind) { k.skill = [2]float64{0.45, 0.55}; k.spacing = [2]float64{0.6, 1.4}; k.lines = 2 }),
	usual("locks", "5 % of the readings on a neighbour", func(k *kind) { k.locks = 0.05 }),
	usual("holes", "a test hole in 25 readings", func(k *kind) { k.holes = true }),
	usual("weak-signal", "3–12 mA, logged whole", func(k *kind) { k.ma = [2]float64{3, 12}; k.digits = 0 }),
	usual("steps", "real steps of the current on half of the lines", func(k *kind) { k.steps = true; k.digits = 0 }),
	usual("two-instruments", "two locators in one log, each with its clock", func(k *kind) { k.instruments = 2; k.lines = 4 }),
	usual("hours", "clock off by hours", func(k *kind) { k.clock = "hours" }),
	usual("drifting", "clock drifting by 20–300 ppm", func(k *kind) { k.clock = "drifting" }),
	usual("minutes-walked", "walked once, clock off by minutes", func(k *kind) { walked(k); k.clock = "minutes" }),
	usual("cut-to-5-s", "times cut to 5 s", func(k *kind) { k.cut = 5 * time.Second }),
	usual("wrong-integers", "six wrong fixes an hour", func(k *kind) { k.wrong = 6 }),
	usual("multipath", "ten bursts of multipath an hour", func(k *kind) { k.ghosts = 10 }),
	usual("roaming", "a fix that roams", func(k *kind) { k.roams = 0.001 }),
	usual("trees", "fixed, float and nothing by turns", func(k *kind) { k.mixed = true }),
	usual("float", "float all day", func(k *kind) { k.sky = float }),
	usual("float-walked", "float all day, walked", func(k *kind) { walked(k); k.sky = float }),
	usual("sbas", "SBAS all day", func(k *kind) { k.sky = sbas }),
	usual("sbas-walked", "SBAS all day, walked there and back", func(k *kind) { walked(k); k.sky = sbas; k.passes = 2; k.lines = 2 }),
	usual("autonomous", "no corrections", func(k *kind) { k.sky = autonomous; k.noGST = true }),
	usual("autonomous-walked", "no corrections, walked", func(k *kind) { walked(k); k.sky = autonomous; k.noGST = true }),
}

// Kinds returns the names of all kinds of day, in the order of the table.
func Kinds() []string {
	var list []string
	for _, k := range kinds {
		list = append(list, k.name)
	}
	return list
}

// What returns in a few words what a kind of day is.
func What(name string) string {
	k, _ := find(name)
	return k.what
}

func find(name string) (kind, bool) {
	for _, k := range kinds {
		if k.name == name {
			return k, true
		}
	}
	return kind{}, false
}
