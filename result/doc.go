// Package result is what a day came to: the map with its lines, points and readings,
// the summary of what was counted, what a part comes to, and the verdict on the whole.
// survey makes it; the writers, the report and the page read it and change nothing.
package result
