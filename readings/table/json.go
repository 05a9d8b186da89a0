package table

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
)

func isJSON(head []byte) bool {
	text := trimmed(head)
	if len(text) == 0 {
		return false
	}
	switch text[0] {
	case '{':
		rest := bytes.TrimSpace(text[1:])
		return len(rest) > 0 && (rest[0] == '"' || rest[0] == '}')
	case '[':
		rest := bytes.TrimSpace(text[1:])
		return len(rest) > 0 && (rest[0] == '{' || rest[0] == '[' || rest[0] == ']')
	}
	return false
}

// mostDepth of nested values; more is no log.
const mostDepth = 32

// An object keeps its members in their order.
type object []named

type named struct {
	name  string
	value any // object, []any, string, json.Number, bool, nil
}

// readJSON reads values one behind the other: an array of objects, an array of
// arrays below their header, lines of objects, an object that holds such lists, one
// of columns, or features with points (RFC 7946).
func readJSON(data []byte) ([]Table, error) {
	dec := json.NewDecoder(bytes.NewReader(trimmed(data)))
	dec.UseNumber()
	var tops []any
	for {
		v, err := value(dec, 0)
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("broken at byte %d: %s", dec.InputOffset(), oneLine(err))
		}
		if tops = append(tops, v); len(tops) > mostRows {
			return nil, ErrTooLarge
		}
	}
	if len(tops) == 1 {
		return tablesOf("", tops[0], 0)
	}
	return tablesOf("", tops, 0)
}

// value reads the next value, with the order of names kept.
func value(dec *json.Decoder, depth int) (any, error) {
	tok, err := dec.Token()
	if err != nil {
		return nil, err
	}
	return valueOf(dec, tok, depth)
}

func valueOf(dec *json.Decoder, tok json.Token, depth int) (any, error) {
	d, ok := tok.(json.Delim)
	if !ok {
		return tok, nil
	}
	if depth > mostDepth {
		return nil, errors.New("nested too deep")
	}
	switch d {
	case '[':
		list := []any{}
		for dec.More() {
			v, err := value(dec, depth+1)
			if err != nil {
				return nil, cut(err)
			}
			list = append(list, v)
		}
		_, err := dec.Token()
		return list, cut(err)
	case '{':
		o := object{}
		for dec.More() {
			name, err := dec.Token()
			if err != nil {
				return nil, cut(err)
			}
			v, err := value(dec, depth+1)
			if err != nil {
				return nil, cut(err)
			}
			text, _ := name.(string)
			o = append(o, named{text, v})
		}
		_, err := dec.Token()
		return o, cut(err)
	}
	return nil, errors.New("a bracket without its other half")
}

// cut makes an end inside a value an error of its own.
func cut(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}

func (o object) get(name string) any {
	for _, m := range o {
		if m.name == name {
			return m.value
		}
	}
	return nil
}

// tablesOf finds the tables in a value. What an object says beside its lists stands
// before them as a preamble.
func tablesOf(name string, v any, depth int) ([]Table, error) {
	switch x := v.(type) {
	case []any:
		t, err := listTable(name, x)
		if err != nil || len(t.Rows) == 0 {
			return nil, err
		}
		return []Table{t}, nil
	case object:
		if features, ok := x.get("features").([]any); ok && x.get("type") == "FeatureCollection" {
			return tablesOf(name, features, depth)
		}
		if t, ok, err := columnsTable(name, x); ok || err != nil {
			return []Table{t}, err
		}
		var out []Table
		var said []field
		for _, m := range x {
			switch y := m.value.(type) {
			case []any, object:
				ts, err := tablesOf(m.name, y, depth+1)
				if err != nil {
					return nil, err
				}
				out = append(out, ts...)
				if o, ok := y.(object); ok && len(ts) == 0 {
					said = flatten(said, m.name, o, 0)
				}
			default:
				said = flatten(said, m.name, m.value, 0)
			}
		}
		if depth == 0 && len(out) == 0 {
			return tablesOf(name, []any{x}, 1) // a log of one reading
		}
		for i := range out {
			for k := len(said) - 1; k >= 0 && len(said) < 100; k-- {
				out[i].Rows = append([]Row{{1, []string{said[k].name, said[k].value}}}, out[i].Rows...)
			}
		}
		return out, nil
	}
	return nil, nil
}

// listTable takes a list of objects, or of arrays of which the first is the header.
func listTable(name string, list []any) (Table, error) {
	var r records
	t := Table{Name: name}
	for i, v := range list {
		switch x := v.(type) {
		case object:
			if err := r.add(fieldsOf(x)); err != nil {
				return t, err
			}
		case []any:
			var cells []string
			for _, c := range x {
				cells = append(cells, text(c))
			}
			if err := t.add(i+1, cells); err != nil {
				return t, err
			}
		}
	}
	if len(r.rows) > 0 {
		return r.table(name), nil
	}
	return t, nil
}

// columnsTable takes an object of lists that are all as long.
func columnsTable(name string, o object) (Table, bool, error) {
	t := Table{Name: name}
	n := -1
	var header []string
	for _, m := range o {
		list, ok := m.value.([]any)
		if !ok || len(list) < 2 || n >= 0 && len(list) != n {
			return t, false, nil
		}
		for _, v := range list {
			switch v.(type) {
			case object, []any:
				return t, false, nil
			}
		}
		n = len(list)
		header = append(header, m.name)
	}
	if len(header) < 2 {
		return t, false, nil
	}
	if err := t.add(1, header); err != nil {
		return t, false, err
	}
	for i := range n {
		cells := make([]string, len(o))
		for k, m := range o {
			cells[k] = text(m.value.([]any)[i])
		}
		if err := t.add(i+2, cells); err != nil {
			return t, false, err
		}
	}
	return t, true, nil
}

// fieldsOf are a record's values: of a feature its properties and its point. A
// feature that is no point is none: a line of somebody's map is no reading.
func fieldsOf(o object) []field {
	var out []field
	g, isGeometry := o.get("geometry").(object)
	if props, ok := o.get("properties").(object); ok && (isGeometry || o.get("type") == "Feature") {
		if isGeometry && g.get("type") != "Point" {
			return nil
		}
		out = flatten(out, "", props, 0)
		if c, ok := g.get("coordinates").([]any); ok && g.get("type") == "Point" && len(c) >= 2 {
			out = append(out, field{"lon", text(c[0])}, field{"lat", text(c[1])})
		}
		return out
	}
	return flatten(out, "", o, 0)
}

// flatten writes nested objects as fields named by their last names, or with those
// before where that would be taken.
func flatten(out []field, name string, v any, depth int) []field {
	o, ok := v.(object)
	if !ok {
		if list, isList := v.([]any); isList {
			var parts []string
			for _, x := range list {
				parts = append(parts, text(x))
			}
			return append(out, field{name, strings.Join(parts, " ")})
		}
		return append(out, field{name, text(v)})
	}
	for _, m := range o {
		full := m.name
		if _, nested := m.value.(object); !nested && name != "" {
			for _, f := range out {
				if f.name == full {
					full = name + "_" + m.name
				}
			}
		}
		out = flatten(out, full, m.value, depth+1)
	}
	return out
}

func text(v any) string {
	switch x := v.(type) {
	case nil:
		return ""
	case string:
		return x
	case json.Number:
		return x.String()
	case bool:
		if x {
			return "true"
		}
		return "false"
	}
	return ""
}
