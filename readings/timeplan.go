package readings

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// A timePlan is how a file writes its times, told from a sample of them.
type timePlan struct {
	kind  timeKind
	order order
	// day is the date of times of day without one; it goes on at midnight.
	day   time.Time
	start time.Time // of elapsed seconds, in UTC
	ref   time.Time // day zero of spreadsheet serials
	zone  *time.Location

	last int // seconds of the day of the row before, for midnight
	told string
}

type timeKind int

const (
	stamps timeKind = iota // text
	serials
	unixSeconds
	unixMillis
	elapsedSeconds
	gpsWeeks
)

// dayCount is the year range in which a bare number is believed to be a date.
var (
	earliestCount = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	latestCount   = time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)
)

// planTimes looks at the first rows' times. The error says what only a person can
// decide.
func (f *fileReader) planTimes() error {
	p, m := f.layout.plan, f.mapping
	tp := &timePlan{last: -1, ref: time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)}
	f.rd.times = tp
	if f.date1904 {
		tp.ref = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	if p.time < 0 || m.format != nil {
		return nil
	}
	if m.counts != stamps {
		tp.kind = m.counts
		if tp.day = f.dayOf(); tp.kind == elapsedSeconds {
			return f.planElapsed(tp)
		}
		return nil
	}
	if zone := firstNonEmpty(p.zone, f.said("time_zone", "timezone", "zone", "utc_offset", "zeitzone", "fuseau_horaire", "zona_horaria")); zone != "" {
		if z, err := ParseZone(zone); err == nil {
			tp.zone = z
		}
	}
	if p.week >= 0 {
		tp.kind = gpsWeeks
		return nil
	}
	tp.day = f.dayOf()
	cells, dates := f.timeCells()
	numbers, whole := f.allNumbers(cells)
	switch {
	case p.elapsed && numbers:
		return f.planElapsed(tp)
	case numbers && p.date < 0:
		return f.planCount(tp, whole)
	case numbers && p.date >= 0 && allBelowOne(whole):
		tp.kind = serials // of the day, beside a date
	}
	if err := f.planOrder(tp, cells, dates); err != nil {
		return err
	}
	return nil
}

func firstNonEmpty(texts ...string) string {
	for _, t := range texts {
		if t != "" {
			return t
		}
	}
	return ""
}

// timeCells are the filled cells of time and date of the first rows.
func (f *fileReader) timeCells() (cells, dates []string) {
	p := f.layout.plan
	for _, r := range f.layout.rows {
		if p.time < len(r.cells) {
			if c := bareCell(r.cells[p.time]); !f.mapping.isBlank(c) {
				cells = append(cells, c)
			}
		}
		if p.date >= 0 && p.date < len(r.cells) {
			if c := bareCell(r.cells[p.date]); !f.mapping.isBlank(c) {
				dates = append(dates, c)
			}
		}
	}
	return cells, dates
}

// allNumbers reports whether nine of ten cells are plain numbers, and gives these.
func (f *fileReader) allNumbers(cells []string) (bool, []float64) {
	var out []float64
	for _, c := range cells {
		if v, err := strconv.ParseFloat(strings.Replace(c, ",", ".", 1), 64); err == nil && !math.IsInf(v, 0) && !math.IsNaN(v) {
			out = append(out, v)
		}
	}
	return len(out) > 0 && 10*len(out) >= 9*len(cells), out
}

func allBelowOne(v []float64) bool {
	for _, x := range v {
		if x < 0 || x >= 1 {
			return false
		}
	}
	return len(v) > 0
}

// planCount tells what a column of plain numbers counts: it must be a date of this
// century in one way only.
func (f *fileReader) planCount(tp *timePlan, v []float64) error {
	lo, hi := v[0], v[0]
	for _, x := range v {
		lo, hi = min(lo, x), max(hi, x)
	}
	inside := func(perSecond float64) bool {
		return lo/perSecond >= float64(earliestCount.Unix()) && hi/perSecond <= float64(latestCount.Unix())
	}
	switch {
	case len(fmt.Sprintf("%.0f", math.Floor(lo))) == 14 && hi < 21e12+1e12 && lo > 2e13-1 && basicForm(lo):
		return nil // 20260512080102
	case inside(1):
		tp.kind = unixSeconds
	case inside(1000):
		tp.kind = unixMillis
	case lo >= 36526 && hi < 73051 && hi-lo < 31 && !allWhole(v):
		tp.kind = serials
	case allBelowOne(v) && !tp.day.IsZero():
		tp.kind = serials
	case allBelowOne(v):
		return fmt.Errorf("column %q has times of day without a date: %s", f.layout.plan.headers[f.layout.plan.time], dateWanted)
	default:
		return fmt.Errorf("column %q holds plain numbers (%v to %v): say what they count with [time] format (unix, unix_ms, serial or elapsed) in --columns",
			f.layout.plan.headers[f.layout.plan.time], lo, hi)
	}
	tp.told = map[timeKind]string{serials: "spreadsheet day numbers", unixSeconds: "seconds since 1970 (UTC)", unixMillis: "milliseconds since 1970 (UTC)"}[tp.kind]
	return nil
}

// basicForm reports whether a number can be 20260512080102.
func basicForm(v float64) bool {
	_, reason := parseLoose(strconv.FormatFloat(math.Floor(v), 'f', 0, 64), orderUnknown)
	return reason == ""
}

func allWhole(v []float64) bool {
	for _, x := range v {
		if x != math.Trunc(x) {
			return false
		}
	}
	return true
}

const dateWanted = "give the receiver's log with it, or the date as [time] day in --columns, as a line \"Date: 2026-05-12\" above the header, or in the file's name"

// planElapsed finds when seconds began to count.
func (f *fileReader) planElapsed(tp *timePlan) error {
	tp.kind = elapsedSeconds
	text := f.mapping.start
	if text == "" {
		text = f.startSaid()
	}
	if text == "" {
		return fmt.Errorf("column %q counts from a start that the file does not give: add a line \"Start: 2026-05-12 08:00:00\" above the header, or [time] start in --columns",
			f.layout.plan.headers[f.layout.plan.time])
	}
	l, reason := parseLoose(text, orderUnknown)
	if reason == "" && !l.hasDate {
		if tp.day.IsZero() {
			return fmt.Errorf("the start %q has no date: %s", shorten(text), dateWanted)
		}
		l.year, l.month, l.day = tp.day.Year(), int(tp.day.Month()), tp.day.Day()
	}
	if reason != "" || !l.hasClock {
		return fmt.Errorf("the start %q is no date and time: write 2026-05-12 08:00:00", shorten(text))
	}
	tp.start = f.rd.utc(&l.stamp, f.layout.header, text)
	tp.told = "seconds since " + tp.start.Format("2006-01-02 15:04:05")
	return nil
}

// startSaid is the start that the preamble gives.
func (f *fileReader) startSaid() string {
	return f.said("start", "start_time", "started", "start_of_log", "log_start", "begin", "beginn", "startzeit", "debut", "inicio", "inizio", "recording_started", "date_time", "datetime", "start_utc", "start_time_utc")
}

// planOrder settles whether days or months come first, by the column itself, and
// else by the days of the receiver's log.
func (f *fileReader) planOrder(tp *timePlan, cells, dates []string) error {
	if len(dates) > 0 {
		cells = dates
	}
	canDay, canMonth, open, undated := true, true, 0, 0
	sample := ""
	days := map[string]bool{}
	months := map[string]bool{}
	dots := true
	for _, c := range cells {
		l, reason := parseLoose(c, orderUnknown)
		switch {
		case l.open:
			open++
			sample = c
			dots = dots && l.dots
			canDay, canMonth = canDay && l.b <= 12, canMonth && l.a <= 12
			for by, set := range map[order]map[string]bool{dayFirst: days, monthFirst: months} {
				if d, why := parseLoose(c, by); why == "" || why == noSuchTime && d.hasDate {
					set[fmt.Sprintf("%04d-%02d-%02d", d.year, d.month, d.day)] = true
				}
			}
		case reason == "" && !l.hasDate && l.hasClock:
			undated++
		}
	}
	if undated > 0 && len(dates) == 0 && tp.day.IsZero() && 2*undated > len(cells) {
		return fmt.Errorf("column %q has times of day without a date: %s", f.layout.plan.headers[f.layout.plan.time], dateWanted)
	}
	if open == 0 {
		return nil
	}
	switch {
	case canDay && !canMonth:
		tp.order = dayFirst
	case canMonth && !canDay:
		tp.order = monthFirst
	case !canDay:
		return nil // every such row is set aside with its reason
	case dots:
		tp.order, tp.told = dayFirst, "days first, as dates with points are written"
	default:
		byDay, byMonth := f.onReceiverDay(days), f.onReceiverDay(months)
		switch {
		case byDay && !byMonth:
			tp.order, tp.told = dayFirst, "days first, by the date of the receiver's log"
		case byMonth && !byDay:
			tp.order, tp.told = monthFirst, "months first, by the date of the receiver's log"
		case byDay && sameDays(days, months):
			tp.order = dayFirst // 05/05 is one day either way
		case 2*open <= len(cells): // the rest of the file is clear: such rows are set aside
		default:
			return fmt.Errorf("times such as %q may have the day or the month first: say which with [time] format in --columns, as in \"DD/MM/YYYY hh:mm:ss\"", shorten(sample))
		}
	}
	return nil
}

func sameDays(a, b map[string]bool) bool {
	for d := range a {
		if !b[d] {
			return false
		}
	}
	return len(a) == len(b)
}

// onReceiverDay reports whether each day is one of the receiver's log, give or take
// the zone.
func (f *fileReader) onReceiverDay(days map[string]bool) bool {
	for d := range days {
		t, err := time.Parse(time.DateOnly, d)
		if err != nil {
			return false
		}
		near := false
		for _, r := range f.receiverDays {
			near = near || t.Sub(r).Abs() <= 36*time.Hour
		}
		if !near {
			return false
		}
	}
	return len(days) > 0 && len(f.receiverDays) > 0
}

// dayOf is the date of times of day: of the map, the options, the preamble, the
// file's name, or the receiver's log; zero where nothing says it.
func (f *fileReader) dayOf() time.Time {
	if !f.mapping.day.IsZero() {
		return f.mapping.day
	}
	if !f.date.IsZero() {
		return f.date
	}
	if text := f.said("date", "survey_date", "date_of_survey", "job_date", "datum", "messdatum", "fecha", "data", "start", "start_time", "started", "log_start", "日期", "日付"); text != "" {
		l, reason := parseLoose(text, orderUnknown)
		if l.open && l.dots {
			l, reason = parseLoose(text, dayFirst)
		}
		if reason == "" && l.hasDate {
			return time.Date(l.year, time.Month(l.month), l.day, 0, 0, 0, 0, time.UTC)
		}
	}
	if m := dateInName.FindStringSubmatch(baseName(f.name)); m != nil {
		if t, err := time.Parse("20060102", m[1]+m[2]+m[3]); err == nil {
			return t
		}
	}
	if len(f.receiverDays) == 1 {
		return f.receiverDays[0]
	}
	return time.Time{}
}

var dateInName = regexp.MustCompile(`(?:^|\D)(20\d\d)[-_.]?(0[1-9]|1[0-2])[-_.]?(0[1-9]|[12]\d|3[01])(?:\D|$)`)

func baseName(path string) string {
	if i := strings.LastIndexAny(path, `/\`); i >= 0 {
		path = path[i+1:]
	}
	return path
}
