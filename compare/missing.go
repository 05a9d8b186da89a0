package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tracemap/geodesy/plane"
	"tracemap/present"
)

// Reasons why a stretch of a record was not located.
const (
	NotSurveyed   = "not_surveyed"  // the crew took no reading there
	NotFound      = "not_found"     // the crew was there, and nothing located fits
	NotPlaced     = "not_placed"    // it was read, but the readings have no position
	BeyondSearch  = "beyond_search" // a line of that name runs farther away than is looked
	PartnerTaken  = "partner_taken" // what lies beside it is another record's partner
	OtherUtility  = "other_utility" // the located line of that name is another utility's
	NothingKnown  = "unknown"       // there are no readings to tell
	reachOfRecord = 5.0             // m: a reading so near says that the crew was there
	unplacedShare = 0.3             // of the readings that a stretch would have, one every 5 m
)

// A Missing is a record that was not located at all.
type Missing struct {
	AsBuiltID, Utility string
	Length             float64
	Reason, Text       string

	index int
}

// leastExtra, m, of a located line in no record is told: its ends are known to a
// step of the search for partners.
const leastExtra = 5.0

// nearSite, m: farther from all that was done on the day nothing could be
// expected to be located. A record of a whole town is not held against a street.
const nearSite = 25.0

// An Extra is a located line that is in no record.
type Extra struct {
	LineID, Utility string
	Parts           []int
	Length          float64
	Matched         float64 // m of it that are in a record
	Text            string
}

// reasons looks into the day for why a stretch has no partner.
type reasons struct {
	c        *comparison
	area     box // of the readings
	day      box // of readings and located lines, and as far as is near
	placed   *plane.Index
	located  *plane.Index
	placedOn []int          // which reading each point of the index is
	unplaced map[string]int // readings without a position, by folded name of the line
}

func (c *comparison) newReasons() *reasons {
	r := &reasons{c: c, area: emptyBox(), unplaced: map[string]int{}}
	var points []plane.Polyline
	for i := range c.located.readings {
		x := &c.located.readings[i]
		if !x.placed {
			r.unplaced[fold(x.line)]++
			continue
		}
		points = append(points, plane.Polyline{x.at})
		r.area.add(x.at)
		r.placedOn = append(r.placedOn, i)
	}
	r.placed = plane.NewIndex(points...)
	r.day = c.site.box
	if len(points) > 0 {
		r.day.add(r.area.lo)
		r.day.add(r.area.hi)
	}
	r.day = r.day.grown(nearSite)
	lines := make([]plane.Polyline, len(c.located.parts))
	for i := range lines {
		lines[i] = c.located.parts[i].pts
	}
	r.located = plane.NewIndex(lines...)
	return r
}

// near reports whether a record comes near what was done on the day.
func (r *reasons) near(rec *record) bool {
	points, _ := rec.places(0, rec.length, r.day)
	for _, at := range points {
		if len(r.placed.Near(at, nearSite)) > 0 || len(r.located.Near(at, nearSite)) > 0 {
			return true
		}
	}
	return false
}

func (r *record) bounds() box {
	out := emptyBox()
	for k := range r.pieces {
		for _, at := range r.pieces[k].pts {
			out.add(at)
		}
	}
	return out
}

// of gives the reason and its words for a stretch of a record.
func (r *reasons) of(rec int, from, to float64) (code, text string) {
	c := r.c
	record := &c.record.records[rec]
	for _, i := range c.partsOf[fold(record.id)] {
		if u := c.located.parts[i].utility; kinship(u, record.utility) == 0 {
			return OtherUtility, fmt.Sprintf("the located line of this name is called %s, the record %s", u, record.utility)
		}
	}
	if n := r.unplaced[fold(record.id)]; float64(n) >= unplacedShare*(to-from)/5 && n > 0 {
		return NotPlaced, present.Count(n, "reading of a line of this name has no position: it was taken without a fix", "readings of a line of this name have no position: they were taken without a fix")
	}
	if away, line := c.sameLine(rec, from, to); away > c.opt.Search {
		return BeyondSearch, fmt.Sprintf("the located line %s runs %.1f m away, farther than the %.1f m that are searched (--search)", line, away, c.opt.Search)
	}
	if name := c.takenBy(rec, from, to); name != "" {
		return PartnerTaken, fmt.Sprintf("the located line beside it is the partner of %s", name)
	}
	if !c.located.known {
		return NothingKnown, "there are no readings to tell whether the crew was there"
	}
	near, others := 0, map[string]bool{}
	if !record.bounds().grown(reachOfRecord).meets(r.area) {
		return NotSurveyed, fmt.Sprintf("no reading was taken within %.0f m of it", reachOfRecord)
	}
	points, all := record.places(from, to, r.day)
	for _, at := range points {
		hits := r.placed.Near(at, reachOfRecord)
		if len(hits) > 0 {
			near++
		}
		for _, h := range hits {
			others[c.located.readings[r.placedOn[h.Line]].line] = true
		}
	}
	share := min(100, 100*float64(near)/max(all, 1))
	if share < 20 {
		return NotSurveyed, fmt.Sprintf("no reading was taken within %.0f m of it, or nearly none", reachOfRecord)
	}
	names := sortedNames(others)
	return NotFound, fmt.Sprintf("readings were taken within %.0f m of %.0f %% of it (%s); no located line passes beside it", reachOfRecord, share, names)
}

func sortedNames(set map[string]bool) string {
	var out []string
	for n := range set {
		if n != "" {
			out = append(out, n)
		}
	}
	slices.Sort(out)
	switch {
	case len(out) == 0:
		return "of points"
	case len(out) > 4:
		return "of " + strings.Join(out[:4], ", ") + " and others"
	}
	return "of " + strings.Join(out, ", ")
}

// sameLine gives the located line of a record's name, or its partner elsewhere,
// that runs beside a stretch, and how far away it does; 0 for none.
func (c *comparison) sameLine(rec int, from, to float64) (away float64, line string) {
	record := &c.record.records[rec]
	parts := slices.Clone(c.partsOf[fold(record.id)])
	for _, i := range c.spansOf[rec] {
		if c.chosen[i] {
			parts = append(parts, c.match.spans[i].part)
		}
	}
	places, all := record.places(from, to, c.site.box.grown(c.opt.Search+nearSite))
	for _, i := range parts {
		q := &c.located.parts[i]
		var sizes []float64
		for _, at := range places {
			if foot, ok := q.pts.Nearest(at); ok && !foot.Beyond() {
				sizes = append(sizes, foot.Dist)
			}
		}
		if m := median(sizes); kinship(q.utility, record.utility) > 0 && 2*float64(len(sizes)) > all && (away == 0 || m < away) {
			away, line = m, q.line
		}
	}
	return away, line
}

// takenBy names the record whose partner a stretch would have liked to have.
func (c *comparison) takenBy(rec int, from, to float64) string {
	for _, i := range c.spansOf[rec] {
		s := &c.match.spans[i]
		along := 0.0
		for k := range c.record.records[rec].pieces {
			if p := &c.record.records[rec].pieces[k]; p.chain == s.chain {
				lo, hi := p.within(s.s0, s.s1)
				along += max(0, min(p.from+hi, to)-max(p.from+lo, from))
			}
		}
		if c.chosen[i] || along < 0.5*(to-from) {
			continue
		}
		for _, j := range c.match.conflicts[i] {
			if o := &c.match.spans[j]; o.part == s.part && c.chosen[j] {
				return "as-built " + c.record.records[c.record.recordAt(o)].id
			}
		}
	}
	return ""
}

// extras lists the located lines that are in no record, and of the others how
// much is not.
func (c *comparison) extras() (none, partly []Extra) {
	var order []string
	byLine := map[string]*Extra{}
	for i := range c.located.parts {
		q := &c.located.parts[i]
		e := byLine[q.line]
		if e == nil {
			e = &Extra{LineID: q.line, Utility: q.utility, Parts: []int{}}
			byLine[q.line] = e
			order = append(order, q.line)
		}
		if q.number > 0 && !slices.Contains(e.Parts, q.number) {
			e.Parts = append(e.Parts, q.number)
		}
		e.Length += q.length()
		e.Matched += c.matchedOf(i)
	}
	for _, name := range order {
		e := byLine[name]
		switch {
		case e.Matched == 0 && !c.singles[name]:
			e.Text = c.beside(name)
			none = append(none, *e)
		case e.Length-e.Matched > max(leastExtra, 0.1*e.Length) && e.Matched > 0:
			partly = append(partly, *e)
		}
	}
	return none, partly
}

// matchedOf is the length of a part that stands beside records.
func (c *comparison) matchedOf(part int) float64 {
	var ranges [][2]float64
	for _, i := range c.spansBy[part] {
		if s := &c.match.spans[i]; c.chosen[i] {
			ranges = append(ranges, [2]float64{s.t0, s.t1})
		}
	}
	slices.SortFunc(ranges, func(a, b [2]float64) int {
		if a[0] < b[0] {
			return -1
		}
		return 1
	})
	sum, end := 0.0, math.Inf(-1)
	for _, r := range ranges {
		sum += max(0, r[1]-max(r[0], end))
		end = max(end, r[1])
	}
	return sum
}

// beside tells what a located line without a partner runs along.
func (c *comparison) beside(line string) string {
	for _, q := range c.partsOf[fold(line)] {
		if away := c.recordOf(line); away != "" {
			return away
		}
		for _, i := range c.spansBy[q] {
			return fmt.Sprintf("it runs beside as-built %s, which has another partner", c.record.records[c.record.recordAt(&c.match.spans[i])].id)
		}
	}
	return ""
}

// recordOf tells that there is a record of a located line's name which it does
// not fit.
func (c *comparison) recordOf(line string) string {
	for i := range c.record.records {
		if fold(c.record.records[i].id) == fold(line) {
			return "there is a record of this name, which it does not run beside"
		}
	}
	return ""
}
