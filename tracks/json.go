package tracks

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
)

// notes reads JSON value by value and keeps of it only what may belong to a track: an
// object with time, latitude and longitude, in itself or in objects inside it, is a
// place; a GeoJSON feature is one, or as many as its line has corners with times.
type notes struct {
	dec *json.Decoder
	out *sink
	n   int // places so far
}

// readJSON reads values one behind the other, as lines of JSON are.
func readJSON(data []byte, out *sink) error {
	dec := json.NewDecoder(bytes.NewReader(trimmed(data)))
	dec.UseNumber()
	j := &notes{dec: dec, out: out}
	for {
		tok, err := dec.Token()
		if err != nil {
			return ended(err)
		}
		if _, err := j.value(tok, "", 0); err != nil {
			if err == io.EOF {
				err = io.ErrUnexpectedEOF
			}
			return err
		}
	}
}

// A part is what an object holds for the object around it: values, and lists of them.
type part struct {
	record record
	lists  rows
	flat   [3]string // of a point: longitude, latitude, height
}

// value reads the value that tok begins; name is its member's.
func (j *notes) value(tok json.Token, name string, depth int) (p *part, err error) {
	switch t := tok.(type) {
	case json.Delim:
		switch {
		case depth >= mostDepth:
			return nil, errors.New("values are nested too deep")
		case t == '{':
			return j.object(depth)
		}
		return j.list(name, depth)
	default:
		col := columnOf(name)
		if col == 0 {
			if name != "type" && name != "id" { // GeoJSON's own
				j.out.foreign(name)
			}
			return nil, nil
		}
		p = &part{}
		p.record.put(col, text(t))
		return p, nil
	}
}

// object reads to the end of an object. One that is a place gives nothing to the one
// around it.
func (j *notes) object(depth int) (*part, error) {
	whole := &part{}
	for j.dec.More() {
		key, err := j.dec.Token()
		if err != nil {
			return nil, err
		}
		tok, err := j.dec.Token()
		if err != nil {
			return nil, err
		}
		name, _ := key.(string)
		p, err := j.value(tok, name, depth+1)
		if err != nil {
			return nil, err
		}
		if p != nil {
			whole.join(p)
		}
	}
	if _, err := j.dec.Token(); err != nil {
		return nil, err
	}
	return j.close(whole)
}

// close gives out what an object holds, if it is a place or a line of places with times.
func (j *notes) close(p *part) (*part, error) {
	if len(p.lists.of[colTime]) > 0 && len(p.lists.of[colLat]) > 0 {
		j.n++
		return nil, p.lists.give(j.out, j.n)
	}
	r := p.record
	if p.flat[0] != "" && r[colLat] == "" {
		r[colLon], r[colLat] = p.flat[0], p.flat[1]
		r.put(colAlt, p.flat[2])
	}
	timed := r[colTime] != "" || r[colGPSTime] != "" || r[colDate] != "" || r[colWeek] != ""
	if timed && (r[colLat] != "" || r[colLatE7] != "") {
		j.n++
		return nil, j.out.add(&r, j.n)
	}
	return p, nil
}

// join adds what an inner object holds. A time nearer to the outside counts for less
// than one that is there already.
func (p *part) join(inner *part) {
	for col := range inner.record {
		p.record.put(column(col), inner.record[col])
	}
	for col, list := range inner.lists.of {
		if len(p.lists.of[col]) == 0 {
			p.lists.of[col] = list
		}
	}
	if p.flat[0] == "" {
		p.flat = inner.flat
	}
}

// times are the members that hold the times of a line's corners, by common practice.
var times = map[string]bool{"coordTimes": true, "times": true, "timestamps": true}

// list reads to the end of an array: the coordinates or times of a line, a column of
// values, or elements that are looked at one by one.
func (j *notes) list(name string, depth int) (*part, error) {
	col := columnOf(name)
	if times[name] {
		col = colTime
	}
	first, err := j.dec.Token()
	if err != nil {
		return nil, err
	}
	p := &part{}
	switch {
	case first == json.Delim(']'):
		return nil, nil
	case first == json.Delim('{'):
	case name == "coordinates":
		return p, j.coordinates(p, first, depth)
	case col != 0:
		return p, j.texts(p, first, col, depth)
	default:
		j.out.foreign(name)
	}
	for tok := first; ; {
		if d, nested := tok.(json.Delim); nested {
			if _, err := j.value(d, "", depth+1); err != nil {
				return nil, err
			}
		}
		if tok, err = j.dec.Token(); err != nil || tok == json.Delim(']') {
			return nil, err
		}
	}
}

// nested goes through the values of an array from tok on, and tells of each how deep
// it lies below the array, and of each end of an array.
func (j *notes) nested(tok json.Token, depth int, use func(tok json.Token, below int) error) error {
	below := 0
	for {
		switch tok {
		case json.Delim('['):
			if below++; depth+below >= mostDepth {
				return errors.New("values are nested too deep")
			}
		case json.Delim(']'):
			below--
		case json.Delim('{'), json.Delim('}'):
			return errors.New("an object where a list of values is meant")
		}
		if err := use(tok, below); err != nil || below < 0 {
			return err
		}
		var err error
		if tok, err = j.dec.Token(); err != nil {
			return err
		}
	}
}

// texts reads a list of values, or of lists of them, into a column.
func (j *notes) texts(p *part, first json.Token, col column, depth int) error {
	return j.nested(first, depth, func(tok json.Token, _ int) error {
		if _, bracket := tok.(json.Delim); bracket {
			return nil
		}
		return p.lists.append(col, text(tok))
	})
}

// coordinates reads positions of RFC 7946: one, or lists of them.
func (j *notes) coordinates(p *part, first json.Token, depth int) error {
	var pos [3]string
	n := 0
	return j.nested(first, depth, func(tok json.Token, below int) error {
		if _, bracket := tok.(json.Delim); !bracket {
			if n < len(pos) {
				pos[n] = text(tok)
			}
			n++
			return nil
		}
		whole, at := n >= 2, pos
		pos, n = [3]string{}, 0
		switch {
		case !whole:
			return nil
		case below < 0:
			p.flat = at
			return nil
		}
		j.out.line = true
		return errors.Join(p.lists.append(colLon, at[0]), p.lists.append(colLat, at[1]), p.lists.append(colAlt, at[2]))
	})
}

func text(tok json.Token) string {
	switch t := tok.(type) {
	case string:
		return t[:min(len(t), mostText)]
	case json.Number:
		return t.String()
	}
	return ""
}
