// Package clock ties the locator's clock to UTC: it finds offset and drift with
// an honest σ, or says that the day does not tell.
//
// In order of trust: what the user says; sync marks; positions that the locator
// logged itself; and what the day betrays – readings are taken standing still,
// so their times fall into the stops of the track; and a line walked both ways
// shows the same depths and currents at the same places only with the right
// offset (the latency test of hydrographic survey). Each kind of evidence is a
// log-likelihood of the offset, reading by reading; they are added up over all
// offsets that put the readings into the log, and an offset counts as determined
// only if no other explains the day nearly as well.
package clock
