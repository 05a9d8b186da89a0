package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"golang.org/x/term"

	"tracemap/internal/store"
)

const accountHelp = `Usage: tracemap account [flags] ACTION [NAME]

Manages who may log in to the page of a data folder, also while it is served. ACTION
is add, set, close, open or list. The password is asked for without being shown;
where standard input is no terminal, it is its first line. An account is closed,
never deleted: days and the audit log name it.

Roles: a locator uploads, corrects own days and hands them over; a technician
corrects and hands over all; an engineer looks and compares; an administrator may
do everything, and makes accounts.
`

const accountExample = `  tracemap account add "Ida Berg" --role administrator --data site-office
  tracemap account set "Ida Berg" --password --data site-office
  tracemap account close "Ida Berg" --data site-office
`

// byCommand is who the audit log names for what the command line does.
const byCommand = "command line"

// accountActions are the words that ACTION may be.
var accountActions = []string{"add", "set", "close", "open", "list"}

func roleNames() (out []string) {
	for _, r := range store.Roles {
		out = append(out, string(r))
	}
	return out
}

func runAccount(ctx context.Context, c *console, args []string) error {
	fs := newFlags("account")
	data := fs.String("data", "tracemap-data", "`DIR` folder that tracemap serve keeps")
	role := fs.String("role", "", "`NAME` what the account is for: locator, technician, engineer, administrator")
	ask := fs.Bool("password", false, "with set: ask for a new password")
	if err := parse(c, fs, args, accountHelp, accountExample); err != nil {
		return err
	}
	action, name := fs.Arg(0), fs.Arg(1)
	want := 2
	if action == "list" {
		want = 1
	}
	switch {
	case !slices.Contains(accountActions, action):
		return &usageError{fmt.Sprintf("account needs an action, got %q", action), "write add, set, close, open or list"}
	case fs.NArg() != want:
		return &usageError{fmt.Sprintf("account %s takes %d words, got %d", action, want, fs.NArg()), `put a name of several words in quotes: tracemap account add "Ida Berg" --role locator`}
	case action == "add" && *role == "":
		return &usageError{"account add needs a role", "write --role locator, technician, engineer or administrator"}
	case action == "set" && *role == "" && !*ask:
		return &usageError{"nothing to set", "write --role NAME, or --password, or both"}
	}
	st, err := openData(ctx, *data, action == "add" && store.Role(*role) == store.Administrator)
	if action == "add" && errors.Is(err, os.ErrNotExist) {
		return errFirst
	}
	if err != nil {
		return err
	}
	defer st.Close()
	for _, m := range st.Mended {
		c.warn(m)
	}
	switch action {
	case "list":
		return listAccounts(ctx, c, st)
	case "add":
		return addAccount(ctx, c, st, name, store.Role(*role))
	}
	return changeAccount(ctx, c, st, action, name, store.Role(*role), *ask)
}

// openData opens a folder beside the server that may have it, and makes it for
// the first account.
func openData(ctx context.Context, dir string, first bool) (*store.Store, error) {
	st, err := store.OpenBeside(ctx, dir, time.Now)
	if errors.Is(err, os.ErrNotExist) && first {
		return store.Open(ctx, dir, time.Now)
	}
	if errors.Is(err, os.ErrNotExist) {
		return nil, &hinted{err, "name the folder with --data"}
	}
	return st, err
}

var errFirst = &usageError{"the first account is an administrator's", "write --role administrator; the others can then be made in the page"}

func listAccounts(ctx context.Context, c *console, st *store.Store) error {
	list, err := st.Accounts(ctx)
	if err != nil {
		return err
	}
	for _, a := range list {
		state := ""
		if a.Closed {
			state = "closed"
		}
		c.print(strings.TrimRight(fmt.Sprintf("%-30s %-14s %s", a.Name, a.Role, state), " ") + "\n")
	}
	return nil
}

func addAccount(ctx context.Context, c *console, st *store.Store, name string, role store.Role) error {
	list, err := st.Accounts(ctx)
	if err != nil {
		return err
	}
	if len(list) == 0 && role != store.Administrator {
		return errFirst
	}
	if err := store.CheckName(name); err != nil {
		return err
	}
	password, err := c.newPassword(name)
	if err != nil {
		return err
	}
	if err := st.NewAccount(ctx, byCommand, name, role, password); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	c.print(fmt.Sprintf("%s may log in as %s.\n", name, role))
	if len(list) == 0 {
		c.print("From the next start of tracemap serve on, its page asks for name and password.\n")
	}
	return nil
}

func changeAccount(ctx context.Context, c *console, st *store.Store, action, name string, role store.Role, ask bool) error {
	if _, err := st.Account(ctx, name); err != nil {
		return &hinted{fmt.Errorf("no account %q", name), "tracemap account list shows them"}
	}
	var change store.AccountChange
	closed := action == "close"
	if action != "set" {
		change.Closed = &closed
	}
	if role != "" {
		change.Role = &role
	}
	if ask {
		password, err := c.newPassword(name)
		if err != nil {
			return err
		}
		change.Password = &password
	}
	if err := st.ChangeAccount(ctx, byCommand, name, change, ""); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	a, err := st.Account(ctx, name)
	if err != nil {
		return err
	}
	state := "open"
	if a.Closed {
		state = "closed"
	}
	c.print(fmt.Sprintf("%s: %s, %s; logged out everywhere.\n", a.Name, a.Role, state))
	return nil
}

// newPassword asks for a password, twice and unseen on a terminal.
func (c *console) newPassword(name string) (string, error) {
	f, ok := c.in.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		line, err := bufio.NewReader(io.LimitReader(c.in, 4096)).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return "", fmt.Errorf("reading the password: %w", err)
		}
		password := strings.TrimRight(line, "\r\n")
		return password, store.CheckPassword(name, password)
	}
	var typed [2]string
	for i, prompt := range []string{"Password for " + oneLine(name) + ": ", "Once more: "} {
		fmt.Fprint(c.err, prompt)
		b, err := term.ReadPassword(int(f.Fd()))
		fmt.Fprintln(c.err)
		if err != nil {
			return "", fmt.Errorf("reading the password: %w", err)
		}
		typed[i] = string(b)
		if err := store.CheckPassword(name, typed[i]); err != nil {
			return "", err
		}
	}
	if typed[0] != typed[1] {
		return "", errors.New("the two passwords differ; nothing was changed")
	}
	return typed[0], nil
}
