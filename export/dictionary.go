package export

import (
	"fmt"
	"strings"

	"tracemap/present"
	"tracemap/remarks"
)

// Dictionary gives docs/data-dictionary.md: every field of every layer, from the
// same table that writes the files.
func Dictionary() string {
	var b strings.Builder
	b.WriteString(dictionaryHead)
	writeLayer(&b, "lines", "A row a line part. `lines.csv` has its geometry as well-known text in the last column `wkt`, in the system named in `crs`; a part with a single reading is a point. The third ordinate is the ellipsoidal height of the utility's electrical centre; a part whose depth was not read everywhere has none.", partColumns)
	writeLayer(&b, "corridors", "A polygon a part: 95 % of the time the true line lies within it, seen across the line.", corridorColumns)
	writeLayer(&b, "vertices", "A row a vertex of a part.", vertexColumns)
	writeLayer(&b, "readings", "`readings.csv` has a row for everything that came in, also what got no place or could not be read; the map layers have those with a place. The third ordinate is the height of the ground.", readingColumns)
	writeLayer(&b, "doubtful", "GeoPackage and Shapefile: a line a stretch between two vertices that rests on less than the rest of its line.", stretchColumns)
	b.WriteString("\n## Flags\n\nA flag changes no value; it says what to know before relying on it.\n\n| flag | meaning | what to do while near |\n| --- | --- | --- |\n")
	for _, r := range remarks.Table {
		fmt.Fprintf(&b, "| `%s` | %s | %s |\n", r.Name, r.Meaning, r.Revisit)
	}
	return b.String()
}

const dictionaryHead = `# Data dictionary

<!-- Made from export/columns.go by: go test ./export -update -->

` + present.Caution + `

Every field of every layer, in the order of the files. GeoJSON, CSV and GeoPackage use the same names; the column
*DBF* is the name in a Shapefile, where ten characters are allowed. What is not known is blank in CSV, null in
GeoJSON, NULL in a GeoPackage; it is never written as zero. Widths and bounds are 95 %: half_width_m and depth_95_m
are 1.96 σ in one dimension, radius_95_m is 2.448 σ of the worse axis, a circle. Heights are ellipsoidal, in the frame
named in the field frame; stations run along a part in plan; offsets are positive to the left of the drawn direction.

Names of open standards are given where the meaning agrees: OGC MUDDI (conceptual model 1.0, OGC 23-024; attribute
names as in the public model 1.1 of OGC 19-081) and INSPIRE (D2.8.III.6, utility and governmental services). Attribute
names alone do not make a file conform to either. Mind the depth: MUDDI's goes from grade to the *top* of the asset;
ours goes to the electrical centre, and only cover_m, where the diameter is known, goes to the top.

With --crs, GeoPackage, Shapefile, DXF and the well-known text of lines.csv are in that system; vertices.csv and
readings.csv then have the place in it in the columns x (east), y (north), z (height above its ellipsoid) and crs.
One file has one frame, which the field frame names: third ordinates, lon, lat and all heights in fields are in it. A third
ordinate, and z, has the unit of the other two in a map grid – feet where they are feet – and is metres beside degrees; fields
whose name ends in _m are metres in every file.

A Shapefile has no null height: where it is not known the third ordinate is −99999 and the field z_known of lines,
vertices and readings is false.

In CSV a text that begins with =, +, −, @, tab or carriage return has an apostrophe before it, so that no
spreadsheet runs it as a formula.
`

func writeLayer[R any](b *strings.Builder, name, about string, columns []column[R]) {
	fmt.Fprintf(b, "\n## Layer %s\n\n%s\n\n| field | DBF | type | unit | meaning | open standard |\n| --- | --- | --- | --- | --- | --- |\n", name, about)
	for i := range columns {
		c := &columns[i]
		fmt.Fprintf(b, "| `%s` | `%s` | %s | %s | %s | %s |\n", c.Name, c.DBF, c.Kind, c.Unit, c.Meaning, c.Standard)
	}
}
