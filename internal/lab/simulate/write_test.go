package simulate_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	gonmea "github.com/adrianmo/go-nmea"

	"tracemap/geodesy"
	"tracemap/internal/lab/simulate"
)

// Every sentence is read by go-nmea, which checks the checksum, and says what
// the epoch is. GST is not among its sentences: see TestGST.
func TestSentencesAreReadByGoNMEA(t *testing.T) {
	s := preset(t, "rtk-broken", 3)
	s.Dirt = simulate.Dirt{}
	s.GNSS.Satellites, s.GNSS.VTG, s.GNSS.ZDA = true, true, true
	d := simulate.Invent(s)
	var log bytes.Buffer
	tally, err := d.WriteNMEA(&log)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(log.String(), "\r\n")
	lines = lines[:len(lines)-1]
	counted := map[string]int{}
	next := 0
	for e := range d.Epochs() {
		if !e.Logged {
			continue
		}
		for begun := false; next < len(lines); next++ {
			text := strings.TrimSuffix(lines[next], "\r\n")
			kind := text[3:6]
			if kind == "GGA" {
				if begun {
					break
				}
				begun = true
			}
			counted[kind]++
			if kind == "GST" {
				continue
			}
			parsed, err := gonmea.Parse(text)
			if err != nil {
				t.Fatalf("%s: %v", text, err)
			}
			checkSentence(t, parsed, e)
		}
	}
	if !maps.Equal(counted, tally.Sentences) {
		t.Errorf("counted %v, tally says %v", counted, tally.Sentences)
	}
	for _, kind := range []string{"GGA", "RMC", "GST", "GSA", "GSV", "VTG", "ZDA"} {
		if counted[kind] == 0 {
			t.Errorf("no %s", kind)
		}
	}
}

func checkSentence(t *testing.T, parsed gonmea.Sentence, e *simulate.Epoch) {
	t.Helper()
	const unit = 1e-7 / 60 // degrees: the last decimal of the minutes
	hms := e.UTC.Format("15:04:05.0000")
	switch p := parsed.(type) {
	case gonmea.GGA:
		if p.Time.String() != hms || p.FixQuality != strconv.Itoa(e.Quality) {
			t.Errorf("GGA %v: epoch at %s with quality %d", p, hms, e.Quality)
		}
		if e.Quality == 0 {
			return
		}
		within(t, "latitude", p.Latitude, e.Geo.Lat, unit)
		within(t, "longitude", p.Longitude, e.Geo.Lon, unit)
		within(t, "height", p.Altitude+p.Separation, e.Geo.H, 0.0006)
		within(t, "HDOP", p.HDOP, e.HDOP, 0.0051)
	case gonmea.RMC:
		if p.Time.String() != hms || fmt.Sprintf("%02d%02d%02d", p.Date.YY, p.Date.MM, p.Date.DD) != e.UTC.Format("060102") {
			t.Errorf("RMC %v: epoch at %s", p, e.UTC)
		}
		if (p.Validity == "A") != (e.Quality != 0) {
			t.Errorf("RMC says %s with quality %d", p.Validity, e.Quality)
		}
		if e.Quality != 0 {
			within(t, "latitude", p.Latitude, e.Geo.Lat, unit)
			within(t, "speed", p.Speed*1852/3600, e.Velocity.Len(), 0.2)
		}
	case gonmea.ZDA:
		if p.Year != int64(e.UTC.Year()) || p.Time.String() != hms {
			t.Errorf("ZDA %v: epoch at %s", p, e.UTC)
		}
	case gonmea.GSA:
		if e.Quality != 0 {
			within(t, "HDOP", p.HDOP, e.HDOP, 0.0051)
		}
	}
}

// GST says scale × σ; its ellipse gives fields 6 and 7 by
// σN² = a²cos²θ + b²sin²θ and σE² = a²sin²θ + b²cos²θ.
func TestGST(t *testing.T) {
	s := preset(t, "rtk-stopgo", 3)
	s.GNSS.Profile, s.GNSS.GSTScale = simulate.SBAS, 1.3
	d := simulate.Invent(s)
	var log bytes.Buffer
	if _, err := d.WriteNMEA(&log); err != nil {
		t.Fatal(err)
	}
	var gst [][]string
	for line := range strings.SplitSeq(log.String(), "\r\n") {
		if body, _, ok := strings.Cut(line, "*"); ok && strings.HasPrefix(line, "$GNGST") {
			if want := fmt.Sprintf("%s*%02X", body, xor(body[1:])); line != want {
				t.Fatalf("%s: want %s", line, want)
			}
			gst = append(gst, strings.Split(body, ","))
		}
	}
	number := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	i := 0
	for e := range d.Epochs() {
		f := gst[i]
		i++
		within(t, "σ north", number(f[6]), 1.3*e.Sigma[1], 0.0006)
		within(t, "σ east", number(f[7]), 1.3*e.Sigma[0], 0.0006)
		within(t, "σ up", number(f[8]), 1.3*e.Sigma[2], 0.0006)
		sin, cos := math.Sincos(number(f[5]) * math.Pi / 180)
		a, b := number(f[3]), number(f[4])
		within(t, "σ north by the ellipse", math.Hypot(a*cos, b*sin), number(f[6]), 0.002)
		within(t, "σ east by the ellipse", math.Hypot(a*sin, b*cos), number(f[7]), 0.002)
	}
	if i != len(gst) {
		t.Errorf("%d GST for %d epochs", len(gst), i)
	}
}

func xor(text string) byte {
	var sum byte
	for i := range len(text) {
		sum ^= text[i]
	}
	return sum
}

// What the tally calls whole is what a scanner finds that looks for $, an
// address, and a right checksum, and nothing else.
func TestDirtIsCounted(t *testing.T) {
	s := preset(t, "rtk-stopgo", 3)
	s.Dirt = simulate.Dirty(0.03)
	var log bytes.Buffer
	tally, err := simulate.Invent(s).WriteNMEA(&log)
	if err != nil {
		t.Fatal(err)
	}
	sentence := regexp.MustCompile(`\$([A-Z]{5},[^$*\r\n]*)\*([0-9A-F]{2})`)
	found := map[string]int{}
	for _, m := range sentence.FindAllSubmatch(log.Bytes(), -1) {
		if fmt.Sprintf("%02X", xor(string(m[1]))) == string(m[2]) {
			found[string(m[1][2:5])]++
		}
	}
	if !maps.Equal(found, tally.Sentences) {
		t.Errorf("found %v, tally says %v", found, tally.Sentences)
	}
	sentences := 3 * float64(tally.Epochs)
	for _, kind := range []string{"flip", "drop", "cut", "line_end", "junk"} {
		within(t, kind+" a sentence", float64(tally.Damaged[kind])/sentences, 0.03, 0.007)
	}
	within(t, "repeats an epoch", float64(tally.Damaged["repeat"])/float64(tally.Epochs), 0.03, 0.012)
}

func TestReadingsLog(t *testing.T) {
	s := preset(t, "rtk-coils-potholes", 3)
	s.Log.Own, s.Work.Marks = simulate.OwnReceiver, 2
	d := simulate.Invent(s)
	var b bytes.Buffer
	if err := d.WriteReadings(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	rows = rows[1:]
	if len(rows) != len(d.Readings) {
		t.Fatalf("%d rows for %d readings", len(rows), len(d.Readings))
	}
	features := map[string]int{}
	for i, row := range rows {
		r := d.Readings[i]
		cell := func(name string) float64 {
			v, err := strconv.ParseFloat(row[column[name]], 64)
			if err != nil {
				return math.NaN()
			}
			return v
		}
		at, err := time.Parse(time.RFC3339, row[column["time"]])
		if err != nil || !at.Equal(d.Stamp(r)) {
			t.Errorf("row %d: time %s, stamp %s", i, row[column["time"]], d.Stamp(r))
		}
		features[row[column["feature"]]]++
		if r.Feature != "" {
			continue
		}
		if row[column["line"]] != r.Line.ID || row[column["response"]] != "peak" {
			t.Errorf("row %d: %v", i, row)
		}
		// d = s·Bt/(Bb − Bt), I = 2π d Bb/µ0; fields have four decimals of a nanotesla.
		bottom, top, spacing := cell("bottom_coil"), cell("top_coil"), cell("coil_spacing_m")
		depth := spacing * top / (bottom - top)
		within(t, "depth by coils", depth, cell("depth_m"), 0.0006+0.003*depth)
		within(t, "current by coils ÷ logged", depth*bottom/0.2/cell("current_ma"), 1, 0.03)
		if c := cell("compass_deg"); !(c >= 0 && c <= 180) {
			t.Errorf("compass %v", c)
		}
		if g := (geodesy.Geo{Lat: cell("lat"), Lon: cell("lon")}); geodesy.NewLocal(s.Origin).Forward(g).Dist(r.At) > 1.5 {
			t.Errorf("row %d: own position %v is far off", i, g)
		}
	}
	for name, want := range map[string]int{"pothole": 2, "sync": 2} {
		if features[name] != want {
			t.Errorf("%d %s, want %d", features[name], name, want)
		}
	}
	locator, utc := d.Marks()
	for i := range locator {
		within(t, "mark, s", locator[i].Sub(utc[i]).Seconds(), s.Clock.Offset, 1)
	}
}

type truth struct {
	Origin [3]float64 `json:"origin"`
	Lines  []struct {
		ID      string       `json:"id"`
		Points  [][4]float64 `json:"points"`
		Corners []struct {
			Turn float64 `json:"turn_deg"`
		} `json:"corners"`
	} `json:"lines"`
	Readings []struct {
		Row     int      `json:"row"`
		Lon     float64  `json:"lon"`
		Lat     float64  `json:"lat"`
		Station float64  `json:"station_m"`
		Depth   *float64 `json:"depth_m"`
		Line    string   `json:"line"`
	} `json:"readings"`
	Record []simulate.Difference `json:"record_differences"`
}

func TestTruthSaysWhatTheDayHolds(t *testing.T) {
	s := preset(t, "loops-and-parallels", 2)
	d := simulate.Invent(s)
	var got truth
	if err := json.Unmarshal(files(t, s)["truth.json"], &got); err != nil {
		t.Fatal(err)
	}
	local := geodesy.NewLocal(s.Origin)
	if len(got.Lines) != len(d.Lines) || len(got.Readings) != len(d.Readings) {
		t.Fatalf("%d lines, %d readings", len(got.Lines), len(got.Readings))
	}
	for i, l := range got.Lines {
		for k, p := range l.Points {
			at := local.Forward(geodesy.Geo{Lon: p[0], Lat: p[1]})
			if d.Lines[i].Path.Points[k].Dist(at) > 2e-4 { // nine decimals of a degree
				t.Errorf("%s: vertex %d is %.4f m off", l.ID, k, d.Lines[i].Path.Points[k].Dist(at))
			}
			within(t, "depth", p[2], d.Lines[i].Depth[k], 1e-4)
			within(t, "station", p[3], d.Lines[i].Path.Stations[k], 1e-4)
		}
	}
	for i, r := range got.Readings {
		if r.Row != i+2 || r.Line != d.Readings[i].Line.ID {
			t.Errorf("reading %d: %+v", i, r)
		}
		if at := local.Forward(geodesy.Geo{Lon: r.Lon, Lat: r.Lat}); at.Dist(d.Readings[i].True) > 2e-4 {
			t.Errorf("reading %d: true place %.4f m off", i, at.Dist(d.Readings[i].True))
		}
	}
}

// The record differs from the ground where the truth says so, and nowhere else
// by more than its accuracy.
func TestRecordDiffersAsTold(t *testing.T) {
	d := simulate.Invent(simulate.Demo())
	var b bytes.Buffer
	if err := d.WriteAsBuilt(&b); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Features []struct {
			Properties struct {
				ID    string  `json:"id"`
				Depth float64 `json:"depth_m"`
			} `json:"properties"`
			Geometry struct {
				Coordinates [][2]float64 `json:"coordinates"`
			} `json:"geometry"`
		} `json:"features"`
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	told := map[string]simulate.Difference{}
	for _, k := range d.Differences {
		told[k.ID] = k
	}
	lines := map[string]*simulate.Line{}
	for _, l := range d.Lines {
		lines[l.ID] = l
	}
	local := geodesy.NewLocal(d.Scenario.Origin)
	for _, f := range got.Features {
		l, k := lines[f.Properties.ID], told[f.Properties.ID]
		delete(lines, f.Properties.ID)
		if l == nil {
			if k.Kind != "not_there" {
				t.Errorf("%s is not in the ground, and the truth says %q", f.Properties.ID, k.Kind)
			}
			continue
		}
		var last float64
		for i, c := range f.Geometry.Coordinates {
			station, off := l.Path.Nearest(local.Forward(geodesy.Geo{Lon: c[0], Lat: c[1]}))
			want := 0.0
			if k.Kind == "moved" {
				want = k.Value
			}
			within(t, l.ID+" is aside, m", off, want, 0.2) // four σ of 5 cm
			if i > 0 && (station < last) != (k.Kind == "reversed") {
				t.Errorf("%s runs the wrong way", l.ID)
			}
			last = station
		}
		var mean stats
		for _, v := range l.Depth {
			mean.add(v)
		}
		deeper := 0.0
		if k.Kind == "depth" {
			deeper = k.Value
		}
		within(t, l.ID+": recorded depth, m", f.Properties.Depth, mean.mean()+deeper, 0.0051)
	}
	for id := range lines {
		if told[id].Kind != "missing" {
			t.Errorf("%s is missing from the record without a word", id)
		}
	}
}

// A crew-day holds what a full day holds: 1.9 million sentences, 130–150 MB,
// 2,500 readings.
func TestCrewDay(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	d := simulate.Invent(simulate.CrewDay(1))
	var size counter
	tally, err := d.WriteNMEA(&size)
	if err != nil {
		t.Fatal(err)
	}
	sentences := 0
	for _, n := range tally.Sentences {
		sentences += n
	}
	within(t, "sentences", float64(sentences), 1.9e6, 0.05e6)
	within(t, "bytes", float64(size), 140e6, 6e6)
	within(t, "readings", float64(len(d.Readings)), 2500, 0)
	within(t, "hours", d.Tracks[0].End()/3600, 10.5, 0.3)
}

type counter int

func (c *counter) Write(p []byte) (int, error) { *c += counter(len(p)); return len(p), nil }
