package report

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"tracemap/result"
)

// sentence gives a text a capital and a full stop.
func sentence(text string) string {
	if text == "" {
		return ""
	}
	first, n := utf8.DecodeRuneInString(text)
	text = string(unicode.ToUpper(first)) + text[n:]
	if !strings.HasSuffix(text, ".") && !strings.HasSuffix(text, "!") && !strings.HasSuffix(text, "?") {
		text += "."
	}
	return text
}

// joined puts two sentences behind each other; either may be empty.
func joined(a, b string) string { return strings.TrimSpace(a + " " + b) }

// quantity is a number with its sign or its unit, which no line may part.
var quantity = regexp.MustCompile(`± |\d (m|mA|s|ft|in|kHz|Hz)\b|\d %`)

// unbroken keeps quantities together.
func unbroken(text string) string {
	return quantity.ReplaceAllStringFunc(text, func(q string) string { return strings.ReplaceAll(q, " ", "\u00A0") })
}

// tight does so with facts.
func tight(facts []result.Fact) []result.Fact {
	for i := range facts {
		facts[i].Text = unbroken(facts[i].Text)
	}
	return facts
}

// short cuts a text to a number of characters.
func short(text string, most int) string {
	runes := []rune(text)
	if len(runes) <= most {
		return text
	}
	return string(runes[:most-1]) + "…"
}
