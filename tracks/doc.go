// Package tracks reads what a receiver, a phone or a program kept of a walk in another
// form than sentences: a GPX track, a KML track, a line or points of GeoJSON with times,
// a phone's JSON, a table with time, latitude and longitude. It gives the same epochs as
// nmea does.
//
//	look.go     is this a track, and surely?
//	read.go     the sources in, a log out
//	gpx.go, kml.go, json.go, table.go
//	            a form each: records of named values out of bytes
//	columns.go  what people and standards call these values
//	epoch.go    a record → an epoch: place, height, σ, kind of fix
//	when.go     times
//
// # What such a log does not say
//
// Mostly the kind of fix, and always less than a receiver's sentences. A position
// whose kind of fix is not said has quality unknown, for which the table of noise holds
// metres. What is said of σ is used:
//
//	an accuracy   taken as the radius that holds 68 % of a circular normal error,
//	              r = σ √(−2 ln 0.32) = 1.51 σ. Systems of phones document it so; the
//	              W3C's Geolocation API has 95 % for the same word, from memory. Of the
//	              two readings the one with the larger σ is taken.
//	a CEP         50 %: 1.18 σ; a radius named 95: 2.45 σ
//	an HRMS       σ of each axis, although √2 times as much as that where it is radial
//	σ of an axis  as it stands
//
// Heights stand above an unnamed geoid unless a column says that they are ellipsoidal.
// Speeds are not read: their unit is often not said, and the track tells them.
package tracks
