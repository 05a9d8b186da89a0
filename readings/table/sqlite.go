package table

import (
	"bytes"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strconv"

	"github.com/ncruces/go-sqlite3"
)

func isSQLite(head []byte) bool { return bytes.HasPrefix(head, []byte("SQLite format 3\x00")) }

// readSQLite reads every table; views and what the database keeps for itself are
// left out. The bytes go into a file of their own, which is opened for reading only.
func readSQLite(data []byte) ([]Table, error) {
	dir, err := os.MkdirTemp("", "tracemap-")
	if err != nil {
		return nil, err
	}
	path := filepath.Join(dir, "log.sqlite")
	defer os.Remove(dir)
	defer os.Remove(path)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		return nil, err
	}
	name := (&url.URL{Scheme: "file", Path: filepath.ToSlash(path)}).String() + "?mode=ro&immutable=1"
	db, err := sqlite3.OpenFlags(name, sqlite3.OPEN_READONLY|sqlite3.OPEN_URI)
	if err != nil {
		return nil, fmt.Errorf("cannot be opened: %s", oneLine(err))
	}
	defer db.Close()
	// A hostile file may define views and triggers; none of them may call what
	// reaches beyond the file.
	if err := db.Exec("PRAGMA trusted_schema=OFF; PRAGMA query_only=ON"); err != nil {
		return nil, fmt.Errorf("cannot be read: %s", oneLine(err))
	}
	names, err := query(db, "SELECT name FROM sqlite_schema WHERE type='table' AND name NOT LIKE 'sqlite_%' ORDER BY name", "")
	if err != nil {
		return nil, err
	}
	var out []Table
	for i, row := range names.Rows {
		if i == 0 {
			continue // its header
		}
		t, err := query(db, "SELECT * FROM "+sqlite3.QuoteIdentifier(row.Cells[0]), row.Cells[0])
		if err != nil {
			return nil, err
		}
		out = append(out, t)
	}
	return out, nil
}

// query gives a statement's rows below the names of its columns.
func query(db *sqlite3.Conn, sql, name string) (Table, error) {
	t := Table{Name: name}
	s, _, err := db.Prepare(sql)
	if err != nil {
		return t, fmt.Errorf("table %q cannot be read: %s", name, oneLine(err))
	}
	defer s.Close()
	n := s.ColumnCount()
	header := make([]string, n)
	for i := range n {
		header[i] = s.ColumnName(i)
	}
	if err := t.add(1, header); err != nil {
		return t, err
	}
	for line := 2; s.Step(); line++ {
		cells := make([]string, n)
		for i := range n {
			switch s.ColumnType(i) {
			case sqlite3.INTEGER:
				cells[i] = strconv.FormatInt(s.ColumnInt64(i), 10)
			case sqlite3.FLOAT:
				cells[i] = strconv.FormatFloat(s.ColumnFloat(i), 'g', -1, 64)
			case sqlite3.TEXT:
				cells[i] = s.ColumnText(i)
			}
		}
		if err := t.add(line, cells); err != nil {
			return t, err
		}
	}
	if err := s.Err(); err != nil {
		return t, fmt.Errorf("table %q cannot be read: %s", name, oneLine(err))
	}
	return t, nil
}
