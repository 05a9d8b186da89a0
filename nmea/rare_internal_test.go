package nmea

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
)

// line makes a whole sentence of what stands between '$' and '*'.
func line(body string) string { return fmt.Sprintf("$%s*%02X\r\n", body, xor([]byte(body))) }

// A heading counts where two antennas measured it, and an empty field is none.
func TestHeading(t *testing.T) {
	nothing := math.NaN()
	for body, want := range map[string]float64{
		"GPHDT,274.07,T": 274.07, // the library's own examples
		"GPTHS,338.01,A": 338.01,
		"INHDT,0,T":      0,
		"GNHDT,360.0,T":  360,
		"GNHDT,,T":       nothing,
		"GNTHS,,V":       nothing,
		"GNTHS,10.0,V":   nothing,
		"GNTHS,10.0,E":   nothing,
		"GNTHS,10.0,M":   nothing,
		"GNTHS,10.0,S":   nothing,
		"GNTHS,10.0":     nothing,
		"GNHDT,10.0":     nothing,
		"GNHDT,10.0,":    nothing,
		"GNHDT,10.0,M":   nothing,
		"GNHDT,-1,T":     nothing,
		"GNHDT,NaN,T":    nothing,
		"GNHDT,Inf,T":    nothing,
		"GNHDT,1e9,T":    nothing,
		"HEHDT,10.0,T":   nothing, // a gyro compass
		"HCHDT,10.0,T":   nothing, // a magnetic one
		"GNHDT":          nothing,
		"GNTHS,":         nothing,
	} {
		var r record
		var l library
		got := nothing
		if l.heading([]byte(line(body)), &r) {
			got = float64(r.course)
		}
		if math.Abs(got-want) > 1e-4 || math.IsNaN(got) != math.IsNaN(want) { // degrees: float32 keeps 1e-5
			t.Errorf("%s: got %v, want %v", body, got, want)
		}
	}
}

// In a real log of a ship every epoch has its heading behind it.
func TestHeadingOfRealLog(t *testing.T) {
	l := readChunked(t, bytes.NewReader(realLogs(t)["ship-ingga-timestamped.log"]), chunkSize)
	for i := range l.Epochs {
		if isNaN(l.Epochs[i].Heading) {
			t.Fatalf("epoch %d of %d has no heading", i, len(l.Epochs))
		}
	}
	if len(l.Epochs) != 625 || l.Epochs[0].Heading != 218.26 || l.Epochs[1].Heading != 217.99 {
		t.Errorf("%d epochs, headings %v, %v, want 218.26, 217.99", len(l.Epochs), l.Epochs[0].Heading, l.Epochs[1].Heading)
	}
	if why := l.Stats.Other["PSXN"]; why != (Other{1875, "not known"}) {
		t.Errorf("PSXN: got %+v", why)
	}
}

// What makes the library panic, and what it refuses, costs nothing but the
// sentence. The first three are known to crash version 1.10.0.
func TestOthers(t *testing.T) {
	for body, want := range map[string]Other{
		"GNTXT":          {1, "not looked into"},
		"GPTXT,01":       {1, "not looked into"},
		"GNALC":          {1, "not looked into"},
		"PTXT":           {1, "not looked into"},
		"TXT":            {1, "not looked into"},
		"GPROT,0.4,A":    {1, ""},
		"GPROT,fast,A":   {1, "invalid rate of turn: fast"},
		"PINVX,1,2":      {1, "not known"},
		"GPGRS,101010.0": {1, "not known"},
		"GPGSV,3,1,11,03,03.5,111,00,04,15,270,00":  {1, "invalid elevation: 03.5"},
		"GPROT," + strings.Repeat("9x", 200) + ",A": {1, "invalid rate of turn: 9x9x9x9x9x9x9x9x9x9x9x9x9x9x9x9x9x9x9x…"},
	} {
		l := readChunked(t, strings.NewReader(line(body)), chunkSize)
		got := l.Stats.Other
		if len(got) != 1 {
			t.Errorf("%s: got %v", body, got)
		}
		for name, o := range got {
			if o != want || l.Stats.Sentences[name] != 1 {
				t.Errorf("%s: got %s %+v, want %+v", body, name, o, want)
			}
		}
	}
}

// FuzzLibrary feeds the library any sentence at all: it may refuse, not panic.
func FuzzLibrary(f *testing.F) {
	for _, body := range []string{"GNTXT", "GNALC", "GPGSV,3,1,11,03,03,111,00", "GPHDT,274.07,T", "GPTHS,338.01,A", "PMTK001,1", "AIVDM,1,1,,A,13aG?P0P00PD;88MD5MTDww@2D0k,0"} {
		f.Add(body)
	}
	f.Fuzz(func(t *testing.T, body string) {
		log := []byte(line(body))
		s := newScanner(log, false)
		var found sentence
		if !s.next(&found) || found.sum != ChecksumRight {
			return
		}
		var l library
		var r record
		if l.heading(log[found.at:], &r) && !(r.course >= 0 && r.course <= 360) {
			t.Errorf("%q: heading %v", body, r.course)
		}
	})
}

// The satellites and C/N0 of a real log's first epoch, counted by a script of
// twenty lines that splits the text at commas.
func TestSkyOfRealLogs(t *testing.T) {
	logs := realLogs(t)
	for name, want := range map[string]Sky{
		"f9p-static-gst.log": {1, map[string]float64{"GPS": 12, "GLONASS": 10, "Galileo": 9, "BeiDou": 10}, 741.0 / 29},
		"static-gst.log":     {1, map[string]float64{"GPS": 13, "BeiDou": 3}, 269.0 / 11},
	} {
		got := readChunked(t, bytes.NewReader(logs[name]), chunkSize).Sky
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%s: got %v, want %v", name, got, want)
		}
	}
	for name, raw := range logs {
		l := readChunked(t, bytes.NewReader(raw), chunkSize)
		if n := l.Stats.Sentences["GSV"]; l.Sky.Looks != n/lookEvery+min(n%lookEvery, 1) {
			t.Errorf("%s: %d looks at %d GSV", name, l.Sky.Looks, n)
		}
		if _, refused := l.Stats.Other["GSV"]; refused {
			t.Errorf("%s: GSV is not read", name)
		}
	}
}

// Looks fall on the same GSV however the log is cut, and see all of an epoch
// though it is begun in the middle.
func TestLooksDoNotDependOnChunks(t *testing.T) {
	var log strings.Builder
	for i := 0; i < 3*lookEvery; i += 5 {
		log.WriteString(line(fmt.Sprintf("GPGSV,2,1,06,01,25,061,%02d,02,61,210,44,03,48,066,45,04,28,104,41", i*7%50)))
		log.WriteString(line("GPGSV,2,2,06,05,52,289,46,06,22,301,"))
		log.WriteString(line("GLGSV,2,1,05,65,43,053,41,66,31,121,39,67,16,020,33,68,24,281,37"))
		log.WriteString(line(fmt.Sprintf("GLGSV,2,2,05,%d,12,331,30", 69+i%3)))
		log.WriteString(line("GBGSV,1,1,00"))
	}
	want := readChunked(t, strings.NewReader(log.String()), 1<<20).Sky
	if want.Looks != 3 || want.InView["GPS"] != 6 || want.InView["GLONASS"] != 5 || math.IsNaN(want.CN0) {
		t.Errorf("got %+v", want)
	}
	for _, size := range []int{1, 64, 1000, 4096} {
		if got := readChunked(t, strings.NewReader(log.String()), size).Sky; fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("chunks of %d bytes: got %v, want %v", size, got, want)
		}
	}
	// A type that starts no group takes no more than its share.
	var rest looker
	endless := strings.Repeat(line("GPGSV,2,2,06,05,52,289,46,06,22,301,"), 100)
	starts := make([]uint32, 100)
	for i := range starts {
		starts[i] = uint32(i * len(endless) / 100)
	}
	if rest.take([]byte(endless), starts); rest.next != lookEvery || rest.seen != 100 {
		t.Errorf("after 100 rests of groups: next look at %d", rest.next)
	}
}
