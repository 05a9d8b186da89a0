package readings

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode"
)

// A decimals says how numbers are written in a file.
type decimals struct {
	mark byte // decimal mark: '.' or ',', or 0 where it is not known
	// either accepts the other mark too where it cannot separate thousands, as
	// in "1,25". False where the mark is certain: cells separated by commas, or
	// a mark given by the user.
	either bool
	// thousands takes a comma between groups of three for what it looks like: the
	// file has shown that its decimal mark is the point, and the unit is so small that
	// thousands are ordinary.
	thousands bool
}

// Reasons why a cell is not a number.
const (
	notNumber   = "not a number"
	notUnit     = "a unit that this column is not written in"
	tooLarge    = "larger than a number can be"
	groupMarks  = "thousands separators are not read: write the number without"
	pointWanted = "a comma in a number that has a decimal point here: decimal comma or thousands separator"
	commaWanted = "a point in a number that has a decimal comma here: decimal point or thousands separator"
	maybeGroups = "may be thousands or decimals: write it without separators, or state decimal in --columns"
)

// parse reads a finite decimal number. The cell must be trimmed.
func (d decimals) parse(cell string) (v float64, reason string) {
	cell = d.ungrouped(strings.Replace(cell, "−", "-", 1))
	marks, at, grouped := 0, -1, false
	for i := 0; i < len(cell); i++ {
		switch b := cell[i]; {
		case b >= '0' && b <= '9', b == '-', b == '+', b == 'e', b == 'E':
		case b == '.', b == ',':
			marks++
			at = i
		case b == '\'', b == '_', b == ' ':
			grouped = true
		default:
			return 0, notNumber
		}
	}
	if marks > 1 || grouped {
		return 0, groupMarks
	}
	if marks == 1 {
		if reason := d.refuses(cell, at); reason != "" {
			return 0, reason
		}
		if cell[at] == ',' {
			cell = strings.Replace(cell, ",", ".", 1)
		}
	}
	v, err := strconv.ParseFloat(cell, 64)
	switch {
	case err != nil && math.IsInf(v, 0):
		return 0, tooLarge
	case err != nil:
		return 0, notNumber
	}
	return v, ""
}

// grouping is a number whose thousands are apart without doubt: by blanks or
// apostrophes, by a mark that comes twice, or by one mark before another.
var grouping = regexp.MustCompile(`^[+-]?\d{1,3}(?:(?:[ \x{00A0}\x{202F}\x{2009}'’]\d{3})+(?:[.,]\d+)?|(?:,\d{3})+\.\d+|(?:\.\d{3})+,\d+|(?:,\d{3}){2,}|(?:\.\d{3}){2,})$`)

var commaThousands = regexp.MustCompile(`^[+-]?[1-9]\d{0,2},\d{3}$`)

// ungrouped takes the marks between thousands out of a number.
func (d decimals) ungrouped(cell string) string {
	if d.thousands && commaThousands.MatchString(cell) {
		return strings.Replace(cell, ",", "", 1)
	}
	if !strings.ContainsAny(cell, " ,.'’\u00A0\u202F\u2009") || !grouping.MatchString(cell) {
		return cell
	}
	mark := strings.LastIndexAny(cell, ".,")
	if mark >= 0 && (strings.Count(cell, cell[mark:mark+1]) > 1) {
		mark = -1 // the same mark twice: all of them are between thousands
	}
	var b strings.Builder
	for i, r := range cell {
		switch {
		case i == mark:
			b.WriteByte(d.point())
		case r >= '0' && r <= '9' || r == '-' || r == '+':
			b.WriteRune(r)
		}
	}
	return b.String()
}

// point is the mark that parse takes for the decimal one.
func (d decimals) point() byte {
	if d.mark == ',' && !d.either {
		return ','
	}
	return '.'
}

// refuses gives the reason why the only mark of the cell, at position at, cannot
// be taken as decimal mark.
func (d decimals) refuses(cell string, at int) string {
	switch {
	case cell[at] == d.mark:
		return ""
	case !d.either && d.mark == '.':
		return pointWanted
	case !d.either:
		return commaWanted
	case looksGrouped(cell, at):
		return maybeGroups
	}
	return ""
}

// looksGrouped reports whether the mark at position at may separate thousands:
// one to three figures before it, not starting with zero, and three behind.
func looksGrouped(cell string, at int) bool {
	before := strings.TrimLeft(cell[:at], "+-")
	behind := cell[at+1:]
	return len(before) >= 1 && len(before) <= 3 && before[0] != '0' && len(behind) == 3 &&
		!strings.ContainsAny(behind, "eE+-")
}

// evidence counts which mark numbers are written with. What may be thousands
// counts apart, for want of anything better.
type evidence struct{ points, commas, weakPoints, weakCommas int }

func (e *evidence) add(cell string) {
	at := strings.IndexAny(cell, ".,")
	if at < 0 || at != strings.LastIndexAny(cell, ".,") || strings.Trim(cell, "0123456789+-.,") != "" {
		return
	}
	switch weak := looksGrouped(cell, at); {
	case weak && cell[at] == '.':
		e.weakPoints++
	case weak:
		e.weakCommas++
	case cell[at] == '.':
		e.points++
	default:
		e.commas++
	}
}

// mark is the more frequent mark, and sure when numbers that cannot be thousands
// say so. Without any evidence it is the comma, because evidence is sought only
// in files that separate cells by something else.
func (e *evidence) mark() (mark byte, sure bool) {
	sure = e.points+e.commas > 0
	if e.points > e.commas || !sure && e.weakPoints > e.weakCommas {
		return '.', sure
	}
	return ',', sure
}

// decimalsOf judges a column: by its own numbers, else by the file's, else by
// those that may be thousands; but not where thousands are ordinary and decimals
// are not, as in hertz: there "33,000" is left open.
func decimalsOf(column, file *evidence, u *unit) decimals {
	if mark, sure := column.mark(); sure {
		return decimals{mark: mark, either: true}
	}
	mark, sure := file.mark()
	if !sure && u != nil && u.fine {
		mark = 0
	}
	return decimals{mark: mark, either: true}
}

// splitUnit parts a cell such as "33 kHz" into the number and the unit written
// behind it, normalised. A cell with anything else behind its figures is given
// back whole, so that it is no number.
func splitUnit(cell string) (num, unit string) {
	last := strings.LastIndexAny(cell, "0123456789")
	if last < 0 || last == len(cell)-1 {
		return cell, ""
	}
	behind := strings.TrimSpace(cell[last+1:])
	for _, r := range behind {
		if !unicode.IsLetter(r) && r != '%' && r != '°' && r != '.' {
			return cell, ""
		}
	}
	return strings.TrimSpace(cell[:last+1]), normalise(behind)
}

// isBlank reports whether a trimmed cell says that nothing was read: empty,
// dashes as locators show them, or "n/a".
func isBlank(cell string) bool {
	if cell == "" {
		return true
	}
	if cell[0] >= '0' && cell[0] <= '9' {
		return false
	}
	return strings.Trim(cell, "-–—") == "" || strings.EqualFold(cell, "n/a")
}
