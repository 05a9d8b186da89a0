package web_test

import (
	"io/fs"
	"os"
	"regexp"
	"strings"
	"testing"
)

// scripts gives the page's own scripts, those of others left out.
func scripts(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := fs.WalkDir(os.DirFS("assets"), ".", func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || strings.HasPrefix(path, "vendor/") || !strings.HasSuffix(path, ".js") {
			return err
		}
		b, err := os.ReadFile("assets/" + path)
		out[path] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

var (
	wordKey = regexp.MustCompile(`(?m)(?:^ {2}|, )(\w+): (?:'|\{)`)
	askedBy = regexp.MustCompile(`\bt\('(\w+)'`)
	literal = regexp.MustCompile(`'((?:[^'\\\n]|\\.)*)'`)
	twoWord = regexp.MustCompile(`^[A-Z]?[a-zà-ÿ’]+( [a-zà-ÿ’]+){2,}[.,:]?`)
)

// All words that people read stand in the catalogue's files, each key once, and
// no script asks for words that are not there or has a sentence of its own.
func TestWordsAreInOnePlace(t *testing.T) {
	all := scripts(t)
	keys := map[string]string{}
	for name, text := range all {
		if !strings.HasPrefix(name, "text") {
			continue
		}
		for _, m := range wordKey.FindAllStringSubmatch(text, -1) {
			if where, ok := keys[m[1]]; ok && where != name {
				t.Errorf("%s and %s both have words for %s", where, name, m[1])
			}
			keys[m[1]] = name
		}
	}
	if len(keys) < 150 {
		t.Fatalf("only %d keys found", len(keys))
	}
	asked := map[string]bool{}
	for name, text := range all {
		if strings.HasPrefix(name, "text") {
			continue
		}
		for _, m := range askedBy.FindAllStringSubmatch(text, -1) {
			asked[m[1]] = true
			if _, ok := keys[m[1]]; !ok && !strings.HasSuffix(m[1], "_") {
				t.Errorf("%s asks for words %q, which are not there", name, m[1])
			}
		}
		for _, line := range strings.Split(text, "\n") {
			line, _, _ = strings.Cut(line, "//")
			for _, m := range literal.FindAllStringSubmatch(line, -1) {
				if twoWord.MatchString(m[1]) && !isName(m[1]) {
					t.Errorf("%s has words of its own: %q", name, m[1])
				}
			}
		}
	}
	if !asked["caution"] {
		t.Error("nobody asks for the caution's word")
	}
}

// isName tells names of events from words that are shown.
func isName(text string) bool { return text == "moveend zoomend resize" }
