// Package survey turns a day's logs into a day's map: it reads the inputs,
// runs the stages in their order and gathers what each of them counted. The
// command and the web page call the same functions. It prints nothing, reads no
// clock and writes no file.
package survey

// Version of the program.
const Version = "0.1.0"

// Tool is how outputs name the program that wrote them.
const Tool = "tracemap " + Version
