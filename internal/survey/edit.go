package survey

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tracemap/present"
	"tracemap/readings"
	"tracemap/remarks"
)

// An EditKind says what a person changed about readings.
type EditKind string

// The kinds of edits.
const (
	SetAside   EditKind = "aside"   // kept in every output, with its reason, and without a say
	BringBack  EditKind = "back"    // what an earlier edit set aside
	SetLine    EditKind = "line"    // the name of the line that it was taken on
	SetUtility EditKind = "utility" // the kind of plant
)

// An Edit is what a person changed about some rows of a readings log. Edits are
// applied in their order, right after the readings are read and before anything
// is computed from them. The log itself stays as it is.
type Edit struct {
	Kind EditKind
	Rows []RowSpan
	// Value is the line's name or the utility; "" for the other kinds. A reading
	// with the empty line name is grouped by place.
	Value  string
	Reason string // why, and who said so; of SetAside it goes into the readings' notes
}

// A RowSpan is the readings of a log from one row to another, both included, by
// the line of the file on which they start.
type RowSpan struct {
	File     string
	From, To int
}

// Limits of what a person may write into a reading.
const (
	longestName = 80 // characters of a line's name
	latestRow   = math.MaxInt32
)

// Utilities lists the kinds of plant that a reading may be given.
func Utilities() []string {
	var out []string
	for _, l := range present.Looks {
		out = append(out, string(l.Utility))
	}
	return out
}

// check refuses an edit that makes no sense by itself.
func (e *Edit) check() error {
	switch e.Kind {
	case SetAside, BringBack:
		if e.Value != "" {
			return fmt.Errorf("edit %q takes no value, got %q", e.Kind, e.Value)
		}
	case SetLine:
		if n := len([]rune(e.Value)); n > longestName || strings.TrimSpace(e.Value) != e.Value || strings.ContainsAny(e.Value, "\r\n\t") {
			return fmt.Errorf("line name %q: must be up to %d characters on one line, without blanks about it", e.Value, longestName)
		}
	case SetUtility:
		if !slices.Contains(Utilities(), e.Value) {
			return fmt.Errorf("no utility %q: there are %s", e.Value, strings.Join(Utilities(), ", "))
		}
	default:
		return fmt.Errorf("no edit %q: there are aside, back, line and utility", e.Kind)
	}
	if len(e.Rows) == 0 {
		return fmt.Errorf("edit %q names no readings", e.Kind)
	}
	for _, s := range e.Rows {
		if s.File == "" || s.From < 1 || s.To < s.From || s.To > latestRow {
			return fmt.Errorf("edit %q: rows %d to %d of %q are no span of a log", e.Kind, s.From, s.To, s.File)
		}
	}
	return nil
}

// edit applies what people changed. Rows that are not there, or could not be
// read, are told; a log whose every reading is set aside gives no map.
func (d *Day) edit() error {
	if len(d.opt.Edits) == 0 {
		return nil
	}
	rs := d.Readings.Readings
	logged := make([]readings.Reading, len(rs)) // to tell what the log says where it was changed
	copy(logged, rs)
	byFile := map[string][]int{}
	for i := range rs {
		byFile[rs[i].File] = append(byFile[rs[i].File], i)
	}
	reasons := make([]string, len(rs))
	for _, e := range d.opt.Edits {
		for _, s := range e.Rows {
			met := 0
			for _, i := range byFile[s.File] {
				if rs[i].Row >= s.From && rs[i].Row <= s.To {
					met++
					reasons[i] = e.apply(&rs[i], reasons[i])
				}
			}
			if met == 0 {
				d.note("a correction of %s rows %d to %d meets no reading: look at it again", s.File, s.From, s.To)
			}
		}
	}
	aside, named, kinds := 0, 0, 0
	for i := range rs {
		r := &rs[i]
		if r.Flags.Has(remarks.SetAsideByHand) {
			aside++
			remark(r, "set aside by hand: "+reasons[i])
		}
		if was := logged[i].Line; r.Line != was {
			named++
			remark(r, fmt.Sprintf("line by hand, logged as %q", was))
		}
		if was := logged[i].Utility; r.Utility != was {
			kinds++
			remark(r, fmt.Sprintf("utility by hand, logged as %q", was))
		}
	}
	for _, c := range []struct {
		n         int
		one, many string
	}{{aside, "reading was set aside by hand", "readings were set aside by hand"}, {named, "reading was given to another line by hand", "readings were given to another line by hand"}, {kinds, "reading was given another utility by hand", "readings were given another utility by hand"}} {
		if c.n > 0 {
			d.note("%s; readings.csv says which and why", present.Count(c.n, c.one, c.many))
		}
	}
	if aside == len(rs) && aside > 0 {
		return refuse(ErrNoReadings, "every one of %d readings is set aside by hand: bring some back", aside)
	}
	return nil
}

// apply changes one reading, and gives the reason for which it is set aside.
func (e *Edit) apply(r *readings.Reading, reason string) string {
	switch e.Kind {
	case SetAside:
		r.Flags |= remarks.SetAsideByHand
		return e.Reason
	case BringBack:
		r.Flags &^= remarks.SetAsideByHand
		return ""
	case SetLine:
		r.Line = e.Value
	case SetUtility:
		r.Utility = readings.Utility(e.Value)
	}
	return reason
}

// remark adds to a reading's note, which every output carries.
func remark(r *readings.Reading, text string) {
	if r.Note != "" {
		text = r.Note + "; " + text
	}
	r.Note = text
}
