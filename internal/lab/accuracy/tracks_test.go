package main

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"tracemap/fuse/noise"
	"tracemap/internal/lab/score"
	"tracemap/internal/survey"
	"tracemap/nmea"
)

// asGPX writes a receiver's log as a track; with fix the kind of fix is in it, by the
// words of GPX 1.1, which has none for RTK.
func asGPX(epochs []nmea.Epoch, fix bool) []byte {
	var b strings.Builder
	b.WriteString(`<gpx version="1.1"><trk><trkseg>`)
	word := map[nmea.Quality]string{nmea.QualityAutonomous: "3d", nmea.QualityDGPS: "dgps", nmea.QualityRTKFixed: "dgps", nmea.QualityRTKFloat: "dgps"}
	for i := range epochs {
		e := &epochs[i]
		fmt.Fprintf(&b, `<trkpt lat="%.9f" lon="%.9f"><time>%s</time>`, e.Lat, e.Lon, e.UTC().Format("2006-01-02T15:04:05.000Z"))
		if fix {
			fmt.Fprintf(&b, "<fix>%s</fix>", word[e.Quality])
		}
		b.WriteString("</trkpt>\n")
	}
	return []byte(b.String() + "</trkseg></trk></gpx>")
}

// asPhone writes it as lines of JSON with the radius that holds 68 % of the errors.
func asPhone(epochs []nmea.Epoch) []byte {
	var b strings.Builder
	for i := range epochs {
		e := &epochs[i]
		h, _ := noise.Of(e)
		fmt.Fprintf(&b, `{"timestamp":%d,"coords":{"latitude":%.9f,"longitude":%.9f,"accuracy":%.3f}}`+"\n", e.Nanos/1e6, e.Lat, e.Lon, 1.51*math.Sqrt(h.Mean()))
	}
	return []byte(b.String())
}

// asTable writes it with its σ of each axis and its kind of fix.
func asTable(epochs []nmea.Epoch) []byte {
	var b strings.Builder
	b.WriteString("time,lat,lon,sd_n,sd_e,fix\n")
	for i := range epochs {
		e := &epochs[i]
		h, _ := noise.Of(e)
		fmt.Fprintf(&b, "%s,%.9f,%.9f,%.4f,%.4f,%s\n", e.UTC().Format("2006-01-02T15:04:05.000Z"), e.Lat, e.Lon, math.Sqrt(h.NN), math.Sqrt(h.EE), e.Quality)
	}
	return []byte(b.String())
}

// A day whose receiver's log is a track has true widths, whatever the track says of its
// σ; one that tells all that the sentences told, but for the receiver's speed, has nearly
// the same widths.
func TestWidthsOnTracks(t *testing.T) {
	if testing.Short() {
		t.Skip("computes 45 days")
	}
	ways := []struct {
		name  string
		write func(e []nmea.Epoch) []byte
	}{
		{"NMEA", nil},
		{"GPX with fix", func(e []nmea.Epoch) []byte { return asGPX(e, true) }},
		{"GPX", func(e []nmea.Epoch) []byte { return asGPX(e, false) }},
		{"JSON with accuracy", asPhone},
		{"table with σ and fix", asTable},
	}
	for _, name := range []string{"rtk-stopgo", "sbas-stopgo", "autonomous-walk"} {
		sums := make([]score.Score, len(ways))
		for seed := range uint64(3) {
			for w, way := range ways {
				d := named(name)[0].invent(base(name) + 1 + seed)
				d.tellClock()
				if way.write != nil {
					r, _ := d.logs[0].Open()
					log, err := nmea.Read(context.Background(), []nmea.Source{{Name: "log", R: r}}, nmea.Options{})
					if err != nil {
						t.Fatal(err)
					}
					d.logs = []survey.Source{source("track", way.write(log.Epochs)), d.logs[1]}
				}
				day, err := convert(context.Background(), d, func(string) {})
				if err != nil {
					t.Fatalf("%s as %s: %v", name, way.name, err)
				}
				sums[w].Add(score.Judge(d.truth, day.Located, day.Clock))
			}
		}
		for w, way := range ways {
			s := &sums[w]
			t.Logf("%s as %s: %.0f m, %.1f %% within ±%.2f m, error %.2f m", name, way.name, s.Lateral.Length, 100*s.Lateral.Coverage(), s.Lateral.MeanHalf(), s.Lateral.RMSE())
			const least = 0.90 // of three days, whose share spreads by some 0.05 a day
			if c := s.Lateral.Coverage(); c < least || s.Completeness() < sums[0].Completeness()-0.02 {
				t.Errorf("%s as %s: %.1f %% of the places are within their 95 %%, %.1f %% of the lines on the map", name, way.name, 100*c, 100*s.Completeness())
			}
		}
		if a, b := sums[0].Lateral.MeanHalf(), sums[len(ways)-1].Lateral.MeanHalf(); math.Abs(a-b) > 0.2*a {
			t.Errorf("%s: ±%.3f m on sentences, ±%.3f m on a table that says as much", name, a, b)
		}
	}
}
