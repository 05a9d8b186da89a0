package web_test

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// Every test that docs/threats.md names is there.
func TestThreatsNameTestsThatExist(t *testing.T) {
	b, err := os.ReadFile("../docs/threats.md")
	if err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for _, dir := range []string{".", "../internal/store", "../internal/tiles", "../internal/geofile", "../internal/formula", "../cmd/tracemap"} {
		names, err := filepath.Glob(filepath.Join(dir, "*_test.go"))
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			all.Write(text)
		}
	}
	named := regexp.MustCompile("`((?:Test|Fuzz)\\w+)(/\\w+)?`").FindAllStringSubmatch(string(b), -1)
	for _, m := range named {
		if !strings.Contains(all.String(), "func "+m[1]+"(") {
			t.Errorf("docs/threats.md names %s, which is not there", m[1])
		}
		if script := strings.TrimPrefix(m[2], "/"); script != "" {
			if _, err := os.Stat("../cmd/tracemap/testdata/" + script + ".txtar"); err != nil {
				t.Errorf("docs/threats.md names %s%s: %v", m[1], m[2], err)
			}
		}
	}
	if len(named) < 30 {
		t.Errorf("only %d tests are named", len(named))
	}
}
