package fuse

import "tracemap/nmea"

// worth orders fix qualities from worst to best.
var worth = map[nmea.Quality]int{
	nmea.QualityEstimated:  1,
	nmea.QualityUnknown:    2,
	nmea.QualityAutonomous: 3,
	nmea.QualityPPS:        4,
	nmea.QualityDGPS:       5,
	nmea.QualityRTKFloat:   6,
	nmea.QualityRTKFixed:   7,
}

// worse is the weaker of two qualities; QualityNone stands for not yet known.
func worse(a, b nmea.Quality) nmea.Quality {
	if a == nmea.QualityNone || worth[b] < worth[a] {
		return b
	}
	return a
}
