package geofile

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// maxXMLDepth is how deep elements may stand in each other.
const maxXMLDepth = 256

// readKML reads placemarks with lines: LineString, MultiGeometry, and tracks.
// Attributes are ExtendedData, with the name as "name". Altitudes are kept as
// they stand; what they refer to is the file's altitudeMode, which is not read.
//
// Only the five entities of XML are known, so none can grow.
func readKML(s *source, format string) (*File, error) {
	text := decodeText(s.data)
	d := xml.NewDecoder(strings.NewReader(text))
	d.Strict = false
	// The text is UTF-8 by now, whatever its declaration says.
	d.CharsetReader = func(_ string, r io.Reader) (io.Reader, error) { return r, nil }
	f := &File{Format: format, budget: s.budget, Layers: []Layer{{Name: stem(s.name), CRS: wgs84(), Assumed: true}}}
	r := &kml{file: f, layer: &f.Layers[0]}
	root := ""
	for {
		t, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			line, _ := d.InputPos()
			if len(r.layer.Features) == 0 {
				return nil, fmt.Errorf("line %d: not XML: %w", line, err)
			}
			f.aside(fmt.Sprintf("line %d", line), "the rest is not XML: %v", err)
			break
		}
		switch t := t.(type) {
		case xml.StartElement:
			if root == "" {
				root = t.Name.Local
				if root != "kml" && root != "Document" && root != "Placemark" && root != "Folder" {
					return nil, fmt.Errorf("is XML with the root %q: of XML only KML can be read", shorten(root))
				}
			}
			line, _ := d.InputPos()
			if err := r.start(t, line); err != nil {
				return nil, err
			}
		case xml.EndElement:
			r.end()
			if err := f.budget.error(); err != nil {
				return nil, err
			}
		case xml.CharData:
			r.text.Write(t)
		}
	}
	if root == "" {
		return nil, ErrFormat
	}
	return f, nil
}

// kml is the reader's state: the open elements, and the placemark being read.
type kml struct {
	file    *File
	layer   *Layer
	open    []string
	text    strings.Builder
	folders []string // a name for each open Folder or Document, "" until read
	mark    *Feature
	dataKey string
	track   []Vertex
}

func (r *kml) start(e xml.StartElement, line int) error {
	if len(r.open) >= maxXMLDepth {
		return fmt.Errorf("line %d: elements stand more than %d deep in each other", line, maxXMLDepth)
	}
	name := e.Name.Local
	r.open = append(r.open, name)
	r.text.Reset()
	switch name {
	case "Folder", "Document":
		r.folders = append(r.folders, "")
	case "Placemark":
		r.mark = &Feature{Where: fmt.Sprintf("line %d", line), ID: attribute(e, "id")}
		var path []string
		for _, f := range r.folders {
			if f != "" {
				path = append(path, f)
			}
		}
		r.mark.Group = strings.Join(path, "/")
	case "Data", "SimpleData":
		r.dataKey = attribute(e, "name")
	case "Track":
		r.track = nil
	}
	return nil
}

func attribute(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// within is the name of the element around the one that ends.
func (r *kml) within(up int) string {
	if i := len(r.open) - 1 - up; i >= 0 {
		return r.open[i]
	}
	return ""
}

func (r *kml) end() {
	if len(r.open) == 0 {
		return
	}
	name, text := r.within(0), r.text.String()
	switch {
	case name == "Folder" || name == "Document":
		r.folders = r.folders[:max(0, len(r.folders)-1)]
	case name == "Placemark" && r.mark != nil:
		r.file.keep(r.layer, *r.mark)
		r.mark = nil
	case name == "name" && (r.within(1) == "Folder" || r.within(1) == "Document") && len(r.folders) > 0:
		r.folders[len(r.folders)-1] = strings.TrimSpace(text)
	case r.mark == nil:
	case name == "name" && r.within(1) == "Placemark":
		r.mark.add("name", text)
	case name == "value" && r.within(1) == "Data", name == "SimpleData":
		r.mark.add(r.dataKey, text)
	case name == "coordinates":
		r.coordinates(text)
	case name == "coord" && r.within(1) == "Track":
		r.coord(text)
	case name == "Track":
		r.note(r.mark.addLine(r.track))
	}
	r.open = r.open[:len(r.open)-1]
	r.text.Reset()
}

func (r *kml) note(reason string) {
	if reason != "" {
		r.file.aside(r.mark.Where, "%s", reason)
	}
}

// coordinates reads tuples: lon,lat[,alt] parted by blanks.
func (r *kml) coordinates(text string) {
	switch r.within(1) {
	case "LineString", "Point":
	default:
		r.mark.Others++ // a ring
		return
	}
	var line []Vertex
	for tuple := range strings.FieldsSeq(text) {
		v, ok := tupleOf(strings.Split(tuple, ","))
		if !ok {
			r.note(fmt.Sprintf("coordinates %q", shorten(tuple)))
			return
		}
		line = append(line, v)
	}
	if r.within(1) == "Point" {
		r.mark.Points = append(r.mark.Points, line...)
		return
	}
	r.note(r.mark.addLine(line))
}

// coord reads a point of a track: lon lat alt parted by blanks.
func (r *kml) coord(text string) {
	if v, ok := tupleOf(strings.Fields(text)); ok {
		r.track = append(r.track, v)
		return
	}
	r.note(fmt.Sprintf("coordinates %q", shorten(text)))
}

func tupleOf(parts []string) (Vertex, bool) {
	if len(parts) < 2 {
		return Vertex{}, false
	}
	v := Vertex{Z: math.NaN()}
	var err1, err2 error
	v.X, err1 = strconv.ParseFloat(strings.TrimSpace(parts[0]), 64)
	v.Y, err2 = strconv.ParseFloat(strings.TrimSpace(parts[1]), 64)
	if err1 != nil || err2 != nil {
		return Vertex{}, false
	}
	if len(parts) > 2 {
		if z, err := strconv.ParseFloat(strings.TrimSpace(parts[2]), 64); err == nil {
			v.Z = noZ(z)
		}
	}
	return v, true
}
