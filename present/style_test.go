package present_test

import (
	"strings"
	"testing"

	"tracemap/present"
)

// A page's own rules stand behind the common ones, each in its own block, so that
// they win; braces stay in balance.
func TestStyle(t *testing.T) {
	css := present.Style(".own{color:red}\n@media (max-width:44rem){\n.own{color:green}\n}\n@media print{\n.own{color:blue}\n}\n")
	plain, rest, _ := strings.Cut(css, "@media (max-width:44rem){")
	narrow, print, ok := strings.Cut(rest, "@media print{")
	if !ok {
		t.Fatalf("blocks are missing in\n%s", css)
	}
	for _, c := range []struct{ block, own, common string }{{plain, "red", "h1{"}, {narrow, "green", "nav a{"}, {print, "blue", "nav{"}} {
		if at := strings.Index(c.block, ".own{color:"+c.own+"}"); at < 0 || at < strings.Index(c.block, c.common) || !strings.Contains(c.block, c.common) {
			t.Errorf("%s is not behind what is common in\n%s", c.own, c.block)
		}
	}
	if open, closed := strings.Count(css, "{"), strings.Count(css, "}"); open != closed {
		t.Errorf("%d braces open, %d close", open, closed)
	}
}
