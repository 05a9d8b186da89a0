package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"
)

// A console is the program's three voices, and nothing else may print:
//
//   - the result, to standard output;
//   - messages, to standard error, each a line that says what it is;
//   - progress, to standard error when it is a terminal: one line, rewritten at
//     most ten times a second and gone at the end.
//
// The text of messages never depends on the terminal; only their colour does.
type console struct {
	in       io.Reader
	out, err io.Writer
	terminal bool // standard error is one that can be rewritten
	colour   bool

	verbs []verb    // the program's, for the manual page and completion
	page  *helpPage // where a verb's help goes instead of being printed

	unsaid error // what kept a result from standard output

	mu       sync.Mutex // progress comes from several goroutines
	shown    bool       // a progress line stands on the terminal
	lastTime time.Time
}

func newConsole(in io.Reader, out, err io.Writer) *console {
	c := &console{in: in, out: out, err: err}
	if f, ok := err.(*os.File); ok && term.IsTerminal(int(f.Fd())) && os.Getenv("TERM") != "dumb" {
		c.terminal = true
		c.colour = os.Getenv("NO_COLOR") == ""
	}
	return c
}

// width is that of the terminal that standard output is, or 100.
func (c *console) width() int {
	if f, ok := c.out.(*os.File); ok {
		if w, _, err := term.GetSize(int(f.Fd())); err == nil && w >= 40 {
			return w
		}
	}
	return 100
}

// print is the first voice. What it could not say is told at the end, for a
// program that reads it would take half of it for all.
func (c *console) print(text string) {
	if _, err := io.WriteString(c.out, text); err != nil && c.unsaid == nil {
		c.unsaid = fmt.Errorf("writing to standard output: %w", plainly(err))
	}
}

// plainly takes the file's name out of an error whose message names it already.
func plainly(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	return err
}

// warn says what a person should know although the work goes on.
func (c *console) warn(text string) { c.say("warning", "33", text) }

// fail says why the work ended, and the hint of the error where it has one.
func (c *console) fail(err error) {
	c.say("error", "31", err.Error())
	var hinted interface{ Hint() string }
	if errors.As(err, &hinted) && hinted.Hint() != "" {
		c.say("hint", "36", hinted.Hint())
	}
}

func (c *console) say(kind, colour, text string) {
	c.endProgress()
	text = oneLine(text)
	if c.colour {
		kind = "\x1b[" + colour + "m" + kind + "\x1b[0m"
	}
	fmt.Fprintf(c.err, "tracemap: %s: %s\n", kind, text)
}

// oneLine makes foreign text safe for a terminal: no line break and no control
// sequence out of a file's name or a log's cell gets through.
func oneLine(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t':
			return ' '
		case r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0:
			return '�'
		}
		return r
	}, strings.TrimSpace(text))
}

// progress shows how far a stage has come; all is 0 where nobody knows.
func (c *console) progress(stage string, done, all int64) {
	if !c.terminal {
		return
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	now := time.Now()
	if now.Sub(c.lastTime) < 100*time.Millisecond {
		return
	}
	c.lastTime, c.shown = now, true
	if all > 0 {
		fmt.Fprintf(c.err, "\r\x1b[K%s %d %%", stage, min(100, done*100/all))
	} else {
		fmt.Fprintf(c.err, "\r\x1b[K%s …", stage)
	}
}

func (c *console) endProgress() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.shown {
		io.WriteString(c.err, "\r\x1b[K")
		c.shown = false
	}
}
