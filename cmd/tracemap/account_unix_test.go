//go:build unix

package main

import (
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
)

// On a terminal the password is asked for twice and never shown; two that differ
// change nothing.
func TestPasswordIsNotShown(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for _, c := range []struct{ second, want string }{
		{"eight wet boots 5", "the two passwords differ; nothing was changed"},
		{"seven wet boots 4", "Ida may log in as administrator."},
	} {
		cmd := exec.Command(tracemapProgram(t), "account", "add", "Ida", "--role", "administrator", "--data", dir)
		terminal, err := pty.Start(cmd)
		if err != nil {
			t.Fatal(err)
		}
		said := ""
		until := func(words string) {
			t.Helper()
			b := make([]byte, 1000)
			for !strings.Contains(said, words) {
				if err := terminal.SetReadDeadline(time.Now().Add(30 * time.Second)); err != nil && !os.IsTimeout(err) {
					t.Logf("no deadline: %v", err)
				}
				n, err := terminal.Read(b)
				said += string(b[:n])
				if err != nil {
					t.Fatalf("waiting for %q: %v; it said %q", words, err, said)
				}
			}
		}
		until("Password for Ida: ")
		time.Sleep(500 * time.Millisecond) // the terminal's echo goes off after the prompt
		terminal.WriteString("seven wet boots 4\r")
		until("Once more: ")
		time.Sleep(500 * time.Millisecond)
		terminal.WriteString(c.second + "\r")
		until(c.want)
		cmd.Wait() // its status is in what it said
		terminal.Close()
		if strings.Contains(said, "wet boots") {
			t.Errorf("the password was shown: %q", said)
		}
	}
}
