package main

import (
	"flag"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/spf13/pflag"
)

var update = flag.Bool("update", false, "write the manual page anew")

// docs/tracemap.1 is the page that tracemap man prints.
func TestManPageIsCurrent(t *testing.T) {
	const path = "../../docs/tracemap.1"
	page := manPage(verbs)
	if *update {
		if err := os.WriteFile(path, []byte(page), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if kept, err := os.ReadFile(path); err != nil || string(kept) != page {
		t.Errorf("docs/tracemap.1 is not what tracemap man prints (%v): go test ./cmd/tracemap -run ManPage -update", err)
	}
}

// The page is plain ASCII, groff has nothing to say against it, and shows every
// verb and flag.
func TestManPageIsSound(t *testing.T) {
	page := manPage(verbs)
	for i, r := range page {
		if r > '~' || r < ' ' && r != '\n' {
			t.Fatalf("%q at %d is not ASCII", r, i)
		}
	}
	groff := shellProgram(t, "groff")
	show := func(args ...string) (out, errs string) {
		cmd := exec.Command(groff, args...)
		cmd.Stdin = strings.NewReader(page)
		var o, e strings.Builder
		cmd.Stdout, cmd.Stderr = &o, &e
		if err := cmd.Run(); err != nil {
			t.Fatalf("groff %v: %v: %s", args, err, e.String())
		}
		return o.String(), e.String()
	}
	// -P-c -P-b -P-u: no bold, no underlining.
	shown, complaints := show("-man", "-ww", "-Tutf8", "-P-cbu")
	if complaints != "" {
		t.Errorf("groff says: %s", complaints)
	}
	for _, p := range helpPages(verbs) {
		if !strings.Contains(shown, "\n"+strings.ToUpper(p.name)+"\n") {
			t.Errorf("no section %s", strings.ToUpper(p.name))
		}
		p.each(func(flag *pflag.Flag, value, _ string) {
			if want := strings.TrimSpace("--" + flag.Name + " " + value); !strings.Contains(shown+" ", want+"\n") && !strings.Contains(shown, want+" ") {
				t.Errorf("%s of %s is not shown", want, p.name)
			}
		})
		for _, line := range strings.Split(strings.TrimSpace(p.example), "\n") {
			if !strings.Contains(shown, strings.TrimSpace(line)) {
				t.Errorf("the example %q is not shown as it is typed", line)
			}
		}
	}
}
