package table

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"
)

// isXLSX reports an Office Open XML workbook: a ZIP archive whose first members
// are its own.
func isXLSX(head []byte) bool {
	return isZip(head) && (bytes.Contains(head, []byte("[Content_Types].xml")) || bytes.Contains(head, []byte("xl/")))
}

func isZip(head []byte) bool { return bytes.HasPrefix(head, []byte("PK\x03\x04")) }

// readXLSX reads every sheet as stored: numbers with all their figures, dates as
// day numbers, of formulas the values that the spreadsheet kept.
func readXLSX(data []byte) ([]Table, error) {
	f, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{RawCellValue: true, UnzipSizeLimit: mostInflate, UnzipXMLSizeLimit: mostInflate})
	if err != nil {
		return nil, fmt.Errorf("cannot be opened (%s): save it again, or as CSV", oneLine(err))
	}
	defer f.Close()
	props, err := f.GetWorkbookProps()
	since1904 := err == nil && props.Date1904 != nil && *props.Date1904
	var out []Table
	for _, sheet := range f.GetSheetList() {
		rows, err := f.Rows(sheet)
		if err != nil {
			continue // a sheet that is a chart
		}
		t := Table{Name: sheet, Date1904: since1904}
		for line := 1; rows.Next(); line++ {
			if line > mostRows+1 {
				return nil, ErrTooLarge
			}
			cells, err := rows.Columns()
			if err != nil {
				return nil, fmt.Errorf("sheet %q row %d: %s", sheet, line, oneLine(err))
			}
			if err := t.add(line, cells); err != nil {
				return nil, err
			}
		}
		if err := rows.Close(); err != nil {
			return nil, fmt.Errorf("sheet %q: %s", sheet, oneLine(err))
		}
		out = append(out, t)
	}
	return out, nil
}

func oneLine(err error) string { return strings.Join(strings.Fields(err.Error()), " ") }
