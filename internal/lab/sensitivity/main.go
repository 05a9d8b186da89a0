// Command sensitivity asks of constants what happens when they are wrong: it measures
// the same invented days with each constant as it is, × 0.75 and × 1.25, and prints a
// row a generator and variant.
//
//	go run ./internal/lab/sensitivity -seeds 2 -presets rtk-stopgo,walked-twice fuse/clock/estimate.go:leastGain fuse/clock/passes.go:passLength
//
// The sources stay as they are: go run is handed a changed copy of the file with
// -overlay. Each row comes from internal/lab/accuracy, whose columns docs/accuracy.md
// explains.
package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
)

func main() {
	if err := run(os.Args[1:], os.Stdout, os.Stderr); err != nil {
		fmt.Fprintln(os.Stderr, "sensitivity:", err)
		os.Exit(1)
	}
}

func run(args []string, stdout, stderr io.Writer) error {
	fs := flag.NewFlagSet("sensitivity", flag.ContinueOnError)
	fs.SetOutput(stderr)
	presets := fs.String("presets", "", "presets, as of internal/lab/accuracy")
	seeds := fs.Int("seeds", 2, "days a preset")
	if err := fs.Parse(args); err != nil {
		return err
	}
	measure := func(label string, overlay ...string) error {
		goRun := append([]string{"run"}, overlay...)
		goRun = append(goRun, "./internal/lab/accuracy", "-seeds", strconv.Itoa(*seeds), "-presets", *presets)
		cmd := exec.Command("go", goRun...)
		var failed bytes.Buffer
		cmd.Stderr = &failed
		table, err := cmd.Output()
		if err != nil {
			return fmt.Errorf("%s: %w\n%s", label, err, failed.String())
		}
		fmt.Fprint(stdout, rowsOf(label, string(table)))
		return nil
	}
	fmt.Fprintln(stdout, "| constant | generator | known | estimated | unknown | c>3σ | cmax | cover% | half |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
	if err := measure("as it is"); err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "sensitivity")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	for _, c := range fs.Args() {
		file, name, ok := strings.Cut(c, ":")
		if !ok {
			return fmt.Errorf("%q: want FILE:CONSTANT", c)
		}
		for _, factor := range []float64{0.75, 1.25} {
			overlay, err := overlaid(dir, file, name, factor)
			if err != nil {
				return err
			}
			if err := measure(fmt.Sprintf("%s × %v", name, factor), "-overlay", overlay); err != nil {
				return err
			}
		}
	}
	return nil
}

// overlaid writes a copy of a file with a constant multiplied, and returns the name of
// the overlay that puts it in the file's place.
func overlaid(dir, file, name string, factor float64) (string, error) {
	source, err := os.ReadFile(file)
	if err != nil {
		return "", err
	}
	if source, err = multiplied(source, name, factor); err != nil {
		return "", fmt.Errorf("%s: %w", file, err)
	}
	full, err := filepath.Abs(file)
	if err != nil {
		return "", err
	}
	changed, overlay := filepath.Join(dir, "changed.go"), filepath.Join(dir, "overlay.json")
	text, err := json.Marshal(map[string]map[string]string{"Replace": {full: changed}})
	if err != nil {
		return "", err
	}
	if err := os.WriteFile(changed, source, 0o644); err != nil {
		return "", err
	}
	return overlay, os.WriteFile(overlay, text, 0o644)
}

// multiplied returns a source with the value of a package's constant multiplied; an
// integer is rounded, and moves by one at the least.
func multiplied(source []byte, name string, factor float64) ([]byte, error) {
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, "", source, 0)
	if err != nil {
		return nil, err
	}
	for _, d := range file.Decls {
		g, ok := d.(*ast.GenDecl)
		if !ok || g.Tok != token.CONST {
			continue
		}
		for _, s := range g.Specs {
			spec := s.(*ast.ValueSpec)
			for i, n := range spec.Names {
				if n.Name != name || i >= len(spec.Values) {
					continue
				}
				from, to := set.Position(spec.Values[i].Pos()).Offset, set.Position(spec.Values[i].End()).Offset
				value := fmt.Sprintf("(%s) * %v", source[from:to], factor)
				if whole, err := strconv.Atoi(string(source[from:to])); err == nil {
					value = strconv.Itoa(scaled(whole, factor))
				}
				return append(append(append([]byte{}, source[:from]...), value...), source[to:]...), nil
			}
		}
	}
	return nil, fmt.Errorf("no constant %s", name)
}

func scaled(whole int, factor float64) int {
	v := int(float64(whole)*factor + 0.5)
	if v == whole && factor < 1 {
		v--
	} else if v == whole {
		v++
	}
	return v
}

// rowsOf picks from a table of internal/lab/accuracy what a variant came to: a row a
// generator.
func rowsOf(label, table string) string {
	var out strings.Builder
	var generator string
	var columns []string
	days := map[string]string{}
	for _, line := range strings.Split(table, "\n") {
		cells := strings.Fields(line)
		cell := func(column string) string {
			for i, c := range columns {
				if c == column && i < len(cells) {
					return cells[i]
				}
			}
			return ""
		}
		switch {
		case len(cells) == 2 && cells[0] == "generator:":
			generator, days = strings.TrimPrefix(cells[1], "internal/"), map[string]string{}
		case len(cells) > 2 && cells[0] == "preset":
			columns = cells
		case len(cells) > 2 && strings.HasPrefix(cells[0], "clock:"):
			days[cells[0]] = cell("days")
		case len(cells) > 2 && cells[0] == "all":
			fmt.Fprintf(&out, "| %s | %s ", label, generator)
			for _, state := range []string{"clock:known", "clock:estimated", "clock:unknown"} {
				n := days[state]
				if n == "" {
					n = "0"
				}
				fmt.Fprintf(&out, "| %s ", n)
			}
			for _, c := range []string{"c>3σ", "cmax", "cover%", "half"} {
				fmt.Fprintf(&out, "| %s ", strings.TrimSuffix(cell(c), "!"))
			}
			out.WriteString("|\n")
		}
	}
	return out.String()
}
