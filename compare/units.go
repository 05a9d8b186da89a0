package compare

import (
	"strconv"
	"strings"

	"tracemap/present"
)

// units are those that a name ends with or a value is followed by, in metres.
// The foot is the international one, the inch a twelfth of it, 25.4 mm (NIST SP 811,
// appendix B).
var units = map[string]float64{
	"m": 1, "metre": 1, "metres": 1, "meter": 1, "meters": 1,
	"cm": 0.01, "mm": 0.001,
	"ft": present.MetresPerFoot, "foot": present.MetresPerFoot, "feet": present.MetresPerFoot,
	"in": 0.0254, "inch": 0.0254, "inches": 0.0254,
}

// splitUnit takes the unit off the end of a folded name; 0 for a name without.
func splitUnit(folded string) (stem string, metres float64) {
	if i := strings.LastIndexByte(folded, '_'); i > 0 {
		if u, ok := units[folded[i+1:]]; ok {
			return folded[:i], u
		}
	}
	return folded, 0
}

// parseLength reads a length: a figure with point or comma, and perhaps its
// unit, which then counts; else metres is the unit of the column, 0 for none
// known. ok is false for what is no length.
func parseLength(text string, metres float64) (v float64, ok bool) {
	text = strings.TrimSpace(text)
	end := strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune("0123456789.,+-eE", r) })
	figure, rest := text, ""
	if end >= 0 {
		figure, rest = text[:end], strings.TrimSpace(text[end:])
	}
	if rest != "" {
		u, known := units[strings.ToLower(strings.Trim(rest, ". "))]
		if !known {
			return 0, false
		}
		metres = u
	}
	v, ok = parseNumber(figure)
	return v * metres, ok && metres > 0
}

// parseNumber reads a figure; a comma is a decimal comma where there is no point.
func parseNumber(text string) (float64, bool) {
	text = strings.TrimSpace(text)
	if strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		text = strings.Replace(text, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil && present.Known(v)
}
