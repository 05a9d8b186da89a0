package main

import (
	"bytes"
	"flag"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"tracemap/internal/lab/simulate"
)

var fullLoad = flag.Bool("full-load", false, "fifty crews' whole days (7 GB) instead of fifty small ones")

// fiftyDays is what fifty crews bring in: a log and readings for each, all
// different. A whole day is invented once, and told apart by its first line.
func fiftyDays(t *testing.T) (nmea, readings [][]byte) {
	t.Helper()
	write := func(d *simulate.Day) (a, b []byte) {
		var log, read bytes.Buffer
		if _, err := d.WriteNMEA(&log); err != nil {
			t.Fatal(err)
		}
		if err := d.WriteReadings(&read); err != nil {
			t.Fatal(err)
		}
		return log.Bytes(), read.Bytes()
	}
	if *fullLoad {
		a, b := write(simulate.Invent(simulate.CrewDay(7)))
		for range 50 {
			nmea, readings = append(nmea, a), append(readings, b)
		}
		return nmea, readings
	}
	for i := range 50 {
		s := simulate.New("load", uint64(i+1))
		s.World = simulate.World{Pipes: 1, Length: simulate.Range{60, 70}, Straight: simulate.Range{20, 30}, Depth: simulate.Range{0.8, 1.2}}
		a, b := write(simulate.Invent(s))
		nmea, readings = append(nmea, a), append(readings, b)
	}
	return nmea, readings
}

// Fifty crews upload a day each at once to a server with two processors. None is
// lost, memory stays bounded, and the page answers meanwhile. Figures of whole
// days are in docs/serve.md: go test ./cmd/tracemap -run FiftyUploads -full-load
// -timeout 2h -v.
func TestFiftyUploadsAtOnce(t *testing.T) {
	t.Parallel()
	nmea, readings := fiftyDays(t)
	s := startServer(t, t.TempDir(), "--workers", "1")
	stop := make(chan struct{})
	var asking sync.WaitGroup
	var took []time.Duration
	asking.Go(func() { took = s.browse(stop) })
	var sending sync.WaitGroup
	var mu sync.Mutex
	days := map[string]int64{}
	begun := time.Now()
	for i := range nmea {
		sending.Go(func() {
			title := fmt.Sprintf("crew %02d", i)
			first := fmt.Sprintf("# %s\r\n", title)
			a, err := s.upload("day.nmea", sized{io.MultiReader(strings.NewReader(first), bytes.NewReader(nmea[i])), int64(len(first) + len(nmea[i]))})
			if err != nil {
				t.Error(err)
				return
			}
			b, err := s.upload("readings.csv", bytes.NewReader(append([]byte(first), readings[i]...)))
			if err != nil {
				t.Error(err)
				return
			}
			id, err := s.makeDay(title, a, b)
			if err != nil {
				t.Error(err)
				return
			}
			mu.Lock()
			days[title] = id
			mu.Unlock()
		})
	}
	sending.Wait()
	uploaded := time.Since(begun)
	if len(days) != 50 {
		t.Fatalf("%d days of 50 are there", len(days))
	}
	s.allDone(t)
	close(stop)
	asking.Wait()
	slices.Sort(took)
	median, worst, peak := took[len(took)/2], took[len(took)*99/100], s.peak()
	t.Logf("uploaded in %v, computed in %v; %d pages: median %v, 99 %% within %v; at most %d MB", uploaded.Round(time.Second), time.Since(begun).Round(time.Second), len(took), median, worst, peak>>20)
	limit := int64(200 << 20)
	if *fullLoad {
		limit = 700 << 20
	}
	if peak > limit {
		t.Errorf("the server took %d MB, more than %d", peak>>20, limit>>20)
	}
	if *fullLoad && median > 200*time.Millisecond {
		t.Errorf("half of the pages took longer than %v", median)
	}
}

// allDone waits until nothing is computed any more, and checks that every day is
// done.
func (s *server) allDone(t *testing.T) {
	t.Helper()
	for {
		var w struct{ Work []any }
		if _, err := s.ask("GET", "/api/v1/work", nil, &w); err != nil {
			t.Fatal(err)
		}
		if len(w.Work) == 0 {
			break
		}
		time.Sleep(200 * time.Millisecond)
	}
	var d struct {
		Days []struct {
			Title  string
			Latest struct{ State, Message string }
		}
	}
	if _, err := s.ask("GET", "/api/v1/days", nil, &d); err != nil {
		t.Fatal(err)
	}
	for _, day := range d.Days {
		if day.Latest.State != "done" {
			t.Errorf("%s: %s %s", day.Title, day.Latest.State, day.Latest.Message)
		}
	}
}

// browse opens the page again and again, as somebody at a desk would: the page
// itself, who one is, the days, what is being computed.
func (s *server) browse(stop <-chan struct{}) (took []time.Duration) {
	for {
		select {
		case <-stop:
			return took
		case <-time.After(50 * time.Millisecond):
		}
		begun := time.Now()
		for _, path := range []string{"/", "/api/v1/session", "/api/v1/days", "/api/v1/work"} {
			if code, err := s.ask("GET", path, nil, new([]byte)); err != nil || code != 200 {
				s.t.Errorf("%s meanwhile: %d %v", path, code, err)
				return append(took, time.Since(begun))
			}
		}
		took = append(took, time.Since(begun))
	}
}
