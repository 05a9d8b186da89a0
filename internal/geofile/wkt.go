package geofile

import (
	"fmt"
	"regexp"
	"strings"

	"github.com/peterstace/simplefeatures/geom"
)

// maxNesting is how deep geometries may stand in each other; three is what maps
// need.
const maxNesting = 16

var (
	wktSRID = regexp.MustCompile(`(?i)^\s*SRID\s*=\s*(\d+)\s*;\s*`)
	wktWord = regexp.MustCompile(`[A-Za-z]+`)
)

// parseWKT reads well-known text of a geometry in the forms that are written:
// any case, LINESTRINGZ in one word, SRID=25832; before it, and a third ordinate
// without Z. srid is "" where none stands before it.
func parseWKT(text string) (g geom.Geometry, srid string, err error) {
	if m := wktSRID.FindStringSubmatch(text); m != nil {
		srid, text = m[1], text[len(m[0]):]
	}
	if deep := nesting(text); deep > maxNesting {
		return g, srid, fmt.Errorf("%d brackets within each other", deep)
	}
	text = wktWord.ReplaceAllStringFunc(text, spellWKT)
	if !strings.Contains(text, " Z") && !strings.Contains(text, " M") && ordinates(text) >= 3 {
		text = wktWord.ReplaceAllStringFunc(text, func(word string) string {
			if word == "EMPTY" {
				return word
			}
			return word + " Z"
		})
	}
	g, err = geom.UnmarshalWKT(text, geom.NoValidate{})
	if err != nil {
		err = fmt.Errorf("not well-known text: %w", err)
	}
	return g, srid, err
}

// spellWKT writes a word as the library wants it.
func spellWKT(word string) string {
	word = strings.ToUpper(word)
	for _, tag := range []string{"POINT", "LINESTRING", "POLYGON", "COLLECTION"} {
		for _, suffix := range []string{"ZM", "Z", "M"} {
			if strings.HasSuffix(word, tag+suffix) {
				return strings.TrimSuffix(word, suffix) + " " + suffix
			}
		}
	}
	return word
}

// nesting is how deep the brackets of a text stand in each other, of whatever kind.
func nesting[T ~string | ~[]byte](text T) int {
	depth, deepest := 0, 0
	for i := range len(text) {
		switch text[i] {
		case '(', '[', '{':
			depth++
			deepest = max(deepest, depth)
		case ')', ']', '}':
			depth--
		}
	}
	return deepest
}

// ordinates counts the numbers of the first point.
func ordinates(text string) int {
	text = text[strings.LastIndexByte(text[:firstComma(text)], '(')+1:]
	return len(strings.Fields(text[:firstComma(text)]))
}

// firstComma is where the first comma or closing bracket stands.
func firstComma(text string) int {
	if i := strings.IndexAny(text, ",)"); i >= 0 {
		return i
	}
	return len(text)
}
