package record

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"
)

// In a bubble of package synctest the machine's clock begins here.
var bubble = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

func TestHourlyLogs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		from := utc(t, "2026-05-12T07:59:57Z")
		steps := seconds(from, 6, 4)
		d := newMemory()
		sum, _, err := recordPlay(t, t.Context(), &receiver{connections: [][]step{steps}, end: errEnd}, d, nil)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := d.names(), []string{"2026-05-12T07Z.nmea", "2026-05-12T08Z.nmea"}; !slices.Equal(got, want) {
			t.Fatalf("files %q, want %q", got, want)
		}
		for i, want := range []string{said(steps[:3]), said(steps[3:])} {
			if got := d.content(d.names()[i], true); got != want {
				t.Errorf("%s holds\n%s\nwant\n%s", d.names()[i], got, want)
			}
		}
		if sum.Lines != 18 || sum.Sentences != 18 || sum.Bytes != int64(len(said(steps))) || len(sum.Files) != 2 || sum.HalfLines != 0 ||
			!sum.From.Equal(from) || !sum.To.Equal(from.Add(5*time.Second)) {
			t.Errorf("summary %+v", sum)
		}
	})
}

// A log that is there is not touched.
func TestNothingIsOverwritten(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newMemory()
		older, _ := d.create("rover-2026-05-12T07Z.nmea")
		older.WriteAt([]byte("older\n"), 0)
		second, _ := d.create("rover-2026-05-12T07Z-2.nmea")
		second.WriteAt([]byte("old\n"), 0)
		steps := seconds(utc(t, "2026-05-12T07:30:00Z"), 2, 4)
		_, _, err := recordPlay(t, t.Context(), &receiver{connections: [][]step{steps}, end: errEnd}, d, func(o *Options) { o.Prefix = "rover-" })
		if err != nil {
			t.Fatal(err)
		}
		for name, want := range map[string]string{"rover-2026-05-12T07Z.nmea": "older\n", "rover-2026-05-12T07Z-2.nmea": "old\n", "rover-2026-05-12T07Z-3.nmea": said(steps)} {
			if got := d.content(name, false); got != want {
				t.Errorf("%s holds %q, want %q", name, got, want)
			}
		}
	})
}

// A receiver that tells no date gets the machine's; one that tells nothing too.
func TestNamesWithoutDate(t *testing.T) {
	for name, line := range map[string]string{
		"time only": sentence("GNGGA,000001.00,4916.4500,N,01123.7600,E,4,18,0.6,545.4,M,46.9,M,1.2,0000"),
		"no time":   sentence("GPGSV,1,1,01,21,44,123,39"),
		"text":      "hello\n",
	} {
		synctest.Test(t, func(t *testing.T) {
			d := newMemory()
			_, _, err := recordPlay(t, t.Context(), &receiver{connections: [][]step{{{says: line}, {wait: 3 * time.Second, says: line}}}, end: errEnd}, d, nil)
			if err != nil {
				t.Fatal(err)
			}
			if got, want := d.names(), []string{bubble.Format(hourFormat) + ".nmea"}; !slices.Equal(got, want) || d.logs(true) != line+line {
				t.Errorf("%s: files %q with %q, want %q with %q", name, got, d.logs(true), want, line+line)
			}
		})
	}
}

// Connections break in the middle of a line and of an epoch, do not come about,
// and fall silent; every whole line is kept, no half one is, and the waits grow.
func TestReconnects(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		from := utc(t, "2026-05-12T08:00:00Z")
		first := append(seconds(from, 3, 4), step{says: "$GNGGA,080003.00,4916.45"})
		second := append([]step{{says: "00,N,01123.76\r\n"}}, seconds(from.Add(10*time.Second), 2, 4)...)
		silent := append(seconds(from.Add(20*time.Second), 1, 4), step{wait: time.Hour, says: "never heard"})
		last := seconds(from.Add(60*time.Second), 2, 4)
		r := &receiver{connections: [][]step{first, {{refuse: errors.New("out of reach")}}, {{refuse: errors.New("out of reach")}}, second, silent, last}}
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
		defer cancel()
		d := newMemory()
		sum, h, err := recordPlay(t, ctx, r, d, func(o *Options) { o.Silence = 15 * time.Second })
		if err != nil {
			t.Fatal(err)
		}
		want := said(first[:3]) + "00,N,01123.76\r\n" + said(second[1:]) + said(silent[:1]) + said(last)
		if got := d.logs(true); !strings.HasPrefix(got, want) {
			t.Errorf("logs hold\n%s\nwant\n%s", got, want)
		}
		if sum.HalfLines != 1 || sum.HalfBytes != int64(len("$GNGGA,080003.00,4916.45")) {
			t.Errorf("dropped %d half lines of %d bytes", sum.HalfLines, sum.HalfBytes)
		}
		texts := h.texts()
		for _, want := range []string{
			"reading invented", "lost invented: switched off; trying again", "waiting for invented: out of reach", "lost invented: nothing came for 15s; trying again",
		} {
			if !slices.Contains(texts, want) {
				t.Errorf("nobody was told %q; told were\n%s", want, strings.Join(texts, "\n"))
			}
		}
		if n := strings.Count(strings.Join(texts, "\n"), "out of reach"); n != 1 {
			t.Errorf("told %d times that the source is out of reach, want once", n)
		}
	})
}

// The waits between tries double up to ten seconds, and begin again after bytes.
func TestBackOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var at []time.Duration
		begun := time.Now()
		src := Source{Name: "gone", open: func(context.Context) (stream, error) {
			at = append(at, time.Since(begun))
			if len(at) == 8 {
				return &playing{steps: []step{{says: "hello\n"}}, end: errSwitchedOff}, nil
			}
			return nil, errSwitchedOff
		}}
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		if _, err := newRecorder(Options{Source: src, Dir: t.TempDir(), Wait: true}, newMemory()).Run(ctx); err != nil {
			t.Fatal(err)
		}
		var waits []time.Duration
		for i := 1; i < len(at); i++ {
			waits = append(waits, at[i]-at[i-1])
		}
		const ms = time.Millisecond
		want := []time.Duration{500 * ms, 1000 * ms, 2000 * ms, 4000 * ms, 8000 * ms, 10000 * ms, 10000 * ms, 500 * ms, 1000 * ms, 2000 * ms, 4000 * ms, 8000 * ms}
		if !slices.Equal(waits, want) {
			t.Errorf("waits %v, want %v", waits, want)
		}
	})
}

func TestSourceThatIsNotThere(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := &receiver{connections: [][]step{{{refuse: errors.New("no such port")}}}}
		_, _, err := recordPlay(t, t.Context(), r, newMemory(), nil)
		if !errors.Is(err, ErrNotOpened) || !strings.Contains(err.Error(), "invented cannot be opened: no such port") {
			t.Errorf("err = %v", err)
		}
	})
}

// Without power at any instant: what is left are whole lines, and at most what
// came in the last second is missing, as well as the line that was coming.
func TestPowerLoss(t *testing.T) {
	for off := 2500 * time.Millisecond; off < 12*time.Second; off += 370 * time.Millisecond {
		synctest.Test(t, func(t *testing.T) {
			// An epoch comes in pieces, a fifth of a second apart, over the end of an hour.
			from := utc(t, "2026-05-12T07:59:55Z")
			var steps []step
			for i := range 20 {
				text := epoch(from.Add(time.Duration(i)*time.Second), 4)
				for k := range 5 {
					steps = append(steps, step{wait: 200 * time.Millisecond, says: text[k*len(text)/5 : (k+1)*len(text)/5]})
				}
			}
			d := newMemory()
			ctx, cancel := context.WithCancel(t.Context())
			ended := make(chan bool)
			go func() {
				recordPlay(t, ctx, &receiver{connections: [][]step{steps}}, d, nil)
				close(ended)
			}()
			time.Sleep(off)
			left := d.logs(true)
			cancel()
			<-ended
			before := said(steps[:max(0, int((off-time.Second)/(200*time.Millisecond))-1)])
			whole := before[:strings.LastIndexByte(before, '\n')+1]
			if left != "" && !strings.HasSuffix(left, "\r\n") {
				t.Errorf("power lost after %s: the last line is half: %q", off, left[max(0, len(left)-40):])
			}
			if !strings.HasPrefix(left, whole) {
				t.Errorf("power lost after %s: %d bytes are left, %d came more than a second before", off, len(left), len(whole))
			}
			if !strings.HasPrefix(said(steps), left) {
				t.Errorf("power lost after %s: what is left is not what came", off)
			}
		})
	}
}

// A disk that is full for a while costs nothing; at every moment logs hold whole
// lines.
func TestFullDiskForAWhile(t *testing.T) {
	for _, cut := range []error{nil, errors.New("cannot cut")} {
		synctest.Test(t, func(t *testing.T) {
			from := utc(t, "2026-05-12T07:59:50Z")
			steps := seconds(from, 40, 4)
			d := newMemory()
			d.room = 1000 // stops within a line
			d.cutErr = cut
			go func() {
				time.Sleep(20 * time.Second)
				if got := d.logs(false); cut == nil && !strings.HasSuffix(got, "\r\n") {
					t.Errorf("the full disk holds a half line: %q", got[max(0, len(got)-50):])
				}
				d.mu.Lock()
				d.room, d.cutErr = 1<<30, nil
				d.mu.Unlock()
			}()
			sum, h, err := recordPlay(t, t.Context(), &receiver{connections: [][]step{steps}, end: errEnd}, d, nil)
			if err != nil || sum.LostBytes != 0 {
				t.Errorf("err %v, %d bytes lost", err, sum.LostBytes)
			}
			if d.logs(true) != said(steps) {
				t.Errorf("logs hold %d bytes of %d", len(d.logs(true)), len(said(steps)))
			}
			texts := strings.Join(h.texts(), "\n")
			if !strings.Contains(texts, "the disk takes nothing more (no space left on device)") || !strings.Contains(texts, "the disk takes lines again; nothing was lost") {
				t.Errorf("told were\n%s", texts)
			}
			if !slices.ContainsFunc(h.states, func(s Status) bool { return s.Waiting > 0 }) {
				t.Error("nobody saw lines wait")
			}
		})
	}
}

// Where the next hour's log cannot be begun – a stick that was pulled, a folder
// taken away – the lines wait until it can.
func TestHourThatCannotBeBegun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		steps := seconds(utc(t, "2026-05-12T07:59:50Z"), 40, 4)
		steps[9].says += steps[10].says // the old hour's end is not yet synced as the new one fails
		steps = slices.Delete(steps, 10, 11)
		d := newMemory()
		refuse := func(after time.Duration, err error) {
			time.Sleep(after)
			d.mu.Lock()
			d.newErr = err
			d.mu.Unlock()
		}
		go func() {
			refuse(5*time.Second, errors.New("no such device"))
			refuse(20*time.Second, nil)
		}()
		sum, h, err := recordPlay(t, t.Context(), &receiver{connections: [][]step{steps}, end: errEnd}, d, nil)
		if err != nil || sum.LostBytes != 0 || d.logs(true) != said(steps) || len(sum.Files) != 2 {
			t.Errorf("err %v, %d bytes lost, %d of %d kept in %d files", err, sum.LostBytes, len(d.logs(true)), len(said(steps)), len(sum.Files))
		}
		if texts := strings.Join(h.texts(), "\n"); !strings.Contains(texts, "the disk takes nothing more (no such device)") || !strings.Contains(texts, "the disk takes lines again; nothing was lost") {
			t.Errorf("told were\n%s", texts)
		}
	})
}

// A disk that stays full is an error that says how much is lost.
func TestFullDiskToTheEnd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		steps := seconds(utc(t, "2026-05-12T08:00:00Z"), 10, 4)
		d := newMemory()
		d.room = 700
		sum, _, err := recordPlay(t, t.Context(), &receiver{connections: [][]step{steps}, end: errEnd}, d, nil)
		if !errors.Is(err, syscall.ENOSPC) || !strings.Contains(err.Error(), "did not fit on the disk and are lost") {
			t.Errorf("err = %v", err)
		}
		got := d.logs(true)
		if int64(len(got))+sum.LostBytes != int64(len(said(steps))) || sum.Bytes != int64(len(got)) {
			t.Errorf("%d bytes in, %d kept, %d said to be lost", len(said(steps)), len(got), sum.LostBytes)
		}
		if !strings.HasSuffix(got, "\r\n") || !strings.HasPrefix(said(steps), got) {
			t.Errorf("the log holds %q", got)
		}
	})
}

// A disk that is slow to sync keeps nobody waiting.
func TestSlowSync(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		steps := seconds(utc(t, "2026-05-12T07:59:50Z"), 30, 4)
		d := newMemory()
		d.syncTime = 7 * time.Second
		_, h, err := recordPlay(t, t.Context(), &receiver{connections: [][]step{steps}, end: errEnd}, d, nil)
		if err != nil || d.logs(true) != said(steps) {
			t.Errorf("err %v, %d bytes of %d", err, len(d.logs(true)), len(said(steps)))
		}
		if len(h.states) < 28 {
			t.Errorf("the state was shown %d times in 30 s", len(h.states))
		}
	})
}

// A disk that does not keep what is written is an error, told at once.
func TestFailedSync(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newMemory()
		d.syncErr = syscall.EIO
		_, h, err := recordPlay(t, t.Context(), &receiver{connections: [][]step{seconds(utc(t, "2026-05-12T08:00:00Z"), 5, 4)}, end: errEnd}, d, nil)
		if !errors.Is(err, syscall.EIO) {
			t.Errorf("err = %v", err)
		}
		if n := strings.Count(strings.Join(h.texts(), "\n"), "the disk does not confirm"); n != 1 {
			t.Errorf("told %d times, want once", n)
		}
	})
}

func TestView(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		from := utc(t, "2026-05-12T08:00:00Z")
		_, h, err := recordPlay(t, t.Context(), &receiver{connections: [][]step{seconds(from, 20, 4)}, end: errEnd}, newMemory(), nil)
		if err != nil {
			t.Fatal(err)
		}
		s := h.states[len(h.states)-1]
		// σ along one direction: √((0.012² + 0.016²)/2), from the GST.
		if s.State != StateFixed || s.Sats != 18 || math.Abs(s.Sigma-0.01414) > 1e-4 || math.Abs(s.Age-1.2) > 1e-6 || math.Abs(s.Rate-1) > 1e-9 {
			t.Errorf("state %+v", s.View)
		}
		if !s.Open || s.Free <= 0 || s.Lines < 50 || s.File == "" || !s.Stamp.Known() {
			t.Errorf("state %+v", s)
		}
	})
}

// What a person hears over a bad day.
func TestAlarms(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		from := utc(t, "2026-05-12T08:00:00Z")
		at := func(s int) time.Time { return from.Add(time.Duration(s) * time.Second) }
		steps := seconds(from, 20, 1)
		steps = append(steps, seconds(at(20), 20, 4)...)
		steps = append(steps, seconds(at(40), 1, 5)...) // one epoch: no news
		steps = append(steps, seconds(at(41), 19, 4)...)
		steps = append(steps, seconds(at(60), 20, 5)...)
		steps = append(steps, seconds(at(80), 20, 0)...)
		steps = append(steps, seconds(at(100), 20, 4)...)
		steps = append(steps, step{wait: 12 * time.Second, says: epoch(at(131), 4)})
		steps = append(steps, seconds(at(132), 10, 4)...)
		for range 10 {
			steps = append(steps, step{wait: time.Second, says: "\xb5b\x01\x07rubbish\n"})
		}
		_, h, err := recordPlay(t, t.Context(), &receiver{connections: [][]step{steps}, end: errEnd}, newMemory(), nil)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, e := range h.events {
			text := strings.TrimRight(e.Text, "0123456789s")
			if e.Ring {
				text = "BELL " + text
			}
			got = append(got, strings.TrimSpace(text))
		}
		want := []string{
			"reading invented",
			"the receiver: autonomou", // the s goes with the digits
			"RTK fixed, after 20s of autonomou",
			"BELL RTK float, after RTK fixed",
			"BELL no fix, after RTK float",
			"BELL",
			"RTK fixed, after 19s of no fix", // an epoch may be late: one without a fix is looked at twice
			"BELL nothing comes, after RTK fixed",
			"RTK fixed, after 9s of silent",
			"BELL what comes is no NMEA: is the baud rate right, and does the receiver send NMEA on this port, after RTK fixed",
		}
		if !slices.Equal(got, want) {
			t.Errorf("told were\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
	})
}
