package readings

import (
	"strconv"
	"strings"
	"time"
	"unicode"
)

// An order is how a date of figures is written where the year does not come first.
type order int

const (
	orderUnknown order = iota
	dayFirst
	monthFirst
)

// A loose time is what a text holds of a date, a time of day and a zone.
type loose struct {
	stamp
	hasDate, hasClock bool
	noSeconds         bool
	a, b              int // the first two figures of a date whose order is open
	open              bool
	dots              bool
}

// parseLoose reads dates and times as people and programs write them: with names
// of months, the year first or last, with a zone's letters, in basic form. A date
// whose order is open is read by the order given, else left open.
func parseLoose(text string, by order) (l loose, reason string) {
	rest := strings.TrimSpace(strings.NewReplacer("(", " ", ")", " ").Replace(eastAsian.Replace(text)))
	rest, ok := l.takeZone(rest)
	if !ok {
		return l, notClock
	}
	if rest, reason = l.takeClock(rest); reason != "" {
		return l, reason
	}
	rest = strings.Trim(strings.TrimSuffix(strings.TrimSpace(rest), "T"), " ,;@|")
	if rest == "" {
		return l, ""
	}
	if reason := l.takeDate(rest, by); reason != "" {
		return l, reason
	}
	if l.open {
		return l, dayOrMonth
	}
	return l, l.check()
}

// check refuses what no calendar has.
func (l *loose) check() string {
	s := l.stamp
	if !l.hasDate {
		s.year, s.month, s.day = 2000, 1, 1
	}
	if !s.valid() {
		return noSuchTime
	}
	return ""
}

// takeZone takes a zone from the end of a text that holds a time of day.
func (l *loose) takeZone(text string) (rest string, ok bool) {
	upper := strings.ToUpper(text)
	if strings.HasSuffix(upper, "AM") || strings.HasSuffix(upper, "PM") || strings.HasSuffix(upper, "M.") {
		return text, true
	}
	if strings.HasSuffix(upper, "Z") && len(text) > 1 && text[len(text)-2] >= '0' && text[len(text)-2] <= '9' {
		l.hasZone = true
		return strings.TrimSpace(text[:len(text)-1]), true
	}
	colon := strings.IndexByte(text, ':')
	if at := strings.LastIndexAny(text, "+-"); at > 0 && (colon >= 0 && at > colon || strings.ContainsAny(text[:at], "Tt")) {
		from := at
		for _, p := range []string{"UTC", "GMT"} {
			if strings.HasSuffix(strings.TrimSpace(upper[:at]), p) {
				from = strings.LastIndex(upper[:at], p)
			}
		}
		if seconds, ok := offsetOf(strings.TrimSpace(text[at:])); ok {
			l.hasZone, l.offset = true, seconds
			return strings.TrimRight(text[:from], " ("), true
		}
	}
	at := strings.LastIndexAny(text, " (0123456789.")
	if at < 0 || colon < 0 || at < colon || at == len(text)-1 && text[at] != ')' {
		return text, true
	}
	word := strings.Trim(text[at+1:], "() ")
	if word == "" || monthOf(word) > 0 {
		return text, true
	}
	zone, known := zoneNamed(word)
	if !known {
		return text, !allLetters(word)
	}
	_, l.offset = time.Unix(0, 0).In(zone).Zone()
	l.hasZone = true
	return strings.TrimRight(text[:at+1], " ("), true
}

func allLetters(s string) bool {
	return strings.IndexFunc(s, func(r rune) bool { return !unicode.IsLetter(r) }) < 0
}

// takeClock takes the time of day, wherever it stands.
func (l *loose) takeClock(text string) (rest, reason string) {
	colon := strings.IndexByte(text, ':')
	if colon < 0 {
		return l.takeBasic(text)
	}
	from := colon
	for from > 0 && colon-from < 2 && text[from-1] >= '0' && text[from-1] <= '9' {
		from--
	}
	if from == colon || from > 0 && text[from-1] >= '0' && text[from-1] <= '9' {
		return text, notClock
	}
	sc := scan{text[from:]}
	l.hour, _ = sc.figures(1, 2)
	sc.one(":")
	var ok bool
	if l.min, ok = sc.figures(2, 2); !ok {
		return text, notClock
	}
	if len(sc.rest) > 1 && sc.rest[0] == ':' && sc.rest[1] >= '0' && sc.rest[1] <= '9' {
		sc.one(":")
		if l.sec, ok = sc.figures(2, 2); !ok {
			return text, notClock
		}
		if len(sc.rest) > 1 && strings.IndexByte(".,:", sc.rest[0]) >= 0 && sc.rest[1] >= '0' && sc.rest[1] <= '9' {
			sc.rest = sc.rest[1:]
			sc.fraction(&l.stamp)
		}
	} else {
		l.noSeconds = true
	}
	sc.rest = strings.TrimLeft(strings.TrimPrefix(sc.rest, ":"), " ")
	for _, half := range []string{"a.m.", "p.m.", "a. m.", "p. m."} {
		if len(sc.rest) >= len(half) && strings.EqualFold(sc.rest[:len(half)], half) {
			sc.rest = half[:1] + "m" + sc.rest[len(half):]
		}
	}
	if !sc.half(&l.stamp) {
		return text, notClock
	}
	l.hasClock = true
	if l.noSeconds {
		return text, noSeconds
	}
	return strings.TrimSpace(text[:from] + " " + sc.rest), ""
}

// takeBasic takes the time of ISO 8601's basic form: 20260512T080102.5, also with a
// blank or nothing between.
func (l *loose) takeBasic(text string) (rest, reason string) {
	text, fraction, _ := strings.Cut(strings.Replace(text, ",", ".", 1), ".")
	digits := strings.Map(func(r rune) rune {
		switch r {
		case 'T', 't', ' ', '_':
			return -1
		}
		return r
	}, text)
	if len(digits) != 14 || strings.Trim(digits, "0123456789") != "" || strings.Trim(fraction, "0123456789") != "" {
		if fraction != "" {
			text += "." + fraction
		}
		return text, ""
	}
	n := func(from, to int) int { v, _ := strconv.Atoi(digits[from:to]); return v }
	l.year, l.month, l.day, l.hour, l.min, l.sec = n(0, 4), n(4, 6), n(6, 8), n(8, 10), n(10, 12), n(12, 14)
	if fraction != "" {
		sc := scan{fraction}
		sc.fraction(&l.stamp)
	}
	l.hasDate, l.hasClock = true, true
	return "", l.check()
}

// takeDate reads what is left beside the time of day.
func (l *loose) takeDate(text string, by order) (reason string) {
	l.dots = strings.Count(text, ".") == 2
	var numbers []string
	month := 0
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" -/.,'’", r) }) {
		switch digits := strings.TrimRight(word, "stndrhaeº"); {
		case word[0] >= '0' && word[0] <= '9' && strings.Trim(digits, "0123456789") == "":
			numbers = append(numbers, digits)
		case strings.Trim(word, "0123456789") != "" && strings.ContainsAny(word, "0123456789"):
			// 12May2026
			head := strings.TrimRight(strings.TrimRight(word, "0123456789"), "")
			day := strings.TrimRightFunc(head, unicode.IsLetter)
			if m := monthOf(head[len(day):]); m > 0 && month == 0 {
				month = m
				numbers = append(numbers, day, word[len(head):])
				continue
			}
			return notDate
		default:
			if m := monthOf(word); m > 0 && month == 0 {
				month = m
			} else if !smallWords[strings.ToLower(word)] && len(word) < 2 {
				return notDate
			} else if _, isMonth := monthWords()[unaccent(strings.ToLower(word))]; isMonth {
				return notDate
			} else if !smallWords[unaccent(strings.ToLower(word))] {
				return notDate
			}
		}
	}
	if len(numbers) == 1 && len(numbers[0]) == 8 && month == 0 { // 20260512
		numbers = []string{numbers[0][:4], numbers[0][4:6], numbers[0][6:]}
	}
	if month > 0 {
		if len(numbers) != 2 {
			return notDate
		}
		y, d := numbers[1], numbers[0]
		if len(d) == 4 {
			y, d = d, y
		}
		return l.set(y, month, d)
	}
	if len(numbers) != 3 {
		return notDate
	}
	if len(numbers[0]) == 4 {
		m, _ := strconv.Atoi(numbers[1])
		return l.set(numbers[0], m, numbers[2])
	}
	l.a, _ = strconv.Atoi(numbers[0])
	l.b, _ = strconv.Atoi(numbers[1])
	if len(numbers[0]) > 2 || len(numbers[1]) > 2 || l.a > 31 || l.b > 31 {
		return notDate
	}
	switch {
	case by == dayFirst:
		return l.set(numbers[2], l.b, numbers[0])
	case by == monthFirst:
		return l.set(numbers[2], l.a, numbers[1])
	}
	l.open = true
	return ""
}

// smallWords stand in dates without saying anything: weekdays and "de".
var smallWords = func() map[string]bool {
	out := map[string]bool{}
	for w := range strings.SplitSeq("de del di do le of the den d "+
		"mon tue wed thu fri sat sun monday tuesday wednesday thursday friday saturday sunday "+
		"mo di mi do fr sa so montag dienstag mittwoch donnerstag freitag samstag sonntag "+
		"lun mar mer jeu ven sam dim lundi mardi mercredi jeudi vendredi samedi dimanche "+
		"lunes martes miercoles jueves viernes sabado domingo lunedi martedi mercoledi giovedi venerdi "+
		"maandag dinsdag woensdag donderdag vrijdag zaterdag zondag r roku", " ") {
		out[w] = true
	}
	return out
}()

// set takes a date. A year of two figures is of this century.
func (l *loose) set(year string, month int, day string) string {
	l.year, _ = strconv.Atoi(year)
	l.day, _ = strconv.Atoi(day)
	l.month = month
	switch len(year) {
	case 2:
		l.year += 2000
	case 4:
	default:
		return notDate
	}
	l.hasDate = true
	return ""
}
