// Package record captures a live receiver into hourly logs: a serial or
// Bluetooth port, a TCP stream or standard input. What it writes is what the
// receiver sent, whole lines only, so that a log can be converted while the next
// one is being recorded.
//
// # The way of the bytes
//
//	source.go    where the bytes come from: serial.go, tcp.go, pipe.go
//	feed.go      opens the source, reads, and opens it again when it is lost
//	lines.go     whole lines out of pieces
//	sentence.go  checksum and time tag of a line
//	clock.go     UTC out of time tags and the machine's clock
//	hours.go     which hour's log a line belongs to
//	writer.go    hourly files that are never overwritten and survive a full disk
//	watch.go     what a person should see: fix, satellites, σ, age, rate
//	alarm.go     when a person should be called
//	marks.go     sync marks and notes, in a file beside the logs
//	tee.go       the same lines to other programs
//	record.go    one goroutine that owns all of it
//
// # What is promised
//
// A log consists of whole lines at every moment: a half line waits in memory for
// its end, and is dropped and counted when the connection breaks. Lines reach the
// operating system as they come and the disk every second; the end of the process
// costs the line that was just arriving, the end of the machine's power a second.
// A file that exists is never written to. When the disk is full, lines wait in
// memory until there is room, and what had to be let go is counted.
//
// Reading the machine's clock is this package's business, unlike that of the
// stages that compute: the receiver's UTC is taken where it tells one, and the
// machine's where it does not.
package record
