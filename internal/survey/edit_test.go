package survey_test

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"tracemap/internal/survey"
	"tracemap/result"
)

func aside(from, to int) survey.Edit {
	return survey.Edit{Kind: survey.SetAside, Rows: []survey.RowSpan{{File: "readings.csv", From: from, To: to}}, Reason: "lid in the way (K. Moe)"}
}

// Readings set aside by hand leave the map that the log without them gives, the
// clock included, and stay in the list with flag and reason.
func TestReadingsSetAsideByHand(t *testing.T) {
	log, readings := demo(t)
	rows := strings.SplitAfter(readings, "\n")
	without := strings.Join(slices.Concat(rows[:9], rows[15:]), "") // lines 10 to 15 of the file
	want := run(t, log, without, nil)
	got := run(t, log, readings, func(o *survey.Options) { o.Edits = []survey.Edit{aside(10, 15)} })
	if d := apart(vertices(got), vertices(want)); d > 1e-6 {
		t.Errorf("lines are %v m from those of the log without the readings", d)
	}
	if got.Clock.Offset != want.Clock.Offset {
		t.Errorf("clock offset %v s, want %v s", got.Clock.Offset, want.Clock.Offset)
	}
	n := 0
	for _, p := range got.Readings {
		r := p.Reading
		if inside := r.Row >= 10 && r.Row <= 15; inside != slices.Contains(p.Flags.Names(), "set_aside_by_hand") || inside != strings.Contains(r.Note, "lid in the way (K. Moe)") || inside && p.Used {
			t.Errorf("row %d: flags %v, note %q, used %v", r.Row, p.Flags, r.Note, p.Used)
		} else if inside {
			n++
		}
	}
	if n != 6 || got.Summary.Readings.ByFlag["set_aside_by_hand"] != 6 || !contains(got.Summary.Warnings, "6 readings were set aside by hand") {
		t.Errorf("%d readings set aside, counts %v, warnings %q; want 6, told", n, got.Summary.Readings.ByFlag, got.Summary.Warnings)
	}
}

func ids(m *result.Map) string {
	var out []string
	for _, l := range m.Lines {
		out = append(out, l.ID+" "+string(l.Utility))
	}
	return strings.Join(out, ", ")
}

// Brought back, the day is as it was; lines are renamed, joined and cut by giving
// readings to other lines; the log's own word stays in the note.
func TestEditsOfLines(t *testing.T) {
	log, readings := demo(t)
	rows := func(from, to int) []survey.RowSpan {
		return []survey.RowSpan{{File: "readings.csv", From: from, To: to}}
	}
	plain := run(t, log, readings, nil)
	back := run(t, log, readings, func(o *survey.Options) {
		o.Edits = []survey.Edit{aside(10, 15), {Kind: survey.BringBack, Rows: rows(10, 15)}}
	})
	if d := apart(vertices(back), vertices(plain)); d != 0 || back.Summary.Readings.ByFlag["set_aside_by_hand"] != 0 {
		t.Errorf("brought back, the lines are %v m off, %d still aside", d, back.Summary.Readings.ByFlag["set_aside_by_hand"])
	}
	cut := run(t, log, readings, func(o *survey.Options) {
		o.Edits = []survey.Edit{{Kind: survey.SetLine, Rows: rows(2, 15), Value: "W1 north"}, {Kind: survey.SetUtility, Rows: rows(2, 15), Value: "reclaimed_water"}}
	})
	if got := ids(cut); !strings.Contains(got, "W1 north reclaimed_water") || !strings.Contains(got, "W1 water") || len(cut.Lines) != len(plain.Lines)+1 {
		t.Errorf("lines after the cut: %s", got)
	}
	if note := cut.Readings[3].Reading.Note; !strings.Contains(note, `logged as "W1"`) || !strings.Contains(note, `logged as "water"`) {
		t.Errorf("note %q does not say what was logged", note)
	}
	all := run(t, log, readings, func(o *survey.Options) {
		o.Edits = []survey.Edit{{Kind: survey.SetLine, Rows: rows(1, 1000), Value: "X"}}
	})
	if len(all.Lines) != 1 || all.Lines[0].ID != "X" {
		t.Errorf("all joined: %s", ids(all))
	}
}

// An edit that makes no sense is refused before anything is read; one that meets
// nothing is told; nothing left is no map.
func TestWrongEdits(t *testing.T) {
	rows := []survey.RowSpan{{File: "readings.csv", From: 2, To: 3}}
	for _, c := range []struct {
		e    survey.Edit
		want string
	}{
		{survey.Edit{Kind: "paint", Rows: rows}, "no edit"},
		{survey.Edit{Kind: survey.SetAside}, "names no readings"},
		{survey.Edit{Kind: survey.SetAside, Rows: rows, Value: "x"}, "takes no value"},
		{survey.Edit{Kind: survey.SetLine, Rows: rows, Value: "a\nb"}, "line name"},
		{survey.Edit{Kind: survey.SetLine, Rows: rows, Value: strings.Repeat("x", 81)}, "line name"},
		{survey.Edit{Kind: survey.SetUtility, Rows: rows, Value: "lava"}, "no utility"},
		{survey.Edit{Kind: survey.SetAside, Rows: []survey.RowSpan{{File: "a", From: 3, To: 2}}}, "no span"},
	} {
		o := survey.DefaultOptions()
		o.Edits = []survey.Edit{c.e}
		if err := o.Check(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c.e, err, c.want)
		}
	}
	log, readings := demo(t)
	m := run(t, log, readings, func(o *survey.Options) {
		o.Edits = []survey.Edit{{Kind: survey.SetAside, Rows: []survey.RowSpan{{File: "other.csv", From: 2, To: 3}}}}
	})
	if !contains(m.Summary.Warnings, "meets no reading") {
		t.Errorf("warnings %q do not tell of an edit without a reading", m.Summary.Warnings)
	}
	o := survey.DefaultOptions()
	o.Edits = []survey.Edit{aside(1, 1000)}
	_, err := survey.Run(t.Context(), open(t, source("day.nmea", log), source("readings.csv", readings)), o)
	if !errors.Is(err, survey.ErrNoReadings) || !strings.Contains(err.Error(), "bring some back") {
		t.Errorf("all set aside: %v", err)
	}
}

// Every format that lists readings has the ones set aside, with flag and reason;
// those that draw lines only tell of them in the report and the summary.
func TestSetAsideIsInEveryOutput(t *testing.T) {
	log, readings := demo(t)
	opt := survey.DefaultOptions()
	opt.Edits = []survey.Edit{aside(10, 12)}
	var err error
	if opt.Formats, err = survey.ParseFormats("csv,geojson,kml,gpkg,shp"); err != nil {
		t.Fatal(err)
	}
	day, err := survey.Run(t.Context(), open(t, source("day.nmea", log), source("readings.csv", readings)), opt)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := day.Write(t.Context(), dir, day.Map()); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string][]string{
		"readings.csv":     {"set_aside_by_hand", "lid in the way (K. Moe)"},
		"readings.geojson": {"set_aside_by_hand", "lid in the way (K. Moe)"},
		"map.gpkg":         {"set_aside_by_hand", "lid in the way (K. Moe)"},
		"map.kml":          {"set aside by hand: lid in the way (K. Moe)"},
		"readings.dbf":     {"set_aside_by_hand", "lid in the way (K. Moe)"},
		"summary.json":     {"\"set_aside_by_hand\": 3", "3 readings were set aside by hand"},
		"report.html":      {"3 readings were set aside by hand"},
	} {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Error(err)
			continue
		}
		for _, w := range want {
			if !strings.Contains(string(b), w) {
				t.Errorf("%s does not hold %q", name, w)
			}
		}
	}
}
