// Package export writes a located day as files: GeoJSON, KML, CSV, GeoPackage,
// DXF, Shapefile, the places to revisit as GPX, and a summary for programs. The
// page for people is package report, a Format like the others.
//
// A result.Map is what they all read. The table of columns (columns.go) says once what
// the fields of each layer are, and makes every file and the data dictionary;
// the table of formats (formats.go) says what can be written. One σ becomes 95 %
// in present/confidence.go and nowhere else.
//
// The same map gives the same bytes, on every machine. What is not known is
// blank, null or NULL, never zero.
package export
