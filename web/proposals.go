package web

import (
	"cmp"
	"fmt"
	"net/http"
	"path"
	"slices"
	"strings"
	"time"

	"tracemap/internal/store"
)

// A proposal is a day that uploaded files seem to make.
type proposal struct {
	Title     string           `json:"title"`
	Originals []store.Original `json:"originals"`
	// Lacks names the log that is missing: "receiver" or "readings"; "" when none.
	Lacks string `json:"lacks,omitempty"`
	// Unsure says that a file might as well belong to another of the proposals.
	Unsure bool `json:"unsure,omitempty"`
}

// postProposals sorts uploaded files into days and crews.
func (s *Server) postProposals(r *http.Request, w http.ResponseWriter) error {
	var ask struct {
		Originals []namedOriginal `json:"originals"`
	}
	if err := read(r, &ask); err != nil {
		return err
	}
	files, _, err := s.filesOf(r, ask.Originals)
	if err != nil {
		return err
	}
	var list, strangers []store.Original
	for _, f := range files {
		o := f.Original
		o.Name = f.Name
		if o.Kind == "unknown" {
			strangers = append(strangers, o)
		} else {
			list = append(list, o)
		}
	}
	return answer(w, http.StatusOK, map[string]any{"days": propose(list), "unknown": append([]store.Original{}, strangers...)})
}

// Receiver's logs are one crew's day when one follows the other: they overlap by
// no more than overlapMost, and the pause between them is no longer than pauseMost.
// A locator's clock may be in the wrong zone, so its readings may seem to lie up
// to zoneMost away.
const (
	overlapMost = time.Minute
	pauseMost   = 4 * time.Hour
	zoneMost    = 14 * time.Hour
)

// span is when a log was written; its zero is unknown.
type span struct{ from, to time.Time }

func spanOf(o store.Original) span {
	from, err1 := time.Parse(time.RFC3339, o.From)
	to, err2 := time.Parse(time.RFC3339, o.To)
	if err1 != nil || err2 != nil {
		return span{}
	}
	return span{from, to}
}

// crew is a proposal under work.
type crew struct {
	proposal
	span
	names []string
}

// propose sorts logs into crews' days: receivers' logs by time, then readings to
// the receiver whose time they fit best, names deciding between equals.
func propose(list []store.Original) []proposal {
	slices.SortStableFunc(list, func(a, b store.Original) int {
		return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(a.From, b.From), cmp.Compare(a.Name, b.Name))
	})
	var crews []*crew
	for _, o := range list {
		sp := spanOf(o)
		var to *crew
		unsure := false
		if ofReceiver(o) {
			to = follows(crews, o, sp)
		} else {
			to, unsure = fits(crews, o, sp)
		}
		if to == nil {
			to = &crew{span: sp}
			crews = append(crews, to)
		}
		to.add(o, sp, unsure)
	}
	out := []proposal{}
	for _, c := range crews {
		out = append(out, c.finish())
	}
	return out
}

func (c *crew) add(o store.Original, sp span, unsure bool) {
	c.Originals, c.names = append(c.Originals, o), append(c.names, o.Name)
	c.Unsure = c.Unsure || unsure
	if ofReceiver(o) && sp.to.After(c.to) {
		c.to = sp.to
	}
}

// rank puts receivers' logs first.
func rank(o store.Original) int {
	if ofReceiver(o) {
		return 0
	}
	return 1
}

// ofReceiver reports whether an original says where the receiver was.
func ofReceiver(o store.Original) bool { return o.Kind == "nmea" || o.Kind == "track" }

// follows gives the crew whose receiver's log ended shortly before.
func follows(crews []*crew, o store.Original, sp span) *crew {
	var best *crew
	for _, c := range crews {
		if sp.from.IsZero() || c.to.IsZero() {
			continue
		}
		if pause := sp.from.Sub(c.to); pause < -overlapMost || pause > pauseMost {
			continue
		}
		if best == nil || c.alike(o.Name) > best.alike(o.Name) || c.alike(o.Name) == best.alike(o.Name) && c.to.After(best.to) {
			best = c
		}
	}
	return best
}

// fits gives the crew in whose time a readings log lies best; unsure when
// another would do as well.
func fits(crews []*crew, o store.Original, sp span) (best *crew, unsure bool) {
	share := func(c *crew) float64 {
		if sp.from.IsZero() || c.from.IsZero() {
			return 0
		}
		both := min(sp.to.Unix(), c.to.Unix()) - max(sp.from.Unix(), c.from.Unix())
		if both >= 0 {
			return 1 + float64(both)/float64(max(sp.to.Unix()-sp.from.Unix(), 1))
		}
		if away := time.Duration(-both) * time.Second; away <= zoneMost {
			return 1 - float64(away)/float64(zoneMost)
		}
		return 0
	}
	for _, c := range crews {
		v := share(c)
		if v == 0 {
			continue
		}
		switch {
		case best == nil:
			best = c
		case v > share(best)+0.3:
			best = c
		case v > share(best)-0.3:
			a, b := c.alike(o.Name), best.alike(o.Name)
			unsure = unsure || a == b
			if a > b {
				best = c
			}
		}
	}
	return best, unsure
}

// alike is how many letters the beginnings of two files' names share at most.
func (c *crew) alike(name string) int {
	most := 0
	for _, other := range c.names {
		n := 0
		for n < len(name) && n < len(other) && name[n] == other[n] {
			n++
		}
		most = max(most, n)
	}
	return most
}

func (c *crew) finish() proposal {
	p := c.proposal
	receiver, readings := false, ""
	for _, o := range p.Originals {
		if ofReceiver(o) {
			receiver = true
		} else if readings == "" {
			readings = stem(o.Name)
		}
	}
	switch {
	case !receiver:
		p.Lacks = "receiver"
	case readings == "":
		p.Lacks = "readings"
		readings = stem(p.Originals[0].Name)
	}
	p.Title = readings
	if !c.from.IsZero() {
		p.Title = fmt.Sprintf("%s %s", c.from.UTC().Format(time.DateOnly), readings)
	}
	return p
}

func stem(name string) string {
	name = strings.TrimSuffix(name, ".gz")
	return strings.TrimSuffix(name, path.Ext(name))
}
