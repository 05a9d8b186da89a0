//go:build unix

package main

import (
	"bufio"
	"crypto/tls"
	"io"
	"net"
	"net/http"
	"os/exec"
	"strings"
	"testing"
)

// An office's server: an address of the network, accounts, TLS 1.2 or newer, and
// only the certificate's name.
func TestServeAnOffice(t *testing.T) {
	t.Parallel()
	dir, data := t.TempDir(), t.TempDir()
	cert, key := certificate(t, dir, "maps.example", 1)
	add := exec.Command(tracemapProgram(t), "account", "add", "Ida", "--role", "administrator", "--data", data)
	add.Stdin = strings.NewReader("seven wet boots 4\n")
	if out, err := add.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	cmd := exec.Command(tracemapProgram(t), "serve", "--data", data, "--listen", "0.0.0.0:0", "--tls-cert", cert, "--tls-key", key)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	lines := bufio.NewScanner(out)
	for lines.Scan() && !strings.HasPrefix(strings.TrimSpace(lines.Text()), "https://") {
	}
	address := strings.TrimSpace(lines.Text())
	if !strings.HasPrefix(address, "https://maps.example:") || strings.Contains(address, "token") {
		t.Fatalf("address %q", address)
	}
	_, port, _ := net.SplitHostPort(strings.TrimSuffix(strings.TrimPrefix(address, "https://"), "/"))
	ask := func(host, path, body string, version uint16) (int, string, error) {
		client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true, MaxVersion: version}}}
		defer client.CloseIdleConnections()
		method := "GET"
		if body != "" {
			method = "POST"
		}
		req, err := http.NewRequest(method, "https://127.0.0.1:"+port+path, strings.NewReader(body))
		if err != nil {
			return 0, "", err
		}
		req.Host = host
		res, err := client.Do(req)
		if err != nil {
			return 0, "", err
		}
		defer res.Body.Close()
		text, err := io.ReadAll(res.Body)
		return res.StatusCode, string(text), err
	}
	for _, c := range []struct {
		host, path, body string
		want             int
	}{
		{"maps.example", "/", "", 200},
		{"maps.example:" + port, "/api/v1/days", "", 401},
		{"maps.example", "/api/v1/login", `{"name":"ida","password":"seven wet boots 4"}`, 200},
		{"maps.example", "/api/v1/login", `{"name":"ida","password":"eight wet boots 4"}`, 401},
		{"other.example", "/", "", 421},
	} {
		if code, text, err := ask(c.host, c.path, c.body, 0); code != c.want || err != nil {
			t.Errorf("%s%s: status %d, want %d: %v %.200s", c.host, c.path, code, c.want, err, text)
		}
	}
	if _, _, err := ask("maps.example", "/", "", tls.VersionTLS11); err == nil {
		t.Error("TLS 1.1 was taken")
	}
	if code, _, err := inTheClear(port); code != 400 || err != nil {
		t.Errorf("plain HTTP: status %d, %v; want 400", code, err)
	}
}

func inTheClear(port string) (int, string, error) {
	res, err := http.Get("http://127.0.0.1:" + port + "/")
	if err != nil {
		return 0, "", err
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	return res.StatusCode, string(text), err
}
