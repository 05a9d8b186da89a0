package tracks

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strings"
)

// Bounds of markup: more is no track.
const (
	mostDepth = 32
	mostText  = 1 << 10 // bytes of one value; the rest is cut off
)

// markup walks a GPX or KML file.
type markup struct {
	dec *xml.Decoder
	out *sink
}

func newMarkup(data []byte, out *sink) *markup {
	dec := xml.NewDecoder(bytes.NewReader(trimmed(data)))
	dec.CharsetReader = func(label string, r io.Reader) (io.Reader, error) {
		switch strings.ToLower(label) {
		case "us-ascii", "ascii", "iso-8859-1", "windows-1252": // what is read is ASCII
			return r, nil
		}
		return nil, errors.New("the character set " + label + " is not known")
	}
	return &markup{dec, out}
}

func (m *markup) line() int {
	line, _ := m.dec.InputPos()
	return line
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// leaves gives the texts of the elements without elements in them, up to the end of
// the one that is open, with the nearest name attribute around each, if any.
func (m *markup) leaves(use func(name, within, text string)) error {
	type open struct{ name, within string }
	var stack []open
	var text strings.Builder
	leaf := false
	for {
		tok, err := m.dec.Token()
		if err != nil {
			return err
		}
		switch e := tok.(type) {
		case xml.StartElement:
			if len(stack) >= mostDepth {
				return errors.New("elements are nested too deep")
			}
			within := attr(e, "name")
			if within == "" && len(stack) > 0 {
				within = stack[len(stack)-1].within
			}
			stack = append(stack, open{e.Name.Local, within})
			leaf = true
			text.Reset()
		case xml.CharData:
			if leaf && text.Len() < mostText {
				text.Write(e[:min(len(e), mostText-text.Len())])
			}
		case xml.EndElement:
			if len(stack) == 0 {
				return nil
			}
			top := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			if leaf {
				use(top.name, top.within, strings.TrimSpace(text.String()))
			}
			leaf = false
		}
	}
}

// readGPX reads the points of tracks (GPX 1.1 and 1.0): latitude and longitude of each,
// and whatever stands inside it, also in extensions.
func readGPX(data []byte, out *sink) error {
	m := newMarkup(data, out)
	for {
		tok, err := m.dec.Token()
		if err != nil {
			return ended(err)
		}
		start, ok := tok.(xml.StartElement)
		if !ok || start.Name.Local != "trkpt" {
			continue
		}
		r := record{colLat: attr(start, "lat"), colLon: attr(start, "lon")}
		line := m.line()
		err = m.leaves(func(name, _, text string) { r.put(columnOf(name), text) })
		if err != nil {
			return ended(err)
		}
		if err := out.add(&r, line); err != nil {
			return err
		}
	}
}

// readKML reads tracks (KML 2.3, and the extension gx before it): lists of times and
// places of equal length, and of whatever else was kept beside them.
func readKML(data []byte, out *sink) error {
	m := newMarkup(data, out)
	for {
		tok, err := m.dec.Token()
		if err != nil {
			return ended(err)
		}
		if start, ok := tok.(xml.StartElement); !ok || start.Name.Local != "Track" {
			continue
		}
		line := m.line()
		rows := &rows{}
		bad := error(nil)
		err = m.leaves(func(name, within, text string) {
			switch {
			case bad != nil:
			case name == "when":
				bad = rows.append(colTime, text)
			case name == "coord":
				parts := append(strings.Fields(text), "", "", "")
				bad = errors.Join(rows.append(colLon, parts[0]), rows.append(colLat, parts[1]), rows.append(colAlt, parts[2]))
			case name == "value":
				bad = rows.append(columnOf(within), text)
			}
		})
		if err == nil {
			err = bad
		}
		if err := rows.give(out, line); err != nil {
			return err
		}
		if err != nil {
			return ended(err)
		}
	}
}

// ended makes the proper end of a file no error.
func ended(err error) error {
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}
