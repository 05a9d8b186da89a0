package readings_test

import (
	"bytes"
	"compress/gzip"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"

	"tracemap/readings"
)

func TestSniff(t *testing.T) {
	var zipped bytes.Buffer
	w := gzip.NewWriter(&zipped)
	_, _ = w.Write([]byte("time,depth_m\n2026-03-05T08:00:00Z,1.2\n"))
	_ = w.Close()
	for _, c := range []struct {
		name, head string
		want       bool
	}{
		{"our columns", "time,depth_m\n2026-03-05T08:00:00Z,1.2\n", true},
		{"header only", "time,depth_m\n", true},
		{"one column", "time\n2026-03-05T08:00:00Z\n", true},
		{"byte order mark", "\uFEFFTime;Depth (m)\n", true},
		{"foreign columns", "Zeit;Tiefe\n05.03.2026 08:00:00;1,2\n", true},
		{"foreign, title block", "Export\n\nZeit;Tiefe\n05.03.2026 08:00:00;1,2\n", true},
		{"cut in a row", "time,depth_m\n2026-03-05T08:00:00Z,1.2\n2026-03-0", true},
		{"UTF-16", text16("time\tdepth_m\n2026-03-05T08:00:00Z\t1.2\n"), true},
		{"empty", "", false},
		{"blank", "\n\n  \n", false},
		{"sentences", "$GPGGA,081500.00,5212.3456,N,00114.0740,W,4,12,0.7,100.0,M,47.0,M,1.0,0000*4B\n", false},
		{"sentences below a title", "receiver, log\n$GPGGA,081500.00,5212.3456,N\n$GPRMC,081500.00,A\n", false},
		{"AIS-like", "!AIVDM,1,1,,A,13HOI:0P0000VOHLCnHQKwvL05Ip,0*23\n", false},
		{"prose", "Dear crew, the gate is locked.\nCall before you come, please.\n", false},
		{"no header", "2026-03-05T08:00:00Z,1.2\n2026-03-05T08:00:10Z,1.3\n", false},
		{"GeoJSON", "{\"type\":\"FeatureCollection\",\n\"features\":[]}\n", false},
		{"KML", "<?xml version=\"1.0\"?>\n<kml>\n", false},
		{"gzip", zipped.String(), false},
		{"binary", "\xb5\x62\x01\x07\x5c\x00\x00\x01", false},
		{"zip", "PK\x03\x04\x14\x00\x06\x00", false},
	} {
		if got := readings.Sniff([]byte(c.head)); got != c.want {
			t.Errorf("%s: Sniff = %v, want %v", c.name, got, c.want)
		}
	}
}

// Every receiver's log at hand is one, and no readings log; every readings log
// is. The logs lie beside the repository.
func TestSniffSharedLogs(t *testing.T) {
	root := os.Getenv("TRACEMAP_SHARED")
	if root == "" {
		root = "../../shared"
	}
	if _, err := os.Stat(filepath.Join(root, "nmea")); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("the test logs are missing: %v", err)
		}
		t.Skipf("the test logs are missing: %v", err)
	}
	logs := 0
	err := filepath.WalkDir(filepath.Join(root, "nmea"), func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		switch strings.ToLower(filepath.Ext(path)) {
		case ".nmea", ".log", ".ubx", ".gz":
		default:
			return nil
		}
		logs++
		head := make([]byte, 64<<10)
		f, err := os.Open(path)
		if err != nil {
			return err
		}
		defer f.Close()
		n, _ := f.Read(head)
		if readings.Sniff(head[:n]) {
			t.Errorf("%s is taken for a readings log", path)
		}
		return nil
	})
	if err != nil || logs == 0 {
		t.Errorf("logs = %d, error %v", logs, err)
	}
}

// text16 writes a text as UTF-16, little endian, without byte order mark.
func text16(s string) string {
	var b strings.Builder
	for _, u := range utf16.Encode([]rune(s)) {
		b.WriteByte(byte(u))
		b.WriteByte(byte(u >> 8))
	}
	return b.String()
}
