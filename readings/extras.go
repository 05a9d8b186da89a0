package readings

// A Field is a value of a column that is none of ours.
type Field struct{ Name, Value string }

// extras keeps the filled cells of the columns that are none of ours.
func (rd *rowReader) extras(r *Reading, rec *record) {
	n := 0
	for _, x := range rd.plan.extras {
		if !rd.mapping.isBlank(bareCell(rec.cells[x.at])) {
			n++
		}
	}
	if n == 0 {
		return
	}
	r.Extra = make([]Field, 0, n)
	for _, x := range rd.plan.extras {
		if cell := bareCell(rec.cells[x.at]); !rd.mapping.isBlank(cell) {
			r.Extra = append(r.Extra, Field{x.name, rd.intern(cell)})
		}
	}
}
