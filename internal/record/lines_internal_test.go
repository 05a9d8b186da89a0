package record

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// cut feeds pieces to a cutter and gives copies of its lines.
func cut(c *cutter, pieces ...string) (got []string) {
	for _, p := range pieces {
		for _, line := range c.lines([]byte(p)) {
			got = append(got, string(line))
		}
	}
	return got
}

func TestLines(t *testing.T) {
	for _, tt := range []struct {
		name   string
		pieces []string
		want   []string
		half   string
	}{
		{"one", []string{"abc\n"}, []string{"abc\n"}, ""},
		{"carriage return and feed", []string{"abc\r\ndef\r\n"}, []string{"abc\r\n", "def\r\n"}, ""},
		{"cut between them", []string{"abc\r", "\ndef\r\n"}, []string{"abc\r\n", "def\r\n"}, ""},
		{"carriage return alone", []string{"abc\rdef\r", "ghi"}, []string{"abc\r", "def\r"}, "ghi"},
		{"in pieces", []string{"a", "", "b", "c\nd"}, []string{"abc\n"}, "d"},
		{"blank lines", []string{"\n\r\n\n"}, []string{"\n", "\r\n", "\n"}, ""},
		{"rubbish", []string{"\x00\xff\xb5b\n"}, []string{"\x00\xff\xb5b\n"}, ""},
	} {
		var c cutter
		if got := cut(&c, tt.pieces...); !slices.Equal(got, tt.want) || string(c.half) != tt.half {
			t.Errorf("%s: lines of %q are %q and half %q, want %q and %q", tt.name, tt.pieces, got, c.half, tt.want, tt.half)
		}
	}
}

// What a connection leaves half is not a line, unless only its end is missing.
func TestBrokenLine(t *testing.T) {
	for _, tt := range []struct {
		half, want string
		dropped    int64
	}{
		{"", "", 0},
		{"$GPGGA,080000.00,4916.45", "", 24},
		{"abc\r", "abc\r", 0},
		{"$GPGLL,,,,,,V,N*64", "$GPGLL,,,,,,V,N*64\n", 0},
		{"$GPGLL,,,,,,V,N*65", "", 18},
		{"$GPGLL,,,,,,V,N*6", "", 17},
		{"$GPGLL,,,,,,V,N*64\r", "$GPGLL,,,,,,V,N*64\r", 0},
	} {
		var c cutter
		if got := cut(&c, tt.half); got != nil {
			t.Fatalf("%q gave lines %q", tt.half, got)
		}
		got := string(bytes.Join(c.broken(), nil))
		if got != tt.want || c.droppedBytes != tt.dropped {
			t.Errorf("half %q: kept %q and dropped %d bytes, want %q and %d", tt.half, got, c.droppedBytes, tt.want, tt.dropped)
		}
		if again := c.broken(); again != nil {
			t.Errorf("half %q: kept twice", tt.half)
		}
	}
}

// A stream without line ends does not fill the memory, and the first line after
// it is whole again.
func TestOverlongLine(t *testing.T) {
	var c cutter
	long := strings.Repeat("x", 3*maxLine+17)
	got := cut(&c, "first\n", long[:maxLine], long[maxLine:], "tail\nnext\n")
	if want := []string{"first\n", "next\n"}; !slices.Equal(got, want) {
		t.Errorf("lines %.20q, want %q", got, want)
	}
	if c.droppedBytes != int64(len(long)+len("tail\n")) || c.dropped != 1 {
		t.Errorf("dropped %d lines of %d bytes in all, want 1 of %d", c.dropped, c.droppedBytes, len(long)+5)
	}
}

// However a stream is cut, its lines are the same, none is lost, and bytes in =
// bytes out + dropped + half.
func TestLinesDoNotDependOnPieces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stream := rapid.SliceOf(rapid.SampledFrom([]byte("ab$*,\r\n\n\x00\xff"))).Draw(t, "stream")
		var whole, pieces cutter
		want := cut(&whole, string(stream))
		var got []string
		for rest := stream; len(rest) > 0; {
			n := rapid.IntRange(1, len(rest)).Draw(t, "n")
			got = append(got, cut(&pieces, string(rest[:n]))...)
			rest = rest[n:]
		}
		if !slices.Equal(got, want) {
			t.Fatalf("in pieces %q, at once %q", got, want)
		}
		if out := strings.Join(got, "") + string(pieces.half); out != string(stream) {
			t.Fatalf("out %q, in %q", out, stream)
		}
		for _, line := range got {
			if body := strings.TrimRight(line, "\r\n"); strings.ContainsAny(body, "\r\n") || len(line)-len(body) > 2 {
				t.Fatalf("%q is not one line", line)
			}
		}
	})
}
