package export

import (
	"encoding/xml"

	"tracemap/present"

	"github.com/twpayne/go-kml/v3"
)

// simpleData writes the fields of a row as KML's SimpleData elements; what is not
// known is left out. It stands for as many elements of go-kml: a day's readings have
// a hundred thousand fields, which differ in their text alone, so the tokens about
// the text are made once a column.
type simpleData[R any] struct {
	columns []column[R]
	starts  []xml.Token // one a column
	row     *R          // to be written next
	text    []byte      // of each field in its turn
}

var simpleDataEnd xml.Token = xml.EndElement{Name: xml.Name{Local: "SimpleData"}}

// A fieldTable is the extended data of a layer's placemarks, one after the other.
type fieldTable[R any] struct {
	simpleData[R]
	element kml.Element
}

func newFieldTable[R any](layer string, columns []column[R]) *fieldTable[R] {
	t := &fieldTable[R]{simpleData: simpleData[R]{columns: columns}}
	for i := range columns {
		t.starts = append(t.starts, xml.StartElement{
			Name: xml.Name{Local: "SimpleData"},
			Attr: []xml.Attr{{Name: xml.Name{Local: "name"}, Value: columns[i].Name}},
		})
	}
	t.element = kml.ExtendedData(kml.SchemaData("#schema-"+layer, &t.simpleData))
	return t
}

// of gives the data of a row, to be written before the next is asked for.
func (t *fieldTable[R]) of(row *R) kml.Element {
	t.row = row
	return t.element
}

// MarshalXML makes the fields an element of go-kml.
func (d *simpleData[R]) MarshalXML(e *xml.Encoder, _ xml.StartElement) error {
	for i := range d.columns {
		v, ok := d.columns[i].value(d.row)
		if !ok {
			continue
		}
		d.text = d.columns[i].appendSimple(d.text[:0], v)
		for _, t := range [...]xml.Token{d.starts[i], xml.CharData(d.text), simpleDataEnd} {
			if err := e.EncodeToken(t); err != nil {
				return err
			}
		}
	}
	return nil
}

// appendSimple appends a cell's text as KML data: truth as 1 or 0, which is what
// GDAL reads of the two spellings that the schema allows.
func (c *column[R]) appendSimple(b []byte, v cell) []byte {
	if c.Kind == boolKind {
		return present.AppendNumber(b, v.Num)
	}
	return c.appendText(b, v)
}
