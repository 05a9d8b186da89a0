package compare

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strings"

	"tracemap/geodesy"
)

// Colours of the KML, as aabbggrr.
const (
	kmlGreen  = "ff366e1b"
	kmlAmber  = "ff00a0ff"
	kmlRed    = "ff1212d0"
	kmlRecord = "ffffffff"
	kmlGrey   = "ffbbbbbb"
)

// writeKML writes what to look at on site: the record, the stretches of it by
// verdict, the located lines, what was not located and what is in no record.
// Lines lie on the ground: viewers hide what is below it.
func writeKML(w io.Writer, r *Result) error {
	k := &kmlWriter{r: r}
	k.raw(xml.Header + `<kml xmlns="http://www.opengis.net/kml/2.2"><Document>` + "\n")
	k.element("name", "As-located against as-built: "+r.Title)
	k.element("description", r.Sentence()+" "+r.Options.Caution)
	for _, s := range []struct {
		id, colour string
		width      int
	}{{"agrees", kmlGreen, 4}, {"inconclusive", kmlAmber, 4}, {"differs", kmlRed, 7}, {"record", kmlRecord, 2}, {"missing", kmlRed, 3}, {"located", kmlGrey, 3}} {
		k.raw(fmt.Sprintf(`<Style id="%s"><LineStyle><color>%s</color><width>%d</width></LineStyle></Style>`+"\n", s.id, s.colour, s.width))
	}
	k.folder("Verdicts along the record", func() {
		for i := range r.Pairs {
			k.verdicts(&r.Pairs[i])
		}
	})
	k.folder("Record", func() {
		for i := range r.Pairs {
			p := &r.Pairs[i]
			k.record(p.record, p.AsBuiltID, fmt.Sprintf("%s; located as %s", p.Utility, strings.Join(p.LineIDs, ", ")), "record")
		}
	})
	k.folder("Record, not located", func() {
		for i := range r.NotLocated {
			k.record(r.NotLocated[i].index, r.NotLocated[i].AsBuiltID, r.NotLocated[i].Text, "missing")
		}
	})
	k.folder("Located", func() {
		for i := range r.located.parts {
			q := &r.located.parts[i]
			text := q.utility
			for _, e := range r.NotInRecord {
				if e.LineID == q.line {
					text += "; in no record"
				}
			}
			k.placemark(q.line, text, "located", q.geo)
		}
	})
	k.raw("</Document></kml>\n")
	_, err := io.WriteString(w, k.b.String())
	return err
}

type kmlWriter struct {
	r *Result
	b strings.Builder
}

func (k *kmlWriter) raw(s string) { k.b.WriteString(s) }

func (k *kmlWriter) element(name, text string) {
	k.b.WriteString("<" + name + ">")
	xml.EscapeText(&k.b, []byte(strings.ToValidUTF8(text, "\uFFFD"))) // a Builder does not fail
	k.b.WriteString("</" + name + ">\n")
}

func (k *kmlWriter) folder(name string, fill func()) {
	k.raw("<Folder>\n")
	k.element("name", name)
	fill()
	k.raw("</Folder>\n")
}

func (k *kmlWriter) placemark(name, text, style string, places []geodesy.Geo) {
	k.raw("<Placemark>\n")
	k.element("name", name)
	k.element("description", text)
	k.raw("<styleUrl>#" + style + "</styleUrl>\n")
	if len(places) == 1 {
		k.raw("<Point><coordinates>")
	} else {
		k.raw("<LineString><tessellate>1</tessellate><coordinates>")
	}
	for i, g := range places {
		if i > 0 {
			k.raw(" ")
		}
		k.raw(number(g.Lon, 9) + "," + number(g.Lat, 9))
	}
	if len(places) == 1 {
		k.raw("</coordinates></Point>")
	} else {
		k.raw("</coordinates></LineString>")
	}
	k.raw("</Placemark>\n")
}

// record draws a record's pieces.
func (k *kmlWriter) record(index int, name, text, style string) {
	for _, p := range k.r.record.records[index].pieces {
		places := make([]geodesy.Geo, len(p.pts))
		for i, at := range p.pts {
			places[i] = k.r.site.local.Inverse(at)
		}
		k.placemark(name, text, style, places)
	}
}

// verdicts draws a record in stretches of one verdict.
func (k *kmlWriter) verdicts(p *Pair) {
	u := unit{k.r.Options.Imperial}
	for from := 0; from < len(p.Stations); {
		to := from
		v, most := p.Stations[from].Verdict(), &p.Stations[from]
		for to+1 < len(p.Stations) && p.Stations[to+1].Verdict() == v && p.Stations[to+1].piece == p.Stations[from].piece &&
			p.Stations[to+1].Station-p.Stations[to].Station <= 2.5*k.r.Options.Every {
			to++
			if s := &p.Stations[to]; math.Abs(s.Lateral) > math.Abs(most.Lateral) {
				most = s
			}
		}
		text := fmt.Sprintf("%s from %s to %s: the located line lies up to %s ± %s to the %s (at %s)", v, u.long(p.Stations[from].Station), u.long(p.Stations[to].Station),
			u.small(math.Abs(most.Lateral)), u.small(most.Lateral95), side(most.Lateral), u.long(most.Station))
		if known(most.DepthDiff) {
			text += fmt.Sprintf("; depth there %s, in the record %s", u.small(most.DepthLocated), u.small(most.DepthAsBuilt))
		}
		places := []geodesy.Geo{}
		for i := from; i <= to; i++ {
			places = append(places, p.Stations[i].At)
		}
		k.placemark(p.AsBuiltID+": "+v.String(), text, v.String(), places)
		from = to + 1
	}
}
