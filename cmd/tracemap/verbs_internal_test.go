package main

import (
	"bytes"
	"strings"
	"testing"

	"tracemap/internal/survey"
)

// Every verb of the table explains itself on standard output with an example
// of its own.
func TestEveryVerbHasHelpWithAnExample(t *testing.T) {
	for _, v := range verbs {
		if v.hidden() {
			continue
		}
		t.Run(v.name, func(t *testing.T) {
			var out, err bytes.Buffer
			if got := run([]string{v.name, "--help"}, strings.NewReader(""), &out, &err); got != 0 {
				t.Fatalf("status %d, want 0: %s", got, err.String())
			}
			if err.Len() > 0 {
				t.Errorf("standard error: %s", err.String())
			}
			text := out.String()
			if !strings.HasPrefix(text, "Usage: tracemap "+v.name) {
				t.Errorf("help does not begin with its usage:\n%s", text)
			}
			_, example, ok := strings.Cut(text, "\nExample:\n")
			if !ok || !strings.Contains(example, "tracemap "+v.name) {
				t.Errorf("no example of %s:\n%s", v.name, text)
			}
			for line := range strings.Lines(text) {
				if len([]rune(line)) > 101 {
					t.Errorf("line wider than 100: %q", line)
				}
			}
		})
	}
}

// A panic anywhere below becomes one line and status 1.
func TestPanicIsOneLine(t *testing.T) {
	old := verbs
	defer func() { verbs = old }()
	verbs = []verb{{name: "broken", run: nil}}
	var out, err bytes.Buffer
	if got := run([]string{"broken"}, strings.NewReader(""), &out, &err); got != statusFailed {
		t.Errorf("status %d, want %d", got, statusFailed)
	}
	if text := err.String(); strings.Count(text, "\n") != 1 || !strings.Contains(text, "defect of tracemap") {
		t.Errorf("message: %q", text)
	}
}

func TestMessagesAreSafeForATerminal(t *testing.T) {
	got := oneLine("day\x1b[31m.csv\r\nsecond\u009b line\t end ")
	if want := "day�[31m.csv� second� line  end"; got != want {
		t.Errorf("oneLine = %q, want %q", got, want)
	}
}

// convert has a flag for all that may be stated about a day, with the table's words.
func TestConvertHasAFlagForEachParameter(t *testing.T) {
	for _, page := range helpPages(verbs) {
		if page.name != "convert" {
			continue
		}
		for _, p := range survey.Params {
			flag := page.flags.Lookup(p.Flag)
			if flag == nil {
				t.Errorf("convert has no --%s", p.Flag)
				continue
			}
			if value, text := flagUsage(flag); value != p.Value || text != p.Help || p.Value == "" || p.Help == "" || p.Page == "" {
				t.Errorf("--%s %s is explained as %q, the table says %s %q", p.Flag, value, text, p.Value, p.Help)
			}
		}
		return
	}
	t.Fatal("no convert")
}
