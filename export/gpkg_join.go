package export

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/ncruces/go-sqlite3"

	"tracemap/geodesy"
	"tracemap/result"
)

// A GPKGPart is a map.gpkg that is to be joined with others, and what its rows are
// to be called in the column day: "Mill Lane, revision 2".
type GPKGPart struct{ Path, Day string }

// ErrOtherCRS says that the files are in different coordinate systems.
var ErrOtherCRS = errors.New("the days are in different coordinate systems")

// JoinGeoPackages writes one GeoPackage of several days' map.gpkg, which this
// program wrote in one coordinate system: every layer with the rows of all days, a
// column day that tells them apart, and where each day comes from. Nothing is
// computed anew. The same parts give the same bytes.
func JoinGeoPackages(ctx context.Context, path, title string, parts []GPKGPart) error {
	if len(parts) == 0 {
		return errors.New("no GeoPackage to join")
	}
	if err := copyFile(path, parts[0].Path); err != nil {
		return err
	}
	return inGPKG(ctx, path, 0, func(db *sqlite3.Conn) error {
		j := &joining{gpkg: gpkg{db: db, m: &result.Map{Meta: result.Meta{Title: title}}}}
		return j.join(parts)
	})
}

func copyFile(to, from string) error {
	src, err := os.Open(from)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(dst, src)
	return errors.Join(err, dst.Close())
}

// A joining is a GeoPackage that grows by others.
type joining struct {
	gpkg
	tables   []string
	triggers []string // that are put back at the end
}

// join adds the parts to the file, which is the first of them.
func (j *joining) join(parts []GPKGPart) error {
	if err := j.begin(parts[0].Day); err != nil {
		return fmt.Errorf("join %s: %w", parts[0].Day, err)
	}
	for _, p := range parts[1:] {
		if err := j.add(p); err != nil {
			return fmt.Errorf("join %s: %w", p.Day, err)
		}
	}
	return j.end()
}

// strings gives the first column of a query's rows.
func (g *gpkg) strings(sql string, values ...any) (out []string, err error) {
	s, err := g.prepare(sql)
	if err != nil {
		return nil, err
	}
	defer s.closeInto(&err)
	for i, v := range values {
		if err := s.BindText(i+1, fmt.Sprint(v)); err != nil {
			return nil, err
		}
	}
	for s.Step() {
		out = append(out, s.ColumnText(0))
	}
	return out, s.Err()
}

const dayMeaning = "Day and revision that the row comes from."

// begin readies the first day's file: the index's triggers call functions that only
// systems with GeoPackage support have, so they are taken off meanwhile.
func (j *joining) begin(day string) (err error) {
	if j.tables, err = j.strings("SELECT table_name FROM gpkg_contents WHERE data_type='features' ORDER BY rowid"); err != nil {
		return err
	}
	if j.triggers, err = j.strings("SELECT sql FROM sqlite_master WHERE type='trigger' AND name LIKE 'rtree_%' ORDER BY rowid"); err != nil {
		return err
	}
	names, err := j.strings("SELECT name FROM sqlite_master WHERE type='trigger' AND name LIKE 'rtree_%'")
	if err != nil {
		return err
	}
	for _, name := range names {
		if err := j.db.Exec(`DROP TRIGGER "` + name + `"`); err != nil {
			return err
		}
	}
	for _, t := range j.tables {
		if err := j.db.Exec(`ALTER TABLE "` + t + `" ADD COLUMN day TEXT`); err != nil {
			return err
		}
		if err := j.exec(`UPDATE "`+t+`" SET day=?`, day); err != nil {
			return err
		}
		if err := j.exec("INSERT INTO gpkg_data_columns VALUES (?,'day',NULL,NULL,?,NULL,NULL)", t, dayMeaning); err != nil {
			return err
		}
	}
	// What desktop systems show beside a layer told of the first day alone.
	return j.db.Exec(`DELETE FROM gpkg_metadata_reference WHERE reference_scope='table'; DELETE FROM gpkg_metadata WHERE md_scope='featureType'`)
}

// add puts another day's rows in.
func (j *joining) add(p GPKGPart) error {
	if err := j.exec("ATTACH ? AS src", p.Path); err != nil {
		return err
	}
	err := j.addAttached(p.Day)
	return errors.Join(err, j.db.Exec("DETACH src"))
}

func (j *joining) addAttached(day string) error {
	other, err := j.strings(`SELECT a.table_name FROM src.gpkg_geometry_columns a JOIN main.gpkg_geometry_columns b USING (table_name) WHERE a.srs_id<>b.srs_id`)
	if err != nil {
		return err
	}
	if len(other) > 0 {
		return ErrOtherCRS
	}
	if err := j.db.Exec("BEGIN"); err != nil {
		return err
	}
	for _, t := range j.tables {
		if err := j.addLayer(t, day); err != nil {
			return fmt.Errorf("layer %s: %w", t, err)
		}
	}
	for _, sql := range []string{
		// Where the day comes from, as a description of the whole file.
		`INSERT INTO main.gpkg_metadata SELECT id+(SELECT max(id) FROM main.gpkg_metadata), md_scope, md_standard_uri, mime_type, metadata FROM src.gpkg_metadata WHERE md_scope='dataset' ORDER BY id`,
		`INSERT INTO main.gpkg_metadata_reference SELECT 'geopackage',NULL,NULL,NULL,(SELECT max(last_change) FROM src.gpkg_contents),max(id),NULL FROM main.gpkg_metadata`,
		"COMMIT",
	} {
		if err := j.db.Exec(sql); err != nil {
			return err
		}
	}
	return nil
}

// addLayer puts the rows of one layer in, with new numbers, and widens what the
// first day's file says of the layer where this one needs it.
func (j *joining) addLayer(t, day string) error {
	there, err := j.strings("SELECT name FROM pragma_table_info(?1,'src') ORDER BY cid", t)
	if err != nil || len(there) == 0 {
		return err // a layer that this day has not
	}
	have, err := j.strings("SELECT name FROM pragma_table_info(?1,'main') ORDER BY cid", t)
	if err != nil {
		return err
	}
	var columns []string
	for _, c := range there {
		if c == "fid" {
			continue
		}
		columns = append(columns, `"`+c+`"`)
		if !slices.Contains(have, c) {
			if err := j.addColumn(t, c); err != nil {
				return err
			}
		}
	}
	if err := j.widen(t); err != nil {
		return err
	}
	list := strings.Join(columns, ",")
	last, err := j.strings(`SELECT coalesce(max(fid),0) FROM main."` + t + `"`)
	if err != nil {
		return err
	}
	if err := j.exec(fmt.Sprintf(`INSERT INTO main."%s" (fid,%s,day) SELECT fid+%s,%s,? FROM src."%s" ORDER BY fid`, t, list, last[0], list, t), day); err != nil {
		return err
	}
	if err := j.db.Exec(fmt.Sprintf(`INSERT INTO main."rtree_%s_geom" SELECT id+%s,minx,maxx,miny,maxy FROM src."rtree_%s_geom" ORDER BY id`, t, last[0], t)); err != nil {
		return err
	}
	return j.db.Exec(fmt.Sprintf(`UPDATE main.gpkg_contents AS a SET last_change=max(a.last_change,b.last_change),
		min_x=min(coalesce(a.min_x,b.min_x),coalesce(b.min_x,a.min_x)), min_y=min(coalesce(a.min_y,b.min_y),coalesce(b.min_y,a.min_y)),
		max_x=max(coalesce(a.max_x,b.max_x),coalesce(b.max_x,a.max_x)), max_y=max(coalesce(a.max_y,b.max_y),coalesce(b.max_y,a.max_y))
		FROM src.gpkg_contents AS b WHERE a.table_name='%s' AND b.table_name='%s'`, t, t))
}

func (j *joining) addColumn(t, c string) error {
	kind, err := j.strings(`SELECT type FROM pragma_table_info(?1,'src') WHERE name=?2`, t, c)
	if err != nil {
		return err
	}
	if err := j.db.Exec(fmt.Sprintf(`ALTER TABLE main."%s" ADD COLUMN "%s" %s`, t, c, kind[0])); err != nil {
		return err
	}
	return j.exec("INSERT INTO main.gpkg_data_columns SELECT * FROM src.gpkg_data_columns WHERE table_name=? AND column_name=?", t, c)
}

// widen calls a layer's geometries by the kind that covers both, where one day's
// are in several pieces and the other's are not. The kind stands in the table's own
// text as well, which SQLite lets be rewritten as long as no column moves.
func (j *joining) widen(t string) error {
	kinds, err := j.strings(`SELECT b.geometry_type_name FROM src.gpkg_geometry_columns a JOIN main.gpkg_geometry_columns b USING (table_name)
		WHERE table_name=?1 AND a.geometry_type_name<>b.geometry_type_name`, t)
	if err != nil || len(kinds) == 0 || kinds[0] == "GEOMETRY" {
		return err
	}
	if err := j.exec("UPDATE main.gpkg_geometry_columns SET geometry_type_name='GEOMETRY' WHERE table_name=?", t); err != nil {
		return err
	}
	for _, sql := range []string{
		"PRAGMA writable_schema=ON",
		fmt.Sprintf(`UPDATE main.sqlite_master SET sql=replace(sql,'geom %s','geom GEOMETRY') WHERE type='table' AND name='%s'`, kinds[0], t),
		"PRAGMA writable_schema=RESET",
	} {
		if err := j.db.Exec(sql); err != nil {
			return err
		}
	}
	return nil
}

// end describes the layers and puts the triggers back.
func (j *joining) end() error {
	code, err := j.strings("SELECT srs_id FROM gpkg_geometry_columns LIMIT 1")
	if err != nil {
		return err
	}
	if n, err := strconv.Atoi(code[0]); err != nil {
		return err
	} else if n != 4326 {
		crs, err := geodesy.LookupCRS(n)
		if err != nil {
			return err
		}
		j.to = &target{crs: crs}
	}
	first, err := j.strings("SELECT max(id) FROM gpkg_metadata")
	if err != nil {
		return err
	}
	id, err := strconv.Atoi(first[0])
	if err != nil {
		return err
	}
	for _, t := range j.tables {
		about, err := j.strings("SELECT description FROM gpkg_contents WHERE table_name=?1", t)
		if err != nil {
			return err
		}
		stamp, err := j.strings("SELECT last_change FROM gpkg_contents WHERE table_name=?1", t)
		if err != nil {
			return err
		}
		text, err := j.layerMetadata(t, about[0])
		if err != nil {
			return err
		}
		id++
		j.stamp = stamp[0]
		if err := j.describe(id, "featureType", "http://mrcc.com/qgis.dtd", "text/xml", text, t); err != nil {
			return err
		}
	}
	for _, sql := range j.triggers {
		if err := j.db.Exec(sql); err != nil {
			return err
		}
	}
	return nil
}
