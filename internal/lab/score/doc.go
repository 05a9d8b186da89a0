// Package score holds a located day against the truth of an invented one: does
// the line lie where the width says it does, how sharp is the width, what
// happened at corners, was the clock found, were neighbours' readings known for
// what they were. Scores of several days add up.
//
// A located point's error is its distance across the true line: beyond an end
// of the true line, from its straight continuation. Lengths are metres along
// the located line, sampled every quarter of a metre, so that a sparse and a
// dense line count alike.
package score
