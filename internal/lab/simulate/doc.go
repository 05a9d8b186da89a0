// Package simulate invents days of utility locating whose truth is known: what
// lies in the ground, how a technician walked over it, what the receiver and
// the locator wrote down, and how wrong each of them was.
//
// It exists to judge the estimators, so it shares nothing with them: no type,
// no constant, no formula. What it knows comes from physics – the law of
// Biot–Savart for currents in wires, Gauss–Markov processes for satellite
// errors, the way a person walks – and each error model can be swapped for
// another of the same size, so that nothing is tuned to one of them.
//
// A day is a pure function of its Scenario: the same scenario gives the same
// bytes.
//
//	day := simulate.Invent(scenario)
//	day.WriteNMEA(log)          // what the receiver logged
//	day.WriteReadings(csv)      // what the locator logged, on its own clock
//	day.WriteAsBuilt(record)    // what the owner's record says
//	day.WriteTruth(truth)       // what was really there
//
// Units: metres, seconds, degrees, milliamperes; the plane is that of
// geodesy.Local about the scenario's origin; offsets and turns are positive to
// the left of the drawn direction; depth is positive downwards from the ground
// surface to the utility's centre; σ is one standard deviation.
package simulate
