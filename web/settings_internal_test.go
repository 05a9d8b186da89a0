package web

import (
	"encoding/json"
	"os"
	"reflect"
	"strings"
	"testing"

	"tracemap/internal/survey"
)

// All that may be stated about a day is a setting of the page, in its interface's
// description, and has a name where the page lists changes; and nothing else is one.
func TestSettingsAreTheParameters(t *testing.T) {
	var api struct {
		Components struct {
			Schemas map[string]struct {
				Properties map[string]any `json:"properties"`
			} `json:"schemas"`
		} `json:"components"`
	}
	if err := json.Unmarshal(openAPI, &api); err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile("assets/changes.js")
	if err != nil {
		t.Fatal(err)
	}
	described := api.Components.Schemas["Settings"].Properties
	kept := map[string]bool{}
	for _, f := range reflect.VisibleFields(reflect.TypeFor[Settings]()) {
		key, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		kept[key] = true
	}
	delete(kept, "corrections") // are the page's own
	for _, p := range survey.Params {
		if !kept[p.Key] || described[p.Key] == nil || !strings.Contains(string(page), " "+p.Key+": ") {
			t.Errorf("%s: a setting %v, described %v, named among changes %v", p.Key, kept[p.Key], described[p.Key] != nil, strings.Contains(string(page), " "+p.Key+": "))
		}
		delete(kept, p.Key)
	}
	for key := range kept {
		t.Errorf("%s is no parameter", key)
	}
}

// A message that names a flag is worded for the page.
func TestMessagesNameNoFlag(t *testing.T) {
	for _, p := range survey.Params {
		if got := inPageWords("give --" + p.Flag); got != "give "+p.Page {
			t.Errorf("--%s is called %q", p.Flag, got)
		}
	}
}
