package table

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// isODS reports an OpenDocument spreadsheet (OASIS OpenDocument 1.3, part 2): its
// first member is "mimetype", stored plain.
func isODS(head []byte) bool {
	return isZip(head) && bytes.Contains(head[:min(len(head), 256)], []byte("mimetypeapplication/vnd.oasis.opendocument.spreadsheet"))
}

// member opens a member of a ZIP archive, bounded.
func member(data []byte, name string) (io.ReadCloser, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, err
	}
	for _, f := range z.File {
		if f.Name == name {
			r, err := f.Open()
			if err != nil {
				return nil, err
			}
			return struct {
				io.Reader
				io.Closer
			}{io.LimitReader(r, mostInflate), r}, nil
		}
	}
	return nil, fmt.Errorf("has no %s", name)
}

// readODS reads every sheet: of dates and numbers the stored value, not what is
// shown.
func readODS(data []byte) ([]Table, error) {
	r, err := member(data, "content.xml")
	if err != nil {
		return nil, err
	}
	defer r.Close()
	dec := xml.NewDecoder(r)
	var out []Table
	line := 0
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return nil, errors.New("its content is damaged: " + oneLine(err))
		}
		start, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		switch start.Name.Local {
		case "table":
			out = append(out, Table{Name: attr(start, "name")})
			line = 0
		case "table-row":
			if len(out) == 0 {
				continue
			}
			repeat := count(start, "number-rows-repeated")
			cells, err := odsRow(dec)
			if err != nil {
				return nil, err
			}
			for k := range repeat {
				if len(cells) == 0 {
					break // blank rows to the end of the sheet
				}
				if err := out[len(out)-1].add(line+k+1, cells); err != nil {
					return nil, err
				}
			}
			line += repeat
		}
	}
}

// odsRow reads the cells up to the end of their row.
func odsRow(dec *xml.Decoder) ([]string, error) {
	var cells []string
	blank := 0 // cells not yet added: most rows end with a thousand of them
	for {
		tok, err := dec.Token()
		if err != nil {
			return nil, errors.New("its content is damaged: " + oneLine(err))
		}
		switch e := tok.(type) {
		case xml.EndElement:
			if e.Name.Local == "table-row" {
				return cells, nil
			}
		case xml.StartElement:
			if e.Name.Local != "table-cell" && e.Name.Local != "covered-table-cell" {
				continue
			}
			text, err := odsCell(dec, e)
			if err != nil {
				return nil, err
			}
			n := count(e, "number-columns-repeated")
			if text == "" {
				blank += n
				continue
			}
			if len(cells)+blank+n > mostColumns {
				return nil, fmt.Errorf("a row has more than %d columns", mostColumns)
			}
			for range blank {
				cells = append(cells, "")
			}
			blank = 0
			for range n {
				cells = append(cells, text)
			}
		}
	}
}

// odsCell is a cell's stored value, else its text.
func odsCell(dec *xml.Decoder, start xml.StartElement) (string, error) {
	var b strings.Builder
	for depth := 1; depth > 0; {
		tok, err := dec.Token()
		if err != nil {
			return "", errors.New("its content is damaged: " + oneLine(err))
		}
		switch e := tok.(type) {
		case xml.StartElement:
			if e.Name.Local == "annotation" {
				if err := dec.Skip(); err != nil {
					return "", errors.New("its content is damaged: " + oneLine(err))
				}
				continue
			}
			depth++
		case xml.EndElement:
			depth--
		case xml.CharData:
			if b.Len() < mostText {
				b.Write(e)
			}
		}
	}
	switch attr(start, "value-type") {
	case "float", "percentage", "currency":
		return attr(start, "value"), nil
	case "date":
		return strings.Replace(attr(start, "date-value"), "T", " ", 1), nil
	case "time":
		if t := odsClock(attr(start, "time-value")); t != "" {
			return t, nil
		}
	}
	return strings.TrimSpace(b.String()), nil
}

// odsClock writes an ISO 8601 duration such as PT08H01M02.5S as a time of day.
func odsClock(v string) string {
	v, ok := strings.CutPrefix(v, "PT")
	if !ok {
		return ""
	}
	h, v, ok1 := strings.Cut(v, "H")
	m, v, ok2 := strings.Cut(v, "M")
	s, _, ok3 := strings.Cut(v, "S")
	if !ok1 || !ok2 || !ok3 {
		return ""
	}
	return h + ":" + m + ":" + strings.Replace(s, ",", ".", 1)
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// count is an attribute that counts repetitions, 1 where there is none.
func count(e xml.StartElement, name string) int {
	n, err := strconv.Atoi(attr(e, name))
	if err != nil || n < 1 {
		return 1
	}
	return n
}
