package nmea_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"tracemap/nmea"
)

// bare gives the epochs without the place where they were read.
func bare(l *nmea.Log) []nmea.Epoch {
	epochs := slices.Clone(l.Epochs)
	for i := range epochs {
		epochs[i].File, epochs[i].Line = 0, 0
	}
	return epochs
}

// sameEpochs compares epochs, NaN being like NaN.
func sameEpochs(t *testing.T, what string, got, want []nmea.Epoch) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d epochs, want %d", what, len(got), len(want))
	}
	for i := range got {
		if g, w := fmt.Sprintf("%+v", got[i]), fmt.Sprintf("%+v", want[i]); g != w {
			t.Fatalf("%s: epoch %d:\ngot  %s\nwant %s", what, i, g, w)
		}
	}
}

// epochBlocks cuts a log of dayLog into its epochs.
func epochBlocks(log []byte) [][]byte {
	var blocks [][]byte
	for len(log) > 0 {
		n := bytes.Index(log[1:], []byte("$GNRMC")) + 1
		if n == 0 {
			n = len(log)
		}
		blocks = append(blocks, log[:n])
		log = log[n:]
	}
	return blocks
}

func TestFilesInAnyOrderAreOneLog(t *testing.T) {
	log := dayLog(600, time.Second)
	want := bare(readBytes(t, nmea.Options{}, log))
	blocks := epochBlocks(log)
	files := [][]byte{bytes.Join(blocks[:200], nil), bytes.Join(blocks[200:350], nil), bytes.Join(blocks[350:], nil)}
	for _, order := range [][]int{{0, 1, 2}, {2, 0, 1}, {1, 2, 0}, {2, 1, 0}} {
		l := readBytes(t, nmea.Options{}, files[order[0]], files[order[1]], files[order[2]])
		sameEpochs(t, fmt.Sprint("order ", order), bare(l), want)
		if l.Stats.Repeated != 0 || len(l.Warnings) != 0 {
			t.Errorf("order %v: repeated %d, warnings %q", order, l.Stats.Repeated, l.Warnings)
		}
	}
	twice := readBytes(t, nmea.Options{}, files[0], files[1], files[0], files[2])
	sameEpochs(t, "a file given twice", bare(twice), want)
	if twice.Stats.Repeated != 200 {
		t.Errorf("a file given twice: %d epochs repeated, want 200", twice.Stats.Repeated)
	}
}

// An epoch whose sentences lie in two files is whole again when both are read.
func TestEpochAcrossFiles(t *testing.T) {
	a := seal("GNGGA,093000.00,5206.1234567,N,00454.7654321,W,4,17,0.71,45.412,M,46.914,M,1.2,0000")
	b := seal("GNRMC,093000.00,A,5206.1234567,N,00454.7654321,W,1.944,84.4,251126,,,R,V") +
		seal("GNGST,093000.00,0.011,0.015,0.009,37.5,0.013,0.012,0.022")
	for _, l := range []*nmea.Log{readBytes(t, nmea.Options{}, []byte(a+b)), readBytes(t, nmea.Options{}, []byte(b), []byte(a)), readBytes(t, nmea.Options{}, []byte(b), []byte(b+a))} {
		if len(l.Epochs) != 1 {
			t.Fatalf("%d epochs, want 1", len(l.Epochs))
		}
		e := &l.Epochs[0]
		if !e.HasGST() || e.Speed < 0.99 || e.Alt != 45.412 || e.Sats != 17 || e.Quality != nmea.QualityRTKFixed {
			t.Errorf("not whole: %+v", *e)
		}
	}
}

// The order of the timed sentences within an epoch, the line ends and what stands
// before a sentence make no difference.
func TestIdentities(t *testing.T) {
	log := dayLog(300, time.Second)
	want := bare(readBytes(t, nmea.Options{}, log))
	sameEpochs(t, "LF for CR LF", bare(readBytes(t, nmea.Options{}, bytes.ReplaceAll(log, []byte("\r\n"), []byte("\n")))), want)
	sameEpochs(t, "line ends lost", bare(readBytes(t, nmea.Options{}, bytes.ReplaceAll(log, []byte("\r\n"), nil))), want)
	sameEpochs(t, "prefixes", bare(readBytes(t, nmea.Options{}, bytes.ReplaceAll(log, []byte("$"), []byte("09:30:00.123 $")))), want)
	sameEpochs(t, "suffixes", bare(readBytes(t, nmea.Options{}, bytes.ReplaceAll(log, []byte("\r\n"), []byte(",1795599000\r\n")))), want)
	random := rand.New(rand.NewPCG(1, 2))
	var shuffled []byte
	for _, block := range epochBlocks(log) {
		lines := bytes.SplitAfter(block, []byte("\n"))
		// GSA and VTG tell no time and belong to what was heard last: they stay behind
		// the first sentence.
		head, rest := lines[0], lines[1:]
		random.Shuffle(len(rest), func(i, j int) { rest[i], rest[j] = rest[j], rest[i] })
		shuffled = append(append(shuffled, head...), bytes.Join(rest, nil)...)
	}
	sameEpochs(t, "order within the epoch", bare(readBytes(t, nmea.Options{}, shuffled)), want)
}

// A whole log may come on one line of several megabytes, and text of that length
// without any sentence in it costs nothing but time.
func TestVeryLongLines(t *testing.T) {
	log := bytes.ReplaceAll(dayLog(3000, time.Second), []byte("\r\n"), nil)
	if l := readBytes(t, nmea.Options{}, log); len(l.Epochs) != 3000 || l.Stats.Lines != 1 {
		t.Errorf("%d epochs on %d lines, want 3000 on 1", len(l.Epochs), l.Stats.Lines)
	}
	for _, filler := range []string{"x", "\x00", "$", "$GP", "$GPGGA,", "*00"} {
		junk := strings.Repeat(filler, 5<<20/len(filler))
		log := dayLog(10, time.Second)
		l := readBytes(t, nmea.Options{}, slices.Concat(log[:len(log)/2], []byte("\r\n"), []byte(junk), []byte("\r\n"), log[len(log)/2:]))
		if len(l.Epochs) != 10 || l.Stats.BadChecksum > 1 {
			t.Errorf("5 MB of %q: %d epochs, want 10; %d wrong checksums", filler, len(l.Epochs), l.Stats.BadChecksum)
		}
	}
}

func TestTruncatedGzip(t *testing.T) {
	var packed bytes.Buffer
	w := gzip.NewWriter(&packed)
	w.Write(dayLog(2000, time.Second))
	w.Close()
	for _, cut := range []int{packed.Len() / 2, packed.Len() - 4} {
		z, err := gzip.NewReader(bytes.NewReader(packed.Bytes()[:cut]))
		if err != nil {
			t.Fatal(err)
		}
		l, err := nmea.Read(context.Background(), []nmea.Source{{Name: "day.nmea.gz", R: z}}, nmea.Options{})
		if err != nil {
			t.Fatalf("cut at %d: %v", cut, err)
		}
		if len(l.Epochs) < 500 || l.Files[0].Err == nil || !strings.Contains(strings.Join(l.Warnings, "\n"), "day.nmea.gz: damaged or cut off") {
			t.Errorf("cut at %d: %d epochs, error %v, warnings %q", cut, len(l.Epochs), l.Files[0].Err, l.Warnings)
		}
	}
}

func TestFailingReader(t *testing.T) {
	broken := errors.New("device gone")
	r := io.MultiReader(bytes.NewReader(dayLog(10, time.Second)), iotest.ErrReader(broken))
	_, err := nmea.Read(context.Background(), []nmea.Source{{Name: "port", R: r}}, nmea.Options{})
	if !errors.Is(err, broken) || !strings.Contains(err.Error(), "reading port") {
		t.Errorf("got %v", err)
	}
	_, err = nmea.Read(context.Background(), []nmea.Source{{Name: "idle", R: idle{}}}, nmea.Options{})
	if !errors.Is(err, io.ErrNoProgress) {
		t.Errorf("a reader that gives nothing: got %v", err)
	}
}

type idle struct{}

func (idle) Read([]byte) (int, error) { return 0, nil }

// A reading that is called off returns at once, even while its source keeps it
// waiting.
func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	r, w := io.Pipe()
	defer w.Close()
	done := make(chan error, 1)
	go func() {
		_, err := nmea.Read(ctx, []nmea.Source{{Name: "pipe", R: r}}, nmea.Options{})
		done <- err
	}()
	w.Write(dayLog(1, time.Second))
	cancel()
	if err := <-done; !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

func TestProgress(t *testing.T) {
	log := dayLog(3000, time.Second)
	var seen []int64
	readBytes(t, nmea.Options{Progress: func(n int64) { seen = append(seen, n) }}, log, log)
	if !slices.IsSorted(seen) || len(seen) < 4 || seen[len(seen)-1] != int64(2*len(log)) {
		t.Errorf("progress %v, want a rise to %d", seen, 2*len(log))
	}
}

// gga makes a GGA sentence of a place north and east of 52 N 5 W, in metres.
func gga(at time.Time, talker string, quality int, north, east float64) string {
	lat := 6.1 + north/1853
	lon := 54.7 - east/1141
	return seal(fmt.Sprintf("%sGGA,%s,52%010.7f,N,004%010.7f,W,%d,12,0.8,45.412,M,46.914,M,1.0,0000", talker, at.Format("150405.00"), lat, lon, quality))
}

var morning = time.Date(2026, 11, 25, 9, 30, 0, 0, time.UTC)

// Two files of two receivers that ran at the same time are not mixed.
func TestTwoReceiversInTwoFiles(t *testing.T) {
	var rover, phone strings.Builder
	for i := range 60 {
		at := morning.Add(time.Duration(i) * time.Second)
		rover.WriteString(gga(at, "GN", 4, 0, float64(i)))
		phone.WriteString(gga(at.Add(300*time.Millisecond), "GN", 1, 3, float64(i)))
	}
	l := readBytes(t, nmea.Options{Reference: morning}, []byte(phone.String()), []byte(rover.String()))
	if got := qualities(l); got != "rtk_fixed 60" || l.Stats.OtherReceiver != 60 {
		t.Errorf("got %s, %d left out", got, l.Stats.OtherReceiver)
	}
	if text := strings.Join(l.Warnings, "\n"); !strings.Contains(text, "told apart by file: that with the better fixes is used (first at log2 line 1") {
		t.Errorf("warnings: %s", text)
	}
}

// A dozen good epochs of something else do not displace a day's.
func TestFewEpochsDisplaceNoDay(t *testing.T) {
	var log strings.Builder
	for i := range 600 {
		at := morning.Add(time.Duration(i) * time.Second)
		log.WriteString(gga(at, "GN", 4+i%9/8, 0, float64(i)))
		if i%50 == 20 {
			log.WriteString(gga(at.Add(500*time.Millisecond), "GP", 4, 3, float64(i)))
		}
	}
	l := readBytes(t, nmea.Options{Reference: morning}, []byte(log.String()))
	if len(l.Epochs) != 600 || l.Stats.OtherReceiver != 12 {
		t.Errorf("%d epochs, %d left out; want 600 and 12; %q", len(l.Epochs), l.Stats.OtherReceiver, l.Warnings)
	}
}

// One receiver that changes its talker, its rate or its place is one receiver.
func TestOneReceiverStaysOne(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	for name, make := range map[string]func(i int) string{
		"talker changes now and then": func(i int) string {
			return gga(morning.Add(time.Duration(i)*time.Second), []string{"GN", "GP"}[i/7%2], 2, 0, 1.2*float64(i))
		},
		"talker changes each second": func(i int) string {
			return gga(morning.Add(time.Duration(i)*time.Second), []string{"GN", "GP"}[i%2], 2, 0, 1.2*float64(i))
		},
		"restless": func(i int) string {
			return gga(morning.Add(time.Duration(i)*time.Second), "GN", 1, 2*random.NormFloat64(), 2*random.NormFloat64())
		},
		"zigzag": func(i int) string { // an operator who sweeps across the line
			return gga(morning.Add(time.Duration(i)*500*time.Millisecond), "GN", 4, math.Sin(float64(i)/2), 0.2*float64(i))
		},
		"uneven steps": func(i int) string {
			at := float64(i) + 0.4*float64(i%2)
			return gga(morning.Add(time.Duration(at*1e3)*time.Millisecond), "GN", 4, 0, at)
		},
	} {
		var log strings.Builder
		for i := range 200 {
			log.WriteString(make(i))
		}
		if l := readBytes(t, nmea.Options{Reference: morning}, []byte(log.String())); len(l.Epochs) != 200 {
			t.Errorf("%s: %d epochs, want 200; %q", name, len(l.Epochs), l.Warnings)
		}
	}
}

// Files without a date, cut every hour over midnight: the day of the readings is
// that of the first, and what follows midnight is the next day, in any order.
func TestUndatedFilesOverMidnight(t *testing.T) {
	start := time.Date(2026, 11, 25, 22, 30, 0, 0, time.UTC)
	var files [][]byte
	for h := range 4 {
		var log strings.Builder
		for i := range 60 {
			log.WriteString(gga(start.Add(time.Duration(h)*time.Hour+time.Duration(i)*time.Minute), "GN", 4, 0, float64(i)))
		}
		files = append(files, []byte(log.String()))
	}
	for _, order := range [][]int{{0, 1, 2, 3}, {3, 2, 1, 0}, {2, 0, 3, 1}} {
		l := readBytes(t, nmea.Options{Reference: morning}, files[order[0]], files[order[1]], files[order[2]], files[order[3]])
		if len(l.Epochs) != 240 || !l.Stats.From.Equal(start) || !l.Stats.To.Equal(start.Add(3*time.Hour+59*time.Minute)) || !l.DateAssumed || l.DateUnknown {
			t.Errorf("order %v: %d epochs from %s to %s, assumed %t", order, len(l.Epochs), l.Stats.From, l.Stats.To, l.DateAssumed)
		}
	}
}

// A file without a date takes that of the receiver's other files, not that of the
// readings.
func TestUndatedFileBesideDatedOnes(t *testing.T) {
	dated := dayLog(60, time.Second) // from 06:00 on the 25th
	undated := gga(time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC), "GN", 4, 0, 0)
	l := readBytes(t, nmea.Options{Reference: morning.AddDate(0, 0, 9)}, []byte(undated), dated)
	if want := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC); !l.Stats.To.Equal(want) || !l.DateAssumed {
		t.Errorf("got %s, want %s", l.Stats.To, want)
	}
}

func TestRolloverByReference(t *testing.T) {
	for _, c := range []struct{ told, reference, want string }{
		{"110407", "2026-11-25", "2026-11-25"}, // 1024 weeks
		{"260887", "2026-11-25", "2026-11-25"}, // twice
		{"110407", "2026-12-01", "2026-11-25"}, // the readings are of another day of the job
		{"110407", "2016-11-25", "2007-04-11"}, // years apart, but not by weeks that roll over
		{"251126", "2026-11-20", "2026-11-25"}, // nothing to mend
		{"251126", "2007-04-11", "2007-04-11"}, // a receiver that is late by the same weeks
	} {
		reference, err := time.Parse(time.DateOnly, c.reference)
		if err != nil {
			t.Fatal(err)
		}
		log := seal("GNRMC,093000.00,A,5206.1234567,N,00454.7654321,W,1.944,84.4," + c.told + ",,,R,V")
		l := readBytes(t, nmea.Options{Reference: reference}, []byte(log))
		got := l.Stats.From.Format(time.DateOnly)
		if got != c.want {
			t.Errorf("%+v: got %s", c, got)
		}
		if mended := strings.Contains(strings.Join(l.Warnings, "\n"), "rolled over"); mended != (got != "20"+c.told[4:]+"-"+c.told[2:4]+"-"+c.told[:2]) {
			t.Errorf("%+v: warnings %q", c, l.Warnings)
		}
	}
}

func TestSniff(t *testing.T) {
	for name, c := range map[string]struct {
		head string
		want bool
	}{
		"a log":               {string(dayLog(1, time.Second)), true},
		"prefixed":            {"2026-11-25 09:30:00 " + seal("PXYZ,1"), true},
		"binary first":        {strings.Repeat("\xb5b\x01\x07\x00\r\n", 500) + seal("GNGSA,A,1"), true},
		"no checksums":        {strings.Repeat("$GPGLL,5206.1,N,00454.7,W,093000,A\r\n", 2), true},
		"one without":         {"$GPGLL,5206.1,N,00454.7,W,093000,A\r\n", false},
		"readings":            {"time,line,depth_m\n2026-11-25T09:30:00Z,L1,1.23\n", false},
		"money":               {"item;price\npipe;$GP12,50\n", false},
		"GSV without a sum":   {strings.Repeat("$GPGSV,1,1,00\r\n", 2), false},
		"heading without":     {strings.Repeat("$GPHDT,1.0,T\r\n", 2), false},
		"wrong checksum":      {"$GPGLL,5206.1,N,00454.7,W,093000,A*00\r\n", false},
		"GeoJSON":             {`{"type":"FeatureCollection","features":[]}`, false},
		"nothing":             {"", false},
		"a page with a start": {"<p>$GPGGA,</p>", false},
	} {
		if got := nmea.Sniff([]byte(c.head)); got != c.want {
			t.Errorf("%s: got %t", name, got)
		}
	}
}

// Published sentences with what their sources say is in them: the gpsd project's
// "NMEA Revealed", a receiver maker's page on GST, a public issue of a parser.
func TestPublishedSentences(t *testing.T) {
	for _, c := range []struct {
		log   string
		check func(e *nmea.Epoch) bool
	}{
		{"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47", func(e *nmea.Epoch) bool {
			return e.Lat == 48+7.038/60 && e.Lon == 11+31.0/60 && math.Abs(e.Height()-592.3) < 1e-5 && e.Sats == 8 && e.Quality == nmea.QualityAutonomous
		}},
		{"$GNGGA,001043.00,4404.14036,N,12118.85961,W,1,12,0.98,1113.0,M,-21.3,M*47", func(e *nmea.Epoch) bool { // the last two fields missing
			return e.Lon < -121.31 && e.Sep == -21.3 && math.IsNaN(float64(e.Age))
		}},
		{"$GNGNS,094507.00,5121.23052,N,01159.45724,E,DAAN,21,0.81,94.3,45.0,,0000,V*2F\n$GNGST,094507.00,34,,,,1.3,1.5,2.5*40\n$GNRMC,094507.00,A,5121.23052,N,01159.45724,E,0.030,,020119,,,D,V*1B", func(e *nmea.Epoch) bool {
			return e.Quality == nmea.QualityDGPS && e.Sats == 21 && e.SigmaN == 1.3 && e.SigmaE == 1.5 && e.SigmaU == 2.5 && e.CovNE == 0 &&
				e.UTC().Equal(time.Date(2019, 1, 2, 9, 45, 7, 0, time.UTC)) && math.IsNaN(float64(e.Course))
		}},
		{"$GPGNS,112257.00,3844.24011,N,00908.43828,W,AN,03,10.5,,*57", func(e *nmea.Epoch) bool { // two modes, no height
			return e.Quality == nmea.QualityAutonomous && math.IsNaN(e.Alt) && math.IsNaN(e.Height())
		}},
		{"$GNRMC,001031.00,A,4404.13993,N,12118.86023,W,0.146,,100117,,,A*7B", func(e *nmea.Epoch) bool {
			return e.UTC().Equal(time.Date(2017, 1, 10, 0, 10, 31, 0, time.UTC)) && math.Abs(float64(e.Speed)-0.146*1852/3600) < 1e-7
		}},
	} {
		l := readBytes(t, nmea.Options{}, []byte(c.log+"\r\n"))
		if len(l.Epochs) != 1 || !c.check(&l.Epochs[0]) {
			t.Errorf("%s: got %+v, aside %v", c.log, l.Epochs, l.Aside)
		}
	}
	none := readBytes(t, nmea.Options{}, []byte("$GNRMC,000000.00,V,,,,,,,251126,,,N,V*1A\r\n$GPGGA,142305.20,,,,,0,00,99.99,,,,,,*65\r\n"))
	if len(none.Epochs) != 0 || none.Stats.Fix["none"] != 2 || none.Stats.Malformed != 0 {
		t.Errorf("no fix: got %+v", none)
	}
}
