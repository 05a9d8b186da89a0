package compare

import (
	"cmp"
	_ "embed" // the page's template and style
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"
	"strings"

	"tracemap/present"
)

//go:embed page.html
var pageText string

//go:embed style.css
var styleText string

var pageTemplate = template.Must(template.New("page").Parse(pageText))

// A page is what the template shows.
type page struct {
	Title, Caution, Sentence, Mood, Symbol, Word, Tool string
	Style                                              template.CSS
	About, Figures                                     []fact
	Overview                                           template.HTML
	Shift                                              *shiftView
	Rows                                               []pairRow
	Sheets                                             []sheetView
	Left                                               int // pairs without a sheet
	Missing                                            []missingRow
	MoreMissing, Far                                   int // records not listed: too many, or far from the day
	Extra                                              []extraRow
	Accuracy                                           []string
	Rules, Warnings                                    []string
	Inputs                                             []inputRow
	Legend                                             []legendRow
}

type fact struct{ Label, Text string }

type legendRow struct{ Letters, Name, Colour string }

type inputRow struct{ What, File, Format, SHA256 string }

type shiftView struct {
	Sure      bool
	Sentence  string
	Causes    []string
	Picture   template.HTML
	CauseHead string
}

type pairRow struct {
	Number                                             int
	ID, Lines, Letters, Colour, Verdict, Class, Symbol string
	Length, Coverage, Lateral, LateralMax, Depth, Note string
	Anchor                                             string
}

type sheetView struct {
	Anchor, ID, Letters, Colour, Verdict, Class, Symbol string
	Sentence                                            string
	Picture                                             template.HTML
	Stats                                               []statRow
	Notes                                               []string
}

type statRow struct{ Name, N, Mean, RMSE, P95, Max, At, Verdict string }

type missingRow struct{ ID, Letters, Length, Text string }

type extraRow struct{ ID, Letters, Length, Text string }

// mostSheets and mostRows bound the page: what matters most is shown.
const (
	mostSheets = 60
	mostRows   = 300
)

func writePage(w io.Writer, r *Result) error { return pageTemplate.Execute(w, r.page()) }

func (r *Result) page() *page {
	o := &r.Options
	u := unit{o.Imperial}
	p := &page{Title: "As-located against as-built: " + r.Title, Caution: present.Caution, Sentence: r.Sentence(), Tool: o.Tool, Style: template.CSS(present.Style(styleText)),
		Warnings: r.Warnings, Rules: r.rules(u)}
	p.Mood, p.Symbol, p.Word = mood(r.Verdict)
	p.About = []fact{{"Located", r.Located}, {"Surveyed", orDash(r.Day)}, {"Record", r.AsBuilt + " (" + r.Format + ")"}, {"Its coordinates", r.System}}
	p.Figures = r.figures(u)
	p.Overview = template.HTML(r.overview())
	p.Shift = r.shiftView(u)
	p.pairs(r, u)
	for i := range r.NotLocated {
		m := &r.NotLocated[i]
		if len(p.Missing) < mostRows {
			p.Missing = append(p.Missing, missingRow{m.AsBuiltID, lookOf(m.Utility).Letters, u.long(m.Length), m.Text})
		} else {
			p.MoreMissing++
		}
	}
	p.Far = len(r.Elsewhere)
	for _, e := range r.NotInRecord {
		p.Extra = append(p.Extra, extraRow{e.LineID, lookOf(e.Utility).Letters, u.long(e.Length), e.Text})
	}
	for _, e := range r.Partly {
		p.Extra = append(p.Extra, extraRow{e.LineID, lookOf(e.Utility).Letters, u.long(e.Length - e.Matched), fmt.Sprintf("of %s; the rest is in the record", u.long(e.Length))})
	}
	p.Accuracy = r.accuracyWords(u)
	p.Inputs = []inputRow{{"Located", r.Located, "", r.LocatedSHA256}, {"As-built", r.AsBuilt, r.Format, r.AsBuiltSHA256}}
	p.Legend = r.legend()
	return p
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

// mood is the class, the symbol and the word of a verdict.
func mood(v Verdict) (class, symbol, word string) {
	switch v {
	case Agrees:
		return "good", "✓", "Agrees"
	case Differs:
		return "no", "✕", "Differs"
	case Inconclusive:
		return "care", "?", "Inconclusive"
	}
	return "care", "–", "Not compared"
}

func (r *Result) figures(u unit) []fact {
	var length, matched float64
	for i := range r.Pairs {
		length, matched = length+r.Pairs[i].Length, matched+r.Pairs[i].Matched
	}
	for i := range r.NotLocated {
		length += r.NotLocated[i].Length
	}
	out := []fact{{"lines of the record compared", fmt.Sprintf("%d of %d", len(r.Lines), len(r.Lines)+r.LinesNotLocated)}}
	if length > 0 {
		out = append(out, fact{"of their length located", fmt.Sprintf("%.0f %%", 100*matched/length)})
	}
	if r.Lateral.N > 0 {
		out = append(out, fact{"mean lateral difference", u.sideways(r.Lateral.Mean) + " ± " + u.small(r.Lateral.Mean95)}, fact{"95 % of stations within", u.small(r.Lateral.P95)})
	}
	if r.Depth.N > 0 {
		out = append(out, fact{"mean depth difference", u.signed(r.Depth.Mean) + " ± " + u.small(r.Depth.Mean95)})
	}
	return out
}

// pairs makes the table and the sheets: what differs most comes first.
func (p *page) pairs(r *Result, u unit) {
	order := make([]int, len(r.Pairs))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := &r.Pairs[a], &r.Pairs[b]
		return cmp.Or(cmp.Compare(y.Verdict, x.Verdict), cmp.Compare(big(y), big(x)))
	})
	for n, i := range order {
		q := &r.Pairs[i]
		look := lookOf(q.Utility)
		class, symbol, word := mood(q.Verdict)
		row := pairRow{Number: n + 1, ID: q.AsBuiltID, Lines: strings.Join(q.LineIDs, ", "), Letters: look.Letters, Colour: look.Hex(), Verdict: word, Class: class, Symbol: symbol,
			Length: u.long(q.Length), Coverage: fmt.Sprintf("%.0f %%", q.Coverage), Lateral: meanText(u.sideways, u, q.Lateral), LateralMax: maxText(u, q.Lateral), Depth: meanText(u.signed, u, q.Depth), Note: note(q)}
		if n < mostSheets {
			row.Anchor = fmt.Sprintf("pair-%d", n+1)
			s := sheet{r: r, p: q, rec: &r.record.records[q.record], id: fmt.Sprint(n + 1), unit: u}
			p.Sheets = append(p.Sheets, sheetView{Anchor: row.Anchor, ID: q.AsBuiltID, Letters: look.Letters, Colour: look.Hex(), Verdict: word, Class: class, Symbol: symbol,
				Sentence: q.sentence(u, &r.Options), Picture: s.draw(), Stats: []statRow{statOf(u, u.sideways, "Lateral", q.Lateral, q.LateralVerdict), statOf(u, u.signed, "Depth", q.Depth, q.DepthVerdict)}, Notes: q.notes(r, u)})
		} else {
			p.Left++
		}
		p.Rows = append(p.Rows, row)
	}
}

// big is how large a pair's difference is, for the order of the page.
func big(p *Pair) float64 {
	if !present.Known(p.Lateral.RMSE) {
		return 0
	}
	return p.Lateral.RMSE
}

func meanText(write func(float64) string, u unit, s Stats) string {
	if s.N == 0 {
		return "–"
	}
	return write(s.Mean) + " ± " + u.small(s.Mean95)
}

func maxText(u unit, s Stats) string {
	if s.N == 0 {
		return "–"
	}
	return u.sideways(s.MaxSigned)
}

func statOf(u unit, write func(float64) string, name string, s Stats, v Verdict) statRow {
	_, _, word := mood(v)
	if s.N == 0 {
		return statRow{name, "0", "–", "–", "–", "–", "–", "not known on both sides"}
	}
	return statRow{name, fmt.Sprintf("%d (worth %.0f)", s.N, math.Floor(s.Effective)), meanText(write, u, s), u.small(s.RMSE), u.small(s.P95), write(s.MaxSigned), u.long(s.MaxStation), strings.ToLower(word)}
}

func note(p *Pair) string {
	var out []string
	if p.Ambiguous != "" {
		out = append(out, "ambiguous: "+p.Ambiguous+" may be meant")
	}
	if p.Coverage < 90 {
		out = append(out, "in part not located")
	}
	if p.LocatedUtility != "" {
		out = append(out, "located as "+p.LocatedUtility)
	}
	return strings.Join(out, "; ")
}

// sentence says of a pair what its picture shows.
func (p *Pair) sentence(u unit, o *Options) string {
	judged := p.Counts[Agrees] + p.Counts[Inconclusive] + p.Counts[Differs]
	share := func(n int) string { return fmt.Sprintf("%.0f %%", 100*float64(n)/float64(max(judged, 1))) }
	var text string
	switch p.Verdict {
	case Agrees:
		text = fmt.Sprintf("Located where the record has it: %s of the compared stations agree within %s beyond the uncertainty, none differs.", share(p.Counts[Agrees]), u.small(o.Tolerance))
	case Differs:
		text = fmt.Sprintf("The line differs by more than %s beyond the uncertainty, over more than chance explains; %s of the compared stations do by themselves", u.small(o.Tolerance), share(p.Counts[Differs]))
		if p.LateralVerdict == Differs {
			text += fmt.Sprintf(": the located line runs up to %s to the %s, at %s", u.small(p.Lateral.Max), side(p.Lateral.MaxSigned), u.long(p.Lateral.MaxStation))
		}
		if p.DepthVerdict == Differs {
			text += fmt.Sprintf("; it lies up to %s %s, at %s", u.small(p.Depth.Max), map[bool]string{true: "deeper", false: "shallower"}[p.Depth.MaxSigned > 0], u.long(p.Depth.MaxStation))
		}
		text += "."
	default:
		text = p.undecided(u, o, share)
	}
	if p.Coverage < 99.5 {
		text += fmt.Sprintf(" %.0f %% of the record was located.", p.Coverage)
	}
	return text
}

// undecided says in what a pair is inconclusive, and what would settle it.
func (p *Pair) undecided(u unit, o *Options, share func(int) string) string {
	var half, record, depth, n float64
	for i := range p.Stations {
		s := &p.Stations[i]
		half, record, n = half+s.half, record+s.accuracy, n+1
		if present.Known(s.Depth95) {
			depth += s.Depth95
		}
	}
	var in, settle []string
	if p.LateralVerdict == Inconclusive {
		in = append(in, "laterally")
		switch {
		case half >= record:
			settle = append(settle, fmt.Sprintf("a better fix or closer readings, for the located line is known within %s", u.small(half/n)))
		default:
			settle = append(settle, fmt.Sprintf("the record's own accuracy (--as-built-accuracy), which is taken as %s", u.small(record/n)))
		}
	}
	if p.DepthVerdict == Inconclusive {
		in = append(in, "in depth")
		settle = append(settle, fmt.Sprintf("a dug hole, or the diameter and the point that the record's depth goes to, for the depths are known within %s", u.small(depth/n)))
	}
	text := fmt.Sprintf("Inconclusive %s: the uncertainty is too wide to say", join(in))
	if p.Counts[Differs] > 0 {
		text += fmt.Sprintf(" (%s of the compared stations differ by themselves, no more than chance may bring)", share(p.Counts[Differs]))
	}
	return text + ". What would settle it: " + join(settle) + "."
}

func side(lateral float64) string {
	if lateral > 0 {
		return "left"
	}
	return "right"
}

// notes are what else is to be known of a pair.
func (p *Pair) notes(r *Result, u unit) []string {
	var out []string
	if len(p.LineIDs) > 0 {
		how := "found by utility, nearness and direction"
		switch {
		case p.Points > 0:
			how = fmt.Sprintf("%s located without a line between them", present.Count(p.Points, "point", "points"))
		case p.ByID:
			how = "found by its name"
		}
		out = append(out, fmt.Sprintf("Partner: located line %s, %s.", strings.Join(p.LineIDs, ", "), how))
	}
	if p.Ambiguous != "" {
		out = append(out, fmt.Sprintf("Ambiguous: %s may be meant as well; the uncertainty does not tell them apart.", p.Ambiguous))
	}
	if p.LocatedUtility != "" {
		out = append(out, fmt.Sprintf("The record calls it %s, the crew %s.", p.Utility, p.LocatedUtility))
	}
	for _, g := range p.Gaps {
		out = append(out, fmt.Sprintf("Not located from %s to %s: %s.", u.long(g.From), u.long(g.To), g.Text))
	}
	if p.Reversed {
		out = append(out, "The located line is drawn the other way; signs follow the record's direction.")
	}
	if r.Shift.Significant && present.Known(p.AfterShift) {
		out = append(out, fmt.Sprintf("When what is common to all is taken away, the mean lateral difference is %s.", u.sideways(p.AfterShift)))
	}
	return out
}

func (r *Result) legend() []legendRow {
	seen := map[string]bool{}
	var out []legendRow
	for i := range r.located.parts {
		utility := r.located.parts[i].utility
		if look := lookOf(utility); !seen[utility] {
			seen[utility] = true
			out = append(out, legendRow{look.Letters, look.Name, look.Hex()})
		}
	}
	slices.SortFunc(out, func(a, b legendRow) int { return cmp.Compare(a.Name, b.Name) })
	return out
}

func (r *Result) accuracyWords(u unit) []string {
	a := &r.Accuracy
	out := []string{a.Statement}
	if !present.Known(a.Horizontal) {
		return out
	}
	text := fmt.Sprintf("%s: horizontal %s", a.Standard, u.small(a.Horizontal))
	if present.Known(a.Vertical) {
		text += ", vertical " + u.small(a.Vertical)
	}
	text += fmt.Sprintf(" at 95 %% (RMSE radial %s", u.small(a.RMSEr))
	if present.Known(a.RMSEz) {
		text += ", vertical " + u.small(a.RMSEz)
	}
	out = append(out, text+"). A line shows its displacement across itself only; along itself it is taken to be as large.")
	text = fmt.Sprintf("ASPRS edition 2 (2023), which has root mean squares and no 95 %% figure, with the record's own accuracy combined in: horizontal %s", u.small(a.ASPRSH))
	if present.Known(a.ASPRSV) {
		text += ", vertical " + u.small(a.ASPRSV)
	}
	return append(out, text+fmt.Sprintf("; it asks for %d check points.", leastChecksASPRS))
}

func (r *Result) rules(u unit) []string {
	o := &r.Options
	return []string{
		fmt.Sprintf("A station differs when the difference is larger than its 95 %% uncertainty and the tolerance of %s (depth %s) together; it agrees when difference and uncertainty together are smaller than the tolerance; between them it is inconclusive. One of lateral and depth that differs is enough.", u.small(o.Tolerance), u.small(o.depthTolerance())),
		fmt.Sprintf("A line differs where its mean difference is larger than its mean uncertainty and the tolerance together, or where the mean over %s is larger than %.1f times its uncertainty and the tolerance: of many stations one in twenty lies outside its 95 %% by chance. It agrees when no station differs and %.0f %% of its compared length agrees.", u.long(blockLength), stretchFactor, 100*enough),
		"What counts is a line: records that are joined end to end, and those that were located as one line, are one, however many pieces they are cut into.",
		fmt.Sprintf("The uncertainty of a station is that of the located line across itself and the record's, %s where it states none (depth %s), as the root of the sum of squares.", u.small(o.Accuracy), u.small(o.DepthAccuracy)),
		"Depths are brought to the utility's centre. Where it is not said to what point the record measured, or no diameter is known, half the diameter that the utility may have is added whole to the uncertainty.",
		"Stations of one line are not independent: their number is given with what it is worth by their autocorrelation, at most what neighbouring errors are worth along the line, and the uncertainty of a mean is never below what all stations share: the slow part of the satellite error, and the record's accuracy.",
		fmt.Sprintf("Partners are found by name, else by utility, direction and nearness, all together; at most %s away.", u.small(o.Search)),
	}
}
