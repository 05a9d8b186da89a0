package tracks

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// gpsLeap is by how much GPS time is ahead of UTC, s, since 2017-01-01; no leap second
// has come since (IERS Bulletin C 72).
const gpsLeap = 18

var gpsStart = time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC)

// The first and last time that a track can have.
var (
	earliest = gpsStart
	latest   = time.Date(2080, 1, 1, 0, 0, 0, 0, time.UTC)
)

// layouts without a zone; a fraction of a second may follow each.
var layouts = []string{"2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006/01/02 15:04:05", "2006/01/02T15:04:05",
	"20060102T150405", "20060102150405", "20060102 15:04:05", "2006.01.02 15:04:05", "02.01.2006 15:04:05"}

// when gives the time of a record. zoned is false where the text leaves the zone open:
// then it is taken as UTC.
func when(r *record) (t time.Time, zoned bool, reason string) {
	text, scale := r[colTime], time.Duration(0)
	if text == "" {
		text, scale = r[colGPSTime], -gpsLeap*time.Second
	}
	if week := r[colWeek]; week != "" && r[colTow] != "" {
		w, err1 := strconv.Atoi(week)
		s, err2 := number(r[colTow])
		if err1 != nil || err2 || w < 0 || w > 5200 || s < 0 || s >= 7*86400 {
			return t, true, "not a GPS week and its seconds"
		}
		t, zoned = gpsStart.AddDate(0, 0, 7*w).Add(time.Duration(math.Round(s*1e6))*time.Microsecond-gpsLeap*time.Second), true
	} else {
		if date := r[colDate]; date != "" && strings.IndexByte(text, ':') >= 0 && strings.IndexByte(text, ':') <= 2 {
			text = date + " " + text
		} else if text == "" {
			text = date
		}
		var ok bool
		if t, zoned, ok = parseTime(text); !ok {
			return t, true, "not a time: " + strconv.Quote(shorten(text))
		}
		t = t.Add(scale)
		zoned = zoned || scale != 0
	}
	if t.Before(earliest) || !t.Before(latest) {
		return t, zoned, "not a time of satellite navigation"
	}
	return t, zoned, ""
}

// parseTime reads a time with a date. Digits alone count from 1970: their number tells
// seconds from parts of them, as no such second lies within a thousand years of now.
func parseTime(text string) (t time.Time, zoned, ok bool) {
	text = strings.TrimSpace(text)
	if t, err := time.Parse(time.RFC3339Nano, strings.ToUpper(text)); err == nil {
		return t.UTC(), true, true
	}
	if v, err := strconv.ParseFloat(text, 64); err == nil && !strings.ContainsAny(text, "xXpP_") && strings.IndexByte(text+".", '.') != len("20060102150405") {
		return sinceEpoch(text, v)
	}
	bare, zone := cutZone(text)
	for _, layout := range layouts {
		if t, err := time.Parse(layout, bare); err == nil {
			return t.Add(-zone.offset).UTC(), zone.told, true
		}
	}
	return t, false, false
}

// sinceEpoch reads a number of seconds, or of thousandths, millionths or thousand
// millionths, from 1970-01-01 UTC.
func sinceEpoch(text string, v float64) (t time.Time, zoned, ok bool) {
	for _, unit := range []struct {
		length time.Duration
		from   float64
	}{{time.Second, 1e8}, {time.Millisecond, 1e11}, {time.Microsecond, 1e14}, {time.Nanosecond, 1e17}} {
		if v < unit.from || v >= 1e2*unit.from {
			continue
		}
		whole, part, _ := strings.Cut(text, ".")
		n, err := strconv.ParseInt(whole, 10, 64)
		if err != nil { // an exponent
			return time.Unix(0, 0).Add(time.Duration(v * float64(unit.length))).UTC(), true, true
		}
		t = time.Unix(0, n*int64(unit.length)).UTC()
		if f, err := strconv.ParseFloat("0."+part, 64); err == nil {
			t = t.Add(time.Duration(f * float64(unit.length)))
		}
		return t, true, true
	}
	return t, false, false
}

// A zone is what stands behind a time.
type zone struct {
	offset time.Duration
	told   bool
}

// cutZone takes Z, UTC, GMT or an offset off a time's end.
func cutZone(text string) (bare string, z zone) {
	for _, word := range []string{"Z", "UTC", "GMT"} {
		if cut, ok := strings.CutSuffix(text, word); ok {
			return strings.TrimSpace(cut), zone{told: true}
		}
	}
	at := strings.LastIndexAny(text, "+-")
	if at < len("2006-01-02") && !strings.HasPrefix(text[max(at, 0):], "+") || at < 0 {
		return text, z
	}
	digits := strings.ReplaceAll(text[at+1:], ":", "")
	n, err := strconv.Atoi(digits)
	switch {
	case err != nil || len(digits) != 2 && len(digits) != 4:
		return text, z
	case len(digits) == 2:
		n *= 100
	}
	if n%100 > 59 || n > 1400 {
		return text, z
	}
	z = zone{time.Duration(n/100)*time.Hour + time.Duration(n%100)*time.Minute, true}
	if text[at] == '-' {
		z.offset = -z.offset
	}
	return strings.TrimSpace(text[:at]), z
}

// shorten keeps a text for a message.
func shorten(text string) string {
	const longest = 40
	if len(text) > longest {
		return strings.ToValidUTF8(text[:longest], "") + "…"
	}
	return text
}
