package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// Killed at any moment, convert leaves the old folder or the new one, whole; what
// lies beside it is hidden, and the next run is not disturbed by it. Half of the
// kills fall anywhere in the run, half while files are written.
func TestConvertKilled(t *testing.T) {
	t.Parallel()
	demo, dir := demoDay(t), t.TempDir()
	convert := func(job string) *exec.Cmd {
		cmd := exec.Command(tracemapProgram(t), "convert", demo+"/day.nmea", demo+"/readings.csv", "-o", "out", "--overwrite", "--job", job)
		cmd.Dir = dir
		return cmd
	}
	want := map[string]map[string]string{}
	var whole, writing time.Duration
	for _, job := range []string{"old", "new"} {
		began := time.Now()
		cmd := convert(job)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		appeared := whenWriting(dir, cmd)
		if err := cmd.Wait(); err != nil {
			t.Fatal(err)
		}
		whole, writing = time.Since(began), time.Since(appeared)
		want[job] = outcome(t, filepath.Join(dir, "out"))
	}
	if maps.Equal(want["old"], want["new"]) || len(want["new"]) < 8 {
		t.Fatalf("%d files; the two results cannot be told apart", len(want["new"]))
	}
	there, next := "new", "old"
	count := map[string]int{}
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range rounds(12, 200) {
		cmd := convert(next)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		wait := time.Duration(rng.Int64N(int64(whole) * 11 / 10))
		if i%2 == 1 {
			whenWriting(dir, cmd)
			wait = time.Duration(rng.Int64N(int64(writing) * 11 / 10))
		}
		time.Sleep(wait)
		cmd.Process.Kill() // it may have ended
		cmd.Wait()
		got := outcome(t, filepath.Join(dir, "out"))
		switch {
		case maps.Equal(got, want[next]):
			count["new result"]++
			there, next = next, there
		case maps.Equal(got, want[there]):
			count["old result"]++
		default:
			t.Fatalf("kill %d after %v: the folder holds %d files that are neither the old result nor the new", i, wait, len(got))
		}
		entries, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if e.Name() != "out" && !strings.HasPrefix(e.Name(), ".out.unfinished-") {
				t.Errorf("kill %d left %s", i, e.Name())
			}
		}
		if len(entries) > 1 {
			count["with a hidden folder left"]++
		}
		if i%7 == 0 { // and the others meet what was left
			removeHidden(t, dir)
		}
	}
	t.Log(count)
	cmd := convert(next)
	if out, err := cmd.CombinedOutput(); err != nil || !maps.Equal(outcome(t, filepath.Join(dir, "out")), want[next]) {
		t.Errorf("the run after the kills: %v: %s", err, out)
	}
}

func hidden(dir string) []string {
	names, _ := filepath.Glob(filepath.Join(dir, ".out.unfinished-*"))
	return names
}

func removeHidden(t *testing.T, dir string) {
	t.Helper()
	for _, name := range hidden(dir) {
		if err := os.RemoveAll(name); err != nil {
			t.Fatal(err)
		}
	}
}

// whenWriting waits until a run makes its hidden folder, or ends.
func whenWriting(dir string, cmd *exec.Cmd) time.Time {
	before := hidden(dir)
	for {
		now := hidden(dir)
		slices.Sort(now)
		if !slices.Equal(now, before) || ended(cmd) {
			return time.Now()
		}
		time.Sleep(time.Millisecond)
	}
}

// ended reports whether a process is gone but for being waited for.
func ended(cmd *exec.Cmd) bool {
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", cmd.Process.Pid))
	return err != nil || bytes.Contains(stat, []byte(") Z "))
}

// What the server has acknowledged is there after it was killed and started anew:
// every upload with all its bytes, every day. What it was killed in leaves nothing.
func TestServeKilledWhileUploading(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "data")
	rng := rand.New(rand.NewPCG(3, 4))
	kept := map[string]int{} // acknowledged uploads: hash → size
	days := 0
	check := func(s *server, sums []string) {
		for _, sum := range sums {
			var b []byte
			code, err := s.ask("GET", "/api/v1/originals/"+sum, nil, &b)
			if got := sha256.Sum256(b); err != nil || code != 200 || hex.EncodeToString(got[:]) != sum || len(b) != kept[sum] {
				t.Fatalf("upload %.12s of %d bytes was acknowledged: status %d, %d bytes, %v", sum, kept[sum], code, len(b), err)
			}
		}
		var list struct{ Days []struct{ ID int64 } }
		if code, err := s.ask("GET", "/api/v1/days", nil, &list); err != nil || code != 200 || len(list.Days) < days {
			t.Fatalf("%d of %d acknowledged days, status %d, %v", len(list.Days), days, code, err)
		}
		if left, _ := filepath.Glob(filepath.Join(dir, "incoming", "*")); len(left) > 0 {
			t.Errorf("left of uploads: %v", left)
		}
	}
	inFlight := 0
	for range rounds(5, 200) {
		s := startServer(t, dir, "--workers", "1")
		check(s, nil)
		kill := time.AfterFunc(time.Duration(rng.Int64N(int64(400*time.Millisecond))), func() { s.cmd.Process.Kill() })
		var sums []string
		for {
			log := make([]byte, 1+rng.IntN(1<<18))
			for i := range log {
				log[i] = byte(rng.Uint32())
			}
			sum, err := s.upload("x", bytes.NewReader(log))
			if err != nil {
				if !strings.Contains(err.Error(), "status") {
					inFlight++
					break // the connection is gone
				}
				t.Fatal(err)
			}
			kept[sum] = len(log)
			sums = append(sums, sum)
			if len(sums)%4 == 2 {
				if _, err := s.makeDay("a day", sums...); err != nil {
					break
				}
				days++
			}
		}
		kill.Stop()
		s.kill()
		s = startServer(t, dir, "--workers", "1")
		check(s, sums)
		s.kill()
	}
	s := startServer(t, dir)
	check(s, slices.Collect(maps.Keys(kept)))
	t.Logf("%d uploads and %d days acknowledged, %d kills within a request: all there", len(kept), days, inFlight)
	if len(kept) == 0 {
		t.Error("nothing was uploaded")
	}
}
