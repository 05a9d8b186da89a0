package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"html"
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

Serves the web page: upload a day's logs, see what is weak, go back to it, hand
the files over. Everything is kept in one folder; nothing is sent anywhere. It
prints the address to open. End it with Ctrl-C.

On this machine alone it needs no set-up. For an office, make accounts with
tracemap account, give a certificate, and listen on an address of the network.
`

const serveExample = `  tracemap serve --data site-office
  tracemap serve --data site-office --listen :8471 --tls-cert office.pem --tls-key office.key
`

// serveFlags are the flags of serve.
type serveFlags struct {
	data, listen     string
	cert, key, proxy string
	hosts            []string
	base             web.BaseMap
	browser          bool
	quota, own       int64
	workers          int
}

func runServe(ctx context.Context, c *console, args []string) error {
	var f serveFlags
	fs := newFlags("serve")
	fs.StringVar(&f.data, "data", "tracemap-data", "`DIR` folder that keeps logs, days and results")
	fs.StringVar(&f.listen, "listen", "127.0.0.1:8471", "`ADDR` address and port; port 0 takes a free one; other machines reach only addresses of the network, which need accounts and TLS")
	fs.StringVar(&f.cert, "tls-cert", "", "`FILE` certificate for https, PEM; read anew when it is renewed")
	fs.StringVar(&f.key, "tls-key", "", "`FILE` key of the certificate, PEM")
	fs.StringArrayVar(&f.hosts, "host", nil, "`NAME` under which the page may be asked for, beside those in the certificate; repeatable")
	fs.StringVar(&f.proxy, "proxy-host", "", "`NAME` of the page behind a proxy on this machine that ends TLS and says X-Forwarded-For")
	fs.StringVar(&f.base.Source, "base-map", "", "`SOURCE` base map: a .pmtiles or .mbtiles file, an address with {z}, {x} and {y}, or the address of a WMS")
	fs.StringVar(&f.base.Layers, "base-layers", "", "`NAMES` layers of the WMS, with commas")
	fs.StringVar(&f.base.Credit, "base-credit", "", "`TEXT` whose base map it is, shown on the map")
	fs.BoolVar(&f.browser, "open", false, "open the page in the browser")
	fs.Int64Var(&f.quota, "quota-gb", 1000, "`N` the most that all logs and results may take, GB")
	fs.Int64Var(&f.own, "quota-user-gb", 0, "`N` the most that one person's may take, GB; 0 for no limit")
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
	for _, m := range st.Mended {
		c.warn(m)
	}
	opt := web.DefaultOptions()
	opt.Log = slog.New(slog.NewTextHandler(c.err, &slog.HandlerOptions{Level: slog.LevelWarn}))
	if err := f.options(ctx, st, &opt); err != nil {
		return err
	}
	server, err := web.New(st, opt)
	if err != nil {
		return &hinted{err, "see --base-map in tracemap serve --help"}
	}
	defer server.Close()
	l, err := net.Listen("tcp", f.listen)
	if err != nil {
		return &hinted{err, "give another address with --listen, or port 0 for a free one"}
	}
	address := f.address(l.Addr(), &opt)
	if opt.Accounts {
		c.print("Open this address in a browser; end with Ctrl-C.\n  " + address + "\n")
	} else {
		c.print("Open this address in a browser on this machine; end with Ctrl-C.\n  " + address + "\n")
	}
	if f.browser {
		if err := openStart(f.data, address); err != nil {
			c.warn("the browser did not open: " + err.Error())
		}
	}
	return server.Serve(ctx, l)
}

// local reports whether only this machine reaches the address, and whether the
// address is one.
func (f *serveFlags) local() (local bool, err error) {
	host, _, err := net.SplitHostPort(f.listen)
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback(), err
}

// check refuses flags that make no sense.
func (f *serveFlags) check(files int) error {
	local, err := f.local()
	switch {
	case files > 0:
		return &usageError{"serve takes no files", "upload them in the page, or use tracemap convert"}
	case err != nil:
		return &usageError{fmt.Sprintf("--listen %q is no address with a port", f.listen), "write --listen 127.0.0.1:8471, say"}
	case (f.cert == "") != (f.key == ""):
		return &usageError{"--tls-cert and --tls-key belong together", "give both files"}
	case f.proxy != "" && (!local || f.cert != ""):
		return &usageError{"--proxy-host is for a proxy on this machine that ends TLS itself", "listen on 127.0.0.1 and leave --tls-cert to the proxy"}
	case !local && f.cert == "":
		return &usageError{fmt.Sprintf("--listen %s would send passwords and logs over the network in the clear", f.listen), "give --tls-cert and --tls-key, or listen on 127.0.0.1 behind a proxy with --proxy-host"}
	case f.data == "":
		return &usageError{"the data folder has an empty name", "write --data DIR"}
	case f.workers < 1 || f.quota < 1 || f.own < 0:
		return &usageError{"--workers and --quota-gb must be at least 1, --quota-user-gb at least 0", "leave them out for what is usual"}
	}
	return nil
}

// options sets what the flags and the folder say. A folder with accounts asks
// for them everywhere; one without is for this machine alone.
func (f *serveFlags) options(ctx context.Context, st *store.Store, opt *web.Options) error {
	list, err := st.Accounts(ctx)
	if err != nil {
		return err
	}
	opt.Workers, opt.Quota, opt.QuotaOwn, opt.BaseMap = f.workers, f.quota<<30, f.own<<30, f.base
	opt.Accounts, opt.Proxied, opt.Secure = len(list) > 0, f.proxy != "", f.proxy != "" || f.cert != ""
	opt.Hosts = f.hosts
	local, err := f.local()
	if err != nil {
		return err
	}
	if !opt.Accounts && (!local || f.proxy != "") {
		return &hinted{fmt.Errorf("other machines would reach a page without accounts: %s has none", f.data), fmt.Sprintf("tracemap account add NAME --role administrator --data %s", f.data)}
	}
	if f.proxy != "" {
		opt.Hosts = append(opt.Hosts, f.proxy)
	}
	if f.cert != "" {
		files, err := loadTLS(f.cert, f.key)
		if err != nil {
			return err
		}
		opt.TLS, opt.Hosts = files.config(), append(opt.Hosts, files.names()...)
	}
	if !local && len(opt.Hosts) == 0 {
		return &usageError{"the certificate names no host by which the page could be asked for", "give it with --host NAME"}
	}
	if !opt.Accounts {
		opt.Token, err = startToken(f.data)
	}
	return err
}

// address is what people open.
func (f *serveFlags) address(at net.Addr, opt *web.Options) string {
	scheme, host := "http", at.String()
	if opt.TLS != nil {
		scheme = "https"
		if _, port, err := net.SplitHostPort(host); err == nil && len(opt.Hosts) > 0 {
			host = net.JoinHostPort(opt.Hosts[0], port)
		}
	}
	switch {
	case f.proxy != "":
		return "https://" + f.proxy + "/"
	case opt.Accounts:
		return scheme + "://" + host + "/"
	}
	return fmt.Sprintf("%s://%s/start?token=%s", scheme, host, opt.Token)
}

// startToken returns the secret of the start address. It stays with the folder, so
// that a page left open goes on after a new start; only its owner can read it. A
// token that others could have read is replaced.
func startToken(dir string) (string, error) {
	name := filepath.Join(dir, "token")
	b, err := os.ReadFile(name)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", err
	}
	info, err := os.Stat(name)
	secret := err == nil && (info.Mode().Perm()&0o077 == 0 || runtime.GOOS == "windows")
	if token := strings.TrimSpace(string(b)); secret && len(token) >= 26 {
		return token, nil
	}
	token := rand.Text()
	return token, writeSecret(name, token+"\n")
}

// writeSecret writes a file anew that only its owner can read.
func writeSecret(name, text string) error {
	if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	f, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = f.WriteString(text)
	return errors.Join(err, f.Close())
}

// openStart opens the browser at the start address by way of a file that only its
// owner can read: every user of a machine sees the words of a command.
func openStart(dir, address string) error {
	name, err := filepath.Abs(filepath.Join(dir, "start.html"))
	if err != nil {
		return err
	}
	page := `<!doctype html><meta charset="utf-8"><meta name="referrer" content="no-referrer"><title>tracemap</title>` +
		`<meta http-equiv="refresh" content="0; url=` + html.EscapeString(address) + `"><p>Opening the page of tracemap …</p>` + "\n"
	if err := writeSecret(name, page); err != nil {
		return err
	}
	return openBrowser(name)
}

// openBrowser asks the system to show a file.
func openBrowser(file string) error {
	switch runtime.GOOS {
	case "darwin":
		return exec.Command("open", file).Start()
	case "windows":
		return exec.Command("rundll32", "url.dll,FileProtocolHandler", file).Start()
	}
	return exec.Command("xdg-open", file).Start()
}
