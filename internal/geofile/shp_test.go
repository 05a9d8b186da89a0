package geofile_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tracemap/internal/geofile"
)

// shape puts a record's content into a main file.
func shape(contents ...[]byte) []byte {
	b := make([]byte, 100)
	binary.BigEndian.PutUint32(b, 9994)
	for i, c := range contents {
		b = binary.BigEndian.AppendUint32(b, uint32(i+1))
		b = binary.BigEndian.AppendUint32(b, uint32(len(c)/2))
		b = append(b, c...)
	}
	return b
}

// polyline is the content of a record with one part, as its header claims.
func polyline(kind, parts, points uint32, ordinates ...float64) []byte {
	b := binary.LittleEndian.AppendUint32(nil, kind)
	b = append(b, make([]byte, 32)...)
	b = binary.LittleEndian.AppendUint32(b, parts)
	b = binary.LittleEndian.AppendUint32(b, points)
	b = binary.LittleEndian.AppendUint32(b, 0)
	for _, v := range ordinates {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return b
}

// What a record claims beyond its length costs nothing and loses nothing else.
func TestShapefileCounts(t *testing.T) {
	good := polyline(3, 1, 2, 1, 2, 3, 4)
	f, err := open(t, "a.shp", shape(
		good,
		polyline(3, 1, 0x7f7f7f7f, 1, 2, 3, 4),
		polyline(3, 0xffffffff, 2, 1, 2, 3, 4),
		polyline(13, 1, 2, 1, 2, 3, 4, 0, 0, 7, 8), // with z, without the measures that the type has
		polyline(13, 1, 2, 1, 2, 3, 4),             // z missing
		polyline(23, 1, 2, 1, 2, 3, 4),             // measures missing: they are optional
		polyline(3, 1, 2, 1, math.NaN(), 3, 4),
		binary.LittleEndian.AppendUint32(nil, 0),
		binary.LittleEndian.AppendUint32(nil, 77),
		good,
	))
	if err != nil {
		t.Fatal(err)
	}
	if n := len(f.Layers[0].Features); n != 4 || len(f.Aside) != 6 {
		t.Fatalf("%d features, set aside %v", n, f.Aside)
	}
	wantLine(t, f.Layers[0].Features[1].Lines[0], 0, 1, 2, 7, 3, 4, 8)
	for i, says := range []string{"record 2: claims more", "record 3: claims more", "record 5: claims more", "record 7: a point", "record 8: has no geometry", "record 9: unknown"} {
		if !strings.Contains(f.Aside[i].String(), says) {
			t.Errorf("%v, want %q", f.Aside[i], says)
		}
	}
	if len(f.Notes) != 1 || !strings.Contains(f.Notes[0], "no .dbf") {
		t.Errorf("notes %v", f.Notes)
	}
	cut := shape(good, good)
	if f, err = open(t, "b.shp", cut[:len(cut)-3]); err != nil || len(f.Layers[0].Features) != 1 || len(f.Aside) != 1 {
		t.Errorf("cut: %+v, %v", f, err)
	}
}

// A table that does not fit its own header gives no attributes and no harm.
func TestDBFHeaders(t *testing.T) {
	table := make([]byte, 32+32+1)
	table[0] = 3
	binary.LittleEndian.PutUint32(table[4:], 2)
	binary.LittleEndian.PutUint16(table[8:], 65)
	binary.LittleEndian.PutUint16(table[10:], 6)
	copy(table[32:], "NAME")
	table[32+11], table[32+16], table[64] = 'C', 5, '\r'
	rows := []byte(" W1    G\xfc   ")
	write := func(table []byte) *geofile.File {
		path := filepath.Join(t.TempDir(), "a.shp")
		for ext, data := range map[string][]byte{".shp": shape(polyline(3, 1, 2, 1, 2, 3, 4), polyline(3, 1, 2, 1, 2, 3, 4)), ".DBF": table} {
			if err := os.WriteFile(strings.TrimSuffix(path, ".shp")+ext, data, 0o666); err != nil {
				t.Fatal(err)
			}
		}
		f, err := geofile.Open(context.Background(), path)
		if err != nil || len(f.Layers[0].Features) != 2 {
			t.Fatalf("%+v, %v", f, err)
		}
		return f
	}
	f := write(append(bytes.Clone(table), rows...))
	wantAttr(t, &f.Layers[0].Features[0], "NAME", "W1")
	wantAttr(t, &f.Layers[0].Features[1], "NAME", "Gü")
	for name, spoil := range map[string]func([]byte){
		"field beyond the record": func(b []byte) { b[32+16] = 200 },
		"header beyond the file":  func(b []byte) { b[8], b[9] = 0xff, 0xff },
		"no record size":          func(b []byte) { b[10] = 0 },
	} {
		b := append(bytes.Clone(table), rows...)
		spoil(b)
		if f := write(b); len(f.Notes) != 1 || len(f.Layers[0].Features[0].Attrs) != 0 {
			t.Errorf("%s: notes %v, attributes %v", name, f.Notes, f.Layers[0].Features[0].Attrs)
		}
	}
	b := append(bytes.Clone(table), rows...)
	binary.LittleEndian.PutUint32(b[4:], 0xffffffff)
	wantAttr(t, &write(b).Layers[0].Features[1], "NAME", "Gü")
}
