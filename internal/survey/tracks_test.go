package survey_test

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"tracemap/internal/survey"
	"tracemap/nmea"
)

// demoGPX is the invented day's receiver's log as a track, with waypoints before it.
func demoGPX(t *testing.T, waypoints string) string {
	t.Helper()
	log, _ := demo(t)
	l, err := nmea.Read(context.Background(), []nmea.Source{{Name: "log", R: strings.NewReader(log)}}, nmea.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	b.WriteString(`<gpx version="1.1">` + waypoints + "<trk><trkseg>\n")
	for i := range l.Epochs {
		e := &l.Epochs[i]
		fmt.Fprintf(&b, "<trkpt lat=\"%.9f\" lon=\"%.9f\"><ele>%.1f</ele><time>%s</time></trkpt>\n", e.Lat, e.Lon, e.Alt, e.UTC().Format(time.RFC3339Nano))
	}
	return b.String() + "</trkseg></trk></gpx>"
}

// A day of readings and a track gives the same lines as with the receiver's log, wide,
// and says what the track does not tell.
func TestReadingsAndATrack(t *testing.T) {
	log, readings := demo(t)
	want := run(t, log, readings, nil)
	got := run(t, demoGPX(t, ""), readings, nil)
	if len(got.Lines) < len(want.Lines)-1 || got.Summary.Readings.Placed < want.Summary.Readings.Placed-5 {
		t.Errorf("%d lines of %d readings, want about %d of %d", len(got.Lines), got.Summary.Readings.Placed, len(want.Lines), want.Summary.Readings.Placed)
	}
	if got.Summary.Inputs[0].Kind != "track" || got.Summary.Inputs[0].Rows != got.Summary.GNSS.Epochs || len(got.Summary.Inputs[0].SHA256) != 64 {
		t.Errorf("input %+v, %d epochs", got.Summary.Inputs[0], got.Summary.GNSS.Epochs)
	}
	if fix := got.Summary.GNSS.Fix; len(fix) != 1 || fix["unknown"] == 0 {
		t.Errorf("fixes %v, want unknown ones only", fix)
	}
	for _, w := range []string{"neither their kind of fix nor their σ", "what its heights stand above", "antenna height not given"} {
		if !contains(got.Summary.Warnings, w) {
			t.Errorf("warnings %q do not say %q", got.Summary.Warnings, w)
		}
	}
	for _, l := range got.Summary.Lines {
		if w, err := strconv.ParseFloat(fmt.Sprintf("%s", l["half_width_mean_m"]), 64); err != nil || w < 1 {
			t.Errorf("line %s is ±%s m wide on positions of unknown kind", l["line_id"], l["half_width_mean_m"])
		}
	}
	for i := range got.Readings {
		if h := got.Readings[i].Geo.H; got.Readings[i].OK && !math.IsNaN(h) {
			t.Fatalf("reading %d has the height %g from a track that does not say above what", i, h)
		}
	}
}

// What each input is taken for hangs on its content, and where that leaves it open on
// what else there is.
func TestWhichInputsAreTracks(t *testing.T) {
	log, readings := demo(t)
	waypoints := `<wpt lat="47.5" lon="-17.75"><time>2026-05-12T08:10:20Z</time><name>W1</name><extensions><depth_m>1.2</depth_m><line>W1</line></extensions></wpt>`
	places := "time,lat,lon\n2026-05-12T08:10:20Z,47.5,-17.75\n2026-05-12T08:11:51Z,47.5001,-17.75\n2026-05-12T08:12:01Z,47.5002,-17.75\n"
	phone := `{"timestamp":1778573420000,"coords":{"latitude":47.5,"longitude":-17.75,"accuracy":4}}` + "\n" + `{"timestamp":1778573421000,"coords":{"latitude":47.5,"longitude":-17.75,"accuracy":4}}`
	const r, n, k, u = survey.Readings, survey.NMEA, survey.Track, survey.Unknown
	for name, c := range map[string]struct {
		files []string
		want  []survey.Kind
	}{
		"a track":                            {[]string{demoGPX(t, "")}, []survey.Kind{k}},
		"a track beside readings":            {[]string{readings, demoGPX(t, "")}, []survey.Kind{r, k}},
		"a track beside the receiver's log":  {[]string{readings, demoGPX(t, ""), log}, []survey.Kind{r, u, n}},
		"waypoints":                          {[]string{"<gpx>" + waypoints + "</gpx>"}, []survey.Kind{r}},
		"waypoints in a track":               {[]string{demoGPX(t, waypoints)}, []survey.Kind{k, r}},
		"waypoints in a track, and readings": {[]string{demoGPX(t, waypoints), readings}, []survey.Kind{k, r}},
		"places and times alone":             {[]string{places}, []survey.Kind{r}},
		"the same beside readings":           {[]string{places, readings}, []survey.Kind{k, r}},
		"the same beside both":               {[]string{places, readings, log}, []survey.Kind{r, r, n}},
		"a phone's log":                      {[]string{phone}, []survey.Kind{k}},
		"a phone's log and readings":         {[]string{readings, phone}, []survey.Kind{r, k}},
		"readings that know where they are":  {[]string{"time,lat,lon,depth_m,hdop,fix\n2026-05-12T08:10:20Z,47.5,-17.75,1.2,1,4\n2026-05-12T08:10:21Z,47.5,-17.75,1.2,1,4\n"}, []survey.Kind{r}},
	} {
		var sources []survey.Source
		for i, f := range c.files {
			sources = append(sources, source(fmt.Sprintf("file%d", i+1), f))
		}
		var got []survey.Kind
		for _, told := range open(t, sources...).Kinds() {
			got = append(got, told.Kind)
		}
		if fmt.Sprint(got) != fmt.Sprint(c.want) {
			t.Errorf("%s: got %v, want %v", name, got, c.want)
		}
	}
}

// A GPX file alone can be a day: its waypoints are the readings, its track the receiver.
func TestWaypointsAndTrackOfOneFile(t *testing.T) {
	var b strings.Builder
	for i := range 12 {
		at := time.Date(2026, 5, 12, 8, 10, 5*i, 0, time.UTC)
		fmt.Fprintf(&b, `<wpt lat="47.5" lon="-17.75"><time>%s</time><extensions><depth_m>1.2</depth_m><line>W1</line></extensions></wpt>`, at.Format(time.RFC3339))
	}
	opt := survey.DefaultOptions()
	day, err := survey.Run(t.Context(), open(t, source("day.gpx", demoGPX(t, b.String()))), opt)
	if err != nil {
		t.Fatal(err)
	}
	s := day.Summary()
	if len(s.Inputs) != 2 || s.Inputs[0].Rows != s.GNSS.Epochs || s.Inputs[1].Rows != 12 || s.Readings.Total != 12 {
		t.Errorf("inputs %+v, %d readings", s.Inputs, s.Readings.Total)
	}
}
