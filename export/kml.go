package export

import (
	"bufio"
	"context"
	"encoding/xml"
	"image/color"
	"io"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/twpayne/go-kml/v3"

	"tracemap/internal/newfile"
	"tracemap/present"
	"tracemap/readings"
	"tracemap/result"
)

// writeKML writes map.kml: a folder a utility, in it lines, corridors and
// readings. All is clamped to the ground, for a viewer's terrain hides what lies
// below it, and KML's altitudes are above the geoid; depths and heights are data.
func writeKML(ctx context.Context, dir string, m *result.Map, _ Options) error {
	return newfile.Write(filepath.Join(dir, "map.kml"), func(w *bufio.Writer) error {
		return encodeKML(ctx, w, m, "")
	})
}

// kmlWriter streams a document element by element: a tree of a day's readings
// would take hundreds of megabytes.
type kmlWriter struct {
	*xml.Encoder
	m         *result.Map
	parts     []partRow
	readings  []readingRow
	utilities map[string]readings.Utility // of lines, by id
	fields    struct {
		lines, corridors *fieldTable[partRow]
		readings         *fieldTable[readingRow]
	}
	err error
}

// encodeKML writes the document; dot is the address of the readings' icon, ""
// for the viewer's own.
func encodeKML(ctx context.Context, w io.Writer, m *result.Map, dot string) error {
	if _, err := io.WriteString(w, strings.TrimSpace(xml.Header)); err != nil {
		return err
	}
	k := &kmlWriter{Encoder: xml.NewEncoder(w), m: m, parts: partRows(m, nil), readings: readingRows(m, nil), utilities: map[string]readings.Utility{}}
	k.fields.lines, k.fields.corridors = newFieldTable("lines", partFields(m)), newFieldTable("corridors", corridorColumns)
	k.fields.readings = newFieldTable("readings", readingFields(m))
	for i := range m.Lines {
		k.utilities[m.Lines[i].ID] = m.Lines[i].Utility
	}
	k.open("kml", xml.Attr{Name: xml.Name{Local: "xmlns"}, Value: kml.Namespace})
	k.open("Document")
	k.head(dot)
	for _, look := range present.Looks {
		if err := ctx.Err(); err != nil {
			return err
		}
		k.utility(look)
	}
	k.close("Document")
	k.close("kml")
	if k.err == nil {
		k.err = k.Flush()
	}
	return k.err
}

// newLine begins a new line: an element a line, for a map of a day is read by people
// too, and indents would be a tenth of it.
func (k *kmlWriter) newLine() {
	if k.err == nil {
		k.err = k.EncodeToken(xml.CharData("\n"))
	}
}

func (k *kmlWriter) open(name string, attrs ...xml.Attr) {
	k.newLine()
	if k.err == nil {
		k.err = k.EncodeToken(xml.StartElement{Name: xml.Name{Local: name}, Attr: attrs})
	}
}

func (k *kmlWriter) close(name string) {
	k.newLine()
	if k.err == nil {
		k.err = k.EncodeToken(xml.EndElement{Name: xml.Name{Local: name}})
	}
}

// put writes elements by themselves: the encoder's own way would empty its buffer
// into the file after each.
func (k *kmlWriter) put(elements ...kml.Element) {
	for _, e := range elements {
		k.newLine()
		if k.err == nil {
			k.err = e.MarshalXML(k.Encoder, xml.StartElement{})
		}
	}
}

// head writes what stands before the folders, in the order of the schema: name,
// description, time, styles, data, schemas.
func (k *kmlWriter) head(dot string) {
	title := k.m.Meta.Title
	if title == "" {
		title = "Located utilities"
	}
	k.put(kml.Name(title), kml.Open(true), kml.Description(k.introduction()))
	if span := timeSpan(k.m.Meta.From, k.m.Meta.To); span != nil {
		k.put(span)
	}
	for _, look := range present.Looks {
		if _, _, any := k.content(look); any {
			k.put(styles(look, dot)...)
		}
	}
	data := kml.ExtendedData()
	for _, e := range about(k.m, nil) {
		data.Append(kml.Data(e.name, kml.DisplayName(e.label), kml.Value(e.value)))
	}
	k.put(data, schema("lines", k.fields.lines.columns), schema("corridors", corridorColumns), schema("readings", k.fields.readings.columns))
}

// introduction is the document's text: what it is, and the caution.
func (k *kmlWriter) introduction() string {
	var rows []result.Fact
	for _, e := range about(k.m, nil) {
		if e.name != "caution" && e.name != "title" {
			rows = append(rows, result.Fact{Label: e.label, Text: e.value})
		}
	}
	return lines(rows, escaped.Replace(present.Caution))
}

// balloonText is what a viewer that knows balloon styles puts into each balloon: a
// placemark's name and text, and the caution in full. The lines of the text stay
// lines.
var balloonText = `<h3>$[name]</h3><div style="white-space:pre-line">$[description]</div><p>` + escaped.Replace(present.Caution) + `</p>`

// shortCaution ends each text, for viewers that show nothing but the text.
const shortCaution = "Estimate: not a clearance to dig."

// escaped writes text where a viewer takes it for HTML; quotes stay, since other
// viewers show it as it is.
var escaped = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")

// described is a short text for people. There are no tags in it: the KML 2.2
// reference says that viewers show the lines of such a text as lines, and simple
// ones on phones show tags or swallow them.
func described(rows []result.Fact) string { return lines(rows, shortCaution) }

// lines writes a line a fact, and what comes at the end.
func lines(rows []result.Fact, end string) string {
	length := len(end)
	for _, r := range rows {
		length += len(r.Label) + len(r.Text) + len(": \n")
	}
	var b strings.Builder
	b.Grow(length) // escapes are rare
	for _, r := range rows {
		b.WriteString(escaped.Replace(r.Label))
		b.WriteString(": ")
		b.WriteString(escaped.Replace(r.Text))
		b.WriteByte('\n')
	}
	b.WriteString(end)
	return b.String()
}

// styles are a utility's: line, doubtful line, corridor, reading.
func styles(look present.Look, dot string) []kml.Element {
	id := string(look.Utility)
	band := look.Colour
	band.A = 0x59 // about a third, so that the ground shows
	icon := kml.IconStyle(kml.Color(look.Colour), kml.Scale(0.5))
	balloon := kml.BalloonStyle(kml.Text(balloonText))
	if dot != "" {
		icon.Append(kml.Icon(kml.Href(dot)))
	}
	return []kml.Element{
		kml.SharedStyle("line-"+id, icon, kml.LineStyle(kml.Color(look.Colour), kml.Width(4)), balloon),
		kml.SharedStyle("doubtful-"+id, kml.LineStyle(kml.Color(color.White), kml.Width(1.5)), balloon),
		kml.SharedStyle("corridor-"+id, kml.LineStyle(kml.Color(look.Colour), kml.Width(1)), kml.PolyStyle(kml.Color(band), kml.Fill(true), kml.Outline(true)), balloon),
		kml.SharedStyle("reading-"+id, icon, kml.LabelStyle(kml.Scale(0)), balloon),
		kml.SharedStyle("point-"+id, icon, kml.LabelStyle(kml.Scale(0.8)), balloon),
	}
}

// schema declares a layer's fields.
func schema[R any](layer string, columns []column[R]) kml.Element {
	s := kml.NamedSchema("schema-"+layer, layer)
	for i := range columns {
		kinds := [...]string{textKind: "string", intKind: "int", realKind: "double", timeKind: "string", boolKind: "bool"}
		s.Append(kml.SimpleField(columns[i].Name, kinds[columns[i].Kind]))
	}
	return s
}

// content gives what there is of a utility.
func (k *kmlWriter) content(look present.Look) (parts []*partRow, points []*readingRow, any bool) {
	for i := range k.parts {
		if r := &k.parts[i]; present.LookOf(r.line.Utility).Utility == look.Utility {
			parts = append(parts, r)
		}
	}
	for i := range k.readings {
		if r := &k.readings[i]; r.onMap() && k.utilityOf(r) == look.Utility {
			points = append(points, r)
		}
	}
	return parts, points, len(parts)+len(points) > 0
}

// utility writes a utility's folder, if there is anything of it.
func (k *kmlWriter) utility(look present.Look) {
	parts, points, any := k.content(look)
	if !any {
		return
	}
	k.open("Folder")
	k.put(kml.Name(look.Name + " (" + look.Letters + ")"))
	k.folder("Lines", true, func() {
		for i := range parts {
			k.line(parts[i], look)
		}
	})
	k.doubts(parts, look)
	k.folder("Corridors, 95 %", true, func() {
		for i := range parts {
			k.corridor(parts[i], look)
		}
	})
	k.folder("Readings", false, func() {
		for i := range points {
			k.reading(points[i], look)
		}
	})
	k.close("Folder")
}

// utilityOf is what a reading is filed under: its line's utility where it is on
// one, else its own.
func (k *kmlWriter) utilityOf(r *readingRow) readings.Utility {
	if u, ok := k.utilities[r.lineID]; ok && r.lineID != "" {
		return present.LookOf(u).Utility
	}
	return present.LookOf(r.placed.Reading.Utility).Utility
}

func (k *kmlWriter) folder(name string, open bool, fill func()) {
	k.open("Folder")
	k.put(kml.Name(name), kml.Open(open))
	fill()
	k.close("Folder")
}

func (k *kmlWriter) line(r *partRow, look present.Look) {
	paths, err := linePaths(k.m, r.part, nil)
	if err != nil && k.err == nil {
		k.err = err
	}
	var pieces []kml.Element
	for _, p := range paths {
		if len(p) == 1 {
			pieces = append(pieces, kml.Point(kml.AltitudeMode(kml.AltitudeModeClampToGround), coordinates(p)))
			continue
		}
		pieces = append(pieces, kml.LineString(kml.Tessellate(true), kml.AltitudeMode(kml.AltitudeModeClampToGround), coordinates(p)))
	}
	k.placemark(r, look.Letters+" "+r.lineName(), "#line-"+string(look.Utility), k.fields.lines.of(r), pieces)
}

func (k *kmlWriter) corridor(r *partRow, look present.Look) {
	areas, err := corridorAreas(k.m, r.part, nil)
	if err != nil && k.err == nil {
		k.err = err
	}
	var pieces []kml.Element
	for _, a := range areas {
		polygon := kml.Polygon(kml.Tessellate(true), kml.AltitudeMode(kml.AltitudeModeClampToGround))
		for i, ring := range a {
			if i == 0 {
				polygon.Append(kml.OuterBoundaryIs(kml.LinearRing(coordinates(pathOf(ring)))))
			} else {
				polygon.Append(kml.InnerBoundaryIs(kml.LinearRing(coordinates(pathOf(ring)))))
			}
		}
		pieces = append(pieces, polygon)
	}
	if len(pieces) > 0 {
		k.placemark(r, "Corridor of "+r.lineName(), "#corridor-"+string(look.Utility), k.fields.corridors.of(r), pieces)
	}
}

// placemark writes a part, as line or corridor.
func (k *kmlWriter) placemark(r *partRow, name, style string, data kml.Element, pieces []kml.Element) {
	rows := result.Facts(r.m, r.line, r.part)
	if r.Flags != 0 {
		rows = append(rows, result.Fact{Label: "Remarks", Text: present.RemarkWords(r.Flags)})
	}
	mark := kml.Placemark(kml.Name(name), kml.Snippet(""), kml.Description(described(rows)))
	if span := timeSpan(r.part.From, r.part.To); span != nil {
		mark.Append(span)
	}
	mark.Append(kml.StyleURL(style), data)
	if len(pieces) == 1 {
		mark.Append(pieces[0])
	} else {
		mark.Append(kml.MultiGeometry(pieces...))
	}
	k.put(mark)
}

// reading writes a reading; those on lines begin unticked, for in their hundreds
// they hide the line, while features stand out.
func (k *kmlWriter) reading(r *readingRow, look present.Look) {
	p := r.placed
	style, name := "#reading-", "reading, row "+strconv.Itoa(p.Reading.Row)
	if !p.Reading.OnLine() {
		style, name = "#point-", p.Reading.Feature
		if name == "" {
			name = "sonde"
		}
	}
	var when kml.Element // nothing where no time is known
	if !p.UTC.IsZero() {
		when = kml.TimeStamp(kml.When(p.UTC.UTC().Round(time.Second)))
	}
	k.put(kml.Placemark(kml.Name(name), kml.Visibility(!p.Reading.OnLine()), kml.Snippet(""), kml.Description(described(result.ReadingFacts(r.m, p, r.lineID))), when,
		kml.StyleURL(style+string(look.Utility)), k.fields.readings.of(r),
		kml.Point(kml.AltitudeMode(kml.AltitudeModeClampToGround), coordinates(r.position()))))
}

func coordinates(p path) kml.Element {
	out := make(kml.CoordinatesElement, len(p))
	for i, at := range p {
		out[i] = kml.Coordinate{Lon: at.x, Lat: at.y}
	}
	return out
}

// timeSpan is nil when neither end is known.
func timeSpan(from, to time.Time) kml.Element {
	span := kml.TimeSpan()
	if !from.IsZero() {
		span.Append(kml.Begin(from.UTC().Round(time.Second)))
	}
	if !to.IsZero() {
		span.Append(kml.End(to.UTC().Round(time.Second)))
	}
	if len(span.Children) == 0 {
		return nil
	}
	return span
}
