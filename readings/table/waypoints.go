package table

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"slices"
	"strings"

	"golang.org/x/text/encoding/htmlindex"
)

func isGPX(head []byte) bool { return hasRoot(head, "gpx") }
func isKML(head []byte) bool { return hasRoot(head, "kml") }

// hasRoot reports XML whose first element is of that name.
func hasRoot(head []byte, name string) bool {
	text := trimmed(head)
	if len(text) == 0 || text[0] != '<' {
		return false
	}
	dec := decoder(text)
	for {
		tok, err := dec.Token()
		if err != nil {
			return false
		}
		if e, ok := tok.(xml.StartElement); ok {
			return e.Name.Local == name
		}
	}
}

func decoder(data []byte) *xml.Decoder {
	dec := xml.NewDecoder(bytes.NewReader(data))
	dec.CharsetReader = func(label string, r io.Reader) (io.Reader, error) {
		enc, err := htmlindex.Get(label)
		if err != nil {
			return nil, err
		}
		return enc.NewDecoder().Reader(r), nil
	}
	return dec
}

// readGPX reads waypoints (GPX 1.1): a row each, with whatever their extensions hold.
func readGPX(data []byte) ([]Table, error) {
	return elements(data, "wpt", func(start xml.StartElement) []field {
		return []field{{"lat", attr(start, "lat")}, {"lon", attr(start, "lon")}}
	})
}

// readKML reads placemarks with a point (OGC 12-007r2): a row each, with their
// extended data.
func readKML(data []byte) ([]Table, error) {
	return elements(data, "Placemark", func(xml.StartElement) []field { return nil })
}

// elements reads each element of a name as a record of the texts inside it.
func elements(data []byte, name string, first func(xml.StartElement) []field) ([]Table, error) {
	dec := decoder(data)
	var r records
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			return []Table{r.table("")}, nil
		}
		if err != nil {
			return nil, errors.New("damaged: " + oneLine(err))
		}
		start, ok := tok.(xml.StartElement)
		if !ok || start.Name.Local != name {
			continue
		}
		fields, err := leaves(dec, first(start))
		if err != nil {
			return nil, errors.New("damaged: " + oneLine(err))
		}
		if len(fields) == 0 || slices.ContainsFunc(fields, func(f field) bool { return f.name == notPoint }) {
			continue
		}
		if err := r.add(fields); err != nil {
			return nil, err
		}
	}
}

// leaves adds the texts of the elements up to the end of the one that is open.
// Data with a name attribute is called by it.
func leaves(dec *xml.Decoder, out []field) ([]field, error) {
	var names []string
	var b strings.Builder
	for {
		tok, err := dec.Token()
		if err != nil {
			return nil, cut(err)
		}
		switch e := tok.(type) {
		case xml.StartElement:
			if len(names) > mostDepth {
				return nil, errors.New("nested too deep")
			}
			name := e.Name.Local
			if n := attr(e, "name"); n != "" {
				name = n
			}
			names = append(names, name)
			b.Reset()
		case xml.CharData:
			if b.Len() < mostText {
				b.Write(e)
			}
		case xml.EndElement:
			if len(names) == 0 {
				return out, nil
			}
			name := names[len(names)-1]
			names = names[:len(names)-1]
			if name == "value" && len(names) > 0 {
				name = names[len(names)-1] // Data name="…" holds its value one level down
			}
			if text := strings.TrimSpace(b.String()); text != "" && !styles[name] {
				out = add(out, name, text)
			}
			b.Reset()
		}
	}
}

// styles are elements about how a point looks.
var styles = map[string]bool{"styleUrl": true, "altitudeMode": true, "color": true, "scale": true, "href": true, "sym": true, "visibility": true}

// notPoint marks a record with more than one place: a line or an area of
// somebody's map, which is no reading.
const notPoint = "\x00 not a point"

func add(out []field, name, text string) []field {
	switch name {
	case "coordinates":
		tuples := strings.Fields(text)
		if len(tuples) > 1 {
			return append(out, field{notPoint, text})
		}
		if parts := strings.Split(tuples[0], ","); len(parts) >= 2 {
			out = append(out, field{"lon", parts[0]}, field{"lat", parts[1]})
		}
		return out
	case "when":
		name = "time"
	case "desc", "cmt", "description":
		name = "note"
	}
	return append(out, field{name, text})
}
