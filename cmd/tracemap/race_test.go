//go:build race

package main

// memoryFactor is by how much more memory a program may take that is watched by the
// race detector: 5 to 10 times, says its documentation.
const memoryFactor = 5
