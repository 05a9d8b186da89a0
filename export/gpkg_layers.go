package export

import (
	"encoding/binary"
	"fmt"
	"strings"

	"github.com/ncruces/go-sqlite3"
	"github.com/paulmach/orb"
)

// layers writes every feature table, with the meaning of its fields.
func (g *gpkg) layers() error {
	for _, table := range []string{"gpkg_data_columns", "gpkg_data_column_constraints"} {
		if err := g.extension(table, nil, "gpkg_schema", "extension_schema", "read-write"); err != nil {
			return err
		}
	}
	for _, l := range layers(g.m, g.to) {
		if err := l.writeGPKG(g); err != nil {
			return err
		}
	}
	return nil
}

// writeGPKG creates the table, fills it row by row with its R-tree beside it, and
// registers both. The geometry type is the plain one unless a feature is cut at
// the antimeridian or has several pieces. Nothing is kept of a row, so that half
// a million readings take no more memory than a hundred.
func (l *layer[R]) writeGPKG(g *gpkg) error {
	multi, err := l.multi()
	if err != nil {
		return err
	}
	geometry := l.geometry
	if multi {
		geometry = "MULTI" + geometry
	}
	if err := l.create(g, geometry); err != nil {
		return err
	}
	box, err := l.fill(g, multi)
	if err != nil {
		return err
	}
	if !box.IsEmpty() {
		err := g.exec("UPDATE gpkg_contents SET min_x=?, min_y=?, max_x=?, max_y=? WHERE table_name=?", box.Left(), box.Bottom(), box.Right(), box.Top(), l.name)
		if err != nil {
			return err
		}
	}
	// The triggers call functions that only systems with GeoPackage support have,
	// so they come last.
	if err := g.db.Exec(strings.ReplaceAll(rtreeTriggers, "<t>", l.name)); err != nil {
		return err
	}
	return g.extension(l.name, "geom", "gpkg_rtree_index", "extension_rtree", "write-only")
}

// multi reports whether a feature has several pieces.
func (l *layer[R]) multi() (bool, error) {
	if l.pieces == nil {
		return false, nil
	}
	for row := range l.rows {
		n := l.pieces(row)
		if n < 0 {
			s, err := l.shape(row)
			if err != nil {
				return true, err
			}
			n = max(len(s.paths), len(s.areas))
		}
		if n > 1 {
			return true, nil
		}
	}
	return false, nil
}

func (l *layer[R]) create(g *gpkg, geometry string) error {
	var table strings.Builder
	fmt.Fprintf(&table, `CREATE TABLE "%s" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom %s`, l.name, geometry)
	kinds := [...]string{textKind: "TEXT", intKind: "INTEGER", realKind: "DOUBLE", timeKind: "DATETIME", boolKind: "BOOLEAN"}
	for i := range l.columns {
		fmt.Fprintf(&table, `, "%s" %s`, l.columns[i].Name, kinds[l.columns[i].Kind])
	}
	fmt.Fprintf(&table, `); CREATE VIRTUAL TABLE "rtree_%s_geom" USING rtree(id, minx, maxx, miny, maxy)`, l.name)
	if err := g.db.Exec(table.String()); err != nil {
		return err
	}
	if err := g.exec("INSERT INTO gpkg_contents VALUES (?,'features',?,?,?,NULL,NULL,NULL,NULL,?)", l.name, l.name, l.about, g.stamp, g.to.code()); err != nil {
		return err
	}
	if err := g.exec("INSERT INTO gpkg_geometry_columns VALUES (?,'geom',?,?,?,0)", l.name, geometry, g.to.code(), l.z); err != nil {
		return err
	}
	for i := range l.columns {
		c := &l.columns[i]
		if err := g.exec("INSERT INTO gpkg_data_columns VALUES (?,?,NULL,NULL,?,NULL,NULL)", l.name, c.Name, c.described()); err != nil {
			return err
		}
	}
	return nil
}

// described is a column's meaning with its unit.
func (c *column[R]) described() string {
	if c.Unit == "" {
		return c.Meaning
	}
	return c.Meaning + " Unit: " + c.Unit + "."
}

// fill writes the rows and gives the extent of their geometries.
func (l *layer[R]) fill(g *gpkg, multi bool) (box orb.Bound, err error) {
	insert, err := g.prepare(fmt.Sprintf(`INSERT INTO "%s" VALUES (?,?%s)`, l.name, strings.Repeat(",?", len(l.columns))))
	if err != nil {
		return nowhere, err
	}
	defer insert.closeInto(&err)
	index, err := g.prepare(fmt.Sprintf(`INSERT INTO "rtree_%s_geom" VALUES (?,?,?,?,?)`, l.name))
	if err != nil {
		return nowhere, err
	}
	defer index.closeInto(&err)
	box = nowhere
	var scratch []byte // of geometries and texts in their turn: SQLite copies what is bound
	id := 0
	for row := range l.rows {
		id++
		s, err := l.shape(row)
		if err != nil {
			return nowhere, err
		}
		own := s.box()
		scratch = appendGPKGGeometry(scratch[:0], s, own, g.to.code(), multi)
		if len(scratch) > 0 {
			if err := indexBox(index.Stmt, id, own); err != nil {
				return nowhere, fmt.Errorf("index row %d of %s: %w", id, l.name, err)
			}
			box = box.Union(own)
		}
		if scratch, err = l.insert(insert.Stmt, id, scratch, row); err != nil {
			return nowhere, fmt.Errorf("row %d of %s: %w", id, l.name, err)
		}
	}
	return box, nil
}

// indexBox puts a geometry's box into an R-tree.
func indexBox(s *sqlite3.Stmt, id int, box orb.Bound) error {
	if err := s.BindInt(1, id); err != nil {
		return err
	}
	for i, v := range [...]float64{box.Left(), box.Right(), box.Bottom(), box.Top()} {
		if err := s.BindFloat(2+i, v); err != nil {
			return err
		}
	}
	return s.Exec()
}

// insert writes a row with its geometry, nothing for none, and gives the scratch
// back, which it may have let grow.
func (l *layer[R]) insert(s *sqlite3.Stmt, id int, geometry []byte, row *R) (scratch []byte, err error) {
	if err := s.BindInt(1, id); err != nil {
		return geometry, err
	}
	if len(geometry) == 0 {
		err = s.BindNull(2)
	} else {
		err = s.BindBlob(2, geometry)
	}
	scratch = geometry
	for i := 0; i < len(l.columns) && err == nil; i++ {
		scratch, err = l.columns[i].bind(s, 3+i, row, scratch)
	}
	if err != nil {
		return scratch, err
	}
	return scratch, s.Exec()
}

// bind gives SQLite a row's cell, NULL for what is not known.
func (c *column[R]) bind(s *sqlite3.Stmt, at int, row *R, scratch []byte) ([]byte, error) {
	v, ok := c.value(row)
	switch {
	case !ok:
		return scratch, s.BindNull(at)
	case c.Kind == textKind:
		return scratch, s.BindText(at, v.Text)
	case c.Kind == timeKind:
		scratch = appendTime(scratch[:0], v.At, 3)
		return scratch, s.BindRawText(at, scratch)
	case c.Kind == realKind:
		return scratch, s.BindFloat(at, v.Num)
	}
	return scratch, s.BindInt(at, int(v.Num))
}

// rtreeTriggers follow OGC 12-128r17 (version 1.3.1), annex F.3.
const rtreeTriggers = `
CREATE TRIGGER "rtree_<t>_geom_insert" AFTER INSERT ON "<t>" WHEN (new."geom" NOT NULL AND NOT ST_IsEmpty(NEW."geom")) BEGIN
 INSERT OR REPLACE INTO "rtree_<t>_geom" VALUES (NEW."fid", ST_MinX(NEW."geom"), ST_MaxX(NEW."geom"), ST_MinY(NEW."geom"), ST_MaxY(NEW."geom")); END;
CREATE TRIGGER "rtree_<t>_geom_update1" AFTER UPDATE OF "geom" ON "<t>" WHEN OLD."fid" = NEW."fid" AND (NEW."geom" NOTNULL AND NOT ST_IsEmpty(NEW."geom")) BEGIN
 INSERT OR REPLACE INTO "rtree_<t>_geom" VALUES (NEW."fid", ST_MinX(NEW."geom"), ST_MaxX(NEW."geom"), ST_MinY(NEW."geom"), ST_MaxY(NEW."geom")); END;
CREATE TRIGGER "rtree_<t>_geom_update2" AFTER UPDATE OF "geom" ON "<t>" WHEN OLD."fid" = NEW."fid" AND (NEW."geom" ISNULL OR ST_IsEmpty(NEW."geom")) BEGIN
 DELETE FROM "rtree_<t>_geom" WHERE id = OLD."fid"; END;
CREATE TRIGGER "rtree_<t>_geom_update3" AFTER UPDATE ON "<t>" WHEN OLD."fid" != NEW."fid" AND (NEW."geom" NOTNULL AND NOT ST_IsEmpty(NEW."geom")) BEGIN
 DELETE FROM "rtree_<t>_geom" WHERE id = OLD."fid";
 INSERT OR REPLACE INTO "rtree_<t>_geom" VALUES (NEW."fid", ST_MinX(NEW."geom"), ST_MaxX(NEW."geom"), ST_MinY(NEW."geom"), ST_MaxY(NEW."geom")); END;
CREATE TRIGGER "rtree_<t>_geom_update4" AFTER UPDATE ON "<t>" WHEN OLD."fid" != NEW."fid" AND (NEW."geom" ISNULL OR ST_IsEmpty(NEW."geom")) BEGIN
 DELETE FROM "rtree_<t>_geom" WHERE id IN (OLD."fid", NEW."fid"); END;
CREATE TRIGGER "rtree_<t>_geom_delete" AFTER DELETE ON "<t>" WHEN old."geom" NOT NULL BEGIN
 DELETE FROM "rtree_<t>_geom" WHERE id = OLD."fid"; END;`

// appendGPKGGeometry appends a geometry as a GeoPackage holds it: header, envelope
// of all but points, ISO well-known binary; nothing for none. The box is the
// shape's own.
func appendGPKGGeometry(b []byte, s shape, box orb.Bound, srs int, multi bool) []byte {
	if len(s.paths)+len(s.areas) == 0 {
		return b
	}
	point := len(s.paths) == 1 && len(s.paths[0]) == 1
	const littleEndian, envelopeXY = 1, 1 << 1
	flags := byte(littleEndian | envelopeXY)
	if point {
		flags = littleEndian
	}
	b = binary.LittleEndian.AppendUint32(append(b, 'G', 'P', 0, flags), uint32(int32(srs))) // version 0
	if !point {
		for _, v := range [...]float64{box.Left(), box.Right(), box.Bottom(), box.Top()} {
			b = appendDouble(b, v)
		}
	}
	return appendWKB(b, s, multi && !point)
}
