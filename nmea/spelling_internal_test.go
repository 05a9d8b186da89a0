package nmea

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"unicode/utf16"
)

// wide writes text in UTF-16, Latin 1 taken for the bytes that are no ASCII.
func wide(log []byte, order binary.AppendByteOrder, mark bool) []byte {
	var out []byte
	if mark {
		out = order.AppendUint16(out, 0xFEFF)
	}
	var runes []rune
	for _, b := range log {
		runes = append(runes, rune(b))
	}
	for _, u := range utf16.Encode(runes) {
		out = order.AppendUint16(out, u)
	}
	return out
}

// Logs of real receivers, rewritten as terminal programs and spreadsheets leave them,
// give the same epochs.
func TestOtherSpellingsOfRealLogs(t *testing.T) {
	dollar := regexp.MustCompile(`\$(G[A-Z](?:GGA|GNS|RMC|GLL|GST|ZDA|GSA|VTG|GSV|HDT|THS),)`)
	perLine := func(log []byte, f func(line string) string) []byte {
		var b strings.Builder
		for line := range strings.Lines(string(log)) {
			b.WriteString(f(strings.TrimRight(line, "\r\n")) + "\r\n")
		}
		return []byte(b.String())
	}
	spellings := []struct {
		name   string
		write  func(log []byte) []byte
		sums   bool // only what has a checksum can be told in it
		binary bool // also among binary messages
	}{
		{"UTF-16, little end first, with its mark", func(l []byte) []byte { return wide(l, binary.LittleEndian, true) }, false, true},
		{"UTF-16, little end first", func(l []byte) []byte { return wide(l, binary.LittleEndian, false) }, false, true},
		{"UTF-16, big end first, with its mark", func(l []byte) []byte { return wide(l, binary.BigEndian, true) }, false, true},
		{"UTF-16, big end first", func(l []byte) []byte { return wide(l, binary.BigEndian, false) }, false, true},
		{"without $", func(l []byte) []byte { return dollar.ReplaceAll(l, []byte("$1")) }, false, false},
		{"stamped by a terminal program", func(l []byte) []byte {
			return perLine(l, func(s string) string { return "[2026-11-25 09:30:00.123] RX> " + s })
		}, false, false},
		{"a line a cell", func(l []byte) []byte {
			return perLine(l, func(s string) string { return `7,09:30:00,"` + s + `",COM4` })
		}, true, false},
		{"a field a cell, semicolons", func(l []byte) []byte {
			return perLine(l, func(s string) string { return strings.ReplaceAll(s, ",", ";") + ";;" })
		}, true, false},
		{"a field a cell, tabs, UTF-16", func(l []byte) []byte {
			return wide(perLine(l, func(s string) string { return strings.ReplaceAll(s, ",", "\t") }), binary.LittleEndian, true)
		}, true, false},
		{"a quoted field a cell", func(l []byte) []byte {
			return perLine(l, func(s string) string { return `"` + strings.ReplaceAll(s, ",", `","`) + `"` })
		}, true, false},
	}
	for name, raw := range realLogs(t) {
		raw = raw[:min(len(raw), 400<<10)]
		if i := bytes.LastIndexByte(raw, '\n'); i > 0 {
			raw = raw[:i+1]
		}
		text := !bytes.ContainsFunc(raw, func(r rune) bool { return r > 0x7E || r < ' ' && r != '\n' && r != '\r' && r != '\t' })
		want := readChunked(t, bytes.NewReader(raw), chunkSize)
		for _, sp := range spellings {
			if !text && !sp.binary || sp.sums && want.Stats.UsedWithoutChecksum > 0 {
				continue
			}
			t.Run(name+"/"+sp.name, func(t *testing.T) {
				other := sp.write(raw)
				if !Sniff(other) {
					t.Fatal("not taken for a receiver's log")
				}
				got := readChunked(t, bytes.NewReader(other), chunkSize)
				sameEpochs(t, got.Epochs, want.Epochs)
				if len(got.Warnings) > len(want.Warnings)+1 {
					t.Errorf("more than one warning more: %q, before %q", got.Warnings, want.Warnings)
				}
			})
		}
	}
}

func sameEpochs(t *testing.T, got, want []Epoch) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("got %d epochs, want %d", len(got), len(want))
	}
	for i := range got {
		if g, w := fmt.Sprintf("%+v", got[i]), fmt.Sprintf("%+v", want[i]); g != w {
			t.Fatalf("epoch %d: got %s, want %s", i, g, w)
		}
	}
}

// What is no receiver's log does not become one by being spelled otherwise, and a
// stretch of NULs is no UTF-16.
func TestWhatIsNoSpelling(t *testing.T) {
	for name, head := range map[string]string{
		"prose":                   "GPGGA, the sentence of fixes\nGPRMC, that of the date\n",
		"readings in cells":       "time;line;depth_m\n2026-11-25T09:30:00Z;L1;1.23\n",
		"a glossary":              "GPGGA;fix data\nGPGLL;position\n",
		"a wrong checksum":        "GPGLL,5206.1,N,00454.7,W,093000,A*00\r\n",
		"in a word":               strings.Repeat("xGPGLL,5206.1,N,00454.7,W,093000,A\r\n", 2),
		"readings, two bytes":     string(wide([]byte("time\tdepth_m\r\n2026-11-25T09:30:00Z\t1.2\r\n"), binary.LittleEndian, true)),
		"NULs and nothing else":   strings.Repeat("\x00", 4096),
		"a mark and nothing else": "\xff\xfe",
	} {
		if Sniff([]byte(head)) {
			t.Errorf("%s: taken for a receiver's log", name)
		}
	}
	if isWide([]byte(strings.Repeat("\x00", 4096))) {
		t.Error("a stretch that was never written is taken for UTF-16")
	}
}
