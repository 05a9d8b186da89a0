package remarks_test

import (
	"strings"
	"testing"

	"tracemap/remarks"
)

func TestTableHoldsEveryBitOnceInOrder(t *testing.T) {
	names := map[string]bool{}
	for i, r := range remarks.Table {
		if r.Flag != 1<<i {
			t.Errorf("row %d (%s) is bit %b, want bit %d", i, r.Name, r.Flag, i)
		}
		if names[r.Name] || r.Name == "" || r.Meaning == "" {
			t.Errorf("row %d: name %q doubled or empty, or no meaning", i, r.Name)
		}
		names[r.Name] = true
	}
	if last := remarks.Table[len(remarks.Table)-1].Flag; last != remarks.LineBeside {
		t.Errorf("table ends at %s, want the last declared flag", last)
	}
}

func TestString(t *testing.T) {
	for _, c := range []struct {
		set  remarks.Set
		want string
	}{{0, ""}, {remarks.NoFix, "no_fix"}, {remarks.Gap | remarks.FloatFix, "float_fix;gap"}} {
		if got := c.set.String(); got != c.want {
			t.Errorf("%b is written %q, want %q", c.set, got, c.want)
		}
	}
	all := remarks.Set(1<<len(remarks.Table) - 1)
	if got := strings.Count(all.String(), ";"); got != len(remarks.Table)-1 {
		t.Errorf("all remarks are joined by %d semicolons, want %d", got, len(remarks.Table)-1)
	}
}
