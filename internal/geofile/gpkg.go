package geofile

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/ext/rtree"
)

// readGeoPackage reads all tables of features (OGC 12-128). The file is opened
// for reading only, and nothing is written beside it unless another program has
// left a journal there.
func readGeoPackage(ctx context.Context, path string) (*File, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	query := "?mode=ro&immutable=1"
	if info, err := os.Stat(path + "-wal"); err == nil && info.Size() > 0 {
		query = "?mode=ro" // what stands in the journal counts too
	}
	name := (&url.URL{Scheme: "file", Path: filepath.ToSlash(abs)}).String() + query
	db, err := sqlite3.OpenFlags(name, sqlite3.OPEN_READONLY|sqlite3.OPEN_URI)
	if err != nil {
		return nil, fmt.Errorf("opening the GeoPackage: %w", err)
	}
	defer db.Close()
	if err := rtree.Register(db); err != nil {
		return nil, fmt.Errorf("opening the GeoPackage: %w", err)
	}
	defer db.SetInterrupt(db.SetInterrupt(ctx))
	g := &geoPackage{db: db, file: &File{Format: "GeoPackage", budget: newBudget(ctx)}}
	// A hostile file may define views and triggers; none of them may call what
	// reaches beyond the file.
	if err := db.Exec("PRAGMA trusted_schema=OFF; PRAGMA query_only=ON"); err != nil {
		return nil, fmt.Errorf("opening the GeoPackage: %w", err)
	}
	db.Limit(sqlite3.LIMIT_LENGTH, maxValue)
	if err := db.SetAuthorizer(onlyReading); err != nil {
		return nil, fmt.Errorf("opening the GeoPackage: %w", err)
	}
	tables, err := g.tables()
	if err != nil {
		return nil, fmt.Errorf("reading the GeoPackage: %w", err)
	}
	if len(tables) == 0 {
		return nil, errors.New("is an SQLite database without GeoPackage features")
	}
	for _, t := range tables {
		if err := g.layer(t); err != nil {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			return nil, fmt.Errorf("table %q: %w", shorten(t.name), err)
		}
	}
	return g.file, nil
}

type geoPackage struct {
	db   *sqlite3.Conn
	file *File
}

type gpkgTable struct {
	name, column string
	srs          int
}

// maxValue bounds one value of a GeoPackage, bytes: a geometry of four million
// points.
const maxValue = 64 << 20

// onlyReading lets a statement read columns and do nothing else: no function, no
// recursion, no pragma, whatever the file's own definitions ask for.
func onlyReading(action sqlite3.AuthorizerActionCode, _, _, _, _ string) sqlite3.AuthorizerReturnCode {
	if action == sqlite3.AUTH_SELECT || action == sqlite3.AUTH_READ {
		return sqlite3.AUTH_OK
	}
	return sqlite3.AUTH_DENY
}

// isTable reports whether the file holds a table of that name. A view is none: it
// can go on for ever.
func (g *geoPackage) isTable(name string) (is bool, err error) {
	err = g.rows("SELECT name, type, sql FROM sqlite_schema", func(s *sqlite3.Stmt) error {
		if strings.EqualFold(s.ColumnText(0), name) && s.ColumnText(1) == "table" {
			is = !virtualTable.MatchString(s.ColumnText(2))
		}
		return nil
	})
	return is, err
}

var virtualTable = regexp.MustCompile(`(?i)^\s*CREATE\s+VIRTUAL\b`)

// tables lists the tables of features in the order of their names.
func (g *geoPackage) tables() ([]gpkgTable, error) {
	var out []gpkgTable
	if is, err := g.isTable("gpkg_geometry_columns"); err != nil || !is {
		return nil, err
	}
	err := g.rows("SELECT table_name, column_name, srs_id FROM gpkg_geometry_columns ORDER BY 1", func(s *sqlite3.Stmt) error {
		out = append(out, gpkgTable{s.ColumnText(0), s.ColumnText(1), s.ColumnInt(2)})
		return nil
	})
	if err != nil && strings.Contains(err.Error(), "no such table") {
		return nil, nil
	}
	return out, err
}

// rows calls a function for each row of a query.
func (g *geoPackage) rows(sql string, each func(*sqlite3.Stmt) error) error {
	s, _, err := g.db.Prepare(sql)
	if err != nil {
		return err
	}
	for s.Step() {
		if err := each(s); err != nil {
			_ = s.Close() // the first error is the one to tell
			return err
		}
	}
	return s.Close()
}

func (g *geoPackage) layer(t gpkgTable) error {
	if strings.ContainsRune(t.name, 0) {
		g.file.aside(fmt.Sprintf("table %q", t.name), "its name holds a zero byte, which no query can ask for")
		return nil
	}
	if is, err := g.isTable(t.name); err != nil {
		return err
	} else if !is {
		g.file.aside(fmt.Sprintf("table %q", shorten(t.name)), "is no table of this file, and what is not cannot be read: copy a view into a table first")
		return nil
	}
	g.file.Layers = append(g.file.Layers, Layer{Name: t.name})
	l := &g.file.Layers[len(g.file.Layers)-1]
	if err := g.system(l, t.srs); err != nil {
		return err
	}
	n := 0
	return g.rows("SELECT * FROM "+sqlite3.QuoteIdentifier(t.name), func(s *sqlite3.Stmt) error {
		n++
		f := Feature{Where: fmt.Sprintf("%s row %d", t.name, n)}
		for i := range s.ColumnCount() {
			name := s.ColumnName(i)
			if name == t.column {
				if s.ColumnType(i) != sqlite3.BLOB {
					g.file.aside(f.Where, "has no geometry")
				} else if err := f.takeBlob(s.ColumnRawBlob(i)); err != nil {
					g.file.aside(f.Where, "its geometry: %v", err)
				}
				continue
			}
			switch s.ColumnType(i) {
			case sqlite3.INTEGER:
				f.add(name, strconv.FormatInt(s.ColumnInt64(i), 10))
			case sqlite3.FLOAT:
				f.add(name, strconv.FormatFloat(s.ColumnFloat(i), 'g', -1, 64))
			case sqlite3.TEXT:
				f.add(name, s.ColumnText(i))
			}
		}
		g.file.keep(l, f)
		return g.file.budget.error()
	})
}

// system finds the coordinate system of a table: by its code, else by its
// definition.
func (g *geoPackage) system(l *Layer, srs int) error {
	if srs == 0 || srs == -1 {
		return nil // undefined, by the standard
	}
	if is, err := g.isTable("gpkg_spatial_ref_sys"); err != nil || !is {
		return err
	}
	return g.rows("SELECT organization, organization_coordsys_id, definition FROM gpkg_spatial_ref_sys WHERE srs_id="+strconv.Itoa(srs), func(s *sqlite3.Stmt) error {
		if org := s.ColumnText(0); strings.EqualFold(org, "EPSG") {
			l.withCRS("EPSG:" + s.ColumnText(1))
			return nil
		}
		l.withCRS(s.ColumnText(2))
		return nil
	})
}

// takeBlob reads a GeoPackage geometry (OGC 12-128, 2.1.3): GP, version, flags,
// system, envelope, well-known binary.
func (f *Feature) takeBlob(b []byte) error {
	if len(b) < 8 || b[0] != 'G' || b[1] != 'P' {
		return errors.New("not a GeoPackage geometry")
	}
	flags := b[3]
	if flags>>5&1 == 1 {
		return errors.New("an extended geometry")
	}
	envelope := flags >> 1 & 7
	if envelope > 4 {
		return errWKB
	}
	head := 8 + []int{0, 32, 48, 48, 64}[envelope]
	if len(b) < head {
		return errWKB
	}
	return f.takeWKB(b[head:])
}
