package readings

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// bareCell takes off what programs put round a cell so that a spreadsheet leaves it
// alone: blanks of all kinds, ="0.95", '0.95.
func bareCell(cell string) string {
	cell = strings.TrimFunc(cell, func(r rune) bool {
		return r == ' ' || r == '\t' || r == '\u00A0' || r == '\u202F' || r == '\uFEFF' || r == '\n' || r == '\r'
	})
	if len(cell) >= 3 && strings.HasPrefix(cell, `="`) && strings.HasSuffix(cell, `"`) {
		return strings.TrimSpace(cell[2 : len(cell)-1])
	}
	if len(cell) > 2 && cell[0] == '"' && cell[len(cell)-1] == '"' && !strings.Contains(cell[1:len(cell)-1], `"`) {
		return strings.TrimSpace(cell[1 : len(cell)-1])
	}
	if len(cell) > 1 && cell[0] == '\'' && cell[1] >= '0' && cell[1] <= '9' && !strings.Contains(cell[1:], "'") {
		return cell[1:]
	}
	return cell
}

// feetAndInches is 3'-4", 3' 4 1/2", 3 ft 4 in, 4", with the marks of print as well.
var feetAndInches = regexp.MustCompile(`^([+-])?(?:(\d+(?:\.\d+)?)\s*(?:'|’|′|ft\.?|feet|foot)\s*-?\s*)?(?:(\d+(?:\.\d+)?)?\s*(?:(\d+)/(\d+))?\s*(?:"|”|″|''|in\.?|inches|inch))?$`)

// parseFeetInches reads a length in feet and inches that says so itself, in m.
func parseFeetInches(cell string) (v float64, ok bool) {
	if !strings.ContainsAny(cell, `'’′"”″fFiI`) {
		return 0, false
	}
	g := feetAndInches.FindStringSubmatch(strings.ToLower(cell))
	if g == nil || g[2] == "" && g[3] == "" && g[4] == "" {
		return 0, false
	}
	number := func(s string) float64 {
		if s == "" {
			return 0
		}
		v, _ := strconv.ParseFloat(s, 64)
		return v
	}
	feet, inches := number(g[2]), number(g[3])
	if g[4] != "" {
		if number(g[5]) == 0 {
			return 0, false
		}
		inches += number(g[4]) / number(g[5])
	}
	if g[2] != "" && (inches >= 12 || feet != math.Trunc(feet) && (g[3] != "" || g[4] != "")) {
		return 0, false
	}
	if v = (feet*12 + inches) * 0.0254; g[1] == "-" {
		v = -v
	}
	return v, true
}

// parseFeetDotInches reads 3.11 as three feet eleven inches, for a column whose
// header says that it is written so.
func parseFeetDotInches(cell string) (v float64, ok bool) {
	feet, inches, _ := strings.Cut(strings.NewReplacer("-", ".", ",", ".", " ", ".").Replace(cell), ".")
	f, err := strconv.Atoi(feet)
	n := 0
	if err == nil && inches != "" {
		n, err = strconv.Atoi(inches)
	}
	if err != nil || f < 0 || n < 0 || n > 11 {
		return 0, false
	}
	return float64(f*12+n) * 0.0254, true
}

// splitPacked parts 4712.345 into 47 degrees and 12.345 minutes.
func splitPacked(v float64) (degrees, minutes float64) {
	v = math.Abs(v)
	degrees = math.Floor(v / 100)
	return degrees, v - 100*degrees
}

// anglePattern is an angle in degrees, or degrees and minutes, or also seconds, with
// or without their signs, and the letter of its half of the earth on either side.
var anglePattern = regexp.MustCompile(`^([NSEWO])?\s*([+-])?(\d{1,3}(?:\.\d+)?)(?:\s*(?:°|º|d|deg|:|\s)\s*(?:(\d{1,2}(?:\.\d+)?)(?:\s*(?:'|’|′|m|:|\s)\s*(?:(\d{1,2}(?:\.\d+)?)\s*(?:"|”|″|''|s)?)?)?)?)?\s*([NSEWO])?$`)

// parseAngle reads a latitude or a longitude that is no plain number: 47°06'00.5"N,
// 47 6.008 N, S 33.5. The comma may be its decimal mark.
func parseAngle(cell string, lat bool) (v float64, ok bool) {
	text := strings.ToUpper(strings.ReplaceAll(cell, "DEG", "°"))
	if strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		text = strings.Replace(text, ",", ".", 1)
	}
	text = strings.NewReplacer("D", "°", "M", "'").Replace(text)
	if strings.HasSuffix(strings.TrimRight(text, "0123456789.' \"°"), "") && !strings.ContainsAny(text, "NSEWO°'’′\": ") {
		return 0, false
	}
	g := anglePattern.FindStringSubmatch(text)
	if g == nil || g[1] != "" && g[6] != "" {
		return 0, false
	}
	number := func(s string) float64 {
		if s == "" {
			return 0
		}
		v, _ := strconv.ParseFloat(s, 64)
		return v
	}
	degrees, minutes, seconds := number(g[3]), number(g[4]), number(g[5])
	if minutes >= 60 || seconds >= 60 || g[4] != "" && degrees != math.Trunc(degrees) || g[5] != "" && minutes != math.Trunc(minutes) {
		return 0, false
	}
	v = degrees + minutes/60 + seconds/3600
	letter := g[1] + g[6]
	switch {
	case letter != "" && (strings.ContainsAny(letter, "NS") != lat):
		return 0, false
	case letter == "O": // Ost or oeste
		return 0, false
	case letter == "S" || letter == "W":
		v = -v
	}
	if g[2] == "-" {
		v = -v
	}
	return v, true
}
