package web_test

import (
	"encoding/json"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"tracemap/web"
)

type object = map[string]any

func description(t *testing.T) object {
	t.Helper()
	b, err := os.ReadFile("openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	var doc object
	if err := json.Unmarshal(b, &doc); err != nil {
		t.Fatal(err)
	}
	return doc
}

// The description names the routes that the server has, no more and no less.
func TestOpenAPINamesEveryRoute(t *testing.T) {
	var described []string
	for path, ops := range description(t)["paths"].(object) {
		for method := range ops.(object) {
			described = append(described, strings.ToUpper(method)+" "+path)
		}
	}
	routes := web.Routes()
	slices.Sort(described)
	slices.Sort(routes)
	if !slices.Equal(described, routes) {
		t.Errorf("described: %v\nserved:    %v", described, routes)
	}
}

// What a running server answers has the described form, with no property that
// the description does not know.
func TestOpenAPIDescribesTheAnswers(t *testing.T) {
	o := newOffice(t, t.TempDir(), true, func(opt *web.Options) { opt.BaseMap.Source = ground })
	o.demoDay()
	o.settled("/api/v1/days/1")
	o.revise(object{"base": 1, "why": "beside a manhole", "settings": object{"antenna_height_m": 1.8, "frame": "ETRF2000", "scheme": "pas128"}, "corrections": []object{aside(10, 12)}})
	o.upload("loose.nmea", []byte(rmc(start)))
	doc := description(t)
	paths := doc["paths"].(object)
	schemas := doc["components"].(object)["schemas"].(object)
	check := func(method, path, real string, body any) {
		var b []byte
		code := o.ask(strings.ToUpper(method), real, body, &b)
		responses := paths[path].(object)[method].(object)["responses"].(object)
		r, ok := responses[fmt.Sprint(code)].(object)
		if !ok {
			t.Errorf("%s %s: status %d is not described: %s", method, real, code, b)
			return
		}
		content, _ := r["content"].(object)
		media, ok := content["application/json"].(object)
		if !ok {
			return
		}
		var v any
		if err := json.Unmarshal(b, &v); err != nil {
			t.Errorf("%s: %v", real, err)
			return
		}
		for _, e := range conform(schemas, media["schema"].(object), v, "answer") {
			t.Errorf("%s %s: %s", method, real, e)
		}
	}
	list := o.upload("day.nmea", demo(t, "day.nmea")).Original.SHA256
	fills := strings.NewReplacer("{day}", "1", "{revision}", "2", "{name}", "map.kml", "{sha256}", list, "{z}", "13", "{x}", "3692", "{y}", "2864")
	record := o.upload("as-built.geojson", demo(t, "as-built.geojson")).Original.SHA256
	check("post", "/api/v1/days/{day}/revisions/{revision}/comparisons", "/api/v1/days/1/revisions/2/comparisons", object{"record": record, "settings": object{"tolerance_m": 0.3}})
	for path, ops := range paths {
		if ops.(object)["get"] != nil {
			check("get", path, strings.ReplaceAll(strings.Replace(fills.Replace(path), "{comparison}/files/map.kml", "1/files/comparison.kml", 1), "{comparison}", "1")+map[string]string{"/api/v1/geopackage": "?days=1"}[path], nil)
		}
	}
	check("post", "/api/v1/originals", "/api/v1/originals?name=new", []byte("new bytes"))
	check("post", "/api/v1/originals", "/api/v1/originals?name=new", []byte("new bytes"))
	check("post", "/api/v1/proposals", "/api/v1/proposals", object{"originals": []object{{"sha256": list}}})
	check("post", "/api/v1/days", "/api/v1/days", object{"title": "x", "originals": []object{{"sha256": list}}})
	check("post", "/api/v1/days/{day}/revisions", "/api/v1/days/1/revisions", object{"base": 2, "settings": object{"antenna_height_m": 1.7}, "why": "measured", "undo": []string{"2.1"}})
	o.settled("/api/v1/days/1")
	check("post", "/api/v1/days/{day}/revisions/{revision}/handover", "/api/v1/days/1/revisions/3/handover", answers("no"))
}

// conform checks a value against the part of JSON Schema that openapi.json uses.
func conform(schemas, schema object, v any, where string) (wrong []string) {
	if ref, ok := schema["$ref"].(string); ok {
		return conform(schemas, schemas[ref[strings.LastIndex(ref, "/")+1:]].(object), v, where)
	}
	var types []string
	switch t := schema["type"].(type) {
	case string:
		types = []string{t}
	case []any:
		for _, x := range t {
			types = append(types, x.(string))
		}
	}
	if len(types) > 0 && !slices.ContainsFunc(types, func(name string) bool { return isType(name, v) }) {
		return []string{fmt.Sprintf("%s is %T, want %v", where, v, types)}
	}
	if p, ok := schema["pattern"].(string); ok && !regexp.MustCompile(p).MatchString(v.(string)) {
		wrong = append(wrong, fmt.Sprintf("%s = %q does not match %s", where, v, p))
	}
	if e, ok := schema["enum"].([]any); ok && !slices.Contains(e, v) {
		wrong = append(wrong, fmt.Sprintf("%s = %v is none of %v", where, v, e))
	}
	switch v := v.(type) {
	case []any:
		if items, ok := schema["items"].(object); ok {
			for i, x := range v {
				wrong = append(wrong, conform(schemas, items, x, fmt.Sprintf("%s[%d]", where, i))...)
			}
		}
	case object:
		wrong = append(wrong, members(schemas, schema, v, where)...)
	}
	return wrong
}

func members(schemas, schema, v object, where string) (wrong []string) {
	required, _ := schema["required"].([]any)
	for _, name := range required {
		if _, ok := v[name.(string)]; !ok {
			wrong = append(wrong, fmt.Sprintf("%s has no %s", where, name))
		}
	}
	props, closed := schema["properties"].(object)
	for name, x := range v {
		if s, ok := props[name].(object); ok {
			wrong = append(wrong, conform(schemas, s, x, where+"."+name)...)
		} else if closed {
			wrong = append(wrong, fmt.Sprintf("%s.%s is not described", where, name))
		}
	}
	return wrong
}

func isType(name string, v any) bool {
	switch v := v.(type) {
	case nil:
		return name == "null"
	case string:
		return name == "string"
	case bool:
		return name == "boolean"
	case float64:
		return name == "number" || name == "integer" && v == float64(int64(v))
	case []any:
		return name == "array"
	}
	return name == "object"
}
