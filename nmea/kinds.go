package nmea

import (
	"bytes"
	"math"
)

// kind is a type of sentence that epochs are made of.
type kind uint8

// The kinds, those that can give a position first and in the order in which
// they are trusted for it.
const (
	kindGGA kind = iota
	kindGNS
	kindRMC
	kindGLL
	kindGST
	kindZDA
	kindGSA
	kindVTG
	kindCount

	// Those that are left to a library: see rare.go.
	kindHeading // HDT and THS
	kindSky     // GSV
	kindOther
)

// kinds is the table of what is read. To add a kind: a row, a parser with the
// field list numbered as in the sentence, and a sample in testdata/nmea.
var kinds = [kindCount]struct {
	name  string
	parse func(*fields, *record)
	least int // fewer fields than this and the sentence was cut off, where no checksum vouches for it
	vital int // a fault up to this field sets the sentence aside; a later one only that field
}{
	kindGGA: {"GGA", parseGGA, 14, 6},
	kindGNS: {"GNS", parseGNS, 12, 6},
	kindRMC: {"RMC", parseRMC, 11, 6},
	kindGLL: {"GLL", parseGLL, 6, 6},
	kindGST: {"GST", parseGST, 8, 8},
	kindZDA: {"ZDA", parseZDA, 4, 4},
	kindGSA: {"GSA", parseGSA, 17, 18},
	kindVTG: {"VTG", parseVTG, 8, 8},
}

// read parses the fields of a sentence of kind k into r, and reports whether r
// can be used; f keeps the first field that could not be read.
func (k kind) read(s *sentence, f *fields, r *record) bool {
	f.begin(s.body, s.sum == ChecksumNone)
	*r = record{}
	r.kind, r.date, r.clock, r.checked, r.talker = k, noDate, noTime, !f.strict, [2]byte(s.addr)
	if f.strict && !s.whole(kinds[k].least) {
		f.refuse(0, "no checksum, and cut off")
		return false
	}
	kinds[k].parse(f, r)
	return f.reason == "" || !f.strict && f.fault > kinds[k].vital
}

// whole reports whether a sentence without a checksum shows no sign of having
// lost a part: all its fields are there, and a line end behind them.
func (s *sentence) whole(least int) bool {
	return s.closed && bytes.IndexByte(s.body, '*') < 0 && bytes.Count(s.body, []byte{','})+1 >= least
}

// kindOf gives the kind that an address names. The talker does not matter.
func kindOf(addr []byte) kind {
	if len(addr) != 5 || addr[0] == 'P' {
		return kindOther
	}
	switch string(addr[2:]) {
	case "GGA":
		return kindGGA
	case "GNS":
		return kindGNS
	case "RMC":
		return kindRMC
	case "GLL":
		return kindGLL
	case "GST":
		return kindGST
	case "ZDA":
		return kindZDA
	case "GSA":
		return kindGSA
	case "VTG":
		return kindVTG
	case "GSV":
		return kindSky
	case "HDT", "THS":
		return kindHeading
	}
	return kindOther
}

// record is what one sentence said. Which members hold something depends on
// the kind; the rest is not set.
type record struct {
	kind    kind
	quality Quality
	sats    uint8
	oddGGA  bool // quality 9, which the standard does not have: taken as differential
	checked bool // a right checksum vouches for it
	fix     bool // the receiver claims a position
	pos     bool // a place is given
	sure    bool // the date was told together with a valid fix
	signed  bool // a sign stood before latitude or longitude
	talker  [2]byte
	line    uint32
	date    int32 // days since 1970-01-01, or noDate
	digits  uint8 // decimals of the minutes of latitude
	clock   int64 // nanoseconds since midnight, or noTime
	lat     float64
	lon     float64
	alt     float64
	sep     float32
	hdop    float32
	vdop    float32
	age     float32
	speed   float32
	course  float32 // of HDT and THS: the heading
	sigmaN  float32
	sigmaE  float32
	sigmaU  float32
	covNE   float32
}

// place takes the position out of the next four fields.
func (f *fields) place(r *record) {
	if f.samePlace(r) {
		return
	}
	from := f.at
	r.lat = f.latitude()
	r.digits = uint8(f.decimals)
	r.lon = f.longitude()
	// Receivers without a fix send zeros where the fields should be empty.
	r.signed = f.signed
	r.pos = !math.IsNaN(r.lat) && !math.IsNaN(r.lon) && (r.lat != 0 || r.lon != 0)
	if r.pos && f.reason == "" && !f.strict {
		f.last.place, f.last.lat, f.last.lon, f.last.digits, f.last.signed = f.b[from:f.at-1], r.lat, r.lon, r.digits, r.signed
	}
}

// samePlace takes the position from the sentence before where it was written in the
// same letters, as GGA and RMC of one epoch do.
func (f *fields) samePlace(r *record) bool {
	said := f.last.place
	end := f.at + len(said)
	if len(said) == 0 || f.strict || end > len(f.b) || string(f.b[f.at:end]) != string(said) || end < len(f.b) && f.b[end] != ',' {
		return false
	}
	f.n, f.at = f.n+4, end+1
	r.lat, r.lon, r.digits, r.signed, r.pos = f.last.lat, f.last.lon, f.last.digits, f.last.signed, true
	return true
}

// parseGGA reads position, quality and height:
//
//	1 UTC · 2, 3 latitude · 4, 5 longitude · 6 quality · 7 satellites in use ·
//	8 HDOP · 9 altitude above the geoid · 10 M · 11 geoid above the ellipsoid ·
//	12 M · 13 age of the corrections, s · 14 reference station
//
// The last two are missing in some receivers' sentences.
func parseGGA(f *fields, r *record) {
	r.clock = f.clock()
	f.place(r)
	switch q := f.count(); {
	case q > 9:
		f.refuse(6, "no such quality")
	case q == 9: // some makers' word for SBAS
		r.quality, r.oddGGA = QualityDGPS, true
	case q >= 0:
		r.quality = Quality(q)
	case r.pos:
		f.refuse(6, "position without a quality")
	}
	r.sats = small(f.count())
	r.hdop = float32(f.positive())
	r.alt, r.sep = f.metres(), float32(f.metres())
	r.age = float32(f.number())
	r.fix = r.quality != QualityNone
}

// metres reads a length and the letter of its unit. A length in another unit
// than metres counts as not told.
func (f *fields) metres() float64 {
	v := f.number()
	if unit := f.letter(); unit != 'M' && unit != 'm' {
		return math.NaN()
	}
	return v
}

// small gives a count of satellites; 0 where none was told.
func small(n int) uint8 { return uint8(min(max(n, 0), 99)) }

// parseGNS reads position, modes and height:
//
//	1 UTC · 2, 3 latitude · 4, 5 longitude · 6 a mode letter a system ·
//	7 satellites in use · 8 HDOP · 9 altitude above the geoid · 10 geoid above
//	the ellipsoid · 11 age of the corrections, s · 12 reference station ·
//	13 navigational status (from 4.1)
//
// Some receivers send one more of them a system, without a place in it. The
// navigational status is not looked at: most receivers send V whatever the fix.
func parseGNS(f *fields, r *record) {
	r.clock = f.clock()
	f.place(r)
	r.quality = gnsQuality(f.text())
	r.sats = small(f.count())
	r.hdop = float32(f.positive())
	r.alt = f.number()
	r.sep = float32(f.number())
	r.age = float32(f.number())
	r.fix = r.quality != QualityNone
}

// gnsQuality gives the best of the modes: one fix has several systems in it, and
// the mode of each says what that system added.
func gnsQuality(modes []byte) Quality {
	best, rank := QualityNone, len(modeOrder)
	for _, m := range modes {
		for i := range rank {
			if modeOrder[i] == m {
				best, rank = modeQuality(m), i
				break
			}
		}
	}
	return best
}

// modeOrder is the order in which the modes of one fix count.
const modeOrder = "RFPDAEMSN"

// modeQuality maps the mode letter of RMC, GLL, VTG and GNS.
func modeQuality(mode byte) Quality {
	switch mode {
	case 'A':
		return QualityAutonomous
	case 'D':
		return QualityDGPS
	case 'P':
		return QualityPPS
	case 'R':
		return QualityRTKFixed
	case 'F':
		return QualityRTKFloat
	case 'E':
		return QualityEstimated
	case 'M':
		return QualityManual
	case 'S':
		return QualitySimulator
	case 'N':
		return QualityNone
	}
	return QualityUnknown
}

// knot is one knot in metres a second: 1852 m an hour.
const knot = 1852.0 / 3600

// parseRMC reads date, position and speed:
//
//	1 UTC · 2 status, A valid or V warning · 3, 4 latitude · 5, 6 longitude ·
//	7 speed, knots · 8 course from true north · 9 date ddmmyy · 10, 11 magnetic
//	variation · 12 mode (from 2.3) · 13 navigational status (from 4.1)
//
// A receiver without a fix may still tell the date, or one that its clock has
// from nowhere.
func parseRMC(f *fields, r *record) {
	r.clock = f.clock()
	status := f.letter()
	f.place(r)
	r.speed = float32(f.number() * knot)
	r.course = float32(f.number())
	r.date = f.date()
	f.skip(2)
	r.quality, r.fix = statusQuality(status, f.text())
	r.sure = r.fix && r.pos
}

// statusQuality joins the status of RMC or GLL with the mode beside it, which
// old receivers do not send. By the letter of the standard the status is A only
// with modes A and D, so that an RTK fix may come with V.
func statusQuality(status byte, mode []byte) (Quality, bool) {
	q := QualityUnknown
	if len(mode) == 1 {
		q = modeQuality(mode[0])
	}
	rtk := q == QualityRTKFixed || q == QualityRTKFloat
	if q == QualityNone || status != 'A' && !rtk {
		return QualityNone, false
	}
	return q, true
}

// parseGLL reads the position alone:
//
//	1, 2 latitude · 3, 4 longitude · 5 UTC · 6 status · 7 mode (from 2.3)
func parseGLL(f *fields, r *record) {
	f.place(r)
	r.clock = f.clock()
	status := f.letter()
	r.quality, r.fix = statusQuality(status, f.text())
}

// parseGST reads the receiver's own error estimate:
//
//	1 UTC · 2 RMS of the range residuals · 3, 4 semi-major and semi-minor axis ·
//	5 orientation of the semi-major axis from true north · 6 σ of latitude ·
//	7 σ of longitude · 8 σ of altitude, all m
//
// The residuals are no σ of the position. Receivers and published samples are
// known whose ellipse contradicts fields 6 and 7: it is used only where it
// reproduces both within a tenth.
func parseGST(f *fields, r *record) {
	r.clock = f.clock()
	f.skip(1)
	a, b, theta := f.number(), f.number(), f.number()
	n, e := f.positive(), f.positive()
	r.sigmaN, r.sigmaE = float32(n), float32(e)
	r.sigmaU = float32(f.positive())
	r.covNE = float32(ellipseCovariance(a, b, theta, n, e))
	r.fix = n > 0 && e > 0
}

// ellipseCovariance gives the covariance of north and east, m², of an ellipse
// with axes a and b, its major one theta degrees clockwise from north; 0 where
// the ellipse does not give sigmaN and sigmaE back within a tenth.
func ellipseCovariance(a, b, theta, sigmaN, sigmaE float64) float64 {
	if math.IsNaN(a) || math.IsNaN(b) || math.IsNaN(theta) {
		return 0
	}
	sin, cos := math.Sincos(theta * math.Pi / 180)
	n := math.Sqrt(a*a*cos*cos + b*b*sin*sin)
	e := math.Sqrt(a*a*sin*sin + b*b*cos*cos)
	const tenth = 0.1
	if !(math.Abs(n-sigmaN) <= tenth*sigmaN && math.Abs(e-sigmaE) <= tenth*sigmaE) {
		return 0 // also where a σ is NaN
	}
	return (a*a - b*b) * sin * cos
}

// parseZDA reads the date:
//
//	1 UTC · 2 day · 3 month · 4 year · 5, 6 local zone, hours and minutes
//
// The zone is not applied: the time is UTC whatever it says. Years of two digits
// occur.
func parseZDA(f *fields, r *record) {
	r.clock = f.clock()
	d, m := f.count(), f.count()
	y := f.count()
	if d < 0 || m < 0 || y < 0 {
		return
	}
	if y < 100 {
		y = fullYear(y)
	}
	r.date = f.days(y, m, d)
}

// parseGSA reads the dilutions of precision:
//
//	1 M or A · 2 mode, 1 none, 2 two-dimensional, 3 three-dimensional ·
//	3 to 14 satellites · 15 PDOP · 16 HDOP · 17 VDOP · 18 system (from 4.11)
//
// One comes for each system, most with the same figures.
func parseGSA(f *fields, r *record) {
	f.skip(1)
	mode := f.letter()
	f.skip(13)
	r.hdop, r.vdop = float32(f.positive()), float32(f.positive())
	r.fix = mode == '2' || mode == '3'
}

// parseVTG reads course and speed:
//
//	1 course from true north · 2 T · 3 course from magnetic north · 4 M ·
//	5 speed, knots · 6 N · 7 speed, km/h · 8 K · 9 mode (from 2.3)
//
// An older form without the letters is not read.
func parseVTG(f *fields, r *record) {
	course := f.number()
	if string(f.text()) != "T" {
		return
	}
	f.skip(2)
	speed := f.number()
	if f.letter() == 'N' {
		r.course, r.speed = float32(course), float32(speed*knot)
		r.fix = true
	}
}
