package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/pflag"
)

// shellProgram gives a shell, or says that it is not there.
func shellProgram(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is missing", name)
		}
		t.Skipf("%s is not installed", name)
	}
	return path
}

// completionScript writes a shell's script into a folder with some files.
func completionScript(t *testing.T, shell string) (dir, script string) {
	t.Helper()
	dir = t.TempDir()
	for _, name := range []string{"day.nmea", "readings.csv", "map folder/x"} {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, nil, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	var out, errs strings.Builder
	if status := run([]string{"completion", shell}, strings.NewReader(""), &out, &errs); status != 0 {
		t.Fatalf("status %d: %s", status, errs.String())
	}
	script = filepath.Join(t.TempDir(), "script")
	if err := os.WriteFile(script, []byte(out.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	return dir, script
}

// Words offered for a flag belong to one, and its help names them.
func TestChoicesAreInTheHelp(t *testing.T) {
	for name, words := range choices() {
		found := false
		for _, p := range helpPages(verbs) {
			p.each(func(flag *pflag.Flag, _, text string) {
				if flag.Name != name {
					return
				}
				found = true
				for _, w := range words {
					if !strings.Contains(text+" "+flag.DefValue, w) {
						t.Errorf("--%s of %s is offered %q, and its help does not name it: %s", name, p.name, w, text)
					}
				}
			})
		}
		if !found {
			t.Errorf("no verb has --%s", name)
		}
	}
}

// What a person types, and what the shell makes of it or offers.
var completions = []struct {
	typed string
	want  []string
}{
	{"conv", []string{"convert"}},
	{"com", []string{"compare", "completion"}},
	{"convert --sch", []string{"--scheme"}},
	{"convert --antenna-f", []string{"--antenna-forward"}},
	{"convert --scheme pas", []string{"pas128"}},
	{"convert --scheme=pas", []string{"pas128"}},
	{"convert --format csv,gp", []string{"csv,gpkg"}},
	{"convert -o map", []string{"map folder"}},
	{"convert day", []string{"day.nmea"}},
	{"convert --overwrite rea", []string{"readings.csv"}},
	{"compare --depth-to ce", []string{"centre"}},
	{"completion po", []string{"powershell"}},
	{"help ins", []string{"inspect"}},
	{"version x", nil},
}

func TestBashCompletion(t *testing.T) {
	bash := shellProgram(t, "bash")
	dir, script := completionScript(t, "bash")
	for _, tt := range completions {
		// As bash cuts the line: an equals sign is a word of its own.
		words := strings.Fields(strings.ReplaceAll("tracemap "+tt.typed, "=", " = "))
		cmd := exec.Command(bash, append([]string{"--norc", "-c", `source "$1"; shift; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _tracemap; printf '%s\n' "${COMPREPLY[@]}"`, "-", script}, words...)...)
		cmd.Dir = dir
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v\n%s", tt.typed, err, out)
		}
		checkOffered(t, "tracemap "+tt.typed, string(out), tt.want)
	}
}

func TestFishCompletion(t *testing.T) {
	fish := shellProgram(t, "fish")
	dir, script := completionScript(t, "fish")
	for _, tt := range completions {
		cmd := exec.Command(fish, "--no-config", "-c", `source $argv[1]; complete -C $argv[2]`, script, "tracemap "+tt.typed)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "HOME="+dir)
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v\n%s", tt.typed, err, out)
		}
		var offered []string
		for line := range strings.Lines(string(out)) {
			word, _, _ := strings.Cut(strings.TrimSpace(line), "\t") // a description follows
			word = strings.TrimSuffix(word, "/")
			word = strings.TrimPrefix(word, "--scheme=") // the part that bash does not see
			offered = append(offered, word)
		}
		checkOffered(t, "tracemap "+tt.typed, strings.Join(offered, "\n"), tt.want)
	}
}

func checkOffered(t *testing.T, typed, out string, want []string) {
	t.Helper()
	got := strings.FieldsFunc(out, func(r rune) bool { return r == '\n' })
	slices.Sort(got)
	if !slices.Equal(got, want) {
		t.Errorf("%s[tab] offers %q, want %q", typed, got, want)
	}
}

// PowerShell is not at hand where this is tested: the script is held to its own
// form only, brackets and quotes closed.
func TestPowershellCompletion(t *testing.T) {
	_, script := completionScript(t, "powershell")
	text := read(t, script, "")
	for _, pair := range []string{"{}", "()", "[]"} {
		if opened, closed := strings.Count(text, pair[:1]), strings.Count(text, pair[1:]); opened != closed {
			t.Errorf("%d %s and %d %s", opened, pair[:1], closed, pair[1:])
		}
	}
	for i, line := range strings.Split(text, "\n") {
		if strings.Count(line, "'")%2 != 0 || strings.Count(line, `"`)%2 != 0 {
			t.Errorf("line %d: a quote is not closed: %s", i+1, line)
		}
	}
}

// Every verb and flag is offered, and no shell's answer is an error: what the
// scripts call is silent whatever is typed.
func TestOffers(t *testing.T) {
	ask := func(words ...string) string {
		var out, errs strings.Builder
		if status := run(append([]string{"__offer"}, words...), strings.NewReader(""), &out, &errs); status != 0 || errs.Len() > 0 {
			t.Errorf("__offer %q: status %d, %q", words, status, errs.String())
		}
		return "\n" + out.String()
	}
	all := ask("+")
	for _, p := range helpPages(verbs) {
		if !strings.Contains(all, "\n"+p.name+"\t") {
			t.Errorf("%s is not offered", p.name)
		}
		flags := ask(p.name, "+-")
		p.each(func(flag *pflag.Flag, _, _ string) {
			if !strings.Contains(flags, "\n--"+flag.Name+"\t") {
				t.Errorf("--%s of %s is not offered", flag.Name, p.name)
			}
		})
	}
	for _, words := range [][]string{{}, {""}, {"+="}, {"=", "+"}, {"convert", "=", "+="}, {"nothing", "+x"}, {"__offer", "+"}, {"convert", "--no", "+"}, {"convert", "+--no=x"}, {"convert", "+--format=csv,"}} {
		ask(words...)
	}
}
