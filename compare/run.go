package compare

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"tracemap/geodesy/plane"
	"tracemap/internal/parallel"
)

// A Pair is a record with the located lines that stand beside it.
type Pair struct {
	AsBuiltID, Utility string
	LineIDs            []string
	LocatedUtility     string // where it is called something else
	Length, Matched    float64
	Coverage           float64 // per cent
	Lateral, Depth     Stats
	Verdict            Verdict
	LateralVerdict     Verdict
	DepthVerdict       Verdict
	Counts             [4]int // stations by verdict
	ByID               bool
	Points             int    // it was compared at so many points and not along a line; 0 else
	Ambiguous          string // what else may be meant; "" for nothing
	Reversed           bool   // the located line is drawn the other way
	Gaps               []Stretch
	Stations           []Station

	// AfterShift is the mean lateral difference when the common displacement is
	// taken away, m.
	AfterShift float64

	record int
}

// A Result is what a comparison found.
type Result struct {
	Title, Day       string
	Located, AsBuilt string // files
	LocatedSHA256    string
	AsBuiltSHA256    string
	System           string // of the record's coordinates
	Format           string // of the record
	Records          int
	Pairs            []Pair
	Lines            []Line    // pairs that are one pipe, together
	NotLocated       []Missing // the day came near them
	Elsewhere        []Missing // it did not: of a record of a whole town, say
	NotInRecord      []Extra
	Partly           []Extra // in part in no record
	Lateral, Depth   Stats   // of all stations
	Accuracy         Accuracy
	Shift            Shift
	Verdict          Verdict // Unjudged when nothing was compared
	Counts           [4]int  // lines by verdict
	PairCounts       [4]int  // pairs by verdict
	LinesNotLocated  int     // chains of the record that NotLocated holds all of
	Warnings         []string
	Options          Options

	site    *site
	located *located
	record  *asBuilt
}

// comparison is the work in progress.
type comparison struct {
	opt     Options
	located *located
	record  *asBuilt
	site    *site
	match   *matching
	chosen  []bool           // of the matching's spans
	spansOf map[int][]int    // spans by record
	spansBy map[int][]int    // spans by located part
	partsOf map[string][]int // parts by folded name of their line
	singles map[string]bool  // located lines of single readings that found a record
	lines   *unions          // of the record's chains and the located parts
}

// Run compares located lines – an output folder of convert, its map.gpkg or
// lines.geojson – with the owner's record.
func Run(ctx context.Context, locatedPath, asBuiltPath string, opt Options) (_ *Result, err error) {
	defer parallel.Recover("the comparison", &err)
	parallel.Trip("the comparison")
	for _, f := range []struct{ flag, field string }{{"--depth-field", opt.DepthField}, {"--diameter-field", opt.DiameterField}} {
		if err := fieldUnit(f.flag, f.field); err != nil {
			return nil, &Refusal{Usage: true, Text: err.Error(), ToDo: "write " + f.flag + " NAME=ft, say"}
		}
	}
	d, err := readLocated(ctx, locatedPath)
	if err != nil {
		return nil, err
	}
	b, err := readAsBuilt(ctx, asBuiltPath, &opt)
	if err != nil {
		return nil, err
	}
	c := &comparison{opt: opt, located: d, record: b, site: newSite(d), partsOf: map[string][]int{}, singles: map[string]bool{}}
	if err := b.place(c.site, &opt); err != nil {
		return nil, err
	}
	for i := range d.parts {
		name := fold(d.parts[i].line)
		c.partsOf[name] = append(c.partsOf[name], i)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if err := c.pairUp(); err != nil {
		return nil, err
	}
	r := c.result()
	r.Located, r.AsBuilt = filepath.Base(filepath.Clean(locatedPath)), filepath.Base(asBuiltPath)
	return r, ctx.Err()
}

// pairUp finds the pairs; once more with a displacement common to all taken away
// where there is one, for a record that is all displaced has its neighbours
// mixed up.
func (c *comparison) pairUp() error {
	spans, err := findSpans(c.located, c.record, c.site, &c.opt)
	if err != nil {
		return err
	}
	c.match = newMatching(spans)
	c.match.match(plane.Pt{}, &c.opt)
	c.note()
	places := 0.0
	for _, i := range c.match.chosen {
		places += (spans[i].length() + 2*c.slack()) / c.opt.Every
	}
	if places > mostSteps {
		return tooMany()
	}
	if s := findShift(c.allBlocks()); s.Significant {
		c.match.match(plane.Pt{E: s.East, N: s.North}, &c.opt)
		c.note()
	}
	c.match.doubt(c.record, &c.opt)
	return nil
}

// note makes what was chosen easy to look up.
func (c *comparison) note() {
	c.chosen = make([]bool, len(c.match.spans))
	for _, i := range c.match.chosen {
		c.chosen[i] = true
	}
	c.spansOf, c.spansBy = map[int][]int{}, map[int][]int{}
	for i := range c.match.spans {
		s := &c.match.spans[i]
		c.spansBy[s.part] = append(c.spansBy[s.part], i)
		last := -1
		for _, l := range c.record.chains[s.chain].links {
			if l.from <= s.s1+c.slack() && l.to >= s.s0-c.slack() && l.record != last {
				last = l.record
				if of := c.spansOf[last]; len(of) == 0 || of[len(of)-1] != i {
					c.spansOf[last] = append(of, i)
				}
			}
		}
	}
}

// allBlocks are the observations of a common displacement.
func (c *comparison) allBlocks() []block {
	c.lineUp(nil)
	var pairs []Pair
	for r := range c.record.records {
		if stations := c.stations(r); len(stations) > 0 {
			c.mark(r, stations)
			pairs = append(pairs, Pair{Stations: stations})
		}
	}
	return blocksOf(c.gather(pairs))
}

// blocksOf are the observations that lines give of a common displacement.
func blocksOf(lines []Line) []block {
	var out []block
	for i := range lines {
		out = append(out, blocks(i, lines[i].stations)...)
	}
	return out
}

func (c *comparison) result() *Result {
	d, b := c.located, c.record
	r := &Result{Title: d.title, Day: d.day, LocatedSHA256: d.sha256, AsBuiltSHA256: b.sha256, System: b.system, Format: b.format, Records: len(b.records),
		Options: c.opt, site: c.site, located: d, record: b}
	r.Warnings = slices.Concat(d.warnings, b.warnings)
	single := c.singleStations()
	c.lineUp(single)
	why := c.newReasons()
	for i := range b.records {
		stations := c.stations(i)
		p := c.pair(i, stations, single[i])
		if len(p.Stations) == 0 {
			m := Missing{AsBuiltID: b.records[i].id, Utility: b.records[i].utility, Length: b.records[i].length, index: i}
			m.Reason, m.Text = why.of(i, 0, m.Length)
			if why.near(&b.records[i]) {
				r.NotLocated = append(r.NotLocated, m)
			} else {
				r.Elsewhere = append(r.Elsewhere, m)
			}
			continue
		}
		for k := range p.Gaps {
			p.Gaps[k].Reason, p.Gaps[k].Text = why.of(i, p.Gaps[k].From, p.Gaps[k].To)
		}
		r.Pairs = append(r.Pairs, p)
	}
	r.Lines = c.gather(r.Pairs)
	r.LinesNotLocated = c.linesNotLocated(r.NotLocated)
	r.NotInRecord, r.Partly = c.extras()
	r.pool()
	r.Accuracy = r.accuracyOf(&c.opt)
	r.Shift = findShift(blocksOf(r.Lines))
	if r.Shift.Displaced {
		r.Shift.Causes = causesOf(&r.Shift, c.site, b)
	}
	if r.Shift.Significant {
		r.Shift.Causes = append(r.Shift.Causes, turnCauses(&r.Shift, c.site, b)...)
	}
	r.afterShift()
	r.decide()
	r.warn(c)
	return r
}

// pair sums up a record and what stands beside it.
func (c *comparison) pair(i int, stations, single []Station) Pair {
	rec := &c.record.records[i]
	p := Pair{AsBuiltID: rec.id, Utility: rec.utility, Length: rec.length, AfterShift: math.NaN(), record: i}
	p.Gaps, p.Matched = c.gaps(i, stations)
	if len(stations) == 0 && len(single) > 0 {
		p.Points, p.Gaps = len(single), nil
		for k := range single {
			p.Matched += single[k].Weight
		}
	}
	p.Coverage = min(100, 100*p.Matched/rec.length)
	p.Stations = append(stations, single...)
	slices.SortStableFunc(p.Stations, func(a, b Station) int { return cmp.Compare(a.Station, b.Station) })
	c.mark(i, p.Stations)
	p.LineIDs = partners(p.Stations)
	back, forth := 0.0, 0.0
	for _, k := range c.spansOf[i] {
		s := &c.match.spans[k]
		with, against := c.shared(s, i)
		if !c.chosen[k] || with+against == 0 {
			continue
		}
		p.ByID = p.ByID || s.byID && fold(c.located.parts[s.part].line) == fold(rec.id)
		if u := c.located.parts[s.part].utility; u != rec.utility {
			p.LocatedUtility = u
		}
		if s.backwards {
			with, against = against, with
		}
		forth, back = forth+with, back+against
		if other, ok := c.match.doubts[k]; ok && p.Ambiguous == "" {
			p.Ambiguous = c.match.nameOf(k, other, c.located, c.record)
		}
	}
	p.Reversed = back > forth
	p.Lateral, p.Depth = sumUp(lateralValues(p.Stations)), sumUp(depthValues(p.Stations))
	for k := range p.Stations {
		p.Counts[p.Stations[k].Verdict()]++
	}
	return p
}

// shared is the length, m, of a span along a record: on pieces drawn with their
// chain, and on those drawn against it.
func (c *comparison) shared(s *span, rec int) (with, against float64) {
	for _, l := range c.record.chains[s.chain].links {
		d := max(0, min(l.to, s.s1)-max(l.from, s.s0))
		switch {
		case l.record != rec:
		case l.back:
			against += d
		default:
			with += d
		}
	}
	return with, against
}

// decide gives the verdict on the whole: the worst of the lines.
func (r *Result) decide() {
	for i := range r.Pairs {
		p := &r.Pairs[i]
		p.LateralVerdict, p.DepthVerdict, p.Verdict = verdicts(p.Stations)
		r.PairCounts[p.Verdict]++
	}
	for i := range r.Lines {
		r.Counts[r.Lines[i].Verdict]++
		r.Verdict = max(r.Verdict, r.Lines[i].Verdict)
	}
}

// linesNotLocated counts the chains of the record that nothing was located of.
func (c *comparison) linesNotLocated(missing []Missing) int {
	located := map[int]bool{}
	for _, i := range c.match.chosen {
		located[c.match.spans[i].chain] = true
	}
	lost := map[int]bool{}
	for i := range missing {
		for _, p := range c.record.records[missing[i].index].pieces {
			if !located[p.chain] {
				lost[p.chain] = true
			}
		}
	}
	return len(lost)
}

// pool makes the overall figures, by length. The uncertainty of the means comes
// from those of the lines: the stations of different lines are not neighbours,
// but the day's slow errors and the record's are common to them.
func (r *Result) pool() {
	pool := func(of func([]Station) []value, stats func(*Line) *Stats) Stats {
		var values []value
		var sum, effective, weight float64
		for i := range r.Lines {
			l := &r.Lines[i]
			v := l.values(of)
			for k := range v {
				weight += v[k].weight
				sum += v[k].weight * stats(l).Mean95
			}
			if len(v) > 0 {
				effective += stats(l).Effective
			}
			values = append(values, v...)
		}
		all := sumUp(values)
		if weight > 0 {
			all.Mean95, all.Effective = sum/weight, effective
		}
		return all
	}
	r.Lateral = pool(lateralValues, func(l *Line) *Stats { return &l.Lateral })
	r.Depth = pool(depthValues, func(l *Line) *Stats { return &l.Depth })
}

// afterShift tells of each pair what is left when the common displacement is
// taken away.
func (r *Result) afterShift() {
	if !r.Shift.Significant {
		return
	}
	for i := range r.Pairs {
		p := &r.Pairs[i]
		var sum float64
		for k := range p.Stations {
			s := &p.Stations[k]
			sum += s.Lateral - s.n.Dot(r.Shift.at(s.at))
		}
		p.AfterShift = sum / float64(len(p.Stations))
	}
}

// warn adds what a person should know.
func (r *Result) warn(c *comparison) {
	if len(r.Pairs) == 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("no record runs within %.1f m of a located line of its utility: nothing was compared (--search)", c.opt.Search))
	}
	doubtful := 0
	for i := range r.Pairs {
		if r.Pairs[i].Ambiguous != "" {
			doubtful++
		}
	}
	if doubtful > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%d of %d pairs are ambiguous: another line may be meant (see the table)", doubtful, len(r.Pairs)))
	}
	wide := 0
	for i := range c.located.parts {
		q := &c.located.parts[i]
		if half := q.meanHalf(0, q.length()); len(q.pts) > 1 && half > c.opt.Search {
			wide++
		}
	}
	if wide > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%d of %d located parts are less certain than the %.1f m that are searched: their partners may lie farther away (--search)", wide, len(c.located.parts), c.opt.Search))
	}
	for i := range r.Pairs {
		if p := &r.Pairs[i]; p.LocatedUtility != "" && p.LocatedUtility != unknown && p.Utility != unknown {
			r.Warnings = append(r.Warnings, fmt.Sprintf("as-built %s is %s, located as %s", p.AsBuiltID, p.Utility, p.LocatedUtility))
		}
	}
}
