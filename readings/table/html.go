package table

import (
	"bytes"
	"io"
	"strings"

	"golang.org/x/net/html"
)

// isHTML reports a page: what some programs export under a spreadsheet's name.
func isHTML(head []byte) bool {
	text := bytes.ToLower(trimmed(head))
	if len(text) == 0 || text[0] != '<' {
		return false
	}
	for _, tag := range []string{"<html", "<!doctype html", "<table", "<body"} {
		if bytes.Contains(text[:min(len(text), 4096)], []byte(tag)) {
			return true
		}
	}
	return false
}

// readHTML reads every table of a page; a table inside a table is one of its own.
func readHTML(data []byte) ([]Table, error) {
	z := html.NewTokenizer(bytes.NewReader(data))
	z.SetMaxBuf(1 << 20)
	var done []Table
	var open []*htmlTable
	for {
		switch z.Next() {
		case html.ErrorToken:
			if z.Err() != io.EOF {
				return nil, z.Err()
			}
			for _, t := range open {
				if err := t.endRow(); err != nil {
					return nil, err
				}
				done = append(done, t.Table)
			}
			return done, nil
		case html.TextToken:
			if n := len(open); n > 0 && open[n-1].inCell && open[n-1].text.Len() < mostText {
				open[n-1].text.Write(z.Text())
			}
		case html.StartTagToken, html.SelfClosingTagToken:
			name, _ := z.TagName()
			if string(name) == "table" {
				if len(open) > 8 {
					return nil, ErrTooLarge
				}
				open = append(open, &htmlTable{})
				continue
			}
			if len(open) == 0 {
				continue
			}
			t := open[len(open)-1]
			switch string(name) {
			case "tr":
				if err := t.endRow(); err != nil {
					return nil, err
				}
			case "td", "th":
				t.endCell()
				t.inCell = true
			case "br":
				t.text.WriteByte(' ')
			}
		case html.EndTagToken:
			name, _ := z.TagName()
			if len(open) == 0 {
				continue
			}
			t := open[len(open)-1]
			switch string(name) {
			case "td", "th":
				t.endCell()
			case "tr":
				if err := t.endRow(); err != nil {
					return nil, err
				}
			case "table":
				if err := t.endRow(); err != nil {
					return nil, err
				}
				done = append(done, t.Table)
				open = open[:len(open)-1]
			}
		}
	}
}

type htmlTable struct {
	Table
	line   int
	row    []string
	inCell bool
	text   strings.Builder
}

func (t *htmlTable) endCell() {
	if t.inCell && len(t.row) <= mostColumns {
		t.row = append(t.row, strings.Join(strings.Fields(html.UnescapeString(t.text.String())), " "))
	}
	t.inCell = false
	t.text.Reset()
}

func (t *htmlTable) endRow() error {
	t.endCell()
	row := t.row
	t.row = nil
	if row == nil {
		return nil
	}
	t.line++
	return t.add(t.line, row)
}
