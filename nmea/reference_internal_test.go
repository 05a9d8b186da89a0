package nmea

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	gonmea "github.com/adrianmo/go-nmea"
)

// The reference for the fields of a sentence is github.com/adrianmo/go-nmea
// v1.10.0. It takes empty fields for 0, does not know GST and refuses some good
// sentences; what both take they must read alike.

// referenceParse parses a sentence by the reference; nil where it refuses or
// panics, which TXT and ALC make it do.
func referenceParse(line string) (out gonmea.Sentence) {
	defer func() {
		if recover() != nil {
			out = nil
		}
	}()
	var p gonmea.SentenceParser
	s, err := p.Parse(line)
	if err != nil {
		return nil
	}
	return s
}

// parseLine reads a single sentence by our own parser.
func parseLine(line []byte) (r record, f fields, read, ok bool) {
	var found sentence
	s := newScanner(line, false)
	if !s.next(&found) || found.sum != ChecksumRight {
		return r, f, false, false
	}
	k := kindOf(found.addr)
	if k >= kindCount {
		return r, f, false, false
	}
	ok = k.read(&found, &f, &r)
	return r, f, true, ok
}

// agree compares a record with the reference's reading of the same sentence. A
// field is named by its number.
func agree(r *record, s gonmea.Sentence, field func(int) string) error {
	switch m := s.(type) {
	case gonmea.GGA:
		return firstError(sameClock(r, m.Time), samePlace(r, m.Latitude, m.Longitude, field, 2),
			sameQuality(r, field(6)), sameCount(int(r.sats), m.NumSatellites),
			samePositive("HDOP", r.hdop, m.HDOP), sameNumber("altitude", r.alt, m.Altitude, field(9) != "" && field(10) == "M"),
			sameNumber("separation", float64(r.sep), float64(float32(m.Separation)), field(11) != "" && field(12) == "M"))
	case gonmea.GNS:
		return firstError(sameClock(r, m.Time), samePlace(r, m.Latitude, m.Longitude, field, 2),
			sameCount(int(r.sats), m.SVs), samePositive("HDOP", r.hdop, m.HDOP),
			sameNumber("altitude", r.alt, m.Altitude, field(9) != ""),
			sameNumber("separation", float64(r.sep), float64(float32(m.Separation)), field(10) != ""),
			sameNumber("age", float64(r.age), float64(float32(m.Age)), field(11) != ""))
	case gonmea.RMC:
		return firstError(sameClock(r, m.Time), samePlace(r, m.Latitude, m.Longitude, field, 3), sameDate(r, m.Date),
			sameNumber("speed", float64(r.speed), float64(float32(m.Speed*knot)), field(7) != ""),
			sameNumber("course", float64(r.course), float64(float32(m.Course)), field(8) != ""))
	case gonmea.GLL:
		return firstError(sameClock(r, m.Time), samePlace(r, m.Latitude, m.Longitude, field, 1))
	case gonmea.ZDA:
		if m.Year < 100 || m.Day == 0 || m.Month == 0 {
			return nil // two digits, or empty: the reference leaves the year as it is
		}
		return firstError(sameClock(r, m.Time), sameCount(int(r.date), int64(daysOf(int(m.Year), int(m.Month), int(m.Day)))))
	case gonmea.GSA:
		return firstError(samePositive("HDOP", r.hdop, m.HDOP), samePositive("VDOP", r.vdop, m.VDOP))
	case gonmea.VTG:
		if field(2) != "T" || field(6) != "N" {
			return nil
		}
		return firstError(sameNumber("speed", float64(r.speed), float64(float32(m.GroundSpeedKnots*knot)), field(5) != ""),
			sameNumber("course", float64(r.course), float64(float32(m.TrueTrack)), field(1) != ""))
	}
	return fmt.Errorf("the reference reads a %T", s)
}

func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func sameClock(r *record, t gonmea.Time) error {
	if !t.Valid {
		if r.clock != noTime {
			return fmt.Errorf("time: got %d, want none", r.clock)
		}
		return nil
	}
	want := int64(((t.Hour*60+t.Minute)*60+t.Second)*1000+t.Millisecond) * 1e6
	if d := r.clock - want; d < -1e6 || d > 1e6 { // the reference keeps whole milliseconds
		return fmt.Errorf("time: got %d ns, want %d", r.clock, want)
	}
	return nil
}

// samePlace compares positions. 1e-12 degrees are 0.1 µm: the reference takes
// degrees and minutes apart in floating point.
func samePlace(r *record, lat, lon float64, field func(int) string, first int) error {
	if field(first) == "" || field(first+2) == "" {
		if r.pos {
			return fmt.Errorf("a place out of empty fields")
		}
		return nil
	}
	if math.Abs(r.lat-lat) > 1e-12 || math.Abs(r.lon-lon) > 1e-12 {
		return fmt.Errorf("place: got %v %v, want %v %v", r.lat, r.lon, lat, lon)
	}
	return nil
}

func sameQuality(r *record, text string) error {
	if want, err := strconv.Atoi(text); err == nil && Quality(want) != r.quality {
		return fmt.Errorf("quality: got %d, want %d", r.quality, want)
	}
	return nil
}

func sameDate(r *record, d gonmea.Date) error {
	if !d.Valid {
		if r.date != noDate {
			return fmt.Errorf("date: got %d, want none", r.date)
		}
		return nil
	}
	return sameCount(int(r.date), int64(daysOf(fullYear(d.YY), d.MM, d.DD)))
}

func sameCount(got int, want int64) error {
	if int64(got) != want {
		return fmt.Errorf("whole number: got %d, want %d", got, want)
	}
	return nil
}

func sameNumber(name string, got, want float64, told bool) error {
	if told && got != want || !told && !math.IsNaN(got) {
		return fmt.Errorf("%s: got %v, want %v (told: %t)", name, got, want, told)
	}
	return nil
}

func samePositive(name string, got float32, want float64) error {
	return sameNumber(name, float64(got), float64(float32(want)), want > 0)
}

// fieldsOf gives a sentence's fields by number.
func fieldsOf(line string) func(int) string {
	line, _, _ = strings.Cut(line, "*")
	parts := strings.Split(line, ",")
	return func(i int) string {
		if i < len(parts) {
			return parts[i]
		}
		return ""
	}
}

// refusedByReference lists, by what is in them, the good sentences that the
// reference does not take; each is one of its known limits.
var refusedByReference = []struct {
	why string
	is  func(field func(int) string, fields int) bool
}{
	{"quality 7, 8 and 9", func(f func(int) string, _ int) bool {
		return strings.HasSuffix(f(0), "GGA") && strings.Contains("789", f(6))
	}},
	{"no quality, or a status other than A and V", func(f func(int) string, _ int) bool {
		return strings.HasSuffix(f(0), "GGA") && f(6) == "" || strings.HasSuffix(f(0), "GLL") && f(6) == ""
	}},
	{"fields missing at the end", func(f func(int) string, n int) bool {
		least := map[string]int{"GGA": 14, "GNS": 12, "RMC": 11, "GLL": 6, "ZDA": 6, "VTG": 8, "GSA": 17}
		return n < least[f(0)[len(f(0))-3:]]
	}},
}

// TestReferenceOnRealLogs holds every sentence of the kinds that are read, of
// every real log, against the reference.
func TestReferenceOnRealLogs(t *testing.T) {
	compared := map[kind]int{}
	for name, raw := range realLogs(t) {
		s := newScanner(raw, false)
		var found sentence
		for s.next(&found) {
			if found.sum != ChecksumRight || kindOf(found.addr) >= kindCount || kindOf(found.addr) == kindGST {
				continue
			}
			line := rebuild(&found)
			r, f, _, ok := parseLine([]byte(line))
			ref := referenceParse(strings.TrimSpace(line))
			switch {
			case ref == nil && !ok, ok && f.reason != "":
				t.Errorf("%s line %d: %s: field %d: %s", name, found.line, line, f.fault, f.reason)
			case ref == nil:
				if !knownRefusal(line) {
					t.Errorf("%s line %d: read, but the reference refuses %s", name, found.line, line)
				}
			case !ok:
				t.Errorf("%s line %d: the reference reads what we refuse (field %d, %s): %s", name, found.line, f.fault, f.reason, line)
			default:
				if err := agree(&r, ref, fieldsOf(line)); err != nil {
					t.Errorf("%s line %d: %v: %s", name, found.line, err, line)
				}
				compared[r.kind]++
			}
		}
	}
	for k := range kindCount {
		if k != kindGST && compared[k] < 100 {
			t.Errorf("only %d sentences of %s were compared", compared[k], kinds[k].name)
		}
	}
}

func knownRefusal(line string) bool {
	field := fieldsOf(line)
	for _, known := range refusedByReference {
		if known.is(field, strings.Count(line, ",")) {
			return true
		}
	}
	return false
}

// rebuild gives a framed sentence alone on its line.
func rebuild(s *sentence) string {
	inner := string(s.addr)
	if s.body != nil {
		inner += "," + string(s.body)
	}
	return fmt.Sprintf("$%s*%02X\r\n", inner, xor([]byte(inner)))
}

// realLogs reads the logs beside the repository.
func realLogs(t testing.TB) map[string][]byte {
	root := os.Getenv("TRACEMAP_SHARED")
	if root == "" {
		root = "../../shared"
	}
	dir := filepath.Join(root, "nmea")
	entries, err := os.ReadDir(dir)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("the real logs are missing: %v", err)
		}
		t.Skipf("the real logs are missing: %v", err)
	}
	logs := map[string][]byte{}
	for _, e := range entries {
		switch filepath.Ext(e.Name()) {
		case ".log", ".nmea", ".ubx":
			raw, err := os.ReadFile(filepath.Join(dir, e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			logs[e.Name()] = raw
		}
	}
	if len(logs) < 17 {
		t.Fatalf("found %d real logs, too few", len(logs))
	}
	return logs
}

// wellFormed is what the standard's shape of the sentences is, as far as the
// fields are read here: these both must take.
var wellFormed = map[string]*regexp.Regexp{
	"GGA": regexp.MustCompile(`^G[NP]GGA,` + clockShape + `,` + placeShape + `,[0-6],\d{1,2},\d{1,2}(\.\d{1,4})?,-?\d{1,5}(\.\d{1,4})?,M,-?\d{1,3}(\.\d{1,4})?,M,(\d{1,3}(\.\d)?)?,(\d{4})?$`),
	"GNS": regexp.MustCompile(`^G[NP]GNS,` + clockShape + `,` + placeShape + `,[NADPRFEMS]{1,6},\d{1,2},\d{1,2}(\.\d{1,4})?,-?\d{1,5}(\.\d{1,4})?,-?\d{1,3}(\.\d{1,4})?,(\d{1,3}(\.\d)?)?,(\d{4})?$`),
	"RMC": regexp.MustCompile(`^G[NP]RMC,` + clockShape + `,[AV],` + placeShape + `,(\d{1,3}(\.\d{1,4})?)?,(\d{1,3}(\.\d{1,4})?)?,(0[1-9]|1\d|2[0-8])(0[1-9]|1[0-2])\d\d,,(,[NADPRFEMS])?$`),
	"GLL": regexp.MustCompile(`^G[NP]GLL,` + placeShape + `,` + clockShape + `,[AV](,[NADPRFEMS])?$`),
}

const (
	clockShape = `([01]\d|2[0-3])[0-5]\d[0-5]\d(\.\d{1,3})?`
	placeShape = `[0-8]\d[0-5]\d(\.\d{1,8})?,[NS],(0\d\d|1[0-7]\d)[0-5]\d(\.\d{1,8})?,[EW]`
)

// FuzzReference makes sentences out of anything and holds our reading of them
// against the reference.
func FuzzReference(f *testing.F) {
	for _, body := range []string{
		"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,",
		"GNGGA,142305.20,4807.0381234,S,01131.0001234,W,4,17,0.7,545.412,M,-46.914,M,1.2,0000",
		"GNGNS,142305.20,4807.0381234,N,01131.0001234,E,RRNN,17,0.7,545.412,46.914,1.2,0000,V",
		"GNRMC,142305.20,A,4807.0381234,N,01131.0001234,E,0.62,84.4,251126,,,R,V",
		"GPGLL,0000.0001,S,00000.0001,W,235959.999,A,D",
		"GNZDA,142305.20,25,11,2026,00,00",
		"GNGSA,A,3,80,71,73,79,69,,,,,,,,1.83,1.09,1.47,2",
		"GNVTG,84.41,T,,M,1.234,N,2.285,K,D",
		"GPGGA,142305.20,,,,,0,00,99.99,,,,,,",
	} {
		f.Add(body)
	}
	f.Fuzz(func(t *testing.T, body string) {
		if strings.ContainsAny(body, "$!*\\") {
			return
		}
		for i := range len(body) {
			if body[i] <= ' ' || body[i] > '~' {
				return
			}
		}
		line := fmt.Sprintf("$%s*%02X\r\n", body, xor([]byte(body)))
		r, fields, read, ok := parseLine([]byte(line))
		if !read || r.kind == kindGST {
			return
		}
		ref := referenceParse(strings.TrimSpace(line))
		shape := wellFormed[kinds[r.kind].name]
		if shape != nil && shape.MatchString(body) && (!ok || fields.reason != "" || ref == nil) {
			t.Fatalf("a well-formed sentence is refused (ours: field %d %s; reference: %v): %s", fields.fault, fields.reason, ref != nil, line)
		}
		if ref == nil || !ok || fields.reason != "" {
			return
		}
		if err := agree(&r, ref, fieldsOf(line)); err != nil && !odd(fieldsOf(line), r.kind) {
			t.Fatalf("%v: %s", err, line)
		}
	})
}

// odd reports whether a sentence has something in it that the reference is known
// to read otherwise than it stands.
func odd(field func(int) string, k kind) bool {
	if at := map[kind]int{kindGGA: 2, kindGNS: 2, kindRMC: 3, kindGLL: 1}[k]; at > 0 && strings.ContainsAny(field(at)+field(at+2), "+-") {
		return true // a sign before an angle
	}
	switch k {
	case kindGGA, kindGNS:
		sats, _ := strconv.Atoi(field(7))
		return sats > 99 || field(7) == "" && field(6) != "0" || k == kindGGA && (field(10) == "m" || field(12) == "m")
	}
	return false
}

// TestXorMatchesReference compares the checksum of eight bytes at a time with
// that of the reference, at every length.
func TestXorMatchesReference(t *testing.T) {
	text := bytes.Repeat([]byte("GNRMC,142305.20,A,4807.0381234,~"), 5)
	for n := 3; n < 150; n++ {
		line := append(bytes.Clone(text[:n]), "*00"...)
		star, x := plainEnd(line)
		if want := gonmea.Checksum(string(text[:n])); star != n || fmt.Sprintf("%02X", x) != want {
			t.Fatalf("%d bytes: got end %d, %02X, want %s", n, star, x, want)
		}
	}
}

// TestEveryByteInASentence puts every byte at every place of a sentence. Whatever
// may stand in one is read, the quick way where it lies between '*' and '~'; the
// rest ends the sentence.
func TestEveryByteInASentence(t *testing.T) {
	for at := range 35 {
		for c := range 256 {
			line := append([]byte("$GNTXT,"), bytes.Repeat([]byte(","), 35)...)
			line[7+at] = byte(c)
			line = fmt.Appendf(line, "*%02X", xor(line[1:]))
			star, _ := plainEnd(line[1:])
			if quick := c > '*' && c <= '~'; quick != (star == 41) {
				t.Fatalf("byte %#02x at %d: the quick way got %d", c, at, star)
			}
			var found sentence
			newScanner(line, false).next(&found)
			whole := c >= 0x20 && c <= 0x7E // a '*' without hex digits behind it is text
			if whole != (found.sum == ChecksumRight && len(found.body) == 35) {
				t.Fatalf("byte %#02x at %d: got %d fields' bytes, checksum %v", c, at, len(found.body), found.sum)
			}
		}
	}
}
