package readings

import (
	"math"
	"slices"
	"strings"

	"tracemap/remarks"
)

// lose notes a measurement that could not be read. The reading keeps all else
// that its row says: a depth that reads "ERR" or "<0.30" is no depth, and still
// the line was found there.
func (rd *rowReader) lose(rec *record, column, found, reason string) {
	rd.lost = append(rd.lost, *rd.aside(rec, column, found, reason))
}

// pair gives up a position of which only one half was read.
func (rd *rowReader) pair(r *Reading, rec *record) {
	if math.IsNaN(r.Lat) == math.IsNaN(r.Lon) {
		return
	}
	r.Lat, r.Lon = math.NaN(), math.NaN()
	if len(rd.lost) == 0 { // else the note has the other half
		rd.lose(rec, "", rec.text, "latitude and longitude go together")
	}
}

// note puts the texts of the lost cells behind the reading's own note, in an
// order that does not depend on that of the columns.
func (rd *rowReader) note(r *Reading) {
	if len(rd.lost) == 0 {
		return
	}
	var parts []string
	for _, c := range rd.lost {
		if c.Column != "" {
			parts = append(parts, c.Column+": "+c.Found)
		}
	}
	slices.Sort(parts)
	if r.Note != "" {
		parts = append([]string{r.Note}, parts...)
	}
	r.Note = strings.Join(parts, "; ")
	r.Flags |= remarks.BadCell
}
