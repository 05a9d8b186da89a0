package nmea_test

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"tracemap/nmea"
)

var update = flag.Bool("update", false, "write the golden files anew")

const sampleDir = "../testdata/nmea"

// TestSamples reads every sample and compares with the epochs beside it. What a
// person expects of a sample stands in its .about, as lines "key: value" behind
// the text, and is held against the result apart from the golden file.
func TestSamples(t *testing.T) {
	names, err := filepath.Glob(sampleDir + "/*.nmea")
	if err != nil || len(names) < 30 {
		t.Fatalf("found %d samples in %s: %v", len(names), sampleDir, err)
	}
	for _, file := range names {
		name := strings.TrimSuffix(file, ".nmea")
		t.Run(filepath.Base(name), func(t *testing.T) {
			raw, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			about, err := os.ReadFile(name + ".about")
			if err != nil {
				t.Fatal(err)
			}
			claims := claimsOf(string(about))
			if !nmea.Sniff(raw) {
				t.Error("not taken for a receiver's log")
			}
			l := readBytes(t, nmea.Options{Reference: claims.reference(t)}, raw)
			checkClaims(t, l, claims)
			got := printLog(l)
			if *update {
				if err := os.WriteFile(name+".want", got, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(name + ".want")
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got, want) {
				t.Errorf("differs from %s.want; got:\n%s", name, got)
			}
		})
	}
}

// readBytes reads logs held in memory as one.
func readBytes(t testing.TB, opt nmea.Options, logs ...[]byte) *nmea.Log {
	t.Helper()
	var sources []nmea.Source
	for i, raw := range logs {
		sources = append(sources, nmea.Source{Name: fmt.Sprintf("log%d", i+1), R: bytes.NewReader(raw)})
	}
	l, err := nmea.Read(context.Background(), sources, opt)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// claims are the lines "key: value" of an .about.
type claims map[string][]string

var claimKeys = []string{"epochs", "from", "to", "reference", "warning", "quality", "malformed", "repeated", "gaps"}

func claimsOf(about string) claims {
	c := claims{}
	for line := range strings.Lines(about) {
		if key, value, ok := strings.Cut(strings.TrimSpace(line), ": "); ok && slices.Contains(claimKeys, key) {
			c[key] = append(c[key], value)
		}
	}
	return c
}

func (c claims) reference(t *testing.T) time.Time {
	if len(c["reference"]) == 0 {
		return time.Time{}
	}
	day, err := time.Parse(time.DateOnly, c["reference"][0])
	if err != nil {
		t.Fatal(err)
	}
	return day
}

func checkClaims(t *testing.T, l *nmea.Log, c claims) {
	if len(c["epochs"]) == 0 {
		t.Error("the .about does not say how many epochs to expect")
	}
	for key, values := range c {
		for _, want := range values {
			got, ok := "", false
			switch key {
			case "epochs":
				got = strconv.Itoa(len(l.Epochs))
			case "from":
				got = l.Stats.From.Format(time.RFC3339Nano)
			case "to":
				got = l.Stats.To.Format(time.RFC3339Nano)
			case "malformed":
				got = strconv.Itoa(l.Stats.Malformed)
			case "repeated":
				got = strconv.Itoa(l.Stats.Repeated)
			case "gaps":
				got = strconv.Itoa(len(l.Gaps))
			case "quality": // the only one there is
				got = strings.TrimPrefix(fmt.Sprintf("%v", qualities(l)), " ")
			case "warning":
				got, ok = strings.Join(l.Warnings, "\n"), strings.Contains(strings.Join(l.Warnings, "\n"), want)
			case "reference":
				ok = true
			}
			if !ok && got != want {
				t.Errorf("%s: got %s, want %s", key, got, want)
			}
		}
	}
}

// qualities lists the qualities of the epochs with their numbers.
func qualities(l *nmea.Log) string {
	n := map[string]int{}
	for _, e := range l.Epochs {
		n[e.Quality.String()]++
	}
	return counts(n)
}

func counts(n map[string]int) string {
	var b strings.Builder
	for _, k := range slices.Sorted(maps.Keys(n)) {
		fmt.Fprintf(&b, " %s %d", k, n[k])
	}
	return strings.TrimSpace(b.String())
}

// printLog writes all of a log that a caller sees.
func printLog(l *nmea.Log) []byte {
	var b bytes.Buffer
	s := l.Stats
	fmt.Fprintf(&b, "bytes %d lines %d text lines %d binary bytes %d\n", s.Bytes, s.Lines, s.TextLines, s.BinaryBytes)
	fmt.Fprintf(&b, "right checksum: %s\n", counts(s.Sentences))
	fmt.Fprintf(&b, "bad checksum %d, none %d (used %d), malformed %d\n", s.BadChecksum, s.NoChecksum, s.UsedWithoutChecksum, s.Malformed)
	fmt.Fprintf(&b, "mid line %d, merged %d, overlong %d, trailing %d\n", s.MidLine, s.Merged, s.Overlong, s.Trailing)
	fmt.Fprintf(&b, "epochs %d, repeated %d, backward %d, other receiver %d\n", s.Epochs, s.Repeated, s.Backward, s.OtherReceiver)
	fmt.Fprintf(&b, "fix: %s\n", counts(s.Fix))
	fmt.Fprintf(&b, "date assumed %t, unknown %t\n", l.DateAssumed, l.DateUnknown)
	for _, name := range slices.Sorted(maps.Keys(s.Other)) {
		fmt.Fprintf(&b, "nothing from %s: %d, %q\n", name, s.Other[name].N, s.Other[name].Why)
	}
	if l.Sky.Looks > 0 {
		fmt.Fprintf(&b, "sky: looks %d, in view %v, C/N0 %.2f dB-Hz\n", l.Sky.Looks, l.Sky.InView, l.Sky.CN0)
	}
	for _, f := range l.Files {
		fmt.Fprintf(&b, "file %s: bytes %d, lines %d, sentences %d, epochs %d, resolution %.3g m, error %v\n",
			f.Name, f.Bytes, f.Lines, f.Sentences, f.Epochs, f.Resolution, f.Err)
	}
	for _, g := range l.Gaps {
		fmt.Fprintf(&b, "gap %s to %s, %g s\n", g.From.Format(time.RFC3339Nano), g.To.Format(time.RFC3339Nano), g.Seconds())
	}
	for _, a := range l.Aside {
		fmt.Fprintf(&b, "aside %s line %d: %s field %d: %s\n", a.File, a.Line, a.Type, a.Field, a.Reason)
	}
	for _, w := range l.Warnings {
		fmt.Fprintf(&b, "warning: %s\n", w)
	}
	fmt.Fprintln(&b, "\ntime lat lon alt sep | σn σe σu cov | hdop vdop age | speed course | quality sats | file:line")
	for i := range l.Epochs {
		e := &l.Epochs[i]
		fmt.Fprintf(&b, "%s %.10f %.10f %g %g | %g %g %g %.4g | %g %g %g | %.4g %g | %s %d | %d:%d",
			e.UTC().Format("2006-01-02T15:04:05.999999999Z"), e.Lat, e.Lon, e.Alt, e.Sep,
			e.SigmaN, e.SigmaE, e.SigmaU, e.CovNE, e.HDOP, e.VDOP, e.Age, e.Speed, e.Course,
			e.Quality, e.Sats, e.File, e.Line)
		if e.Heading == e.Heading {
			fmt.Fprintf(&b, " | heading %g", e.Heading)
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}
