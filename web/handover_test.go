package web_test

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
)

// answers to every check, all alike.
func answers(word string) object {
	var list []object
	for _, key := range []string{"self_check", "antenna", "frame", "control", "clock", "revisit"} {
		list = append(list, object{"check": key, "answer": word, "note": "no time"})
	}
	return object{"name": "Kim Moe", "checks": list, "notes": "Gate code from the owner.\nW4 is <b>open</b>."}
}

// A day is handed over as it stands, once; what was handed over stays when the day
// is opened again.
func TestHandOver(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	url := func(n int, what string) string { return fmt.Sprintf("/api/v1/days/1/revisions/%d/%s", n, what) }
	var p struct{ Title, Detail string }
	if code := o.ask("POST", url(1, "handover"), answers("yes"), &p); code != 422 || !strings.Contains(p.Title, "frame") {
		t.Errorf("frame said to be known and assumed: %d %+v", code, p)
	}
	half := answers("yes")
	half["checks"] = half["checks"].([]object)[:3]
	if code := o.ask("POST", url(1, "handover"), half, &p); code != 422 || !strings.Contains(p.Title, "control point") {
		t.Errorf("half of the checks: %d %+v", code, p)
	}
	bare := answers("no")
	bare["checks"].([]object)[2]["note"] = " "
	if code := o.ask("POST", url(1, "handover"), bare, &p); code != 422 || !strings.Contains(p.Title, "no reason") {
		t.Errorf("no without a reason: %d %+v", code, p)
	}
	nobody := answers("no")
	nobody["name"] = ""
	if code := o.ask("POST", url(1, "handover"), nobody, &p); code != 422 || !strings.Contains(p.Title, "name") {
		t.Errorf("nobody: %d %+v", code, p)
	}
	var draft, sheet []byte
	if code := o.ask("GET", url(1, "sheet"), nil, &draft); code != 200 || !strings.Contains(string(draft), "Not handed over") {
		t.Errorf("sheet of a draft: %d", code)
	}
	o.revise(object{"base": 1, "why": "as measured", "settings": object{"antenna_height_m": 1.8, "frame": "ETRF2000", "operator": "K. Moe"}, "corrections": []object{aside(10, 12)}})
	if code := o.ask("POST", url(1, "handover"), answers("no"), &p); code != 409 {
		t.Errorf("an overtaken revision: %d %+v", code, p)
	}
	if code := o.ask("POST", url(2, "handover"), answers("yes"), &p); code != 200 {
		t.Fatalf("hand over: %d %+v", code, p)
	}
	if code := o.ask("POST", url(2, "handover"), answers("yes"), &p); code != 409 {
		t.Errorf("handed over twice: %d", code)
	}
	o.ask("GET", url(2, "sheet"), nil, &sheet)
	text := string(sheet)
	for _, want := range []string{"Sheet 1.2", "Kim Moe", "not a clearance to dig", "control point", "set aside: readings.csv rows 10 to 12", "as measured", "SHA-256", "W4 is &lt;b&gt;open&lt;/b&gt;", "frame of the corrections ETRF2000", "@page", "<svg", "Located by K. Moe"} {
		if !strings.Contains(text, want) {
			t.Errorf("the sheet lacks %q", want)
		}
	}
	row := regexp.MustCompile(`<th scope="row">W W1[^<]*</th><td>[0-9.]+ m</td><td>[^<]+, 95 % within ± [^<]+</td><td>± [^<]+</td><td>[^<]+</td>`)
	if !row.MatchString(text) {
		t.Error("the sheet does not give W1 with its length, depth, width and fix")
	}
	var feet []byte
	if code := o.ask("GET", url(2, "sheet")+"?units=imperial", nil, &feet); code != 200 || !strings.Contains(string(feet), "antenna 5 ft 11 in above") || !strings.Contains(string(feet), " ft</text>") || strings.Contains(string(feet), " m</text>") {
		t.Errorf("the sheet in feet: status %d", code)
	}
	if code := o.ask("GET", url(2, "sheet")+"?units=cubits", nil, nil); code != 422 {
		t.Errorf("the sheet in cubits: status %d", code)
	}
	if strings.Contains(text, "Not handed over") || strings.Contains(text, "<script") {
		t.Error("the sheet of a day handed over is called a draft, or has a script")
	}
	change := object{"base": 2, "why": "more came in", "corrections": []object{aside(20, 21)}}
	if code := o.ask("POST", "/api/v1/days/1/revisions", change, &p); code != 409 || !strings.Contains(p.Detail, "Reopen") {
		t.Errorf("changed without reopening: %d %+v", code, p)
	}
	change["reopen"] = true
	if code, b := o.revise(change); code != 201 {
		t.Fatalf("reopened: %d %s", code, b)
	}
	var again []byte
	if o.ask("GET", url(2, "sheet"), nil, &again); string(again) != text {
		t.Error("the sheet that was handed over has changed")
	}
}
