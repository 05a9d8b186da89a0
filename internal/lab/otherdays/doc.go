// Package otherdays invents days of locating by laws of its own: a receiver's
// log, a readings log, and the truth of both. It is a second opinion beside
// internal/lab/simulate and was written from the physics of the field and the
// practice of the trade alone: it shares no code, no constant and no error law
// with the estimators, with the readers of logs or with the other generator,
// so that an assumption they have in common shows as a width that is not true.
//
// What it does in its own way:
//
//   - the field is that of finite straight wires (Biot–Savart): bends, tees,
//     falling lines and neighbours distort place, depth and current as they do
//     in the ground, and a receiver with two coils reads the result;
//   - the pole is planted in 0.1 to 0.3 s, or swept across the line, or carried
//     along it; speeds vary, people pause;
//   - the receiver's error is white noise, two Gauss–Markov processes, a random
//     walk, bursts of multipath and wrong integers; its velocity is filtered;
//   - the locator's clock is right, off or drifting, and its log cuts or rounds
//     times, depths and currents.
//
// Units are metres, seconds and milliamperes; east, north and up are those of
// a tangent plane at the day's origin. The same kind and seed always make the
// same bytes.
package otherdays
