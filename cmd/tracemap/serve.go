package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"tracemap/internal/store"
	"tracemap/web"
)

const serveHelp = `Usage: tracemap serve [flags]

Serves the web page on this machine: upload a day's logs, see what is weak, go
back to it, hand the files over. Everything is kept in one folder; nothing is
sent anywhere. It prints the address to open. End it with Ctrl-C.
`

const serveExample = `  tracemap serve --data site-office
`

// serveFlags are the flags of serve.
type serveFlags struct {
	data, listen string
	browser      bool
	quota        int64
	workers      int
}

func runServe(ctx context.Context, c *console, args []string) error {
	var f serveFlags
	fs := newFlags("serve")
	fs.StringVar(&f.data, "data", "tracemap-data", "`DIR` folder that keeps logs, days and results")
	fs.StringVar(&f.listen, "listen", "127.0.0.1:8471", "`ADDR` address and port of this machine; port 0 takes a free one")
	fs.BoolVar(&f.browser, "open", false, "open the page in the browser")
	fs.Int64Var(&f.quota, "quota-gb", 1000, "`N` most that all logs may take together, GB")
	fs.IntVar(&f.workers, "workers", max(1, runtime.NumCPU()-1), "`N` days computed at a time")
	if err := parse(c, fs, args, serveHelp, serveExample); err != nil {
		return err
	}
	if err := f.check(fs.NArg()); err != nil {
		return err
	}
	st, err := store.Open(ctx, f.data, time.Now)
	if errors.Is(err, store.ErrInUse) {
		return &hinted{fmt.Errorf("%s: %w", f.data, err), "end the other one, or give another folder with --data"}
	}
	if err != nil {
		return err
	}
	defer st.Close()
	opt := web.DefaultOptions()
	opt.Workers, opt.Quota = f.workers, f.quota<<30
	opt.Log = slog.New(slog.NewTextHandler(c.err, &slog.HandlerOptions{Level: slog.LevelWarn}))
	if opt.Token, err = startToken(f.data); err != nil {
		return err
	}
	l, err := net.Listen("tcp", f.listen)
	if err != nil {
		return &hinted{err, "give another address with --listen, or port 0 for a free one"}
	}
	address := fmt.Sprintf("http://%s/start?token=%s", l.Addr(), opt.Token)
	c.print("Open this address in a browser on this machine; end with Ctrl-C.\n  " + address + "\n")
	if f.browser {
		if err := openBrowser(address); err != nil {
			c.warn("the browser did not open: " + err.Error())
		}
	}
	return web.New(st, opt).Serve(ctx, l)
}

// check refuses flags that make no sense. The page has no accounts, so it
// answers this machine alone.
func (f *serveFlags) check(files int) error {
	host, _, err := net.SplitHostPort(f.listen)
	ip := net.ParseIP(host)
	switch {
	case files > 0:
		return &usageError{"serve takes no files", "upload them in the page, or use tracemap convert"}
	case err != nil:
		return &usageError{fmt.Sprintf("--listen %q is no address with a port", f.listen), "write --listen 127.0.0.1:8471, say"}
	case host != "localhost" && (ip == nil || !ip.IsLoopback()):
		return &usageError{fmt.Sprintf("--listen %s would be open to other machines, and the page has no accounts", f.listen), "listen on 127.0.0.1"}
	case f.data == "":
		return &usageError{"the data folder has an empty name", "write --data DIR"}
	case f.workers < 1 || f.quota < 1:
		return &usageError{"--workers and --quota-gb must be at least 1", "leave them out for what is usual"}
	}
	return nil
}

// startToken gives the secret of the start address. It stays with the folder, so
// that a page left open goes on after a new start; only its owner can read it.
func startToken(dir string) (string, error) {
	name := filepath.Join(dir, "token")
	b, err := os.ReadFile(name)
	if token := strings.TrimSpace(string(b)); err == nil && len(token) >= 26 {
		return token, nil
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", err
	}
	token := rand.Text()
	return token, os.WriteFile(name, []byte(token+"\n"), 0o600)
}

// openBrowser asks the system to show an address.
func openBrowser(address string) error {
	switch runtime.GOOS {
	case "darwin":
		return exec.Command("open", address).Start()
	case "windows":
		return exec.Command("rundll32", "url.dll,FileProtocolHandler", address).Start()
	}
	return exec.Command("xdg-open", address).Start()
}
