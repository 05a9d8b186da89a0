package compare

import (
	"fmt"
	"image/color"
	"io"
	"math"
	"strings"

	"github.com/twpayne/go-kml/v3"

	"tracemap/geodesy"
	"tracemap/present"
)

// The KML's styles: colours are opaque.
var kmlStyles = []struct {
	id     string
	colour color.RGBA
	width  float64
}{
	{"agrees", color.RGBA{0x1b, 0x6e, 0x36, 0xff}, 4},
	{"inconclusive", color.RGBA{0xff, 0xa0, 0x00, 0xff}, 4},
	{"differs", color.RGBA{0xd0, 0x12, 0x12, 0xff}, 7},
	{"record", color.RGBA{0xff, 0xff, 0xff, 0xff}, 2},
	{"missing", color.RGBA{0xd0, 0x12, 0x12, 0xff}, 3},
	{"located", color.RGBA{0xbb, 0xbb, 0xbb, 0xff}, 3},
}

// writeKML writes what to look at on site: the record, the stretches of it by
// verdict, the located lines, what was not located and what is in no record.
// Lines lie on the ground: viewers hide what is below it.
func writeKML(w io.Writer, r *Result) error {
	doc := kml.Document(kml.Name("As-located against as-built: "+r.Title), kml.Description(r.Sentence()+" "+present.Caution))
	for _, s := range kmlStyles {
		doc.Append(kml.SharedStyle(s.id, kml.LineStyle(kml.Color(s.colour), kml.Width(s.width))))
	}
	k := &kmlWriter{r: r, doc: doc}
	k.folder("Verdicts along the record")
	for i := range r.Pairs {
		k.verdicts(&r.Pairs[i])
	}
	k.folder("Record")
	for i := range r.Pairs {
		p := &r.Pairs[i]
		k.record(p.record, p.AsBuiltID, fmt.Sprintf("%s; located as %s", p.Utility, strings.Join(p.LineIDs, ", ")), "record")
	}
	k.folder("Record, not located")
	for i := range r.NotLocated {
		k.record(r.NotLocated[i].index, r.NotLocated[i].AsBuiltID, r.NotLocated[i].Text, "missing")
	}
	k.folder("Located")
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
	return kml.KML(doc).WriteIndent(w, "", " ")
}

type kmlWriter struct {
	r    *Result
	doc  *kml.DocumentElement
	open *kml.FolderElement // takes the placemarks
}

// folder begins a folder behind the last.
func (k *kmlWriter) folder(name string) {
	k.open = kml.Folder(kml.Name(name))
	k.doc.Append(k.open)
}

func (k *kmlWriter) placemark(name, text, style string, places []geodesy.Geo) {
	at := make(kml.CoordinatesElement, len(places))
	for i, g := range places {
		at[i] = kml.Coordinate{Lon: present.Round(g.Lon, 9), Lat: present.Round(g.Lat, 9)}
	}
	var shape kml.Element = kml.LineString(kml.Tessellate(true), at)
	if len(places) == 1 {
		shape = kml.Point(at)
	}
	k.open.Append(kml.Placemark(kml.Name(name), kml.Description(text), kml.StyleURL("#"+style), shape))
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
		if present.Known(most.DepthDiff) {
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
