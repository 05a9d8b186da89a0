package nmea

import (
	"encoding/binary"
	"math"
	"strconv"
)

const (
	second = int64(1e9)
	day    = 86400 * second
	noTime = int64(-1)
	noDate = int32(math.MinInt32)
)

// fields reads the fields of a sentence one after the other. A field that is
// empty, or that the sentence is too short to have, gives the reader's word for
// "not told" (NaN, noTime, 0); one that cannot be read gives the same and is
// remembered as a fault.
type fields struct {
	b  []byte
	at int // start of the next field; len(b)+1 behind the last
	n  int // number of the field last read, from 1, as the kinds' lists count them

	decimals int  // of the minutes of the angle last read
	sign     byte // '-' or '+' before that angle; 0 where there is none
	signed   bool // a sign stood before some angle of the sentence

	fault  int    // number of the first field that could not be read; 0 for the sentence as a whole
	reason string // what was wrong with it; empty while all is well
	strict bool   // no checksum vouches for the bytes: only the standard's own shape is taken

	last said
}

// said is what the sentence before wrote, and what it meant: the sentences of one
// epoch repeat time and place letter by letter. Views into the chunk.
type said struct {
	clock, place []byte // place: its four fields, without a fault
	nanos        int64
	lat, lon     float64
	digits       uint8
	signed       bool
}

// begin turns to the fields of another sentence of the same chunk.
func (f *fields) begin(b []byte, strict bool) {
	f.b, f.strict, f.at, f.n, f.decimals, f.signed, f.fault, f.reason = b, strict, 0, 0, 0, false, 0, ""
}

// refuse remembers that field n cannot be read.
func (f *fields) refuse(n int, reason string) {
	if f.reason == "" {
		f.fault, f.reason = n, reason
	}
}

// over reports whether the sentence has no further field.
func (f *fields) over() bool { return f.at > len(f.b) }

// text gives the next field as it stands; nil where the sentence is over.
func (f *fields) text() []byte {
	f.n++
	if f.over() {
		return nil
	}
	i := f.at
	for i < len(f.b) && f.b[i] != ',' {
		i++
	}
	field := f.b[f.at:i]
	f.at = i + 1
	return field
}

// skip passes over k fields.
func (f *fields) skip(k int) {
	f.n += k
	for i := f.at; i < len(f.b); i++ {
		if f.b[i] != ',' {
			continue
		}
		if k--; k == 0 {
			f.at = i + 1
			return
		}
	}
	f.at = len(f.b) + 1
}

// letter gives a field of one letter; 0 where it is empty.
func (f *fields) letter() byte {
	t := f.text()
	switch len(t) {
	case 0:
		return 0
	case 1:
		return t[0]
	}
	f.refuse(f.n, "more than one letter")
	return 0
}

// count gives a field that is a whole number of at most four digits; -1 where
// it is empty.
func (f *fields) count() int {
	t := f.text()
	if len(t) == 0 {
		return -1
	}
	if len(t) > 4 {
		f.refuse(f.n, "not a small whole number")
		return -1
	}
	v := 0
	for _, c := range t {
		if c-'0' > 9 {
			f.refuse(f.n, "not a small whole number")
			return -1
		}
		v = v*10 + int(c-'0')
	}
	return v
}

// number gives a decimal number, correctly rounded; NaN where it is empty.
// Exponents, NaN and Inf are no numbers here: no receiver writes them.
func (f *fields) number() float64 {
	f.n++
	if f.at+8 <= len(f.b) {
		if digits, decimals, length, ok := shortNumber(binary.LittleEndian.Uint64(f.b[f.at:])); ok {
			f.at += length + 1
			return float64(digits) / pow10[decimals]
		}
	}
	if f.over() {
		return math.NaN()
	}
	b, i := f.b, f.at
	begin, negative := i, false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		negative = b[i] == '-'
		i++
	}
	mantissa, digits, decimals, i := decimal(b, i)
	f.at = i + 1
	if i < len(b) && b[i] != ',' || digits == 0 {
		return f.noNumber(begin)
	}
	v := float64(mantissa) / pow10[min(decimals, len(pow10)-1)]
	if mantissa >= 1<<53 || digits > 18 {
		v, _ = strconv.ParseFloat(string(b[begin:i]), 64)
		return v
	}
	if negative {
		return -v
	}
	return v
}

// noNumber steps over a field that begins at begin and is empty or no number.
func (f *fields) noNumber(begin int) float64 {
	f.n--
	f.at = begin
	if len(f.text()) > 0 {
		f.refuse(f.n, "not a number")
	}
	return math.NaN()
}

// positive gives a number above 0; anything else counts as not told, for a
// receiver writes 0 where it has no σ and no DOP.
func (f *fields) positive() float64 {
	if v := f.number(); v > 0 {
		return v
	}
	return math.NaN()
}

// decimal reads digits with at most one point. It gives all digits as one whole
// number, how many there were, how many of them behind the point, and where the
// reading stopped. The whole number is good up to 18 digits.
func decimal(b []byte, i int) (mantissa uint64, digits, decimals, end int) {
	first := i
	for ; i < len(b) && b[i]-'0' <= 9; i++ {
		mantissa = mantissa*10 + uint64(b[i]-'0')
	}
	digits = i - first
	if i < len(b) && b[i] == '.' {
		i++
		first = i
		for ; i < len(b) && b[i]-'0' <= 9; i++ {
			mantissa = mantissa*10 + uint64(b[i]-'0')
		}
		decimals = i - first
		digits += decimals
	}
	return mantissa, digits, decimals, i
}

var pow10 = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18}

// clock gives a time of day (hhmmss, with or without decimals) in nanoseconds
// since midnight; noTime where it is empty. 23:59:60, a leap second, gives 86400 s
// and more. Digits beyond the ninth decimal are cut off.
func (f *fields) clock() int64 {
	t := f.text()
	if len(t) == 0 {
		return noTime
	}
	if string(t) == string(f.last.clock) {
		return f.last.nanos
	}
	if len(t) < 6 || len(t) > 6 && t[6] != '.' || !allDigits(t[:6]) {
		f.refuse(f.n, "not a time hhmmss")
		return noTime
	}
	hour, minute, sec := pair(t), pair(t[2:]), pair(t[4:])
	if hour > 23 || minute > 59 || sec > 60 || sec == 60 && (hour != 23 || minute != 59) {
		f.refuse(f.n, "no such time of day")
		return noTime
	}
	ns := (hour*3600 + minute*60 + sec) * second
	unit := second / 10
	for _, c := range t[min(7, len(t)):] {
		if c-'0' > 9 {
			f.refuse(f.n, "not a time hhmmss")
			return noTime
		}
		ns += int64(c-'0') * unit
		unit /= 10
	}
	f.last.clock, f.last.nanos = t, ns
	return ns
}

// pair gives the number that two digits make.
func pair(b []byte) int64 { return int64(b[0]-'0')*10 + int64(b[1]-'0') }

func allDigits(b []byte) bool {
	for _, c := range b {
		if c-'0' > 9 {
			return false
		}
	}
	return true
}

// latitude gives degrees, north positive, from two fields: ddmm.mmmm and N or S.
func (f *fields) latitude() float64 { return f.angle(4, 90, 'N', 'S') }

// longitude gives degrees, east positive, from two fields: dddmm.mmmm and E or W.
func (f *fields) longitude() float64 { return f.angle(5, 180, 'E', 'W') }

// angle reads a latitude or longitude out of two fields. Some firmware signs the
// number and writes one letter throughout, or none: a minus is south or west whatever the
// letter. A plus beside the letter of south or west contradicts it.
func (f *fields) angle(wide int, limit float64, plus, minus byte) float64 {
	v := f.degreesMinutes(wide)
	letter := f.text()
	switch {
	case math.IsNaN(v):
	case v > limit:
		f.refuse(f.n-1, "beyond the pole or the antimeridian")
	case f.sign == '-' && (len(letter) == 0 || len(letter) == 1 && (letter[0] == plus || letter[0] == minus)):
		return -v
	case len(letter) == 1 && letter[0] == plus:
		return v
	case len(letter) == 1 && letter[0] == minus && f.sign == 0:
		return -v
	default:
		f.refuse(f.n, "no hemisphere")
	}
	return math.NaN()
}

// degreesMinutes reads an angle of at most wide whole digits, the last two of
// them minutes; NaN where it is empty. A sign is kept apart. One division of two whole
// numbers makes the result correctly rounded.
func (f *fields) degreesMinutes(wide int) float64 {
	f.sign = 0
	if f.over() {
		f.n++
		return math.NaN()
	}
	begin := f.at
	mantissa, digits, decimals, end := decimal(f.b, begin)
	if digits == 0 && begin < len(f.b) && (f.b[begin] == '-' || f.b[begin] == '+') {
		f.sign, f.signed = f.b[begin], true
		mantissa, digits, decimals, end = decimal(f.b, begin+1)
	}
	f.n++
	f.at = end + 1
	if end < len(f.b) && f.b[end] != ',' || digits == 0 {
		return f.noNumber(begin)
	}
	whole := digits - decimals
	if whole > wide || whole < 3 || whole < wide && f.strict || digits > 17 {
		f.refuse(f.n, "not degrees and minutes")
		return math.NaN()
	}
	f.decimals = decimals
	scale := uint64(pow10[decimals])
	degrees, minutes := mantissa/(100*scale), mantissa%(100*scale)
	if minutes >= 60*scale {
		f.refuse(f.n, "minutes not below 60")
		return math.NaN()
	}
	return float64(degrees*60*scale+minutes) / float64(60*scale)
}

// date gives days since 1970-01-01 from ddmmyy; noDate where it is empty.
// Years 80 to 99 are 19yy, others 20yy.
func (f *fields) date() int32 {
	t := f.text()
	if len(t) == 0 {
		return noDate
	}
	if len(t) != 6 || !allDigits(t) {
		f.refuse(f.n, "not a date ddmmyy")
		return noDate
	}
	return f.days(fullYear(int(pair(t[4:]))), int(pair(t[2:])), int(pair(t)))
}

// fullYear gives the year that two digits mean: the pivot is 1980, when GPS
// time begins.
func fullYear(yy int) int {
	if yy >= 80 {
		return 1900 + yy
	}
	return 2000 + yy
}

// days gives days since 1970-01-01, and refuses a day that no calendar has, or
// one outside the years of satellite navigation that two digits can tell.
func (f *fields) days(year, month, dayOfMonth int) int32 {
	if year < 1980 || year > 2079 || month < 1 || month > 12 || dayOfMonth < 1 || dayOfMonth > monthLength(year, month) {
		f.refuse(f.n, "no such date")
		return noDate
	}
	return daysOf(year, month, dayOfMonth)
}

func monthLength(year, month int) int {
	switch month {
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}

// daysOf gives the days from 1970-01-01 to a date of the Gregorian calendar,
// counted in years that begin in March so that the leap day comes last.
func daysOf(year, month, dayOfMonth int) int32 {
	if month <= 2 {
		year--
		month += 12
	}
	yearDay := (153*(month-3)+2)/5 + dayOfMonth - 1
	return int32(365*year + year/4 - year/100 + year/400 + yearDay - 719468)
}
