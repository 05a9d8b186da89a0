package web_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
)

func aside(from, to int) object {
	return object{"kind": "aside", "rows": []object{{"file": "readings.csv", "from": from, "to": to}}}
}

// reading is what the page shows of a reading.
type reading struct {
	Row         int
	Given, Line string
	Utility     string
	Used        bool
	Flags       []string
	Note        string
}

func (o *office) readings(revision int) map[int]reading {
	o.t.Helper()
	var v struct{ Readings []reading }
	if code := o.ask("GET", fmt.Sprintf("/api/v1/days/1/revisions/%d/view", revision), nil, &v); code != 200 {
		o.t.Fatalf("view of revision %d: status %d", revision, code)
	}
	out := map[int]reading{}
	for _, r := range v.Readings {
		out[r.Row] = r
	}
	return out
}

func (o *office) revise(body object) (int, json.RawMessage) {
	o.t.Helper()
	var b []byte
	code := o.ask("POST", "/api/v1/days/1/revisions", body, &b)
	if code == 201 {
		if d := o.settled("/api/v1/days/1"); d.Latest.State != "done" {
			o.t.Fatalf("revision %d: %s %s", d.Latest.Number, d.Latest.State, d.Latest.Message)
		}
	}
	return code, b
}

type listedRevision struct {
	Number, Base   int
	Why, CreatedBy string
	Settings       struct {
		Corrections []struct{ ID, Kind, Who, Why, At string }
	}
	Changes []struct {
		Setting       string
		Before, After any
		Added, Undone *struct{ ID, Kind, Value string }
	}
}

func (o *office) revisions() []listedRevision {
	o.t.Helper()
	var list struct{ Revisions []listedRevision }
	o.ask("GET", "/api/v1/days/1/revisions", nil, &list)
	return list.Revisions
}

// A technician's way: readings aside, a line cut and renamed, a utility set, one of
// it undone, an old revision restored; each a revision, none changing another.
func TestCorrectionsAreRevisions(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	first := o.readings(1)
	if code, b := o.revise(object{"base": 1, "why": "beside a manhole", "corrections": []object{aside(10, 12)}}); code != 201 {
		t.Fatalf("set aside: %d %s", code, b)
	}
	second := o.readings(2)
	for row := 10; row <= 12; row++ {
		if r := second[row]; r.Used || !slices.Contains(r.Flags, "set_aside_by_hand") || !strings.Contains(r.Note, "beside a manhole (local user, ") {
			t.Errorf("row %d set aside: %+v", row, r)
		}
	}
	if code, b := o.revise(object{"base": 2, "why": "another main", "corrections": []object{
		{"kind": "line", "value": " W1  north ", "rows": []object{{"file": "readings.csv", "from": 2, "to": 14}}},
		{"kind": "utility", "value": "reclaimed_water", "rows": []object{{"file": "readings.csv", "from": 2, "to": 14}}, "why": "purple tape"},
	}}); code != 201 {
		t.Fatalf("cut: %d %s", code, b)
	}
	if r := o.readings(3)[5]; r.Line != "W1 north" || r.Utility != "reclaimed_water" {
		t.Errorf("row 5 after the cut: %+v", r)
	}
	if code, b := o.revise(object{"base": 3, "why": "it was another manhole", "undo": []string{"2.1"}}); code != 201 {
		t.Fatalf("undo: %d %s", code, b)
	}
	if r := o.readings(4)[11]; slices.Contains(r.Flags, "set_aside_by_hand") || r.Line != "W1 north" {
		t.Errorf("row 11 after the undoing: %+v", r)
	}
	if code, b := o.revise(object{"base": 4, "why": "as it came", "restore": 1}); code != 201 {
		t.Fatalf("restore: %d %s", code, b)
	}
	if got, want := fmt.Sprint(o.readings(5)), fmt.Sprint(first); got != want {
		t.Error("revision 1 restored shows otherwise than revision 1")
	}
	if got := fmt.Sprint(o.readings(2)); got != fmt.Sprint(second) {
		t.Error("revision 2 has changed")
	}
	list := o.revisions()
	if len(list) != 5 || list[1].Changes[0].Undone == nil || list[1].Changes[0].Undone.ID != "2.1" || list[2].Changes[1].Added.Value != "reclaimed_water" {
		t.Errorf("revisions %+v", list)
	}
	if c := list[2].Settings.Corrections; len(c) != 3 || c[0].ID != "2.1" || c[2].ID != "3.2" || c[2].Why != "purple tape" || c[1].Why != "another main" || c[1].Who != "local user" || c[1].At == "" {
		t.Errorf("corrections of revision 3: %+v", c)
	}
	if len(list[0].Settings.Corrections) != 0 || len(list[0].Changes) != 2 {
		t.Errorf("restored: %+v", list[0])
	}
}

func TestWrongCorrections(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	for _, c := range []struct {
		body object
		code int
		want string
	}{
		{object{"base": 1, "corrections": []object{aside(3, 4)}}, 422, "no reason"},
		{object{"base": 1, "why": "x", "corrections": []object{{"kind": "paint", "rows": []object{{"file": "readings.csv", "from": 3, "to": 4}}}}}, 422, "no edit"},
		{object{"base": 1, "why": "x", "corrections": []object{aside(4, 3)}}, 422, "no span"},
		{object{"base": 1, "why": "x", "corrections": []object{{"kind": "aside", "rows": []object{{"file": "../x.csv", "from": 3, "to": 4}}}}}, 422, "no file x.csv"},
		{object{"base": 1, "why": "x", "undo": []string{"7.1"}}, 422, "no correction 7.1"},
		{object{"base": 1, "why": "x", "restore": 9}, 404, "not found"},
		{object{"base": 3, "why": "x"}, 422, "no revision 3"},
		{object{"base": 1, "why": "x", "settings": object{"antenna_height_m": -2}}, 422, "antenna height"},
	} {
		var p struct{ Title string }
		if code := o.ask("POST", "/api/v1/days/1/revisions", c.body, &p); code != c.code || !strings.Contains(p.Title, c.want) {
			t.Errorf("%v: %d %q, want %d %q", c.body, code, p.Title, c.code, c.want)
		}
	}
	// What a request says of who corrected what is not read.
	forged := object{"antenna_height_m": 1.8, "corrections": []object{{"id": "1.1", "kind": "aside", "rows": []object{{"file": "readings.csv", "from": 3, "to": 4}}, "why": "w", "who": "somebody else", "at": "2020-01-01T00:00:00Z"}}}
	if code, b := o.revise(object{"base": 1, "why": "forged", "settings": forged}); code != 201 || strings.Contains(string(b), "somebody else") {
		t.Errorf("forged: %d %s", code, b)
	}
	// Nothing left is no map, in words.
	var d day
	o.ask("POST", "/api/v1/days/1/revisions", object{"base": 2, "why": "all", "corrections": []object{aside(1, 1000)}}, nil)
	if d = o.settled("/api/v1/days/1"); d.Latest.State != "refused" || !strings.Contains(d.Latest.Message, "bring some back") {
		t.Errorf("all set aside: %+v", d)
	}
}

// The second of two people is told who did what, and can go on from there.
func TestOvertakenIsToldByWhom(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	o.revise(object{"base": 1, "why": "beside a manhole", "corrections": []object{aside(10, 12)}})
	o.revise(object{"base": 2, "why": "measured", "settings": object{"antenna_height_m": 1.75}})
	var p struct {
		Title, Detail string
		More          struct{ Newer []listedRevision }
	}
	mine := object{"base": 1, "why": "mine", "corrections": []object{aside(40, 41)}}
	if code := o.ask("POST", "/api/v1/days/1/revisions", mine, &p); code != 409 || !strings.Contains(p.Title, "revision 3: local user – measured") {
		t.Fatalf("%d %+v", code, p)
	}
	if n := p.More.Newer; len(n) != 2 || n[0].Number != 2 || n[0].Changes[0].Added == nil || n[1].Changes[0].Setting != "antenna_height_m" || n[1].Changes[0].After != 1.75 {
		t.Errorf("newer: %+v", p.More.Newer)
	}
	if len(o.revisions()) != 3 {
		t.Error("the refused change made a revision")
	}
	mine["base"] = 3
	if code, _ := o.revise(mine); code != 201 {
		t.Errorf("on top of theirs: %d", code)
	}
	if r := o.readings(4); !slices.Contains(r[11].Flags, "set_aside_by_hand") || !slices.Contains(r[40].Flags, "set_aside_by_hand") {
		t.Error("one of the two people's corrections is lost")
	}
}

// What moved between two revisions: an antenna moved sideways moves every line by
// as much, and nothing else.
func TestDifferenceOfRevisions(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	o.revise(object{"base": 1, "why": "the antenna sits right of the rod", "settings": object{"antenna_height_m": 1.8, "antenna_right_m": 0.2, "scheme": "pas128"}})
	o.revise(object{"base": 2, "why": "named", "corrections": []object{
		{"kind": "line", "value": "Main", "rows": []object{{"file": "readings.csv", "from": 1, "to": 1000}}}, aside(10, 12),
	}})
	type lineDiff struct {
		Line     string
		Was      []string
		ShiftM   float64 `json:"shift_m"`
		Class    [2][]string
		LengthM  [2]float64 `json:"length_m"`
		ShiftAt  []float64  `json:"shift_at"`
		HalfM    [2]float64 `json:"half_m"`
		DepthChg float64    `json:"depth_change_m"`
	}
	var d struct {
		From, To int
		Lines    []lineDiff
		Counts   map[string]int
		Readings []struct{ Became string }
		Changes  []struct{ Setting string }
	}
	if code := o.ask("GET", "/api/v1/days/1/revisions/2/difference", nil, &d); code != 200 || d.From != 1 || d.To != 2 {
		t.Fatalf("%d %+v", code, d)
	}
	long, classed := 0, 0
	for _, l := range d.Lines {
		if len(l.Was) != 1 || l.Was[0] != l.Line {
			t.Errorf("%s was %v", l.Line, l.Was)
		}
		// The shift is 0.2 m where the crew walked along the line: straight lines walked
		// one way. Passes both ways and corners make it smaller or larger.
		if l.ShiftM > 0.15 && l.ShiftM < 0.45 {
			long++
		}
		if len(l.Class[0]) == 0 && len(l.Class[1]) > 0 {
			classed++
		}
	}
	if long < 5 || classed < 5 || len(d.Changes) != 2 {
		t.Errorf("%d lines moved by about 0.2 m, %d got a class, changes %v: %+v", long, classed, d.Changes, d.Lines)
	}
	o.ask("GET", "/api/v1/days/1/revisions/3/difference", nil, &d)
	if d.Counts["aside"] != 3 || d.Counts["line"] < 200 || len(d.Readings) < 200 || len(d.Lines) != 1 || len(d.Lines[0].Was) < 5 {
		t.Errorf("joined: %v %d %+v", d.Counts, len(d.Readings), d.Lines)
	}
	d.Lines = nil
	if code := o.ask("GET", "/api/v1/days/1/revisions/3/difference?since=3", nil, &d); code != 200 || d.Lines[0].ShiftM != 0 {
		t.Errorf("against itself: %d, shift %v", code, d.Lines)
	}
	if code := o.ask("GET", "/api/v1/days/1/revisions/3/difference?since=9", nil, nil); code != 404 {
		t.Errorf("against nothing: %d", code)
	}
}
