package svg_test

import (
	"strings"
	"testing"

	"tracemap/internal/svg"
)

// Panels follow one another; a panel's uppermost number keeps clear of its heading,
// and what is drawn within is clipped to it.
func TestSheet(t *testing.T) {
	s := svg.Sheet{C: svg.New(svg.SheetWidth, 0, "two panels"), X: svg.Axis{High: 40, From: svg.SheetLeft, To: svg.SheetRight}}
	s.Heading("first")
	axis := s.Grid(100, 2, 0, 4)
	if s.Y != 18 || axis.At(0) != 18 || axis.At(2) != 118 {
		t.Errorf("the panel begins at %v, its axis runs from %v to %v", s.Y, axis.At(2), axis.At(0))
	}
	s.Clipped("a", 50, func() { s.C.Line(0, 0, 1, 1, "inside") })
	text := s.C.String()
	for _, want := range []string{`y="27" text-anchor="end" class="small">0.0<`, `<clipPath id="clip-a">`, `url(#clip-a)`} {
		if !strings.Contains(text, want) {
			t.Errorf("%s is missing in\n%s", want, text)
		}
	}
	if strings.Index(text, "inside") < strings.Index(text, "url(#clip-a)") {
		t.Error("the line is not within the clip")
	}
}
