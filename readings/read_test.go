package readings_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"tracemap/readings"
	"tracemap/remarks"
)

func TestReadEveryColumn(t *testing.T) {
	log := read(t, "time,line,utility,method,response,frequency_hz,depth_m,current_ma,signal_pct,gain_db,compass_deg,null_offset_m,"+
		"diameter_mm,feature,measured_depth_m,lat,lon,hdop,fix,note\n"+
		"2026-03-05T10:15:30.25Z,W1,water,direct,peak,512,1.25,45.5,85,40,12,-0.02,110,tee,1.3,59.9,10.75,0.7,4,\"by the gate, wet\"\n",
		readings.Options{})
	want := blank()
	want.Row, want.Time = 2, time.Date(2026, 3, 5, 10, 15, 30, 250e6, time.UTC)
	want.Line, want.Utility, want.Method, want.Response = "W1", "water", readings.Direct, readings.Peak
	want.Frequency, want.Depth, want.Current, want.Signal, want.Gain, want.Compass = 512, 1.25, 45.5, 85, 40, 12
	want.NullOffset, want.Diameter, want.Feature, want.MeasuredDepth = -0.02, 0.11, "tee", 1.3
	want.Lat, want.Lon, want.HDOP, want.Fix, want.Note = 59.9, 10.75, 0.7, "4", "by the gate, wet"
	if diff := differ(only(t, log), want); diff != "" {
		t.Error(diff)
	}
	if len(log.Warnings) != 0 {
		t.Errorf("warnings = %q, want none", log.Warnings)
	}
}

// A cell of a column gives that value in the column's own unit. Conversions:
// foot 0.3048 m and inch 25.4 mm exactly (NIST SP 811, appendix B).
func TestUnits(t *testing.T) {
	depth := func(r readings.Reading) float64 { return r.Depth }
	current := func(r readings.Reading) float64 { return r.Current }
	frequency := func(r readings.Reading) float64 { return r.Frequency }
	for _, c := range []struct {
		header, cell string
		of           func(readings.Reading) float64
		want         float64
	}{
		{"depth_m", "1.25", depth, 1.25},
		{"depth_cm", "125", depth, 1.25},
		{"depth_mm", "1250", depth, 1.25},
		{"depth_ft", "10", depth, 3.048},
		{"depth_in", "100", depth, 2.54},
		{"Depth (ft)", "10", depth, 3.048},
		{"DEPTH [mm]", "1250", depth, 1.25},
		{"depth, m", "1.25", depth, 1.25},
		{" Depth  m ", "1.25", depth, 1.25},
		{"Depth to centre / cm", "125", depth, 1.25},
		{"depth", "125 cm", depth, 1.25},
		{"depth_m", "1.25m", depth, 1.25},
		{"depth_m", "+1.25e0", depth, 1.25},
		{"current_ma", "45", current, 45},
		{"current_a", "0.045", current, 45},
		{"Current (µA)", "4500", current, 4.5},
		{"frequency_hz", "33000", frequency, 33000},
		{"frequency_khz", "32.768", frequency, 32768},
		{"Freq", "8 kHz", frequency, 8000},
		{"Signal %", "81 %", func(r readings.Reading) float64 { return r.Signal }, 81},
		{"Compass (°)", "-12°", func(r readings.Reading) float64 { return r.Compass }, -12},
		{"null_offset_in", "-2", func(r readings.Reading) float64 { return r.NullOffset }, -0.0508},
		{"diameter_in", "8", func(r readings.Reading) float64 { return r.Diameter }, 0.2032},
		{"coil_spacing_mm", "400", func(r readings.Reading) float64 { return r.CoilSpacing }, 0.4},
		{"measured_depth_ft", "5", func(r readings.Reading) float64 { return r.MeasuredDepth }, 1.524},
		{"Latitude", "-33.5", func(r readings.Reading) float64 { return r.Lat }, -33.5},
	} {
		header, cell := "time\t"+c.header, "2026-03-05T08:00:00Z\t"+c.cell
		if c.header == "Latitude" {
			header, cell = header+"\tlon", cell+"\t151"
		}
		log := read(t, header+"\n"+cell+"\n", readings.Options{})
		if got := c.of(only(t, log)); math.Abs(got-c.want) > 1e-12 { // relative rounding of one product
			t.Errorf("%s = %s gives %v, want %v", c.header, c.cell, got, c.want)
		}
	}
}

func TestWords(t *testing.T) {
	for _, c := range []struct{ column, cell, want string }{
		{"utility", "Potable Water", "water"}, {"utility", "recycled-water", "reclaimed_water"}, {"utility", "FOUL", "sewer"},
		{"utility", "surface water", "storm"}, {"utility", "natural_gas", "gas"}, {"utility", "Petroleum", "oil"}, {"utility", "steam", "steam"},
		{"utility", "HV", "electric"}, {"utility", "street lighting", "lighting"}, {"utility", "Fibre-Optic", "communications"},
		{"utility", "", "unknown"}, {"utility", "treacle", "unknown"},
		{"method", "Direct connection", "direct"}, {"method", "clamp", "induction"}, {"method", "radio", "passive"}, {"method", "SONDE", "sonde"},
		{"response", "maximum", "peak"}, {"response", "MIN", "null"}, {"response", "total field", "omni"}, {"response", "single-coil", "single"},
		{"feature", "Trial Pit", "pothole"}, {"feature", "Elbow", "bend"}, {"feature", "Draw pit 3", "draw_pit_3"}, {"feature", "none", ""},
		{"mode", "null", "null"}, {"mode", "induction", "induction"},
	} {
		r := only(t, read(t, "time,"+c.column+"\n2026-03-05T08:00:00Z,"+c.cell+"\n", readings.Options{}))
		got := map[string]string{"utility": string(r.Utility), "method": string(r.Method), "response": string(r.Response),
			"feature": r.Feature, "mode": string(r.Method) + string(r.Response)}[c.column]
		if got != c.want {
			t.Errorf("%s %q = %q, want %q", c.column, c.cell, got, c.want)
		}
	}
}

// Sources that cannot be read: the whole message.
func TestReadErrors(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"no time", "stamp,depth_m\n1,2\n", `reading day.csv: no column "time"; found "stamp", "depth_m" – map it with --columns`},
		{"date alone", "date;depth_m\n1;2\n",
			`reading day.csv: column "date" holds plain numbers (1 to 1): say what they count with [time] format (unix, unix_ms, serial or elapsed) in --columns`},
		{"day or month first", "time,depth_m\n05/03/2026 08:00:00,1.2\n05/03/2026 08:00:10,1.2\n",
			`reading day.csv: times such as "05/03/2026 08:00:10" may have the day or the month first: say which with [time] format in --columns, as in "DD/MM/YYYY hh:mm:ss"`},
		{"time of day alone", "time,depth_m\n08:00:00,1.2\n",
			`reading day.csv: column "time" has times of day without a date: give the receiver's log with it, or the date as [time] day in --columns, as a line "Date: 2026-05-12" above the header, or in the file's name`},
		{"transposed", "time,2026-03-05 08:00:00,2026-03-05 08:00:10\ndepth_m,1.2,1.3\n",
			`reading day.csv: the table is transposed: "time" head rows, not columns; turn it (paste it transposed) and give it again`},
		{"empty", "", "reading day.csv: empty: no header row"},
		{"blank lines", "\n \n;;\n", "reading day.csv: empty: no header row"},
		{"depth without unit", "time,depth\n2026-03-05T08:00:00Z,1.2\n",
			`reading day.csv: column "depth" states no unit: name it depth_m (or depth_ft), or map it with --columns`},
		{"current without unit", "time,Current\n2026-03-05T08:00:00Z,12\n",
			`reading day.csv: column "Current" states no unit: name it current_ma (or current_a), or map it with --columns`},
		{"frequency without unit", "time,freq\n2026-03-05T08:00:00Z,33\n",
			`reading day.csv: column "freq" states no unit: name it frequency_hz (or frequency_khz), or map it with --columns`},
		{"one coil with unit", "time,bottom_coil_nt,top_coil\n2026-03-05T08:00:00Z,3,2\n",
			"reading day.csv: the two coils must be in one unit: write it in both headers or in none (bottom_coil_nt, top_coil_nt)"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := readings.Read(context.Background(), []readings.Source{{Name: "day.csv", R: strings.NewReader(c.text)}}, readings.Options{})
			if err == nil || err.Error() != c.want {
				t.Errorf("error = %v\nwant    %s", err, c.want)
			}
		})
	}
}

func TestReadPassesOnReaderErrors(t *testing.T) {
	broken := errors.New("cable out")
	text := "time,depth_m\n" + strings.Repeat("2026-03-05T08:00:00Z,1.2\n", 20000)
	_, err := readings.Read(context.Background(), []readings.Source{
		{Name: "day.csv", R: io.MultiReader(strings.NewReader(text), iotest.ErrReader(broken))}}, readings.Options{})
	if !errors.Is(err, broken) || !strings.HasPrefix(err.Error(), "reading day.csv: line 20002: ") {
		t.Errorf("error = %v, want reading day.csv: line 20002: %v", err, broken)
	}
}

func TestReadStopsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := readings.Read(ctx, []readings.Source{{Name: "day.csv", R: strings.NewReader("time\n2026-03-05T08:00:00Z\n")}}, readings.Options{})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error = %v, want %v", err, context.Canceled)
	}
}

// Several files are one log, in the caller's order, and a remark about several
// is said once.
func TestReadSeveralFiles(t *testing.T) {
	var sources []readings.Source
	for _, name := range []string{"b.csv", "a.csv", "c.csv", "d.csv"} {
		sources = append(sources, readings.Source{Name: name, R: strings.NewReader("time,line,battery\n2026-03-05 08:00:00," + name + ",9\n")})
	}
	log, err := readings.Read(context.Background(), sources, readings.Options{Zone: time.FixedZone("", 3600)})
	if err != nil {
		t.Fatal(err)
	}
	got := ""
	for _, r := range log.Readings {
		got += r.File + "=" + r.Line + " "
	}
	if want := "b.csv=b.csv a.csv=a.csv c.csv=c.csv d.csv=d.csv "; got != want {
		t.Errorf("readings = %s, want %s", got, want)
	}
	if want := `b.csv and 3 more: columns not known: "battery"; what they say is carried into the map files, and not used otherwise`; len(log.Warnings) != 1 || log.Warnings[0] != want {
		t.Errorf("warnings = %q, want %q", log.Warnings, want)
	}
}

// Two columns that give the same: our own name counts, then the first.
func TestTwoColumnsForOne(t *testing.T) {
	for _, c := range []struct {
		header, cells string
		want          float64
		remark        string
	}{
		{"time,Depth (ft),depth_m", "10,1.25", 1.25, `column "Depth (ft)" is not used: "depth_m" gives the same`},
		{"time,Depth (ft),Line depth (m)", "10,1.25", 3.048, `column "Line depth (m)" is not used: "Depth (ft)" gives the same`},
	} {
		log := read(t, c.header+"\n2026-03-05T08:00:00Z,"+c.cells+"\n", readings.Options{})
		if got := only(t, log).Depth; got != c.want {
			t.Errorf("%s: depth = %v, want %v", c.header, got, c.want)
		}
		if len(log.Warnings) != 1 || !strings.HasSuffix(log.Warnings[0], c.remark) {
			t.Errorf("%s: warnings = %q, want %q", c.header, log.Warnings, c.remark)
		}
	}
}

// A cover is measured to the top of the pipe and must never become a depth.
func TestCoverIsNoDepth(t *testing.T) {
	log := read(t, "time,cover_m\n2026-03-05T08:00:00Z,1.2\n", readings.Options{})
	if r := only(t, log); !math.IsNaN(r.Depth) || !r.Flags.Has(remarks.DepthMissing) {
		t.Errorf("depth = %v, flags %v; want none and %v", r.Depth, r.Flags, remarks.DepthMissing)
	}
}

func TestWholeLogUnreadable(t *testing.T) {
	log := read(t, "time,depth_m\n2026-03-05 08:00,1.2\n2026-03-05 08:01,1.2\n", readings.Options{})
	want := `day.csv: none of 2 rows could be read; the first, line 2: "2026-03-05 08:00": no seconds: a reading's time needs them`
	if len(log.Warnings) != 1 || log.Warnings[0] != want {
		t.Errorf("warnings = %q, want %q", log.Warnings, want)
	}
}

// A bad row in which a cell happens to be the name of a column, as "UTC" is, is a bad
// row: what comes below it is read.
func TestBadRowIsNoHeader(t *testing.T) {
	for _, bad := range []string{"25:00,UTC,W1,bad", "2026-03-05T08:00:10Z,UTC,W1"} {
		log := read(t, "time,zone,line,depth_m\n2026-03-05T08:00:00Z,UTC,W1,1.0\n"+bad+"\n2026-03-05T08:00:20Z,UTC,W1,1.1\n", readings.Options{})
		if len(log.Readings) != 2 || len(log.Aside) != 1 || log.Aside[0].Row != 3 {
			t.Errorf("with %q: %d readings, set aside %+v; want 2 readings and line 3 set aside", bad, len(log.Readings), log.Aside)
		}
	}
}

// A log longer than the blocks it is collected in keeps its order.
func TestLongLog(t *testing.T) {
	const rows = 10_001
	var text strings.Builder
	text.WriteString("time\n")
	for i := range rows {
		text.WriteString(time.Date(2026, 3, 5, 8, 0, i, 0, time.UTC).Format(time.RFC3339) + "\n")
	}
	log := read(t, text.String(), readings.Options{})
	if len(log.Readings) != rows {
		t.Fatalf("readings = %d, want %d", len(log.Readings), rows)
	}
	for i, r := range log.Readings {
		if r.Row != i+2 {
			t.Fatalf("reading %d is line %d, want %d", i, r.Row, i+2)
		}
	}
}

// A position that by its own word is none of a receiver's is not used.
func TestPositionWithoutFix(t *testing.T) {
	for fix, used := range map[string]bool{"0": false, "No fix": false, "7": false, "8": false, "simulator": false, "1": true, "4": true, "RTK Fixed": true, "": true} {
		log := read(t, "time,lat,lon,fix\n2026-03-05T08:00:00Z,0.2,0.1,"+fix+"\n", readings.Options{})
		if r := only(t, log); math.IsNaN(r.Lat) == used || math.IsNaN(r.Lon) == used || len(log.Warnings) == 0 != used {
			t.Errorf("fix %q: position %v, %v, warnings %q", fix, r.Lat, r.Lon, log.Warnings)
		}
	}
}

// The position 0, 0 is what loggers write without a fix.
func TestPositionNowhere(t *testing.T) {
	log := read(t, "time,lat,lon\n2026-03-05T08:00:00Z,0.0,0\n2026-03-05T08:00:00Z,0,0.1\n", readings.Options{})
	if len(log.Readings) != 2 || !math.IsNaN(log.Readings[0].Lat) || !math.IsNaN(log.Readings[0].Lon) || log.Readings[1].Lat != 0 {
		t.Errorf("readings = %+v, want the first without a position", log.Readings)
	}
	if want := "day.csv: positions 0, 0 taken as none: 1"; len(log.Warnings) != 1 || log.Warnings[0] != want {
		t.Errorf("warnings = %q, want %q", log.Warnings, want)
	}
}

// What a second log repeats of the first – an export of all that the locator holds, the
// same log packed and plain – counts once; what one
// log says twice in one second counts once as well.
func TestReadingsThatComeAgain(t *testing.T) {
	const header = "time,line,depth_m\n"
	rows := []string{"2026-03-05T08:00:00Z,A,1.2\n", "2026-03-05T08:00:10Z,A,1.3\n", "2026-03-05T08:00:10Z,A,1.3\n", "2026-03-05T08:00:20Z,A,1.4\n", ",A,1.5\n"}
	log, err := readings.Read(context.Background(), []readings.Source{
		{Name: "a.csv", R: strings.NewReader(header + strings.Join(rows[:3], ""))},
		{Name: "b.csv", R: strings.NewReader("line;time;depth_m\nA;2026-03-05T08:00:10Z;1,3\nA;2026-03-05T08:00:20Z;1,4\nA;2026-03-05T08:00:20Z;1,5\nA;;1,5\n")},
		{Name: "c.csv", R: strings.NewReader(header + strings.Join(rows, ""))},
	}, readings.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, r := range log.Readings {
		got = append(got, fmt.Sprintf("%s:%d", r.File, r.Row))
	}
	if want := []string{"a.csv:2", "a.csv:3", "b.csv:3", "b.csv:4", "b.csv:5", "c.csv:6"}; !slices.Equal(got, want) {
		t.Errorf("readings %v, want %v", got, want)
	}
	if len(log.Aside) != 0 || log.Rows != 6 {
		t.Errorf("%d rows, set aside %+v", log.Rows, log.Aside)
	}
	if all := strings.Join(log.Warnings, "\n"); !strings.Contains(all, "b.csv: readings that a log before this one has as well, which count once: 1") ||
		!strings.Contains(all, "a.csv: rows that repeat an earlier row of this file, which count once: 1") {
		t.Errorf("warnings %q", log.Warnings)
	}
}

// A cell that is no measurement costs the cell: position, line and all else of the
// reading stay, and the text is in the note.
func TestBadCellCostsACell(t *testing.T) {
	const header = "time,line,depth_m,current_ma,lat,lon,note\n"
	for cell, reason := range map[string]string{"ERR": "not a number", "<0.30": "not a number", "0.95*": "not a number", "OVER": "not a number"} {
		log := read(t, header+"2026-03-05T08:00:00Z,A,"+cell+",45,59.9,10.7,gate\n2026-03-05T08:00:10Z,A,1.2,"+cell+",59.9,10.7,\n"+
			"2026-03-05T08:00:20Z,A,1.2,45,"+cell+",10.7,\n2026-03-05T08:00:30Z,A,---,45,59.9,10.7,\n", readings.Options{})
		if len(log.Readings) != 4 || len(log.Cells) != 3 {
			t.Fatalf("%s: %d readings, set aside %+v, cells %+v; want 4 readings and 3 cells", cell, len(log.Readings), log.Aside, log.Cells)
		}
		depth, current, place, dashes := log.Readings[0], log.Readings[1], log.Readings[2], log.Readings[3]
		if !math.IsNaN(depth.Depth) || depth.Current != 45 || depth.Lat != 59.9 || depth.Note != "gate; depth_m: "+cell {
			t.Errorf("%s as depth: %+v", cell, depth)
		}
		if current.Depth != 1.2 || !math.IsNaN(current.Current) || current.Note != "current_ma: "+cell {
			t.Errorf("%s as current: %+v", cell, current)
		}
		if place.Depth != 1.2 || !math.IsNaN(place.Lat) || !math.IsNaN(place.Lon) || place.Note != "lat: "+cell {
			t.Errorf("%s as latitude: %+v", cell, place)
		}
		if dashes.Note != "" || dashes.Flags.Has(remarks.BadCell) || !dashes.Flags.Has(remarks.DepthMissing) {
			t.Errorf("---: %+v, want no depth and nothing lost", dashes)
		}
		if want := "day.csv: cells that could not be read and are kept in the note: 3; the first, line 2, column depth_m: \"" + cell + "\": " + reason; !slices.Contains(log.Warnings, want) {
			t.Errorf("warnings = %q, want %q", log.Warnings, want)
		}
	}
}

// A day whose rows were pasted twice gives each reading once.
func TestRowsPastedTwice(t *testing.T) {
	const rows = "2026-03-05T08:00:00Z,A,1.2\n2026-03-05T08:00:10Z,A,1.3\n2026-03-05T08:00:10Z,A,1.4\n"
	log := read(t, "time,line,depth_m\n"+rows+rows, readings.Options{})
	if want := "day.csv: rows that repeat an earlier row of this file, which count once: 3"; len(log.Readings) != 3 || log.Rows != 3 || !slices.Contains(log.Warnings, want) {
		t.Errorf("%d readings of %d rows, warnings %q; want 3 and %q", len(log.Readings), log.Rows, log.Warnings, want)
	}
}
