// Package fieldlogs asks logs of real receivers what the invented days cannot
// tell: how large GNSS errors are, how much of them is new from second to
// second, how long the rest lasts – and, with invented readings laid on the real
// positions, how much of a located line lies within its width.
//
// The logs are read where they lie and are no part of the repository. Few of
// them have a reference that is better than they are; each figure says what it
// was measured against and what that leaves out.
package fieldlogs
