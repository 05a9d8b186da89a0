package web_test

import (
	"archive/zip"
	"bufio"
	"bytes"
	"fmt"
	"io"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tracemap/web"
)

// rmc makes one RMC sentence with its checksum.
func rmc(at time.Time) string {
	body := fmt.Sprintf("GPRMC,%s,A,4730.00,N,01745.00,W,0.5,0.0,%s,,,A", at.Format("150405.00"), at.Format("020106"))
	sum := byte(0)
	for i := range len(body) {
		sum ^= body[i]
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, sum)
}

func unzip(t *testing.T, b []byte) map[string]string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		out[f.Name] = string(text)
	}
	return out
}

func TestGuards(t *testing.T) {
	o := newOffice(t, t.TempDir(), false, nil)
	for _, c := range []struct {
		name, method, path, host, token string
		headers                         map[string]string
		want                            int
	}{
		{"no token", "GET", "/api/v1/days", "", "", nil, 401},
		{"wrong token", "GET", "/api/v1/days", "", "x", nil, 401},
		{"right token", "GET", "/api/v1/days", "", token, nil, 200},
		{"another site's name points here", "GET", "/api/v1/days", "evil.example", token, nil, 421},
		{"another site's name with a port", "GET", "/", "evil.example:80", token, nil, 421},
		{"this machine by name", "GET", "/api/v1/days", "localhost:1234", token, nil, 200},
		{"this machine by IPv6", "GET", "/api/v1/days", "[::1]:1234", token, nil, 200},
		{"another site's script", "POST", "/api/v1/days", "", token, map[string]string{"Sec-Fetch-Site": "cross-site"}, 403},
		{"another site's form", "POST", "/api/v1/originals", "", token, map[string]string{"Origin": "http://evil.example"}, 403},
		{"wrong start token", "GET", "/start?token=x", "", "", nil, 401},
		{"page itself", "GET", "/", "", "", nil, 200},
		{"out of the page's folder", "GET", "/server.go", "", "", nil, 404},
		{"no such method", "PUT", "/api/v1/days", "", token, nil, 405},
	} {
		req, err := http.NewRequest(c.method, o.srv.URL+c.path, nil)
		if err != nil {
			t.Fatal(err)
		}
		if c.host != "" {
			req.Host = c.host
		}
		if c.token != "" {
			req.Header.Set("Authorization", "Bearer "+c.token)
		}
		for k, v := range c.headers {
			req.Header.Set(k, v)
		}
		res, err := http.DefaultTransport.RoundTrip(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != c.want {
			t.Errorf("%s: status %d, want %d", c.name, res.StatusCode, c.want)
		}
		csp := res.Header.Get("Content-Security-Policy")
		if !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") || res.Header.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: headers %v", c.name, res.Header)
		}
	}
}

func TestLimits(t *testing.T) {
	o := newOffice(t, t.TempDir(), false, func(opt *web.Options) { opt.MaxUpload = 1000; opt.Quota = 1500; opt.MaxUnpacked = 5000 })
	var p struct{ Title string }
	if code := o.ask("POST", "/api/v1/originals?name=big.nmea", bytes.Repeat([]byte("x"), 1001), &p); code != 413 {
		t.Errorf("too large: status %d %s, want 413", code, p.Title)
	}
	if code := o.ask("POST", "/api/v1/originals?name=bomb.gz", packed(t, 6000), &p); code != 413 || !strings.Contains(p.Title, "unpacks") {
		t.Errorf("swelling file: status %d %s, want 413", code, p.Title)
	}
	if code := o.ask("POST", "/api/v1/originals?name=a", bytes.Repeat([]byte("x"), 900), nil); code != 201 {
		t.Errorf("fitting file: status %d", code)
	}
	if code := o.ask("POST", "/api/v1/originals?name=b", bytes.Repeat([]byte("y"), 900), &p); code != 507 {
		t.Errorf("over the quota: status %d %s, want 507", code, p.Title)
	}
	full := newOffice(t, t.TempDir(), false, func(opt *web.Options) { opt.Reserve = 1 << 60 })
	if code := full.ask("POST", "/api/v1/originals?name=a", []byte("x"), &p); code != 507 || !strings.Contains(p.Title, "disk is full") {
		t.Errorf("full disk: status %d %s, want 507", code, p.Title)
	}
	var list struct{ Originals []any }
	o.ask("GET", "/api/v1/originals", nil, &list)
	if left, _ := filepath.Glob(filepath.Join(o.dir, "incoming", "*")); len(left) > 0 || len(list.Originals) != 1 {
		t.Errorf("left behind %v, kept %d, want only the fitting file", left, len(list.Originals))
	}
}

// A connection that breaks in the middle of an upload.
func TestHalfUploadLeavesNothing(t *testing.T) {
	o := newOffice(t, t.TempDir(), false, nil)
	c, err := net.Dial("tcp", o.srv.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(c, "POST /api/v1/originals?name=day.nmea HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer %s\r\nContent-Length: 100000\r\n\r\n%s", token, strings.Repeat("x", 5000))
	c.(*net.TCPConn).CloseWrite()
	res, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil || res.StatusCode != 400 {
		t.Errorf("answer %v, %v; want 400", res, err)
	}
	c.Close()
	var list struct{ Originals []any }
	o.ask("GET", "/api/v1/originals", nil, &list)
	if left, _ := filepath.Glob(filepath.Join(o.dir, "incoming", "*")); len(left) > 0 || len(list.Originals) > 0 {
		t.Errorf("left behind %v, kept %d", left, len(list.Originals))
	}
}

func TestStrangersNamesAreOnlyShown(t *testing.T) {
	o := newOffice(t, t.TempDir(), false, nil)
	for given, want := range map[string]string{
		"..%2F..%2Fetc%2Fpasswd": "passwd", "C%3A%5Cjobs%5Cday.csv": "day.csv", "": "unnamed", "a%00b%0d%0ac.csv": "abc.csv", "..": "unnamed", "%3Cscript%3E.csv": "<script>.csv",
	} {
		u := o.upload(given, []byte("content of "+given))
		if u.Original.Name != want {
			t.Errorf("%q: name %q, want %q", given, u.Original.Name, want)
		}
	}
}
