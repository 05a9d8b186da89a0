package geodesy_test

import (
	"bufio"
	"bytes"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "make the reference files anew with the programs they come from")

// reference is a file of answers of another program, one question a line.
type reference struct {
	file    string
	head    string   // program, version, command, tolerance: kept in the file
	program string   // what must be installed to ask again
	inputs  []string // one a line
	now     []string // those to ask again; all when nil, and with -all
	// ask gives the answers to inputs, in their order.
	ask func(t *testing.T, inputs []string) []string
}

// check calls a function with input and answer of each line of the file, which
// with -update is written first. Where the program is installed it is asked
// again, and its present answers are checked too: a newer version may differ.
func (r reference) check(t *testing.T, check func(t *testing.T, input, answer string)) {
	t.Helper()
	path := filepath.Join("testdata", "reference", r.file)
	_, missing := exec.LookPath(r.program)
	if *update {
		if missing != nil {
			t.Fatal(missing)
		}
		var b bytes.Buffer
		for line := range strings.Lines(r.head) {
			b.WriteString("# " + line)
		}
		for i, answer := range r.ask(t, r.inputs) {
			fmt.Fprintf(&b, "%s => %s\n", r.inputs[i], answer)
		}
		if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	seen := map[string]bool{}
	for sc := bufio.NewScanner(f); sc.Scan(); {
		if strings.HasPrefix(sc.Text(), "#") {
			continue
		}
		in, answer, ok := strings.Cut(sc.Text(), " => ")
		if !ok {
			t.Fatalf("%s: %q has no answer", path, sc.Text())
		}
		seen[in] = true
		check(t, in, answer)
	}
	for _, in := range r.inputs {
		if !seen[in] {
			t.Errorf("%s: no answer for %q; run go test -update", path, in)
		}
	}
	if missing != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%v: install it, so that its present answers are compared too (Debian: proj-bin, geographiclib-tools)", missing)
		}
		t.Logf("%s is not installed: only its answers on file were compared", r.program)
		return
	}
	now := r.now
	if now == nil || *all {
		now = r.inputs
	}
	for i, answer := range r.ask(t, now) {
		check(t, now[i], answer)
	}
}

// run gives what a program prints for lines of input, a line each, with single
// spaces and without empty lines.
func run(t *testing.T, inputs []string, program string, args ...string) []string {
	t.Helper()
	cmd := exec.Command(program, args...)
	cmd.Stdin = strings.NewReader(strings.Join(inputs, "\n") + "\n")
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s %s: %v", program, strings.Join(args, " "), err)
	}
	var answers []string
	for line := range strings.Lines(string(out)) {
		if words := strings.Fields(line); len(words) > 0 {
			answers = append(answers, strings.Join(words, " "))
		}
	}
	if len(answers) != len(inputs) {
		t.Fatalf("%s %s: %d answers to %d lines", program, strings.Join(args, " "), len(answers), len(inputs))
	}
	return answers
}

// inGroups asks together what has the same key, and gives the answers in the
// order of the inputs. Starting a program costs more than its answers.
func inGroups(inputs []string, key func(in string) string, ask func(key string, inputs []string) []string) []string {
	var keys []string
	where := map[string][]int{}
	for i, in := range inputs {
		k := key(in)
		if where[k] == nil {
			keys = append(keys, k)
		}
		where[k] = append(where[k], i)
	}
	answers := make([]string, len(inputs))
	for _, k := range keys {
		var group []string
		for _, i := range where[k] {
			group = append(group, inputs[i])
		}
		for n, a := range ask(k, group) {
			answers[where[k][n]] = a
		}
	}
	return answers
}

// firstWords splits off the first n words of a line.
func firstWords(line string, n int) (first, rest string) {
	w := strings.Fields(line)
	return strings.Join(w[:n], " "), strings.Join(w[n:], " ")
}

// numbers reads the numbers of a line.
func numbers(t *testing.T, line string) []float64 {
	t.Helper()
	var out []float64
	for _, w := range strings.Fields(line) {
		v, err := strconv.ParseFloat(w, 64)
		if err != nil {
			t.Fatalf("%q in %q is no number", w, line)
		}
		out = append(out, v)
	}
	return out
}
