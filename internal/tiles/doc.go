// Package tiles reads map tiles out of one local file, PMTiles (version 3) or
// MBTiles (1.3), and draws vector tiles as quiet pictures to lie under a map.
//
// A file is a stranger's: sizes in it are bounded before memory is taken, and
// what is broken gives an error, never a panic.
package tiles
