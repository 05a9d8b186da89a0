package nmea

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"
)

// framed is what a slow and plain framer counts.
type framed struct{ right, wrong, none, overlong int }

var (
	startShape = regexp.MustCompile(`\$[A-Z][A-Z0-9]{2,9}[,*]|![A-Z]{2}VD[MO],`)
	bareShape  = regexp.MustCompile(`^[A-OQ-Z][A-Z](GGA|GNS|RMC|GLL|GST|ZDA|GSA|VTG|GSV|HDT|THS),`)
	sumShape   = regexp.MustCompile(`\*[0-9A-Fa-f]{2}`)
	wordShape  = regexp.MustCompile(`[0-9A-Za-z]`)
)

// frameSlowly finds sentences by the rule alone: from a start to the next start
// or to a byte that no text has. Where the '$' is missing, no other sentence stands
// there, and a line end or the end of one with its '$' is near.
func frameSlowly(data []byte) (n framed) {
	starts := map[int]bool{}
	for _, s := range startShape.FindAllIndex(data, -1) {
		starts[s[0]] = true
	}
	from := 0 // behind the last line end, or what counts as one
	for at := 0; at < len(data); {
		whole := starts[at]
		bare := !whole && at-from <= bareReach && bareShape.Match(data[at:min(len(data), at+6)]) &&
			(at == from || !wordShape.Match(data[at-1:at]))
		if !whole && !bare {
			if c := data[at]; c < 0x20 && c != '\t' || c > 0x7E {
				from = at + 1
			}
			at++
			continue
		}
		begin := at
		if whole {
			begin++
		}
		end := begin
		for end < len(data) && !starts[end] && data[end] >= 0x20 && data[end] <= 0x7E {
			end++
		}
		text := data[begin:min(end, begin+maxSentence-1)]
		at = begin + len(text)
		switch sum := sumShape.FindIndex(text); {
		case sum == nil:
			n.none++
			if len(text) == maxSentence-1 {
				n.overlong++
			}
		default:
			at = begin + sum[1]
			var x byte
			for _, c := range text[:sum[0]] {
				x ^= c
			}
			if want, _ := strconv.ParseUint(string(text[sum[0]+1:sum[1]]), 16, 8); byte(want) == x {
				n.right++
			} else {
				n.wrong++
			}
		}
		if whole {
			from = at
		}
	}
	return n
}

// dirt draws a log out of sentences and everything that gets between them.
func dirt(t *rapid.T) []byte {
	var log []byte
	tod := rapid.IntRange(0, 86399).Draw(t, "tod")
	for range rapid.IntRange(0, 40).Draw(t, "pieces") {
		switch rapid.IntRange(0, 11).Draw(t, "piece") {
		case 0, 1, 2, 3:
			tod = (tod + rapid.IntRange(0, 2).Draw(t, "step")) % 86400
			log = append(log, drawSentence(t, tod)...)
		case 4:
			s := drawSentence(t, tod)
			log = append(log, s[:rapid.IntRange(1, len(s)-1).Draw(t, "cut")]...)
		case 5:
			s := drawSentence(t, tod)
			s[rapid.IntRange(1, len(s)-1).Draw(t, "where")] = rapid.Byte().Draw(t, "byte")
			log = append(log, s...)
		case 6:
			log = append(log, rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "binary")...)
		case 7:
			log = append(log, rapid.SampledFrom([]string{"\n", "\r\n", "\r", "\r\r\n", "\x00", "$", "$$", "!", "*", "*5", "*zz", " ", "\t", "$GP", "!AIVDM,"}).Draw(t, "bit")...)
		case 8:
			log = append(log, bytes.Repeat([]byte{rapid.SampledFrom([]byte("x \x00$*\r")).Draw(t, "filler")}, rapid.IntRange(1, 2500).Draw(t, "length"))...)
		case 9:
			log = append(log, "$GPTXT,"...)
			log = append(log, bytes.Repeat([]byte("long "), rapid.IntRange(180, 220).Draw(t, "words"))...)
		case 10:
			log = append(log, rapid.SampledFrom([]string{"2026-11-25T09:30:00Z ", "\\s:a,c:1*1A\\", "NMEA,", "# remark"}).Draw(t, "prefix")...)
		case 11:
			log = append(log, "!AIVDM,1,1,,A,13aG?P0P00PD;88MD5MTDww@2D0k,0*66\r\n"...)
		}
	}
	if rapid.IntRange(0, 2).Draw(t, "stripped") == 0 { // some or all sentences lose their '$'
		every := rapid.IntRange(1, 3).Draw(t, "every")
		n := 0
		log = bytes.Map(func(r rune) rune {
			if r == '$' {
				if n++; n%every == 0 {
					return -1
				}
			}
			return r
		}, log)
	}
	return log
}

// drawSentence draws a sentence of a kind that is read, of the given second.
func drawSentence(t *rapid.T, tod int) []byte {
	clock := fmt.Sprintf("%02d%02d%02d.00", tod/3600, tod/60%60, tod%60)
	place := fmt.Sprintf("5206.%04d,N,00454.%04d,W", rapid.IntRange(0, 9999).Draw(t, "lat"), rapid.IntRange(0, 9999).Draw(t, "lon"))
	q := rapid.IntRange(0, 9).Draw(t, "q")
	body := rapid.SampledFrom([]string{
		fmt.Sprintf("GNGGA,%s,%s,%d,08,0.9,45.4,M,46.9,M,,", clock, place, q),
		fmt.Sprintf("GNRMC,%s,A,%s,1.9,84.4,251126,,,R,V", clock, place),
		fmt.Sprintf("GNRMC,%s,V,,,,,,,060180,,,N,V", clock),
		fmt.Sprintf("GNGNS,%s,%s,RRNN,17,0.7,45.4,46.9,,", clock, place),
		fmt.Sprintf("GPGLL,%s,%s,A", place, clock),
		fmt.Sprintf("GNGST,%s,1,0.015,0.009,37.5,0.013,0.012,0.022", clock),
		fmt.Sprintf("GNZDA,%s,25,11,2026,00,00", clock),
		"GNGSA,A,3,80,71,,,,,,,,,,,1.83,1.09,1.47,2",
		"GNVTG,84.4,T,,M,1.9,N,3.5,K,D",
		"PXXXX,1,2,3",
		fmt.Sprintf("GPHDT,%d.25,T", rapid.IntRange(0, 400).Draw(t, "heading")),
		"GNTHS,84.4,A",
		fmt.Sprintf("GPGSV,%d,1,04,02,25,061,%02d,1", rapid.IntRange(1, 2).Draw(t, "groups"), q),
		"GPGSV,2,2,05,07,48,066,,1",
		"IIMWV,214.8,R,0.1,K,A",
		"IIMWV,",
		"GPTXT,01",
	}).Draw(t, "body")
	end := rapid.SampledFrom([]string{"\r\n", "\n", "", "\r", " \r\n"}).Draw(t, "end")
	if rapid.IntRange(0, 5).Draw(t, "sum") == 0 {
		return []byte("$" + body + end)
	}
	return fmt.Appendf(nil, "$%s*%02X%s", body, xor([]byte(body)), end)
}

func readChunked(t interface{ Fatal(...any) }, r io.Reader, size int) *Log {
	l, err := Read(context.Background(), []Source{{Name: "log", R: r}}, Options{chunk: size})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// However a log is cut into chunks, and in however small pieces it arrives, the
// result is the same to the last count.
func TestAnyCutGivesTheSameLog(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		log := dirt(t)
		want := fmt.Sprintf("%+v", readChunked(t, bytes.NewReader(log), 1<<20))
		size := rapid.IntRange(1, 300).Draw(t, "size")
		if got := fmt.Sprintf("%+v", readChunked(t, bytes.NewReader(log), size)); got != want {
			t.Fatalf("chunks of %d bytes:\ngot  %s\nwant %s\nlog %q", size, got, want, log)
		}
		if got := fmt.Sprintf("%+v", readChunked(t, iotest.HalfReader(iotest.DataErrReader(bytes.NewReader(log))), size)); got != want {
			t.Fatalf("a slow reader, chunks of %d bytes:\ngot  %s\nwant %s\nlog %q", size, got, want, log)
		}
	})
}

// The counts are those of a slow and plain framer, and add up.
func TestCountsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		log := dirt(t)
		checkLog(t, Plain(log), readChunked(t, bytes.NewReader(log), 4096))
	})
}

// checkLog holds what must be true of any log whatever.
func checkLog(t interface {
	Fatalf(string, ...any)
}, raw []byte, l *Log) {
	s := l.Stats
	n := framed{wrong: s.BadChecksum, none: s.NoChecksum, overlong: s.Overlong}
	for _, k := range s.Sentences {
		n.right += k
	}
	if want := frameSlowly(raw); n != want {
		t.Fatalf("sentences: got %+v, want %+v, in %q", n, want, raw)
	}
	lines := int64(bytes.Count(raw, []byte{'\n'}))
	if len(raw) > 0 && raw[len(raw)-1] != '\n' {
		lines++
	}
	if s.Lines != lines || s.Bytes != int64(len(raw)) || l.Files[0].Lines != lines || l.Files[0].Sentences != n.right+n.wrong+n.none {
		t.Fatalf("lines %d, bytes %d, want %d and %d, in %q", s.Lines, s.Bytes, lines, len(raw), raw)
	}
	fixes := 0
	for _, k := range s.Fix {
		fixes += k
	}
	fixes -= s.Fix["none"] + s.Fix["manual"] + s.Fix["simulator"]
	if fixes != len(l.Epochs) || s.Epochs != len(l.Epochs) || l.Files[0].Epochs != len(l.Epochs) {
		t.Fatalf("%d epochs, counted as %d, by quality %d, in %q", len(l.Epochs), s.Epochs, fixes, raw)
	}
	for i := range l.Epochs {
		e := &l.Epochs[i]
		if i > 0 && l.Epochs[i-1].Nanos >= e.Nanos {
			t.Fatalf("epoch %d does not come behind the one before, in %q", i, raw)
		}
		if !(math.Abs(e.Lat) <= 90 && math.Abs(e.Lon) <= 180) || e.Lat == 0 && e.Lon == 0 || int64(e.Line) < 1 || int64(e.Line) > lines {
			t.Fatalf("epoch %d: %+v, in %q", i, *e, raw)
		}
	}
}

// FuzzRead feeds anything at all: no panic, no hang, counts that add up, and the
// same result in small chunks.
func FuzzRead(f *testing.F) {
	f.Add([]byte("$GNGGA,093000.00,5206.1234567,N,00454.7654321,W,4,17,0.71,45.412,M,46.914,M,1.2,0000*4E\r\n$GNRMC,093000.00,A,5206.1234567,N,00454.7654321,W,1.944,84.4,251126,,,R,V*06\r\n"))
	f.Add([]byte("$GPGLL,0000.0001,N,00000.0001,E,235960.00,A\n\x00\xb5b$GNZDA,000000,01,01,2017,,*52"))
	f.Add([]byte("\xff\xfe$\x00G\x00P\x00G\x00L\x00L\x00,\x00*\x003\x000\x00\n\x00"))
	f.Add([]byte("\"$GPGLL\";\"5206.1234\";\"N\";\"00454.7654\";\"W\";\"093000\";\"A\"*30\nGPGLL,-5206.1,N,00454.7,W,093000,A\r\nGPGLL,5206.1,N,00454.7,W,093001,A\r\n"))
	f.Add([]byte("!AIVDM,1,1,,A,13aG?P0P00PD;88MD5MTDww@2D0k,0*66$GPGSA,A,1,,,,,,,,,,,,,,,*1E$GP"))
	samples, err := filepath.Glob("../testdata/nmea/*.nmea")
	if err != nil || len(samples) == 0 {
		f.Fatal("no samples", err)
	}
	for _, name := range samples {
		raw, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(raw[:min(len(raw), 1500)])
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		l := readChunked(t, bytes.NewReader(raw), 4*len(raw)+16)
		checkLog(t, Plain(raw), l)
		if small := readChunked(t, bytes.NewReader(raw), 32); fmt.Sprintf("%+v", small) != fmt.Sprintf("%+v", l) {
			t.Fatalf("chunks of 32 bytes: got %+v, want %+v", small, l)
		}
		Sniff(raw)
	})
}
