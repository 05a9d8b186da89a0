package web_test

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"tracemap/web"
)

// smallDisk gives a folder on a file system of a few megabytes.
func smallDisk(t *testing.T, size string) string {
	t.Helper()
	dir := t.TempDir()
	err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size="+size)
	if errors.Is(err, unix.EPERM) && os.Getuid() != 0 {
		t.Skip("only root may mount a small file system")
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := unix.Unmount(dir, unix.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return dir
}

// fillUp takes all room but some bytes, with a file that may be taken away.
func fillUp(t *testing.T, dir string, leave int64) (free func()) {
	t.Helper()
	name := filepath.Join(dir, "filler")
	var st unix.Statfs_t
	if err := unix.Statfs(dir, &st); err != nil {
		t.Error(err)
	}
	err := os.WriteFile(name, make([]byte, max(0, int64(st.Bavail)*st.Bsize-leave)), 0o600)
	if err != nil && !errors.Is(err, unix.ENOSPC) { // others write at the same time
		t.Error(err)
	}
	return func() {
		if err := os.Remove(name); err != nil {
			t.Error(err)
		}
	}
}

// A disk that fills up while a file comes in, and while a day is computed: what
// was acknowledged stays, the rest is refused in words, the server goes on, and
// with room again all works.
func TestDiskFull(t *testing.T) {
	dir := smallDisk(t, "40m")
	o := newOffice(t, dir, true, func(opt *web.Options) { opt.Reserve = 0 })
	o.demoDay()
	if d := o.settled("/api/v1/days/1"); d.Latest.State != "done" {
		t.Fatalf("%+v", d)
	}
	free := fillUp(t, dir, 600<<10)
	var p struct{ Title, Detail string }
	big := bytes.Repeat([]byte("$GPGGA,not a sentence\r\n"), 100000)
	if code := o.ask("POST", "/api/v1/originals?name=big.nmea", big, &p); code != 507 || !strings.Contains(p.Title, "disk is full") {
		t.Errorf("a file larger than the room: %d %+v", code, p)
	}
	free()
	o.fillsUpOnTheWay()
	free = fillUp(t, dir, 12<<10)
	code := o.ask("POST", "/api/v1/days/1/revisions", map[string]any{"base": 1, "why": "disk", "settings": map[string]any{"clock_offset": "94s"}}, &p)
	if code == 201 {
		if d := o.settled("/api/v1/days/1"); d.Latest.State != "failed" || !strings.Contains(d.Latest.Message, "no space") {
			t.Errorf("computing on a full disk: %+v", d)
		}
	} else if code != 507 {
		t.Errorf("a revision on a full disk: %d %+v", code, p)
	}
	var back []byte
	sum := fmt.Sprintf("%x", sha256.Sum256(demo(t, "readings.csv")))
	if code := o.ask("GET", "/api/v1/originals/"+sum, nil, &back); code != 200 || !bytes.Equal(back, demo(t, "readings.csv")) {
		t.Errorf("an original on a full disk: %d", code)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "*", "*.part")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	free()
	var d day
	o.ask("GET", "/api/v1/days/1", nil, &d)
	if code := o.ask("POST", "/api/v1/days/1/revisions", map[string]any{"base": d.Latest.Number, "why": "room again", "settings": map[string]any{"clock_offset": "94s"}}, &p); code != 201 {
		t.Fatalf("with room again: %d %+v", code, p)
	}
	if d := o.settled("/api/v1/days/1"); d.Latest.State != "done" {
		t.Errorf("with room again: %+v", d)
	}
}

// fillsUpOnTheWay sends a file that fits when it is asked for; while it comes in,
// somebody else takes the room.
func (o *office) fillsUpOnTheWay() {
	o.t.Helper()
	from, to := io.Pipe()
	req, err := http.NewRequest("POST", o.srv.URL+"/api/v1/originals?name=slow.nmea", from)
	if err != nil {
		o.t.Fatal(err)
	}
	req.ContentLength = 2 << 20
	req.Header.Set("Authorization", "Bearer "+token)
	filled := make(chan func(), 1)
	go func() {
		to.Write(make([]byte, 1<<20))
		for range 1000 {
			if in, _ := filepath.Glob(filepath.Join(o.dir, "incoming", "*")); len(in) > 0 {
				break
			}
			time.Sleep(5 * time.Millisecond)
		}
		filled <- fillUp(o.t, o.dir, 64<<10)
		to.Write(make([]byte, 1<<20))
		to.Close()
	}()
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		o.t.Fatal(err)
	}
	res.Body.Close()
	from.Close()
	if res.StatusCode != 507 {
		o.t.Errorf("a disk that fills up on the way: status %d, want 507", res.StatusCode)
	}
	if left, _ := filepath.Glob(filepath.Join(o.dir, "incoming", "*")); len(left) > 0 {
		o.t.Errorf("left behind: %v", left)
	}
	(<-filled)()
}
