package tiles

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/ncruces/go-sqlite3/driver"
)

// The tables follow the MBTiles specification, version 1.3
// (https://github.com/mapbox/mbtiles-spec/blob/master/1.3/spec.md).

var mbKinds = map[string]string{"png": "image/png", "jpg": "image/jpeg", "jpeg": "image/jpeg", "webp": "image/webp", "pbf": mvt}

type mbtiles struct{ db *sql.DB }

func openMBTiles(path string) (*Set, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	u := url.URL{Scheme: "file", Opaque: (&url.URL{Path: filepath.ToSlash(abs)}).EscapedPath(), RawQuery: "mode=ro"}
	db, err := driver.Open(u.String())
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(2)
	s := &Set{source: &mbtiles{db}, close: db.Close}
	if s.About, err = mbAbout(db); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return s, nil
}

func mbAbout(db *sql.DB) (a About, err error) {
	rows, err := db.Query("SELECT CAST(name AS TEXT), substr(CAST(value AS TEXT),1,2000) FROM metadata LIMIT 100")
	if err != nil {
		return a, fmt.Errorf("no MBTiles: %w", err)
	}
	defer rows.Close()
	said := map[string]string{}
	for rows.Next() {
		var k, v sql.NullString
		if err := rows.Scan(&k, &v); err != nil {
			return a, err
		}
		said[k.String] = v.String
	}
	if err := rows.Err(); err != nil {
		return a, err
	}
	if a.Kind = shown(mbKinds[strings.ToLower(said["format"])]); a.Kind == "" {
		return a, fmt.Errorf("tiles of an unknown sort (%q)", plain(said["format"]))
	}
	if err := db.QueryRow("SELECT coalesce(min(zoom_level),0), coalesce(max(zoom_level),0) FROM tiles").Scan(&a.MinZoom, &a.MaxZoom); err != nil {
		return a, fmt.Errorf("no MBTiles: %w", err)
	}
	a.Bounds = world([4]float64{999})
	if parts := strings.Split(said["bounds"], ","); len(parts) == 4 {
		var b [4]float64
		for i, p := range parts {
			if b[i], err = strconv.ParseFloat(strings.TrimSpace(p), 64); err != nil {
				b[i] = 999
			}
		}
		a.Bounds = world(b)
	}
	a.Credit = plain(said["attribution"])
	return a, nil
}

// tile looks a tile up; the format counts rows from the south.
func (m *mbtiles) tile(ctx context.Context, z, x, y int) (b []byte, err error) {
	err = m.db.QueryRowContext(ctx, "SELECT tile_data FROM tiles WHERE zoom_level=? AND tile_column=? AND tile_row=? AND length(tile_data)<=?", z, x, 1<<z-1-y, longest).Scan(&b)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, ErrNone
	}
	return b, err
}
