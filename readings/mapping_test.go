package readings_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"tracemap/readings"
)

func mapping(t *testing.T, text string) *readings.Mapping {
	t.Helper()
	m, err := readings.LoadMapping(strings.NewReader(text), "map.toml")
	if err != nil {
		t.Fatalf("LoadMapping(%q): %v", text, err)
	}
	return m
}

// Every mistake in a mapping is one line that says where and what.
func TestMappingErrors(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"\n[columns]\ndept_m = \"T\"\n", `reading map.toml:3: dept_m: none of our columns: line, utility, method, response, mode, frequency_hz, depth_m, `},
		{"[columns]\ntime = \"T\"\n", "reading map.toml:2: time: the time's columns are named under [time]"},
		{"[columns]\ndepth_m = \" \"\n", "reading map.toml:2: depth_m: the name of the log's column is missing"},
		{"[columns]\ndepth_m = \"T\"\ncurrent_ma = \"T\"\n", `reading map.toml:2: depth_m: column "T" is mapped twice`},
		{"[columns]\ndepth_ft = \"T\"\ndepth_m = \"U\"\n", "reading map.toml:3: depth_m: depth_ft is mapped already"},
		{"separator = \"ab\"\n", `reading map.toml:1: separator: "ab": wanted one sign such as ",", ";" or "|", or "tab" or "fixed"`},
		{"decimal = \"'\"\n", `reading map.toml:1: decimal: "'": wanted "." or ","`},
		{"separator = \",\"\ndecimal = \",\"\n", `reading map.toml:2: decimal: "," cannot be told from the separator ","`},
		{"header_row = -1\n", "reading map.toml:1: header_row: -1: lines count from 1"},
		{"colums = 1\n", `reading map.toml:1: no key "colums" here; known are separator, decimal, `},
		{"[time]\nformt = \"x\"\n", `reading map.toml:2: no key "time.formt" here; `},
		{"[time]\ncolumn = \"a\"\ndate = \"b\"\nclock = \"c\"\n", "reading map.toml:2: column: date and time in one: "},
		{"[time]\ndate = \"b\"\n", "reading map.toml:2: date: date and clock go together"},
		{"[time]\nformat = \"DD.MM hh:mm:ss\"\n", `reading map.toml:2: format: "DD.MM hh:mm:ss": it needs YYYY (or YY), MM `},
		{"[time]\nformat = \"DD.MM.YYYY hh:mm:ss.SSS\"\n", `reading map.toml:2: format: "DD.MM.YYYY hh:mm:ss.SSS": "S" is no token; tokens are `},
		{"[words.method]\n\"x\" = \"guess\"\n", `reading map.toml:2: x: "guess" is no method of ours: direct, induction, passive, sonde`},
		{"[words.line]\n\"x\" = \"y\"\n", `reading map.toml:1: no key "words.line" here; `},
		{"[fixed]\nbottom_coil = 3\n", "reading map.toml:2: bottom_coil: a coil's field is not the same in every row"},
		{"[fixed]\ndiameter_mm = \" \"\n", "reading map.toml:2: diameter_mm: is empty; give a value, or leave the key out"},
		{"decimal = ,\n", "reading map.toml:1:11: "},
		{"decimal = 3\n", "reading map.toml:1:11: "},
	} {
		_, err := readings.LoadMapping(strings.NewReader(c.text), "map.toml")
		if err == nil || !strings.HasPrefix(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("LoadMapping(%q)\nerror = %v\nwant    %s", c.text, err, c.want)
		}
	}
}

// A mapping that does not fit the log: the whole message.
func TestMappingAgainstLog(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"[columns]\ndepth_m = \"Tiefe\"\n", `reading day.csv: map.toml names column "Tiefe", which the header lacks; found "time", "T"`},
		{"[time]\ncolumn = \"Zeit\"\n", `reading day.csv: no column "Zeit", which map.toml names as the time; found "time", "T"`},
		{"[time]\ndate = \"Tag\"\nclock = \"time\"\n", `reading day.csv: no columns "Tag" and "time", which map.toml names as date and clock; found "time", "T"`},
		{"header_row = 9\n", "reading day.csv: no row at line 9, where map.toml has the header"},
		{"decimal = \",\"\n", `reading day.csv: map.toml states decimal "," but a comma separates the cells`},
		{"[columns]\ndepth_m = \"T\"\n[fixed]\ndepth_m = 1\n", `reading day.csv: map.toml fixes depth, but column "T" gives it`},
		{"[fixed]\nmethod = \"guess\"\n", `reading day.csv: map.toml: [fixed] method = "guess": method not known: `},
		{"[columns]\ndepth = \"T\"\n", `reading day.csv: column "T" states no unit: name it depth_m (or depth_ft), or map it with --columns`},
	} {
		_, err := readings.Read(context.Background(), []readings.Source{{Name: "day.csv", R: strings.NewReader("time,T\n2026-03-05T08:00:00Z,1.2\n")}},
			readings.Options{Columns: mapping(t, c.text)})
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("with %q\nerror = %v\nwant    %s", c.text, err, c.want)
		}
	}
}

func TestMappedTimes(t *testing.T) {
	zone := time.FixedZone("", 3600)
	for _, c := range []struct{ format, cell, want string }{
		{"DD.MM.YYYY hh:mm:ss", "05.03.2026 08:00:00", "2026-03-05T07:00:00Z"},
		{"DD.MM.YYYY hh:mm:ss", "5.3.2026 8:00:00.25", "2026-03-05T07:00:00.25Z"},
		{"MM/DD/YYYY hh:mm:ss AM", "03/05/2026 08:00:00 PM", "2026-03-05T19:00:00Z"},
		{"MM/DD/YY hh:mm:ss", "03/05/26 08:00:00", "2026-03-05T07:00:00Z"},
		{"DD-MMM-YYYY hh:mm:ss", "05-mar-2026 08:00:00", "2026-03-05T07:00:00Z"},
		{"MMM DD YYYY hh:mm:ss", "March 5 2026 08:00:00", "2026-03-05T07:00:00Z"},
		{"YYYYMMDDThhmmss", "20260305T080000", "2026-03-05T07:00:00Z"},
		{"YYYYMMDDhhmmss", "20260305080000", "2026-03-05T07:00:00Z"},
		{"hh:mm:ss DD.MM.YYYY", "08:00:00 05.03.2026", "2026-03-05T07:00:00Z"},
		{"DD.MM.YYYY hh:mm:ss:fff", "05.03.2026 08:00:00:125", "2026-03-05T07:00:00.125Z"},
		{"DD.MM.YYYY hh:mm:ss Z", "05.03.2026 08:00:00 Z", "2026-03-05T08:00:00Z"},
		{"DD.MM.YYYY hh:mm:ss ±hh:mm", "05.03.2026 08:00:00 -05:00", "2026-03-05T13:00:00Z"},
		{"unix", "1772697600", "2026-03-05T08:00:00Z"},
		{"unix", "1772697600.5", "2026-03-05T08:00:00.5Z"},
		{"unix_ms", "1772697600125", "2026-03-05T08:00:00.125Z"},
		{"DD.MM.YYYY hh:mm:ss", "05.13.2026 08:00:00", ""},
		{"DD.MM.YYYY hh:mm:ss", "05.03.2026 08:00", ""},
		{"DD.MM.YYYY hh:mm:ss", "05.03.2026 08:00:00x", ""},
		{"DD.MM.YYYY hh:mm:ss", "2026-03-05 08:00:00", ""},
		{"DD.MM.YYYY hh:mm:ss", "05.03.26 08:00:00", ""},
		{"YYYYMMDDhhmmss", "2026030508000", ""},
		{"MM/DD/YYYY hh:mm:ss AM", "03/05/2026 08:00:00", ""},
		{"DD-MMM-YYYY hh:mm:ss", "05-mai-2026 08:00:00", ""},
		{"unix", "1e300", ""}, {"unix", "NaN", ""}, {"unix", "inf", ""}, {"unix_ms", "-99999999999999", ""},
	} {
		m := mapping(t, "[time]\nformat = \""+c.format+"\"\n")
		log := read(t, "time;line\n"+c.cell+";A\n", readings.Options{Zone: zone, Columns: m})
		got := ""
		if len(log.Readings) == 1 {
			got = log.Readings[0].Time.Format(time.RFC3339Nano)
		}
		if got != c.want {
			t.Errorf("format %q, time %q = %q, want %q (%+v)", c.format, c.cell, got, c.want, log.Aside)
		}
	}
}

// A map without end is refused, and not read to its end.
func TestMappingTooLarge(t *testing.T) {
	_, err := readings.LoadMapping(endless{}, "map.toml")
	if want := "reading map.toml: larger than 1024 KiB: no map of columns"; err == nil || err.Error() != want {
		t.Errorf("error = %v, want %s", err, want)
	}
}

type endless struct{}

func (endless) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}
