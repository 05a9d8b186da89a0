package nmea_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"tracemap/nmea"
)

// sharedLogs gives the folder of real logs beside the repository. They may not
// be committed; in CI they must be there.
func sharedLogs(t testing.TB) string {
	t.Helper()
	root := os.Getenv("TRACEMAP_SHARED")
	if root == "" {
		root = "../../shared"
	}
	dir := filepath.Join(root, "nmea")
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("the real logs are missing: %v", err)
		}
		t.Skipf("the real logs are missing: %v", err)
	}
	return dir
}

// count is what an independent program counted in a log, by the rules stated in
// the folder's README.
type count struct {
	Bytes     int64 `json:"bytes"`
	Lines     int64 `json:"lines"`
	NonText   int64 `json:"non_ascii_bytes"`
	Sentences struct {
		Valid   int `json:"valid"`
		Invalid int `json:"invalid"`
		None    int `json:"none"`
	} `json:"sentences"`
	MidLine   int            `json:"mid_line"`
	Trailing  int            `json:"trailing_text"`
	Leftover  int            `json:"leftover_lines"`
	Types     map[string]int `json:"types_by_formatter"`
	FirstFix  *time.Time     `json:"first_fix_utc"`
	LastFix   *time.Time     `json:"last_fix_utc"`
	Dates     map[string]int `json:"dates"`
	Quality   map[string]int `json:"gga_quality"`
	GST       int            `json:"gst_with_sigma"`
	GSTMedian *float64       `json:"gst_sigma_h_median"`
	Epochs    int            `json:"position_epochs"`
	Box       [4]float64     `json:"bbox"`
	Step      float64        `json:"median_step_s"`
	MaxGap    float64        `json:"max_gap_s"`
	Backward  int            `json:"backward_steps"`
	Midnights int            `json:"midnight_crossings"`
	Lenient   struct {
		Epochs int `json:"position_epochs"`
	} `json:"lenient"`
}

// differs explains where our figure means something else than the census's, or
// counts otherwise; the value is ours. A line that no longer differs fails.
var differs = map[string]map[string]float64{
	"rollover-coldboot.log": {
		// RMC is the only sentence with a date, and of the two fixes the second alone has one.
		"first fix": -2,
		// In q0 the census counts sentences with right checksum; ours are times of
		// day, those told by RMC and GLL included.
		"q0": 18,
	},
	// Two epochs of quality 6 and one of quality 1 were sent again for the same second.
	"handheld-q6-walk.nmea": {"q1": 1264, "q6": 450},
	// One second was sent twice.
	"phone-walk.nmea": {"q2": 2627},
}

func TestCensus(t *testing.T) {
	dir := sharedLogs(t)
	raw, err := os.ReadFile(filepath.Join(dir, "census.json"))
	if err != nil {
		t.Fatal(err)
	}
	var census map[string]count
	if err := json.Unmarshal(raw, &census); err != nil {
		t.Fatal(err)
	}
	if len(census) < 17 {
		t.Fatalf("the census has %d logs, too few to be whole", len(census))
	}
	for name, c := range census {
		t.Run(name, func(t *testing.T) {
			raw, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			if !nmea.Sniff(raw[:min(len(raw), 64<<10)]) {
				t.Error("not taken for a receiver's log")
			}
			l := readBytes(t, nmea.Options{}, raw)
			same := comparer(t, name)
			compareFraming(same, l, c)
			compareEpochs(same, l, c)
			compareTimes(t, same, l, c)
			compareSigma(t, l, c)
		})
	}
}

// comparer gives a comparison that knows the explained differences of a log.
func comparer(t *testing.T, name string) func(what string, got, want float64) {
	return func(what string, got, want float64) {
		t.Helper()
		if ours, ok := differs[name][what]; ok {
			if got == want {
				t.Errorf("%s no longer differs from the census: %v", what, got)
			}
			want = ours
		}
		if math.Abs(got-want) > 1e-6 {
			t.Errorf("%s: got %v, want %v", what, got, want)
		}
	}
}

func compareFraming(same func(string, float64, float64), l *nmea.Log, c count) {
	s := l.Stats
	valid := 0
	for name, n := range s.Sentences {
		same("type "+name, float64(n), float64(c.Types[name]))
		valid += n
	}
	same("types", float64(len(s.Sentences)), float64(len(c.Types)))
	same("right checksum", float64(valid), float64(c.Sentences.Valid))
	same("wrong checksum", float64(s.BadChecksum), float64(c.Sentences.Invalid))
	same("no checksum", float64(s.NoChecksum), float64(c.Sentences.None))
	same("bytes", float64(s.Bytes), float64(c.Bytes))
	same("lines", float64(s.Lines), float64(c.Lines))
	same("mid line", float64(s.MidLine), float64(c.MidLine))
	same("trailing", float64(s.Trailing), float64(c.Trailing))
	same("leftover", float64(s.TextLines), float64(c.Leftover))
	same("binary bytes", float64(s.BinaryBytes), float64(c.NonText))
	same("all sentences", float64(l.Files[0].Sentences), float64(c.Sentences.Valid+c.Sentences.Invalid+c.Sentences.None))
}

func compareEpochs(same func(string, float64, float64), l *nmea.Log, c count) {
	same("epochs", float64(l.Stats.Epochs), float64(c.Epochs))
	same("epochs, lenient", float64(len(l.Epochs)), float64(c.Lenient.Epochs))
	box := [4]float64{90, -90, 180, -180}
	for _, e := range l.Epochs {
		box = [4]float64{min(box[0], e.Lat), max(box[1], e.Lat), min(box[2], e.Lon), max(box[3], e.Lon)}
	}
	// The census rounds to 7 decimals, 5 mm on the ground; ours of the box of
	// latitudes and longitudes come in another order.
	for i, want := range [4]float64{c.Box[0], c.Box[2], c.Box[1], c.Box[3]} {
		same("box", math.Round(box[i]*1e7)/1e7, want)
	}
	if len(c.Quality) == 0 {
		return // no GGA: the quality is that of RMC or GLL, which the census does not count
	}
	names := map[string]string{"0": "none", "1": "autonomous", "2": "differential", "4": "rtk_fixed", "5": "rtk_float", "6": "estimated"}
	for q, n := range c.Quality {
		same("q"+q, float64(l.Stats.Fix[names[q]]), float64(n))
	}
}

func compareTimes(t *testing.T, same func(string, float64, float64), l *nmea.Log, c count) {
	if c.FirstFix == nil {
		if !l.DateUnknown {
			t.Error("the log tells no date, and Read does not say so")
		}
	} else {
		same("first fix", l.Stats.From.Sub(*c.FirstFix).Seconds(), 0)
		same("last fix", l.Stats.To.Sub(*c.LastFix).Seconds(), 0)
	}
	longest, midnights := 0.0, 0
	for i := 1; i < len(l.Epochs); i++ {
		a, b := l.Epochs[i-1].Nanos, l.Epochs[i].Nanos
		if a >= b {
			t.Fatalf("epoch %d is not behind the one before it", i)
		}
		longest = max(longest, float64(b-a)/1e9)
		midnights += int(b/864e11 - a/864e11)
	}
	same("longest gap", longest, c.MaxGap)
	same("midnights", float64(midnights), float64(c.Midnights))
	same("backward", float64(l.Stats.Backward), float64(c.Backward))
	reported := 0.0
	for _, g := range l.Gaps {
		reported = max(reported, g.Seconds())
	}
	if limit := max(3, 5*c.Step); c.MaxGap > limit {
		same("longest gap reported", reported, c.MaxGap)
	} else {
		same("gaps", float64(len(l.Gaps)), 0)
	}
}

func compareSigma(t *testing.T, l *nmea.Log, c count) {
	var sigmas []float64
	for i := range l.Epochs {
		if e := &l.Epochs[i]; e.HasGST() {
			sigmas = append(sigmas, math.Hypot(float64(e.SigmaN), float64(e.SigmaE)))
		}
	}
	if len(sigmas) != c.GST {
		t.Fatalf("epochs with σ: got %d, want %d", len(sigmas), c.GST)
	}
	if c.GSTMedian == nil {
		return
	}
	slices.Sort(sigmas)
	n := len(sigmas)
	if got := (sigmas[(n-1)/2] + sigmas[n/2]) / 2; math.Abs(got-*c.GSTMedian) > 1e-4 { // m: the census rounds to 4 decimals
		t.Errorf("median σ: got %v m, want %v m", got, *c.GSTMedian)
	}
}

// What is known of four real logs from outside, with the figures that another
// program computed from them without any smoothing (the folder's README): the
// error against a tactical-grade reference, a stated place and two scatters.
func TestEpochsAgainstTruth(t *testing.T) {
	dir := sharedLogs(t)
	read := func(name string) []nmea.Epoch {
		raw, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		return readBytes(t, nmea.Options{Reference: time.Date(2020, 2, 7, 0, 0, 0, 0, time.UTC)}, raw).Epochs
	}
	near := func(what string, got, want, tolerance float64) {
		if math.Abs(got-want) > tolerance {
			t.Errorf("%s: got %.3f m, want %.3f m", what, got, want)
		}
	}
	truth := map[int64]nmea.Epoch{}
	for _, e := range read("f9k-rtk-drive-a.truth.nmea") {
		truth[e.Nanos] = e
	}
	var errs []float64
	for _, e := range read("f9k-rtk-drive-a.nmea") {
		if r, ok := truth[e.Nanos]; ok {
			errs = append(errs, apart(e.Lat, e.Lon, r.Lat, r.Lon))
		}
	}
	if len(errs) != 823 {
		t.Errorf("%d common seconds with the reference, want 823", len(errs))
	}
	near("drive, median error", quantile(errs, 0.5), 0.47, 0.01) // the README rounds to 1 cm
	near("drive, 95 %", quantile(errs, 0.95), 0.84, 0.01)

	last := read("f9p-static-gst.log")
	near("static, distance to the stated place", apart(last[0].Lat, last[0].Lon, -45.877591500, 170.500124833), 2.9, 0.1)

	for _, c := range []struct {
		name        string
		median, p95 float64
	}{{"static-gst.log", 0.32, 1.18}, {"ubx-mixed-2008.ubx", 0.8, 1.5}} {
		epochs := read(c.name)
		var lats, lons []float64
		for _, e := range epochs {
			lats, lons = append(lats, e.Lat), append(lons, e.Lon)
		}
		lat, lon := quantile(lats, 0.5), quantile(lons, 0.5)
		var off []float64
		for _, e := range epochs {
			off = append(off, apart(e.Lat, e.Lon, lat, lon))
		}
		near(c.name+", scatter, median", quantile(off, 0.5), c.median, 0.06) // about the mean or the median place
		near(c.name+", scatter, 95 %", quantile(off, 0.95), c.p95, 0.06)
	}
}

// apart is the distance of two near places on the WGS 84 ellipsoid, m, by its
// radii of curvature at the first; good to a millimetre over a hundred metres.
func apart(lat1, lon1, lat2, lon2 float64) float64 {
	const a, e2 = 6378137, 0.00669437999014
	sin, cos := math.Sincos(lat1 * math.Pi / 180)
	w := 1 - e2*sin*sin
	north := (lat2 - lat1) * math.Pi / 180 * a * (1 - e2) / math.Pow(w, 1.5)
	east := (lon2 - lon1) * math.Pi / 180 * a / math.Sqrt(w) * cos
	return math.Hypot(north, east)
}

func quantile(v []float64, p float64) float64 {
	s := slices.Sorted(slices.Values(v))
	return s[int(math.Round(p*float64(len(s)-1)))]
}
