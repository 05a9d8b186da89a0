package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tracemap/export"
	"tracemap/internal/survey"
)

const completionHelp = `Usage: tracemap completion SHELL

Prints the script that completes verbs, flags and their values in SHELL: bash,
zsh, fish or powershell. The script asks the program, so that it stays right when
the program changes.

bash: write it to ~/.local/share/bash-completion/completions/tracemap.
zsh: write it to a folder of $fpath as _tracemap.
fish: write it to ~/.config/fish/completions/tracemap.fish.
powershell: add it to the file that $PROFILE names.
`

const completionExample = `  tracemap completion bash > ~/.local/share/bash-completion/completions/tracemap
`

func runCompletion(_ context.Context, c *console, args []string) error {
	fs := newFlags("completion")
	if err := parse(c, fs, args, completionHelp, completionExample); err != nil {
		return err
	}
	if fs.NArg() != 1 {
		return &usageError{fmt.Sprintf("completion takes one shell, got %d", fs.NArg()), "tracemap completion SHELL, where SHELL is one of " + strings.Join(shellNames(), ", ")}
	}
	for _, s := range shells {
		if s.name == fs.Arg(0) {
			c.print(s.script)
			return nil
		}
	}
	return &usageError{fmt.Sprintf("no shell %q", fs.Arg(0)), "there are " + strings.Join(shellNames(), ", ")}
}

// runOffer is the hidden verb that the scripts call: the words before the one
// that is being typed, then that one behind a +, for not every shell hands an
// empty word on. It prints a line a word, with a tab before what it means; or
// nothing but :files or :dirs where the shell itself knows better.
func runOffer(_ context.Context, c *console, args []string) error {
	if len(args) == 0 {
		return nil
	}
	words, typed := args[:len(args)-1], strings.TrimPrefix(args[len(args)-1], "+")
	for _, o := range offers(c.verbs, words, typed) {
		if o.means != "" {
			o.word += "\t" + o.means
		}
		c.print(o.word + "\n")
	}
	return nil
}

// An offer is a word that may be typed next.
type offer struct{ word, means string }

var (
	someFile   = []offer{{word: ":files"}}
	someFolder = []offer{{word: ":dirs"}}
)

// offers are those for a word behind others.
func offers(verbs []verb, words []string, typed string) []offer {
	if len(words) == 0 || words[0] == "help" {
		return verbOffers(verbs, typed, len(words))
	}
	for _, v := range verbs {
		if v.name == words[0] && !v.hidden() {
			p := pageOf(v, verbs)
			return p.offers(words[1:], typed)
		}
	}
	return nil
}

func verbOffers(verbs []verb, typed string, before int) (out []offer) {
	for _, v := range verbs {
		if !v.hidden() && before <= 1 {
			out = append(out, offer{v.name, v.does})
		}
	}
	if before == 0 {
		out = append(out, offer{"help", "explain a verb"}, offer{"--help", "list the verbs"}, offer{"--version", "print the version"})
	}
	return beginning(typed, out)
}

// offers are those behind a verb.
func (p *helpPage) offers(words []string, typed string) []offer {
	before := ""
	switch n := len(words); {
	case strings.HasPrefix(typed, "--") && strings.Contains(typed, "="):
		before, typed, _ = strings.Cut(typed, "=")
		words = []string{before}
		before += "="
	case n > 0 && typed == "=": // bash makes three words of --flag=value
		typed = ""
	case n > 1 && words[n-1] == "=":
		words = words[:n-1]
	}
	if len(words) > 0 {
		if flag, value := p.flag(words[len(words)-1]); value != "" {
			return valueOffers(flag, value, before, typed)
		}
	}
	if strings.HasPrefix(typed, "-") {
		return beginning(typed, p.flagOffers())
	}
	switch p.args {
	case "":
		return nil
	case "SHELL":
		return beginning(typed, plain("", shellNames()))
	case "DIR":
		return someFolder
	case "ACTION [NAME]":
		return beginning(typed, plain("", accountActions))
	}
	return someFile
}

// flag gives the flag that is spelt so, and the name of its value.
func (p *helpPage) flag(spelt string) (found *pflag.Flag, name string) {
	p.each(func(flag *pflag.Flag, value, _ string) {
		if spelt == "--"+flag.Name || flag.Shorthand != "" && spelt == "-"+flag.Shorthand {
			found, name = flag, value
		}
	})
	return found, name
}

func (p *helpPage) flagOffers() (out []offer) {
	p.each(func(flag *pflag.Flag, _, text string) { out = append(out, offer{"--" + flag.Name, firstClause(text)}) })
	return append(out, offer{"--help", "explain the verb"})
}

// choices are the words that flags know, whichever verb they belong to.
func choices() map[string][]string {
	var fixes []string
	for _, e := range expectations {
		fixes = append(fixes, e.word)
	}
	words := map[string][]string{
		"format":   export.Names(),
		"expect":   fixes,
		"baud":     {"auto"},
		"axes":     {"auto", "xy", "yx"},
		"depth-to": {"auto", "top", "centre", "invert"},
		"fail-on":  {"differs", "inconclusive"},
		"role":     roleNames(),
	}
	for _, p := range survey.Params {
		if p.Words != nil {
			words[p.Flag] = p.Words
		}
	}
	return words
}

// valueOffers are those for a flag's value; before stands in front of it in the
// same word.
func valueOffers(flag *pflag.Flag, value, before, typed string) []offer {
	words := choices()[flag.Name]
	switch {
	case value == "LIST":
		done := typed[:strings.LastIndex(typed, ",")+1]
		words = slices.DeleteFunc(words, func(w string) bool { return slices.Contains(strings.Split(done, ","), w) })
		return beginning(before+typed, plain(before+done, words))
	case value == "FILE":
		return someFile
	case value == "DIR":
		return someFolder
	}
	return beginning(before+typed, plain(before, words))
}

func plain(before string, words []string) (out []offer) {
	for _, w := range words {
		out = append(out, offer{word: before + w})
	}
	return out
}

func beginning(typed string, all []offer) []offer {
	return slices.DeleteFunc(all, func(o offer) bool { return !strings.HasPrefix(o.word, typed) })
}

// firstClause is what a flag means, in few words.
func firstClause(text string) string {
	for _, end := range []string{"; ", ": "} {
		if before, _, ok := strings.Cut(text, end); ok && len(before) > 8 {
			text = before
		}
	}
	return text
}
