package main

import (
	"encoding/csv"
	"errors"
	"maps"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"tracemap/internal/parallel"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"tracemap": func() {
		if part := os.Getenv("BREAK"); part != "" {
			parallel.Break(part) // a script plants a defect
		}
		main()
	}})
}

// TestScripts runs testdata/*.txtar: a file a behaviour, told as a user would
// type it. $DEMO is a folder with the invented day.
func TestScripts(t *testing.T) {
	demo := demoDay(t)
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("DEMO", demo)
			return nil
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"status":   cmdStatus,
			"contents": cmdContents,
			"column":   cmdColumn,
		},
	})
}

// demoDay writes the invented day into a folder of its own.
func demoDay(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := writeDemo(dir); err != nil {
		t.Fatal(err)
	}
	return dir
}

// cmdStatus runs a command that must end with a status: status 3 tracemap …
func cmdStatus(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N command [args...]")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	err = ts.Exec(args[1], args[2:]...)
	var exit *exec.ExitError
	switch {
	case errors.As(err, &exit):
		got = exit.ExitCode()
	case err != nil:
		ts.Fatalf("%v", err)
	}
	if got != want {
		ts.Fatalf("%v ended with status %d, want %d", args[1:], got, want)
	}
}

// cmdContents demands that a folder holds just these files, hidden ones
// included: contents DIR [files...]
func cmdContents(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: contents DIR [files...]")
	}
	entries, err := os.ReadDir(ts.MkAbs(args[0]))
	ts.Check(err)
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	want := slices.Sorted(slices.Values(args[1:]))
	if !slices.Equal(got, want) {
		ts.Fatalf("%s holds %q, want %q", args[0], got, want)
	}
}

// cmdColumn demands the distinct values of a column of a CSV file, sorted:
// column FILE NAME [values...]
func cmdColumn(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: column FILE NAME [values...]")
	}
	rows, err := csv.NewReader(strings.NewReader(ts.ReadFile(args[0]))).ReadAll()
	ts.Check(err)
	i := slices.Index(rows[0], args[1])
	if i < 0 {
		ts.Fatalf("%s has no column %s", args[0], args[1])
	}
	values := map[string]bool{}
	for _, row := range rows[1:] {
		values[row[i]] = true
	}
	got, want := slices.Sorted(maps.Keys(values)), slices.Sorted(slices.Values(args[2:]))
	if !slices.Equal(got, want) {
		ts.Fatalf("%s of %s: %q, want %q", args[1], args[0], got, want)
	}
}
