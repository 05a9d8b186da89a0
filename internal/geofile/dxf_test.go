package geofile_test

import (
	"math"
	"strings"
	"testing"
)

// drawing puts entities between what a DXF needs.
func drawing(entities ...string) string {
	text := "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1009\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n0\nSECTION\n2\nBLOCKS\n0\nLINE\n8\nNOT_READ\n10\n0\n20\n0\n11\n9\n21\n9\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n"
	return strings.ReplaceAll(text+strings.Join(entities, "")+"0\nENDSEC\n0\nEOF\n", "\n", "\r\n")
}

func TestDXFEntities(t *testing.T) {
	f := read(t, "a.dxf", drawing(
		"0\nLINE\n5\n2A\n8\nWATER\n10\n1\n20\n2\n30\n-1\n11\n3\n21\n4\n31\n-2\n",
		"0\nLWPOLYLINE\n8\nGAS\n38\n-1.5\n70\n0\n90\n3\n10\n0\n20\n0\n10\n10\n20\n0\n10\n10\n20\n5\n",
		"0\nPOLYLINE\n8\nSEWER\n66\n1\n70\n8\n0\nVERTEX\n8\nSEWER\n10\n1\n20\n1\n30\n7\n70\n32\n0\nVERTEX\n8\nSEWER\n10\n2\n20\n1\n30\n8\n70\n32\n0\nSEQEND\n",
		"0\nCIRCLE\n8\nX\n10\n0\n20\n0\n40\n1\n",
		"0\nINSERT\n8\nX\n2\nBLOCK\n10\n0\n20\n0\n",
		"0\nLINE\n8\nBROKEN\n10\n1\n20\nabc\n11\n3\n21\n4\n",
		"0\nPOINT\n8\nVALVE\n10\n5\n20\n6\n",
		"0\nLWPOLYLINE\n8\nRING\n70\n1\n10\n0\n20\n0\n10\n1\n20\n0\n10\n0\n20\n1\n",
		"0\nLINE\n10\n0\n20\n0\n11\n1\n21\n1\n",
	))
	fs := f.Layers[0].Features
	if len(fs) != 6 || len(f.Aside) != 1 || len(f.Notes) != 2 {
		t.Fatalf("%d features, aside %v, notes %v", len(fs), f.Aside, f.Notes)
	}
	if fs[0].Group != "WATER" || fs[0].ID != "2A" || fs[5].Group != "0" {
		t.Errorf("first %+v, last %+v", fs[0], fs[5])
	}
	wantLine(t, fs[0].Lines[0], 0, 1, 2, -1, 3, 4, -2)
	wantLine(t, fs[1].Lines[0], 0, 0, 0, -1.5, 10, 0, -1.5, 10, 5, -1.5)
	wantLine(t, fs[2].Lines[0], 0, 1, 1, 7, 2, 1, 8)
	wantLine(t, fs[4].Lines[0], 0, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 0)
	if !strings.Contains(f.Notes[0], "millimetres") || !strings.Contains(f.Notes[1], "1 block") {
		t.Errorf("notes %v", f.Notes)
	}
}

// Points of a curve lie on it and its chords leave it by less than a hundredth.
func TestDXFCurves(t *testing.T) {
	f := read(t, "a.dxf", drawing(
		// A quarter of a circle about 10, 0 from 20, 0 to 10, 10: anticlockwise, bulge tan(90°/4).
		"0\nLWPOLYLINE\n8\nA\n10\n20\n20\n0\n42\n0.414213562373095\n10\n10\n20\n10\n",
		// The same clockwise: about 20, 10.
		"0\nLWPOLYLINE\n8\nB\n10\n20\n20\n0\n42\n-0.414213562373095\n10\n10\n20\n10\n",
		"0\nARC\n8\nC\n10\n10\n20\n0\n40\n10\n50\n0\n51\n90\n",
		// The same arc as a rational quadratic spline: weights 1, √½, 1.
		"0\nSPLINE\n8\nD\n71\n2\n40\n0\n40\n0\n40\n0\n40\n1\n40\n1\n40\n1\n41\n1\n41\n0.707106781186548\n41\n1\n10\n20\n20\n0\n30\n0\n10\n20\n20\n10\n30\n0\n10\n10\n20\n10\n30\n0\n",
		// Three quarters of a circle about 10, 0: the centre lies right of the chord.
		"0\nLWPOLYLINE\n8\nE\n10\n20\n20\n0\n42\n2.414213562373095\n10\n10\n20\n-10\n",
	))
	fs := f.Layers[0].Features
	if len(fs) != 5 {
		t.Fatalf("%d features, aside %v", len(fs), f.Aside)
	}
	for i, c := range []struct{ cx, cy, ex, ey float64 }{{10, 0, 10, 10}, {20, 10, 10, 10}, {10, 0, 10, 10}, {10, 0, 10, 10}, {10, 0, 10, -10}} {
		line := fs[i].Lines[0]
		if p := line[0]; math.Hypot(p.X-20, p.Y) > 1e-9 {
			t.Errorf("%d begins at %v", i, p)
		}
		if p := line[len(line)-1]; math.Hypot(p.X-c.ex, p.Y-c.ey) > 1e-6 {
			t.Errorf("%d ends at %v, want %v, %v", i, p, c.ex, c.ey)
		}
		turned := 0.0
		for k, p := range line {
			if r := math.Hypot(p.X-c.cx, p.Y-c.cy); math.Abs(r-10) > 1e-9 {
				t.Errorf("%d point %d lies %v from the centre, want 10", i, k, r)
			}
			if k > 0 {
				q := line[k-1]
				if r := math.Hypot((p.X+q.X)/2-c.cx, (p.Y+q.Y)/2-c.cy); r < 10-0.0101 && i != 3 {
					t.Errorf("%d chord %d leaves the arc by %v", i, k, 10-r)
				}
				turned += math.Atan2((q.X-c.cx)*(p.Y-c.cy)-(q.Y-c.cy)*(p.X-c.cx), (q.X-c.cx)*(p.X-c.cx)+(q.Y-c.cy)*(p.Y-c.cy))
			}
		}
		want := []float64{90, -90, 90, 90, 270}[i]
		if math.Abs(turned*180/math.Pi-want) > 1e-6 {
			t.Errorf("%d turns by %v°, want %v°", i, turned*180/math.Pi, want)
		}
	}
}

// A drawing cut anywhere is read as far as it goes.
func TestDXFCut(t *testing.T) {
	text := drawing("0\nLINE\n8\nW\n10\n1\n20\n2\n11\n3\n21\n4\n", "0\nLINE\n8\nW\n10\n1\n20\n2\n11\n3\n21\n4\n")
	for n := len("0\r\nSECTION\r\n"); n <= len(text); n++ {
		if _, err := open(t, "a.dxf", []byte(text[:n])); err != nil {
			t.Fatalf("cut at %d: %v", n, err)
		}
	}
}
