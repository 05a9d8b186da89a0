package export

import (
	"encoding/binary"
	"fmt"
	"strings"

	"github.com/paulmach/orb"
)

// layers writes every feature table.
func (g *gpkg) layers() error {
	for _, l := range layers(g.m, g.to) {
		if err := l.writeGPKG(g); err != nil {
			return err
		}
	}
	return nil
}

// writeGPKG creates the table, fills it, and registers it. The geometry type is the
// plain one unless a feature is cut at the antimeridian.
func (l *layer[R]) writeGPKG(g *gpkg) error {
	shapes := make([]shape, len(l.rows))
	box, multi := nowhere, false
	for i := range l.rows {
		s, err := l.shape(&l.rows[i])
		if err != nil {
			return err
		}
		shapes[i] = s
		multi = multi || len(s.paths) > 1 || len(s.areas) > 1
		box = box.Union(s.box())
	}
	geometry := l.geometry
	if multi {
		geometry = "MULTI" + geometry
	}
	if err := l.create(g, geometry, box); err != nil {
		return err
	}
	return l.fill(g, shapes, multi)
}

func (l *layer[R]) create(g *gpkg, geometry string, box orb.Bound) error {
	var table strings.Builder
	fmt.Fprintf(&table, `CREATE TABLE "%s" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom %s`, l.name, geometry)
	kinds := [...]string{textKind: "TEXT", intKind: "INTEGER", realKind: "DOUBLE", timeKind: "DATETIME", boolKind: "BOOLEAN"}
	for i := range l.columns {
		fmt.Fprintf(&table, `, "%s" %s`, l.columns[i].Name, kinds[l.columns[i].Kind])
	}
	if err := g.db.Exec(table.String() + ")"); err != nil {
		return err
	}
	var west, south, east, north any
	if !box.IsEmpty() {
		west, south, east, north = box.Left(), box.Bottom(), box.Right(), box.Top()
	}
	if err := g.exec("INSERT INTO gpkg_contents VALUES (?,'features',?,?,?,?,?,?,?,?)", l.name, l.name, l.about, g.stamp, west, south, east, north, g.to.code()); err != nil {
		return err
	}
	return g.exec("INSERT INTO gpkg_geometry_columns VALUES (?,'geom',?,?,?,0)", l.name, geometry, g.to.code(), l.z)
}

func (l *layer[R]) fill(g *gpkg, shapes []shape, multi bool) (err error) {
	insert, _, err := g.db.Prepare(fmt.Sprintf(`INSERT INTO "%s" VALUES (?,?%s)`, l.name, strings.Repeat(",?", len(l.columns))))
	if err != nil {
		return err
	}
	defer func() {
		if e := insert.Close(); err == nil {
			err = e
		}
	}()
	values := make([]any, 2+len(l.columns))
	for i := range l.rows {
		values[0], values[1] = i+1, nil
		if blob := gpkgGeometry(shapes[i], g.to.code(), multi); blob != nil {
			values[1] = blob
		}
		for j := range l.columns {
			values[2+j] = l.columns[j].sql(&l.rows[i])
		}
		if err := run(insert, values); err != nil {
			return fmt.Errorf("row %d of %s: %w", i+1, l.name, err)
		}
	}
	if l.index {
		return g.spatialIndex(l.name, shapes)
	}
	return nil
}

// sql gives the cell as a value for SQLite; nil for what is not known.
func (c *column[R]) sql(row *R) any {
	v, ok := c.value(row)
	if !ok {
		return nil
	}
	switch c.Kind {
	case textKind:
		return v.Text
	case timeKind:
		return gpkgTime(v.At)
	case realKind:
		return v.Num
	}
	return int(v.Num)
}

// spatialIndex fills the R-tree of a layer and adds the triggers that keep it.
// They call functions that only systems with GeoPackage support have, so they
// come last.
func (g *gpkg) spatialIndex(table string, shapes []shape) error {
	if err := g.db.Exec(fmt.Sprintf(`CREATE VIRTUAL TABLE "rtree_%s_geom" USING rtree(id, minx, maxx, miny, maxy)`, table)); err != nil {
		return err
	}
	for i := range shapes {
		box := shapes[i].box()
		if box.IsEmpty() {
			continue
		}
		if err := g.exec(fmt.Sprintf(`INSERT INTO "rtree_%s_geom" VALUES (?,?,?,?,?)`, table), i+1, box.Left(), box.Right(), box.Bottom(), box.Top()); err != nil {
			return err
		}
	}
	if err := g.db.Exec(strings.ReplaceAll(rtreeTriggers, "<t>", table)); err != nil {
		return err
	}
	return g.exec("INSERT INTO gpkg_extensions VALUES (?,'geom','gpkg_rtree_index','http://www.geopackage.org/spec131/#extension_rtree','write-only')", table)
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

// gpkgGeometry is a geometry as a GeoPackage holds it: header, envelope of all
// but points, ISO well-known binary; nil for none.
func gpkgGeometry(s shape, srs int, multi bool) []byte {
	if len(s.paths)+len(s.areas) == 0 {
		return nil
	}
	point := len(s.paths) == 1 && len(s.paths[0]) == 1
	head := []byte{'G', 'P', 0, 1} // version 0; little endian
	if !point {
		head[3] |= 1 << 1 // envelope of x and y
	}
	b := binary.LittleEndian.AppendUint32(head, uint32(int32(srs)))
	if !point {
		box := s.box()
		for _, v := range []float64{box.Left(), box.Right(), box.Bottom(), box.Top()} {
			b = appendDouble(b, v)
		}
	}
	return appendWKB(b, s, multi && !point)
}
