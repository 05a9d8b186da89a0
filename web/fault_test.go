package web_test

import (
	"strings"
	"testing"

	"tracemap/internal/parallel"
)

// A defect in a comparison or in a day's computation ends that one, with a word on
// whose fault it is; the server goes on and does the next.
func TestFaultsStayWhereTheyHappen(t *testing.T) {
	o := demoOffice(t)
	mend := parallel.Break("the comparison")
	code, b := o.compared("as-built.geojson", demo(t, "as-built.geojson"), object{})
	mend()
	if code != 500 || !strings.Contains(string(b), "defect") || strings.Contains(string(b), "goroutine") {
		t.Errorf("comparison: status %d: %s", code, b)
	}
	if code, b := o.compared("as-built.geojson", demo(t, "as-built.geojson"), object{}); code != 201 {
		t.Errorf("the next comparison: status %d: %s", code, b)
	}

	mend = parallel.Break("the day")
	settings := func(height float64) {
		if code := o.ask("POST", "/api/v1/days/1/revisions", object{"base": o.settled("/api/v1/days/1").Latest.Number, "settings": object{"antenna_height_m": height}, "why": "antenna"}, nil); code != 201 {
			t.Fatalf("new revision: status %d", code)
		}
	}
	settings(1.9)
	d := o.settled("/api/v1/days/1")
	mend()
	if d.Latest.State != "failed" || !strings.Contains(d.Latest.Message, "defect") || strings.Contains(d.Latest.Message, "goroutine") {
		t.Errorf("day: %+v", d)
	}
	settings(2)
	if d := o.settled("/api/v1/days/1"); d.Latest.State != "done" {
		t.Errorf("the next revision: %+v", d)
	}
}
