// Package compare holds lines as located against lines as built. It reads what
// convert wrote, and the owner's record, from files like any stranger: it knows
// neither readings nor fits.
//
// The way: both sides are brought into one frame and one plane; records find
// their partners by name, else by utility, nearness and direction, all at once,
// so that neighbours do not swap; along each record the signed difference is
// taken in stations, with the 95 % uncertainty of both sides; one displacement
// common to all pairs is looked for before any pipe is blamed; what is missing
// on either side is listed with its reason.
//
// Lateral differences are positive where the located line lies left of the
// record's drawn direction, depth differences where it lies deeper. Depths are
// brought to the utility's centre. Figures named 95 are half-widths of 95 %
// intervals.
package compare
