package web

import (
	"cmp"
	"encoding/json"
	"io"
	"math"
	"net/http"
	"slices"
	"strconv"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/internal/store"
)

// A difference says what a later revision shows otherwise than an earlier one.
// Lengths are metres, widths 95 %.
type difference struct {
	From     int            `json:"from"` // revisions
	To       int            `json:"to"`
	Changes  []change       `json:"changes"`
	Level    [2]string      `json:"level"` // before, after
	Clock    [2]num         `json:"clock_s"`
	Length   [2]num         `json:"length_m"`
	Lines    []lineDiff     `json:"lines"`
	Readings []readingDiff  `json:"readings"` // the first of those that became otherwise
	Counts   map[string]int `json:"counts"`   // of readings: aside, back, left_out, taken_in, line, utility
}

// A lineDiff is what became of a line. Was names the lines of the earlier revision
// that its readings were on; none for a new line. A line that is gone has only Was.
type lineDiff struct {
	Line       string      `json:"line"`
	Was        []string    `json:"was"`
	Utility    [2]string   `json:"utility"`
	Length     [2]num      `json:"length_m"`
	Shift      num         `json:"shift_m"` // the largest, beside the old line
	ShiftAt    []num       `json:"shift_at,omitempty"`
	Half       [2]num      `json:"half_m"` // the largest half-width before and after
	HalfChange num         `json:"half_change_m"`
	Depth      num         `json:"depth_change_m"` // the largest, signed
	Class      [2][]string `json:"class"`
}

// A readingDiff is a reading that became otherwise.
type readingDiff struct {
	File   string    `json:"file"`
	Row    int       `json:"row"`
	Became string    `json:"became"` // as in difference.Counts
	Line   [2]string `json:"line"`
	At     []num     `json:"at,omitempty"`
}

const (
	sampleEvery  = 0.5  // m along a line, where it is held against the old one
	mostReadings = 500  // that are listed one by one
	notTheSame   = 25.0 // m: what lies further away is another line, not a shift
)

func (s *Server) getDifference(r *http.Request, w http.ResponseWriter) error {
	id, number, err := revisionOf(r)
	if err != nil {
		return err
	}
	after, err := s.store.Revision(r.Context(), id, number)
	if err != nil {
		return err
	}
	since := after.Base
	if text := r.URL.Query().Get("since"); text != "" {
		if since, err = strconv.Atoi(text); err != nil {
			return store.ErrNotFound
		}
	}
	before, err := s.store.Revision(r.Context(), id, since)
	if err != nil {
		return err
	}
	if before.State != store.Done || after.State != store.Done {
		return &problem{http.StatusConflict, "one of the two revisions has no map", "Compare revisions that have been processed."}
	}
	a, err := s.viewKept(id, since, viewFile)
	if err != nil {
		return err
	}
	b, err := s.viewKept(id, number, viewFile)
	if err != nil {
		return err
	}
	d := differ(a, b)
	d.From, d.To = since, number
	if d.Changes, err = changesOf(before.Settings, after.Settings); err != nil {
		return err
	}
	return answer(w, http.StatusOK, d)
}

// viewKept reads what the page draws of a revision.
func (s *Server) viewKept(day int64, number int, name string) (*view, error) {
	f, err := s.store.OpenResult(day, number, name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	b, err := io.ReadAll(f)
	if err != nil {
		return nil, err
	}
	v := new(view)
	return v, json.Unmarshal(b, v)
}

// rowKey is what tells a reading from all others of a day.
type rowKey struct {
	file string
	row  int
}

// differ holds two views of one day against each other.
func differ(a, b *view) *difference {
	d := &difference{
		Level: [2]string{a.Outcome.Level, b.Outcome.Level}, Clock: [2]num{a.Clock.Offset, b.Clock.Offset}, Length: [2]num{a.Outcome.Length, b.Outcome.Length},
		Lines: []lineDiff{}, Readings: []readingDiff{}, Counts: map[string]int{},
	}
	was := d.readings(a, b)
	place := geodesy.NewLocal(geodesy.Geo{Lat: float64(a.Origin[0]), Lon: float64(a.Origin[1])})
	met := map[string]bool{}
	for i := range b.Lines {
		line := &b.Lines[i]
		names := was[line.ID]
		for _, n := range names {
			met[n] = true
		}
		d.Lines = append(d.Lines, lineDiffOf(place, a, line, names))
	}
	for i := range a.Lines {
		if old := &a.Lines[i]; !met[old.ID] {
			gone := lineDiff{Was: []string{old.ID}, Utility: [2]string{old.Utility, ""}, Length: [2]num{metres(lengthOf(old)), 0}, Class: [2][]string{classes(old), {}}}
			gone.Shift, gone.HalfChange, gone.Depth = num(math.NaN()), num(math.NaN()), num(math.NaN())
			gone.Half = [2]num{widest(old), num(math.NaN())}
			d.Lines = append(d.Lines, gone)
		}
	}
	return d
}

// readings lists the readings that became otherwise, and gives, for each line of b,
// the lines of a on which its readings lay: the one with the most readings first.
func (d *difference) readings(a, b *view) map[string][]string {
	before := map[rowKey]*viewReading{}
	for i := range a.Readings {
		r := &a.Readings[i]
		before[rowKey{r.File, r.Row}] = r
	}
	votes := map[string]map[string]int{}
	for i := range b.Readings {
		is := &b.Readings[i]
		old := before[rowKey{is.File, is.Row}]
		if old == nil {
			continue
		}
		if is.Line != "" && old.Line != "" {
			if votes[is.Line] == nil {
				votes[is.Line] = map[string]int{}
			}
			votes[is.Line][old.Line]++
		}
		became := becameOf(old, is)
		if became == "" {
			continue
		}
		d.Counts[became]++
		if len(d.Readings) < mostReadings {
			d.Readings = append(d.Readings, readingDiff{is.File, is.Row, became, [2]string{old.Line, is.Line}, is.At})
		}
	}
	out := map[string][]string{}
	for line, count := range votes {
		for name := range count {
			out[line] = append(out[line], name)
		}
		slices.SortFunc(out[line], func(x, y string) int { return cmp.Or(cmp.Compare(count[y], count[x]), cmp.Compare(x, y)) })
	}
	return out
}

// becameOf says what became of a reading, the person's doing first; "" for nothing.
func becameOf(old, is *viewReading) string {
	const byHand = "set_aside_by_hand"
	was, now := slices.Contains(old.Flags, byHand), slices.Contains(is.Flags, byHand)
	switch {
	case now && !was:
		return "aside"
	case was && !now:
		return "back"
	case old.Utility != is.Utility:
		return "utility"
	case old.Given != is.Given:
		return "line"
	case old.Used && !is.Used:
		return "left_out"
	case is.Used && !old.Used:
		return "taken_in"
	}
	return ""
}

// drawnPart is a part as a polyline in a plane, with its vertices.
type drawnPart struct {
	plane.Polyline
	part *viewPart
}

func paths(place *geodesy.Local, lines []*viewLine) []drawnPart {
	var out []drawnPart
	for _, l := range lines {
		for i := range l.Parts {
			p := drawnPart{part: &l.Parts[i]}
			for _, v := range p.part.Vertices {
				p.Polyline = append(p.Polyline, place.Forward(geodesy.Geo{Lat: float64(v.At[0]), Lon: float64(v.At[1])}))
			}
			out = append(out, p)
		}
	}
	return out
}

// lineDiffOf holds a line against those of the earlier revision that its readings
// were on.
func lineDiffOf(place *geodesy.Local, a *view, line *viewLine, names []string) lineDiff {
	d := lineDiff{Line: line.ID, Was: append([]string{}, names...), Utility: [2]string{"", line.Utility}, Class: [2][]string{{}, classes(line)}}
	d.Length, d.Half = [2]num{0, metres(lengthOf(line))}, [2]num{num(math.NaN()), widest(line)}
	var old []*viewLine
	for i := range a.Lines {
		if l := &a.Lines[i]; slices.Contains(names, l.ID) {
			old = append(old, l)
		}
	}
	for _, l := range old {
		if d.Utility[0] == "" || l.ID == names[0] {
			d.Utility[0] = l.Utility
		}
		d.Length[0] += metres(lengthOf(l))
		d.Half[0] = num(larger(float64(d.Half[0]), float64(widest(l))))
		for _, c := range classes(l) {
			if !slices.Contains(d.Class[0], c) {
				d.Class[0] = append(d.Class[0], c)
			}
		}
	}
	d.moved(place, paths(place, old), paths(place, []*viewLine{line}))
	return d
}

// moved fills in how far the new line lies beside the old one, both ways, and how
// width and depth changed there.
func (d *lineDiff) moved(place *geodesy.Local, old, is []drawnPart) {
	shift, half, depth := math.NaN(), math.NaN(), math.NaN()
	for _, p := range is {
		for _, s := range plane.Every(p.Length(), sampleEvery) {
			at, _ := p.At(s)
			foot, on := nearest(old, at)
			if on == nil {
				continue
			}
			if !(foot.Dist <= shift) {
				shift = foot.Dist
				g := place.Inverse(at)
				d.ShiftAt = []num{degrees(g.Lat), degrees(g.Lon)}
			}
			was, now := on.valuesAt(foot.Station), p.valuesAt(s)
			half, depth = larger(half, now[0]-was[0]), larger(depth, now[1]-was[1])
		}
	}
	for _, p := range old {
		for _, s := range plane.Every(p.Length(), sampleEvery) {
			at, _ := p.At(s)
			if foot, on := nearest(is, at); on != nil && !(foot.Dist <= shift) {
				shift = foot.Dist
				g := place.Inverse(at)
				d.ShiftAt = []num{degrees(g.Lat), degrees(g.Lon)}
			}
		}
	}
	d.Shift, d.HalfChange, d.Depth = metres(shift), metres(half), metres(depth)
}

// nearest gives the place beside which a point lies, nil where it lies past the
// ends: there a line is longer or shorter, and has not moved.
func nearest(lines []drawnPart, at plane.Pt) (best plane.Foot, on *drawnPart) {
	for i := range lines {
		foot, ok := lines[i].Nearest(at)
		if ok && foot.Dist <= notTheSame && (!foot.Beyond() || foot.Dist < 0.005) && (on == nil || foot.Dist < best.Dist) {
			best, on = foot, &lines[i]
		}
	}
	return best, on
}

// valuesAt gives half-width and depth at a station of a part, NaN where unknown.
func (p *drawnPart) valuesAt(s float64) [2]float64 {
	v := p.part.Vertices
	i := slices.IndexFunc(v, func(x viewVertex) bool { return float64(x.Station) >= s-1e-3 })
	if i < 0 {
		i = len(v) - 1
	}
	a, b := v[max(i-1, 0)], v[i]
	k := 0.0
	if b.Station > a.Station {
		k = min(max((s-float64(a.Station))/float64(b.Station-a.Station), 0), 1)
	}
	mix := func(x, y num) float64 { return float64(x) + k*float64(y-x) }
	return [2]float64{mix(a.Half, b.Half), mix(a.Depth, b.Depth)}
}

// larger gives the value of the larger size; NaN counts as nothing.
func larger(a, b float64) float64 {
	if math.IsNaN(a) || math.Abs(b) > math.Abs(a) {
		return b
	}
	return a
}

func lengthOf(l *viewLine) (sum float64) {
	for _, p := range l.Parts {
		sum += float64(p.Length)
	}
	return sum
}

func widest(l *viewLine) num {
	w := math.NaN()
	for _, p := range l.Parts {
		for _, v := range p.Vertices {
			w = larger(w, float64(v.Half))
		}
	}
	return num(w)
}

// classes lists the accuracy classes of a line's parts, each once, in their order.
func classes(l *viewLine) []string {
	out := []string{}
	for _, p := range l.Parts {
		if p.Class != "" && !slices.Contains(out, p.Class) {
			out = append(out, p.Class)
		}
	}
	return out
}
