//go:build unix

package main

import (
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/creack/pty"
)

// zsh completes only while a person types: it gets a terminal, and what it puts
// on the line is read off.
func TestZshCompletion(t *testing.T) {
	zsh := shellProgram(t, "zsh")
	dir, script := completionScript(t, "zsh")
	cmd := exec.Command(zsh, "-f", "-i")
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "TERM=xterm", "HOME="+dir, "PS1=$ ")
	terminal, err := pty.StartWithSize(cmd, &pty.Winsize{Rows: 50, Cols: 300})
	if err != nil {
		t.Fatal(err)
	}
	defer terminal.Close()
	var s screen
	go io.Copy(&s, terminal)
	defer func() {
		if t.Failed() {
			t.Logf("zsh showed %q", s.String())
		}
	}()
	type_ := func(keys, want string) {
		t.Helper()
		before := len(s.String())
		if _, err := io.WriteString(terminal, keys); err != nil {
			t.Fatal(err)
		}
		waitFor(t, want, func() bool { return strings.Contains(s.String()[before:], want) })
	}
	type_("autoload -Uz compinit && compinit -D -u && source '"+script+"' && unsetopt prompt_cr prompt_sp && echo rea''dy\n", "ready")
	for _, tt := range completions {
		if len(tt.want) != 1 || strings.Contains(tt.want[0], " ") {
			continue
		}
		// The answer is looked for where zsh shows it: in the line, behind what was typed.
		type_("tracemap "+tt.typed+"\t", tt.want[0])
		type_("\x15echo cl''ear\n", "\nclear")
	}
	io.WriteString(terminal, "exit\n")
	cmd.Wait()
}
