package geofile

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/peterstace/simplefeatures/geom"
)

// jsonObject is any of the objects of RFC 7946, and the member crs of the older
// form that many programs still write.
type jsonObject struct {
	Type       string          `json:"type"`
	Name       string          `json:"name"`
	CRS        json.RawMessage `json:"crs"`
	Features   json.RawMessage `json:"features"`
	ID         json.RawMessage `json:"id"`
	Geometry   json.RawMessage `json:"geometry"`
	Properties json.RawMessage `json:"properties"`
}

// readGeoJSON reads a FeatureCollection, a Feature, a geometry, or a row of
// those, a line each or with record separators (RFC 8142).
func readGeoJSON(s *source) (*File, error) {
	f := &File{Format: "GeoJSON", budget: s.budget, Layers: []Layer{{Name: stem(s.name), CRS: wgs84(), Assumed: true}}}
	text := strings.ReplaceAll(decodeText(s.data), "\x1e", " ")
	d := json.NewDecoder(strings.NewReader(text))
	r := &geoJSON{file: f, layer: &f.Layers[0]}
	for {
		var raw json.RawMessage
		err := d.Decode(&raw)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, jsonError(text, err)
		}
		if err := r.object(raw); err != nil {
			return nil, err
		}
		if err := f.budget.error(); err != nil {
			return nil, err
		}
	}
	return f, nil
}

// jsonError says in which line a text is no JSON.
func jsonError(text string, err error) error {
	var syntax *json.SyntaxError
	if errors.As(err, &syntax) {
		at := min(max(int(syntax.Offset), 0), len(text))
		return fmt.Errorf("line %d: not JSON: %w", 1+strings.Count(text[:at], "\n"), err)
	}
	return fmt.Errorf("not JSON: the text ends too early (%w)", err)
}

type geoJSON struct {
	file  *File
	layer *Layer
	count int
}

func (r *geoJSON) object(raw json.RawMessage) error {
	var o jsonObject
	if err := json.Unmarshal(raw, &o); err != nil {
		return fmt.Errorf("not GeoJSON: %w", err)
	}
	if o.Name != "" {
		r.layer.Name = o.Name
	}
	if err := r.crs(o.CRS); err != nil {
		return err
	}
	switch o.Type {
	case "FeatureCollection":
		return r.collection(o.Features)
	case "Feature":
		r.feature(&o)
	case "Topology":
		return errors.New("is TopoJSON: save it as GeoJSON")
	case "":
		return errors.New("is JSON without a type: not GeoJSON")
	default:
		r.feature(&jsonObject{Type: "Feature", Geometry: raw})
	}
	return nil
}

// crs reads the member crs of the GeoJSON of 2008, which RFC 7946 took away.
func (r *geoJSON) crs(raw json.RawMessage) error {
	var c struct {
		Type       string `json:"type"`
		Properties struct {
			Name json.RawMessage `json:"name"`
			Code json.RawMessage `json:"code"`
		} `json:"properties"`
	}
	if len(raw) == 0 || string(raw) == "null" {
		return nil
	}
	if err := json.Unmarshal(raw, &c); err != nil {
		return fmt.Errorf("its member crs: %w", err)
	}
	said := unquoted(c.Properties.Name)
	if c.Type == "EPSG" {
		said = "EPSG:" + unquoted(c.Properties.Code)
	}
	r.layer.withCRS(said)
	return nil
}

// collection reads the features one by one: a feature that makes no sense does
// not stop the others.
func (r *geoJSON) collection(raw json.RawMessage) error {
	d := json.NewDecoder(bytes.NewReader(raw))
	if t, err := d.Token(); err != nil || t != json.Delim('[') {
		return errors.New("its features are no list")
	}
	for d.More() {
		if err := r.file.budget.error(); err != nil {
			return err
		}
		var one json.RawMessage
		if err := d.Decode(&one); err != nil {
			return fmt.Errorf("not JSON: %w", err)
		}
		var o jsonObject
		if err := json.Unmarshal(one, &o); err != nil || o.Type != "Feature" {
			r.count++
			r.file.aside(fmt.Sprintf("feature %d", r.count), "not a Feature")
			continue
		}
		r.feature(&o)
	}
	return nil
}

func (r *geoJSON) feature(o *jsonObject) {
	r.count++
	f := Feature{Where: fmt.Sprintf("feature %d", r.count), ID: unquoted(o.ID)}
	if err := properties(&f, o.Properties); err != nil {
		r.file.aside(f.Where, "its properties: %v", err)
		return
	}
	if len(o.Geometry) == 0 || string(o.Geometry) == "null" {
		r.file.aside(f.Where, "has no geometry")
		return
	}
	if depth := nesting(o.Geometry); depth > maxBrackets {
		r.file.aside(f.Where, "its geometry has %d brackets within each other, more than the %d that are read", depth, maxBrackets)
		return
	}
	// The library takes null for 0, which is a place in the Gulf of Guinea.
	if bytes.Contains(o.Geometry, []byte("null")) {
		r.file.aside(f.Where, "a coordinate is null")
		return
	}
	g, err := geom.UnmarshalGeoJSON(o.Geometry, geom.NoValidate{})
	if err != nil {
		r.file.aside(f.Where, "its geometry: %v", err)
		return
	}
	if reason := f.take(g); reason != "" {
		r.file.aside(f.Where, "%s", reason)
	}
	r.file.keep(r.layer, f)
}

// properties reads attributes in the order of the file.
func properties(f *Feature, raw json.RawMessage) error {
	if len(raw) == 0 || string(raw) == "null" {
		return nil
	}
	d := json.NewDecoder(bytes.NewReader(raw))
	d.UseNumber()
	if t, err := d.Token(); err != nil || t != json.Delim('{') {
		return errors.New("not an object")
	}
	for d.More() {
		name, err := d.Token()
		if err != nil {
			return err
		}
		var value json.RawMessage
		if err := d.Decode(&value); err != nil {
			return err
		}
		key, _ := name.(string)
		f.add(key, unquoted(value))
	}
	return nil
}

// unquoted gives a JSON value as text: a string without its quotes, null as "".
func unquoted(raw json.RawMessage) string {
	if len(raw) == 0 || string(raw) == "null" {
		return ""
	}
	var s string
	if raw[0] == '"' && json.Unmarshal(raw, &s) == nil {
		return s
	}
	return string(raw)
}

// maxBrackets is how deep brackets may stand in each other within a geometry:
// coordinates of a MultiPolygon stand five deep, and each collection around them
// adds two. The library reads a geometry anew for each collection around it.
const maxBrackets = 5 + 2*maxNesting

// take adds what a geometry holds. It says what of it cannot be used, or "".
func (f *Feature) take(g geom.Geometry) string {
	reason := ""
	note := func(r string) {
		if reason == "" {
			reason = r
		}
	}
	switch g.Type() {
	case geom.TypePoint:
		if c, ok := g.MustAsPoint().Coordinates(); ok {
			f.Points = append(f.Points, vertexOf(c))
		}
	case geom.TypeMultiPoint:
		m := g.MustAsMultiPoint()
		for i := range m.NumPoints() {
			note(f.take(m.PointN(i).AsGeometry()))
		}
	case geom.TypeLineString:
		if l := sequence(g.MustAsLineString().Coordinates()); len(l) > 0 {
			note(f.addLine(l))
		}
	case geom.TypeMultiLineString:
		m := g.MustAsMultiLineString()
		for i := range m.NumLineStrings() {
			note(f.take(m.LineStringN(i).AsGeometry()))
		}
	case geom.TypeGeometryCollection:
		c := g.MustAsGeometryCollection()
		for i := range c.NumGeometries() {
			note(f.take(c.GeometryN(i)))
		}
	default:
		f.Others++
	}
	return reason
}

func sequence(s geom.Sequence) []Vertex {
	out := make([]Vertex, s.Length())
	for i := range out {
		out[i] = vertexOf(s.Get(i))
	}
	return out
}

func vertexOf(c geom.Coordinates) Vertex {
	v := Vertex{c.X, c.Y, math.NaN()}
	if c.Type.Is3D() {
		v.Z = noZ(c.Z)
	}
	return v
}

// stem is a file's name without its ending.
func stem(name string) string {
	if i := strings.LastIndexByte(name, '.'); i > 0 {
		return name[:i]
	}
	return name
}
