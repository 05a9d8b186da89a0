// Package geofile reads lines and their attributes from the files that owners
// of utilities keep their records in: GeoJSON, KML and KMZ, GeoPackage,
// Shapefile, DXF, and CSV with well-known text. What a file is, is told from
// its content.
//
// Coordinates are given as they stand in the file, x before y, with the
// coordinate system that the file names; nothing is projected, turned round or
// scaled here. What cannot be read is set aside with its place and reason and
// never stops the rest. Every count and size that a file claims is held against
// what is really there, so that a hostile file costs no more than its own size
// and a fixed limit for what is packed.
package geofile
