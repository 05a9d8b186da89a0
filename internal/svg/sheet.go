package svg

// A sheet's width, and where its panels begin and end.
const (
	SheetWidth = 760.0
	SheetLeft  = 64.0
	SheetRight = 744.0
)

// A Sheet is a drawing of panels, one below the other on one axis of stations.
type Sheet struct {
	C *Canvas
	X Axis    // stations, in the unit of people
	Y float64 // where the next panel begins
}

// Heading writes the next panel's title.
func (s *Sheet) Heading(text string) {
	s.C.Text(4, s.Y+12, "start", "h", text)
	s.Y += 18
}

// Grid draws a panel's frame with lines at round values, n about, and at round
// stations, and returns its vertical axis. The uppermost number stays below the heading.
func (s *Sheet) Grid(height, low, high float64, n int) Axis {
	axis := Axis{Low: low, High: high, From: s.Y + height, To: s.Y}
	s.C.Add("rect", "x", SheetLeft, "y", s.Y, "width", SheetRight-SheetLeft, "height", height, "class", "panel")
	ticks, step := Axis{Low: min(low, high), High: max(low, high)}.Ticks(n)
	for _, v := range ticks {
		y := axis.At(v)
		s.C.Line(SheetLeft, y, SheetRight, y, "grid")
		s.C.Text(SheetLeft-5, max(y+4, s.Y+9), "end", "small", Label(v, step))
	}
	along, _ := s.X.Ticks(10)
	for _, v := range along {
		s.C.Line(s.X.At(v), s.Y, s.X.At(v), s.Y+height, "grid")
	}
	return axis
}

// Unit writes what a panel's numbers are, turned along its axis.
func (s *Sheet) Unit(height float64, text string) {
	s.C.Turned(14, s.Y+height/2, -90, "middle", "small", text)
}

// Clipped draws a panel of the sheet's whole width and what lies within it; the id is
// unique on the page.
func (s *Sheet) Clipped(id string, height float64, draw func()) {
	id = "clip-" + id
	s.C.Open("clipPath", "id", id)
	s.C.Add("rect", "x", 4.0, "y", s.Y, "width", SheetWidth-8, "height", height)
	s.C.Close("clipPath")
	s.C.Add("rect", "x", 4.0, "y", s.Y, "width", SheetWidth-8, "height", height, "class", "panel")
	s.C.Open("g", "clip-path", "url(#"+id+")")
	draw()
	s.C.Close("g")
}
