package track

import "tracemap/fuse/noise"

// calmWindow, s, is half of the time over which a told σ is averaged: of the
// order of the slow error's own correlation time.
const calmWindow = 150.0

// calm averages the told uncertainty over the fixes of one quality about each.
// Receivers' GST and DOP jump from second to second – a satellite comes and goes –
// while the position stays where it was. Taken at its word, a σ that doubles
// beside an error that does not would tell the fit that there is no slow error at
// all, and the width would shrink.
func calm(raw []fix) {
	var told []noise.Horizontal // as they were told, of the fixes before hi
	for first := 0; first < len(raw); {
		last := first
		for last < len(raw) && raw[last].quality == raw[first].quality {
			last++
		}
		lo, hi := first, first
		told = told[:0]
		var sum noise.Horizontal
		for i := first; i < last; i++ {
			for hi < last && raw[hi].t <= raw[i].t+calmWindow {
				sum = sum.Plus(raw[hi].total, 1)
				told = append(told, raw[hi].total)
				hi++
			}
			for raw[lo].t < raw[i].t-calmWindow {
				sum = sum.Plus(told[len(told)-(hi-lo)], -1)
				lo++
			}
			if len(told) > 2*(hi-lo)+1000 {
				told = told[:copy(told, told[len(told)-(hi-lo):])]
			}
			k := 1 / float64(hi-lo)
			raw[i].total = noise.Horizontal{EE: k * sum.EE, NN: k * sum.NN, EN: k * sum.EN}
		}
		first = last
	}
}
