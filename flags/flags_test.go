package flags_test

import (
	"testing"

	"tracemap/flags"
)

func TestTableHoldsEveryBitOnceInOrder(t *testing.T) {
	names := map[string]bool{}
	for i, r := range flags.Table {
		if r.Flag != 1<<i {
			t.Errorf("row %d (%s) is bit %b, want bit %d", i, r.Name, r.Flag, i)
		}
		if names[r.Name] || r.Name == "" || r.Meaning == "" {
			t.Errorf("row %d: name %q doubled or empty, or no meaning", i, r.Name)
		}
		names[r.Name] = true
	}
	if last := flags.Table[len(flags.Table)-1].Flag; last != flags.NotComputed {
		t.Errorf("table ends at %s, want the last declared flag", last)
	}
}

func TestStringParsesBack(t *testing.T) {
	all := flags.Set(1<<len(flags.Table) - 1)
	for _, s := range []flags.Set{0, flags.NoFix, flags.Gap | flags.FloatFix, all} {
		got, unknown := flags.Parse(s.String())
		if got != s || len(unknown) > 0 {
			t.Errorf("Parse(%q) = %b, %v; want %b", s.String(), got, unknown, s)
		}
	}
	if _, unknown := flags.Parse("gap; no_such_flag"); len(unknown) != 1 {
		t.Errorf("unknown flags = %v, want one", unknown)
	}
}
