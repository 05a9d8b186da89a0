package readings

import (
	"os"
	"strings"
	"testing"
)

// Every column, synonym, unit and word stands in the manual page.
func TestManualIsComplete(t *testing.T) {
	data, err := os.ReadFile("../docs/readings-log.md")
	if err != nil {
		t.Fatal(err)
	}
	page := string(data)
	names := append(append([]string{}, timeNames...), dateNames...)
	names = append(names, clockNames...)
	for _, c := range columnTable {
		names = append(append(names, c.ownName()), c.synonyms...)
	}
	for _, rows := range [][][]string{utilityWords, methodWords, responseWords, featureWords} {
		for _, row := range rows {
			names = append(names, row...)
		}
	}
	for _, q := range []*quantity{lengths, currents, frequencies, fields, percents, decibels, degrees} {
		names = append(names, q.units[0].name)
	}
	for _, name := range names {
		if name != "" && !strings.Contains(page, "`"+name+"`") {
			t.Errorf("docs/readings-log.md does not have `%s`", name)
		}
	}
}

// No name or synonym stands for two columns, and no word for two of ours.
func TestNamesAreUnique(t *testing.T) {
	seen := map[string]string{}
	claim := func(name, by string) {
		if normalise(name) != name {
			t.Errorf("%s of %s is not written as headers are compared: %s", name, by, normalise(name))
		}
		if other, twice := seen[name]; twice {
			t.Errorf("%s stands for %s and %s", name, other, by)
		}
		seen[name] = by
	}
	for _, n := range append(append(append([]string{}, timeNames...), dateNames...), clockNames...) {
		claim(n, "time")
	}
	for _, c := range columnTable {
		for _, n := range append([]string{c.name}, c.synonyms...) {
			claim(n, c.name)
		}
	}
	for what, rows := range map[string][][]string{"utility": utilityWords, "method": methodWords, "response": responseWords, "feature": featureWords} {
		seen = map[string]string{}
		for _, row := range rows {
			for _, w := range row {
				claim(w, what+" "+row[0])
			}
		}
	}
}
