package repotest

import (
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// documents are those whose commands people type.
var documents = []string{"README.md", "DEVELOPERS.md", "CHANGELOG.md", "docs/convert.md"}

// A command of a document, and where it stands.
type command struct {
	where string
	words []string
}

// commands gives the lines of code blocks and the code in running text that
// begin with one of the given words.
func commands(t *testing.T, first ...string) []command {
	t.Helper()
	inText := regexp.MustCompile("`([^`\n]+)`")
	var out []command
	for _, doc := range documents {
		block := false
		for i, line := range strings.Split(string(content(t, doc)), "\n") {
			if strings.HasPrefix(line, "```") {
				block = !block
				continue
			}
			var found []string
			if block || strings.HasPrefix(line, "    ") {
				found = append(found, strings.TrimPrefix(strings.TrimSpace(line), "$ "))
			}
			for _, m := range inText.FindAllStringSubmatch(line, -1) {
				found = append(found, m[1])
			}
			for _, text := range found {
				text, _, _ = strings.Cut(text, "  #") // a remark behind the command
				words := strings.Fields(text)
				if len(words) > 1 && slices.Contains(first, words[0]) {
					out = append(out, command{doc + ":" + strconv.Itoa(i+1), words})
				}
			}
		}
	}
	return out
}

// Verbs and flags that the documents use are there.
func TestDocumentedCommandsExist(t *testing.T) {
	program := t.TempDir() + "/tracemap"
	if out, err := exec.Command("go", "build", "-o", program, module+"cmd/tracemap").CombinedOutput(); err != nil {
		t.Fatalf("building: %v\n%s", err, out)
	}
	help := map[string]string{}
	seen := 0
	for _, c := range commands(t, "tracemap", "bin/tracemap", "go") {
		words := c.words[1:]
		if c.words[0] == "go" {
			if len(words) < 3 || words[0] != "run" || words[1] != "./cmd/tracemap" {
				continue
			}
			words = words[2:]
		}
		verb := words[0]
		if strings.HasPrefix(verb, "-") || verb == "VERB" {
			continue
		}
		if help[verb] == "" {
			out, err := exec.Command(program, verb, "--help").Output()
			if err != nil {
				t.Errorf("%s: tracemap %s --help: %v", c.where, verb, err)
				continue
			}
			help[verb] = string(out)
		}
		seen++
		for _, w := range words[1:] {
			name, _, _ := strings.Cut(w, "=")
			name = strings.TrimRight(name, ".,;:)]")
			if strings.HasPrefix(name, "-") && len(name) > 1 && !hasFlag(help[verb], name) {
				t.Errorf("%s: %s has no flag %s", c.where, verb, name)
			}
		}
	}
	if seen < 3 {
		t.Errorf("found %d commands in %v: the test reads them wrongly", seen, documents)
	}
}

func hasFlag(help, name string) bool {
	return regexp.MustCompile(`(?m)(^|[ ,])`+regexp.QuoteMeta(name)+`($|[ ,=])`).MatchString(help) || name == "--help"
}

// Every flag of convert is explained in its document.
func TestFlagsAreDocumented(t *testing.T) {
	out, err := exec.Command("go", "run", module+"cmd/tracemap", "convert", "--help").Output()
	if err != nil {
		t.Fatal(err)
	}
	document := string(content(t, "docs/convert.md"))
	flags := regexp.MustCompile(`(?m)^ +(?:-\w, )?(--[a-z-]+)`).FindAllStringSubmatch(string(out), -1)
	if len(flags) < 10 {
		t.Fatalf("read %d flags from the help", len(flags))
	}
	for _, f := range flags {
		if !strings.Contains(document, f[1]) {
			t.Errorf("docs/convert.md does not explain %s", f[1])
		}
	}
}

// The make targets that the documents use are there.
func TestDocumentedTargetsExist(t *testing.T) {
	makefile := "\n" + string(content(t, "Makefile"))
	seen := 0
	for _, c := range commands(t, "make") {
		for _, target := range c.words[1:] {
			if strings.Contains(target, "=") {
				continue
			}
			seen++
			if !strings.Contains(makefile, "\n"+target+":") {
				t.Errorf("%s: no target %s in the Makefile", c.where, target)
			}
		}
	}
	if seen == 0 {
		t.Errorf("found no make command in %v: the test reads them wrongly", documents)
	}
}

// Paths that DEVELOPERS.md names are there.
func TestDocumentedFilesExist(t *testing.T) {
	all := files(t)
	paths := regexp.MustCompile("`([a-z./_-]+/[a-zA-Z0-9./_-]+\\.(?:go|csv|nmea|toml|txtar|md|html))`")
	for _, doc := range documents {
		for _, m := range paths.FindAllStringSubmatch(string(content(t, doc)), -1) {
			if strings.HasPrefix(m[1], "demo-map/") || strings.HasPrefix(m[1], "out/") {
				continue
			}
			if !slices.Contains(all, m[1]) {
				t.Errorf("%s names %s, which is not there", doc, m[1])
			}
		}
	}
}
