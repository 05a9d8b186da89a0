// Package nmea turns what a GNSS receiver wrote into epochs: one a time, with
// position, height, quality, the receiver's own error estimate, speed and date.
//
// Read is the only way in. It takes the files of a log in any order, as readers
// of unpacked bytes, and gives a Log: epochs strictly increasing in time, counts,
// gaps and warnings. Sniff tells from a file's beginning whether it is such a log.
//
// # The way of the bytes
//
//	spelling.go  UTF-16, and fields that stand in a table's cells, are spelled plainly
//	chunk.go     a log is cut into chunks where no sentence is cut, and these are
//	             scanned side by side; the result does not depend on the cuts
//	scan.go      sentences are found wherever they stand among prefixes, binary
//	             messages, lost line ends and rubbish, and their checksums verified
//	bare.go      where a sentence may lack its '$'
//	kinds.go     the fields of GGA, GNS, RMC, GLL, GST, ZDA, GSA and VTG, each with
//	             the list of its fields numbered as in the sentence
//	field.go     numbers, times, angles and dates out of bytes
//	short.go     a number of few characters, from one word
//	rare.go      a heading, and what else go-nmea reads: see below
//	sky.go       satellites in view and their C/N0, looked at now and then
//	group.go     sentences of one time become one draft of an epoch, whatever their order
//	date.go      the dates told are votes on where a source's count of days begins
//	calendar.go  count of days to date: week rollover, sources without a date
//	receivers.go two receivers in one log are told apart, and one is kept
//	merge.go     drafts of one time are joined, and become epochs
//	warn.go      what a person should know
//
// Sentences of other types are counted, and read by github.com/adrianmo/go-nmea as
// far as they are of use: HDT and THS each, of GSV those of one epoch in some eight
// minutes, of the rest the first of its type, so that Stats.Other can say whether it
// could be read. The eight kinds above have parsers of their own for speed, and in
// the tests go-nmea reads the same sentences as a reference.
//
// # Errors
//
// A log is never refused for what is in it. What cannot be used is counted in
// Stats, and where it is a sentence of a kind that matters, kept in Log.Aside with
// file, line, field and reason (the first twenty; all are counted). What can be
// used with a caution is said in Log.Warnings. An error is returned where a source
// cannot be read or the context ends. A source that breaks off because its bytes
// are damaged, as a gzip file cut short, is used up to there: File.Err and a
// warning say so.
//
// # What is believed
//
// A wrong checksum: nothing. A right one: every field that can be read; a fault in
// time, place or quality sets the sentence aside, a later one only that field. No
// checksum: the sentence, if no field is missing or faulty and a line end stands
// behind it, and only where no sentence with a checksum tells the same.
//
// A missing '$' changes nothing in that: a checksum is the XOR of what follows it. A sign
// before a latitude or longitude counts for more than the letter behind it, and a place
// without a sign for more than one with it.
//
// GGA and GNS decide whether there is a fix; RMC and GLL are asked only where both
// are silent. Zeros for latitude and longitude are no place. Qualities 0, 7 and 8
// (no fix, typed in, simulated) give no epoch. The navigational status of RMC and
// GNS is ignored: most receivers send V whatever the fix.
//
// GST gives σ as the receiver told it, without a floor and without a factor; where
// there is none σ is NaN, and what to assume instead is not this package's matter.
//
// Times are UTC. 23:59:60 is read as the midnight that follows.
package nmea
