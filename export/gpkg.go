package export

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/ext/rtree"

	"tracemap/geodesy"
	"tracemap/result"
)

// writeGPKG writes map.gpkg, a GeoPackage (OGC 12-128, version 1.3): the layers
// lines, corridors, readings and vertices, doubtful stretches as a layer of their
// own, an R-tree on each, what every field means, metadata, and styles that a
// desktop GIS picks up by itself.
func writeGPKG(ctx context.Context, dir string, m *result.Map, opt Options) error {
	name := filepath.Join(dir, "map.gpkg")
	if _, err := os.Lstat(name); !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("%s is there already", name)
	}
	to, err := opt.target(m)
	if err != nil {
		return err
	}
	return inGPKG(ctx, name, sqlite3.OPEN_CREATE, func(db *sqlite3.Conn) error {
		g := &gpkg{db: db, m: m, to: to, stamp: gpkgTime(m.Meta.To)}
		return g.write()
	})
}

// inGPKG opens a GeoPackage to be written, with the flags given beside, and closes
// it after work, which ends early with the context. Nothing is lost by doing without
// a journal: a run that fails leaves no file under its final name.
func inGPKG(ctx context.Context, name string, more sqlite3.OpenFlag, work func(*sqlite3.Conn) error) (err error) {
	db, err := sqlite3.OpenFlags(name, sqlite3.OPEN_READWRITE|more)
	if err != nil {
		return fmt.Errorf("open %s: %w", name, err)
	}
	defer func() {
		if e := db.Close(); err == nil {
			err = e
		}
	}()
	if err := rtree.Register(db); err != nil {
		return err
	}
	defer db.SetInterrupt(db.SetInterrupt(ctx))
	if err := db.Exec("PRAGMA journal_mode=OFF; PRAGMA synchronous=OFF"); err != nil {
		return fmt.Errorf("open %s: %w", name, err)
	}
	return work(db)
}

// gpkgTime writes a time as GeoPackage wants it. The file says when the survey
// was, not when it was written: the same input gives the same bytes.
func gpkgTime(t time.Time) string {
	if t.IsZero() {
		t = time.Unix(0, 0)
	}
	return string(appendTime(nil, t, 3))
}

type gpkg struct {
	db    *sqlite3.Conn
	m     *result.Map
	to    *target
	stamp string
}

func (g *gpkg) write() error {
	for _, sql := range []string{
		"PRAGMA page_size=4096", "PRAGMA application_id=1196444487", "PRAGMA user_version=10300", "BEGIN", gpkgTables, schemaTables, metadataTables, styleTable,
	} {
		if err := g.db.Exec(sql); err != nil {
			return fmt.Errorf("begin the GeoPackage: %w", err)
		}
	}
	for _, step := range []func() error{g.systems, g.layers, g.metadata, g.styles} {
		if err := step(); err != nil {
			return err
		}
	}
	return g.db.Exec("COMMIT")
}

// A statement is prepared once and run often.
type statement struct{ *sqlite3.Stmt }

func (g *gpkg) prepare(sql string) (statement, error) {
	s, _, err := g.db.Prepare(sql)
	if err != nil {
		return statement{}, fmt.Errorf("%w in %s", err, sql)
	}
	return statement{s}, nil
}

// closeInto closes the statement; the first error is the one to tell.
func (s statement) closeInto(err *error) {
	if e := s.Close(); *err == nil {
		*err = e
	}
}

// exec runs one statement with values: texts, integers, reals, blobs, nil.
func (g *gpkg) exec(sql string, values ...any) (err error) {
	s, err := g.prepare(sql)
	if err != nil {
		return err
	}
	defer s.closeInto(&err)
	return run(s.Stmt, values)
}

// run binds values and runs a prepared statement once.
func run(s *sqlite3.Stmt, values []any) error {
	for i, v := range values {
		var err error
		switch v := v.(type) {
		case nil:
			err = s.BindNull(i + 1)
		case string:
			err = s.BindText(i+1, v)
		case int:
			err = s.BindInt(i+1, v)
		case float64:
			err = s.BindFloat(i+1, v)
		case []byte:
			err = s.BindBlob(i+1, v)
		default:
			err = fmt.Errorf("value %d has no SQL type", i+1)
		}
		if err != nil {
			return err
		}
	}
	return s.Exec()
}

// systems writes the coordinate systems: the three that the standard requires
// and the one asked for.
func (g *gpkg) systems() error {
	const insert = "INSERT INTO gpkg_spatial_ref_sys VALUES (?,?,?,?,?,?,?)"
	for _, undefined := range [][]any{
		{"Undefined Cartesian SRS", -1, "NONE", -1, "undefined", "undefined Cartesian coordinate reference system", "undefined"},
		{"Undefined geographic SRS", 0, "NONE", 0, "undefined", "undefined geographic coordinate reference system", "undefined"},
	} {
		if err := g.exec(insert, undefined...); err != nil {
			return err
		}
	}
	wgs84, err := geodesy.LookupCRS(4326)
	if err != nil {
		return err
	}
	systems := []*geodesy.CRS{wgs84}
	if g.to != nil {
		systems = append(systems, g.to.crs)
	}
	for _, crs := range systems {
		about := "area of use: " + crs.Area().Name
		if crs.Code() == g.to.code() {
			about += fmt.Sprintf("; third ordinates are heights above the ellipsoid of %s, unit %s; fields are in metres, in the same frame", g.to.frameName(g.m), g.to.heightUnit())
		}
		if err := g.exec(insert, crs.Name(), crs.Code(), "EPSG", crs.Code(), crs.WKT1(), about, crs.WKT2()); err != nil {
			return err
		}
	}
	return g.extension("gpkg_spatial_ref_sys", "definition_12_063", "gpkg_crs_wkt", "extension_crs_wkt", "read-write")
}

// extension registers the use of an extension of the standard, by its anchor there.
func (g *gpkg) extension(table string, columnName any, name, anchor, scope string) error {
	return g.exec("INSERT INTO gpkg_extensions VALUES (?,?,?,?,?)", table, columnName, name, "http://www.geopackage.org/spec131/#"+anchor, scope)
}

// styles writes a default style for each layer into the table where desktop
// systems look for one; it is their custom, not part of the standard.
func (g *gpkg) styles() error {
	if err := g.exec("INSERT INTO gpkg_contents(table_name,data_type,identifier,description,last_change,srs_id) VALUES ('layer_styles','attributes','layer_styles','default styles of the layers',?,NULL)", g.stamp); err != nil {
		return err
	}
	for i, s := range layerStyles {
		if err := g.exec("INSERT INTO layer_styles VALUES (?,'','',?,'geom','tracemap',?,'',1,'uniform colour code of utilities','',NULL,?)", i+1, s.layer, s.qml(), g.stamp); err != nil {
			return err
		}
	}
	return nil
}

// The tables of OGC 12-128, annex C, in its own words where a test compares them.
const gpkgTables = `
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
 organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT,
 definition_12_063 TEXT NOT NULL);
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE, description TEXT DEFAULT '',
 last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')), min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
 CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL,
 z TINYINT NOT NULL, m TINYINT NOT NULL, CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name), CONSTRAINT uk_gc_table_name UNIQUE (table_name),
 CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name), CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
CREATE TABLE gpkg_extensions (table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL, scope TEXT NOT NULL,
 CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));`

const schemaTables = `
CREATE TABLE gpkg_data_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT, mime_type TEXT, constraint_name TEXT,
 CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name), CONSTRAINT gdc_tn UNIQUE (table_name, name));
CREATE TABLE gpkg_data_column_constraints (constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT, min NUMERIC, min_is_inclusive BOOLEAN,
 max NUMERIC, max_is_inclusive BOOLEAN, description TEXT, CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value));`

const metadataTables = `
CREATE TABLE gpkg_metadata (id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC NOT NULL, md_scope TEXT NOT NULL DEFAULT 'dataset', md_standard_uri TEXT NOT NULL,
 mime_type TEXT NOT NULL DEFAULT 'text/xml', metadata TEXT NOT NULL DEFAULT '');
CREATE TABLE gpkg_metadata_reference (reference_scope TEXT NOT NULL, table_name TEXT, column_name TEXT, row_id_value INTEGER,
 timestamp DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')), md_file_id INTEGER NOT NULL, md_parent_id INTEGER,
 CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id), CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id));`

const styleTable = `
CREATE TABLE layer_styles (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256),
 f_geometry_column TEXT(256), styleName TEXT(30), styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30), update_time DATETIME);`
