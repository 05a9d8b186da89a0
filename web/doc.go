// Package web is the page for the three people who meet over a day of locating:
// the locator uploads and hands over, the GIS technician reviews and corrects,
// the engineer reads. It is a documented HTTP interface (openapi.json) and a page
// that uses nothing else.
//
// Everything that comes in is somebody else's: file names are only ever shown,
// bodies are bounded, and what a day's numbers mean is computed by
// internal/survey alone. docs/threats.md lists what is guarded against, and how.
package web
