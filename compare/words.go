package compare

import (
	"strings"
	"unicode"

	"tracemap/readings"
)

// fold writes a name or a word as it is compared: lower case, words joined by
// one underscore. "pipeDiameter", "Pipe Diameter" and "PIPE_DIAMETER" are one.
func fold(s string) string {
	var b strings.Builder
	gap, before := false, rune(0)
	for _, r := range s {
		switch {
		case unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.IsMark(r):
			if (gap || unicode.IsUpper(r) && unicode.IsLower(before)) && b.Len() > 0 {
				b.WriteByte('_')
			}
			gap = false
			b.WriteRune(unicode.ToLower(r))
		default:
			gap = true
		}
		before = r
	}
	return b.String()
}

// unknown is the utility of what no word tells.
const unknown = "unknown"

// recordWords are the words that records, their layers and their folders use for a
// utility beside those of readings logs; the first of a row is ours.
var recordWords = [][]string{
	{"water", "water_mains", "wtr", "dw", "wasser", "eau", "agua"},
	{"reclaimed_water", "non_potable", "purple_pipe"},
	{"sewer", "sewers", "sewerage", "abwasser", "ss", "san"},
	{"storm", "storm_drainage", "surface_water_sewer", "drain", "drainage", "culvert", "sd", "sw"},
	{"gas", "gas_mains", "gaz"},
	{"oil", "oil_pipeline"},
	{"steam", "heat", "fernwärme", "chilled_water"},
	{"electric", "elec", "ele", "medium_voltage", "strom"},
	{"lighting", "lights"},
	{"communications", "comm", "telco", "tel", "broadband", "fo"},
}

// alike are utilities that records lump together or mix up.
var alike = [][]string{
	{"water", "reclaimed_water"},
	{"sewer", "storm"},
	{"electric", "lighting", "communications"},
	{"gas", "oil", "steam"},
}

// utilityOf gives the utility of a word. A word of several parts is met before its
// parts: storm_sewer is no sewer.
var utilityOf = func() map[string]string {
	out := map[string]string{}
	for _, row := range append(readings.UtilityWords(), recordWords...) {
		for _, w := range row {
			out[w] = row[0]
		}
	}
	return out
}()

// maxWord is how many parts a word of the table has at most.
const maxWord = 3

// utilityIn gives the utility that a text names, and "" where it names none or
// two. Of several words the longest counts: "Gas main, Water Street" is two.
func utilityIn(text string) string {
	parts := strings.Split(fold(text), "_")
	found := ""
	for i := 0; i < len(parts); {
		n, u := wordAt(parts[i:])
		if u == "" || u == unknown && found != "" {
			i++
			continue
		}
		if found != "" && found != unknown && found != u {
			return ""
		}
		found = u
		i += n
	}
	return found
}

// wordAt gives the longest word of the table that the parts begin with.
func wordAt(parts []string) (n int, utility string) {
	for n = min(maxWord, len(parts)); n > 0; n-- {
		if u := utilityOf[strings.Join(parts[:n], "_")]; u != "" {
			return n, u
		}
	}
	return 0, ""
}

// kinship tells how well two utilities go together: 2 the same, 1 alike or one
// unknown, 0 not at all.
func kinship(a, b string) int {
	switch {
	case a == b && a != unknown:
		return 2
	case a == unknown || b == unknown:
		return 1
	}
	for _, group := range alike {
		hasA, hasB := false, false
		for _, u := range group {
			hasA, hasB = hasA || u == a, hasB || u == b
		}
		if hasA && hasB {
			return 1
		}
	}
	return 0
}

// largest is the outside diameter, m, that a utility's line at a depth to be
// reached by a locator hardly exceeds: what is assumed as possible where no
// diameter is known. Common practice, no source.
var largest = map[string]float64{
	"water": 0.4, "reclaimed_water": 0.4, "sewer": 0.6, "storm": 0.6, "gas": 0.4, "oil": 0.4, "steam": 0.5,
	"electric": 0.16, "lighting": 0.1, "communications": 0.16, unknown: 0.4,
}
