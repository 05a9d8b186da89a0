package readings

import (
	"fmt"
	"strings"
	"sync"
	"time"
)

// zoneAbbreviations are the letters that mean one offset wherever they are used
// for a clock, in hours. Left out are those that mean several: CST (Chicago,
// Shanghai, Havana), IST (Delhi, Dublin, Jerusalem), BST, AST.
var zoneAbbreviations = map[string]float64{
	"utc": 0, "gmt": 0, "z": 0, "wet": 0, "west": 1, "cet": 1, "cest": 2, "mez": 1, "mesz": 2, "eet": 2, "eest": 3, "msk": 3,
	"est": -5, "edt": -4, "cdt": -5, "mst": -7, "mdt": -6, "pst": -8, "pdt": -7, "akst": -9, "akdt": -8, "hst": -10,
	"jst": 9, "kst": 9, "aest": 10, "aedt": 11, "acst": 9.5, "acdt": 10.5, "awst": 8, "nzst": 12, "nzdt": 13,
}

// zoneNamed gives the zone of its letters or its offset: "CEST", "UTC+2", "+02:00".
func zoneNamed(text string) (*time.Location, bool) {
	text = strings.ToLower(strings.TrimSpace(strings.Trim(strings.TrimSpace(text), "()[]")))
	if hours, ok := zoneAbbreviations[text]; ok {
		return time.FixedZone(strings.ToUpper(text), int(hours*3600)), true
	}
	rest := text
	for _, prefix := range []string{"utc", "gmt"} {
		rest = strings.TrimSpace(strings.TrimPrefix(rest, prefix))
	}
	if seconds, ok := offsetOf(rest); ok {
		return time.FixedZone(text, seconds), true
	}
	return nil, false
}

// offsetOf reads +2, +02, +0200, +02:00, also with the minus sign of print.
func offsetOf(s string) (seconds int, ok bool) {
	s = strings.Replace(s, "−", "-", 1)
	if len(s) < 2 || s[0] != '+' && s[0] != '-' {
		return 0, false
	}
	sc := scan{s[1:]}
	h, ok := sc.figures(1, 2)
	m := 0
	if ok && sc.rest != "" {
		sc.one(":")
		m, ok = sc.figures(2, 2)
	}
	if !ok || sc.rest != "" || h > 15 || m > 59 {
		return 0, false
	}
	seconds = h*3600 + m*60
	if s[0] == '-' {
		seconds = -seconds
	}
	return seconds, true
}

// ParseZone gives a zone by its IANA name in any case, its letters, or its offset.
// The computer's own zone has no name here: the same input would give other
// results elsewhere.
func ParseZone(name string) (*time.Location, error) {
	if z, ok := zoneNamed(name); ok {
		return z, nil
	}
	if name != "" && !strings.EqualFold(name, "local") {
		if z, err := time.LoadLocation(name); err == nil {
			return z, nil
		}
		if z, err := time.LoadLocation(titled(name)); err == nil {
			return z, nil
		}
	}
	if ambiguousZones()[strings.ToLower(name)] {
		return nil, fmt.Errorf("time zone %q means different offsets in different countries: write the place, such as America/Chicago, or the offset, such as -06:00", name)
	}
	return nil, fmt.Errorf("unknown time zone %q: write a place such as Europe/Oslo or America/Denver, or an offset such as +02:00", name)
}

var ambiguousZones = sync.OnceValue(func() map[string]bool {
	return map[string]bool{"cst": true, "ist": true, "bst": true, "ast": true}
})

// titled writes europe/oslo as Europe/Oslo and america/new_york as America/New_York.
func titled(name string) string {
	up := true
	return strings.Map(func(r rune) rune {
		if up && r >= 'a' && r <= 'z' {
			r -= 'a' - 'A'
		} else if !up && r >= 'A' && r <= 'Z' {
			r += 'a' - 'A'
		}
		up = r == '/' || r == '_' || r == '-'
		return r
	}, name)
}
