package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// A Comparison holds a revision's lines against an owner's record.
type Comparison struct {
	ID        int64           `json:"id"`
	Day       int64           `json:"day"`
	Revision  int             `json:"revision"`
	Record    string          `json:"record"` // SHA-256 of its bytes
	Name      string          `json:"name"`
	Settings  json.RawMessage `json:"settings"`
	Created   time.Time       `json:"created"`
	CreatedBy string          `json:"created_by"`
	Outcome   json.RawMessage `json:"outcome"`
}

// comparisonName is the folder of a comparison's files.
func (s *Store) comparisonName(id int64) string {
	return filepath.Join(s.dir, "results", fmt.Sprintf("comparison-%d", id))
}

// NewComparison keeps a comparison: fill writes its files into an empty folder and
// gives its outcome. It is there whole, on the disk, or not at all.
func (s *Store) NewComparison(ctx context.Context, c Comparison, fill func(dir string) (json.RawMessage, error)) (Comparison, error) {
	part, err := os.MkdirTemp(filepath.Join(s.dir, "results"), "comparison-*.part") // emptied at each start
	if err != nil {
		return c, err
	}
	defer os.RemoveAll(part)
	if c.Outcome, err = fill(part); err != nil {
		return c, err
	}
	if err := syncTree(part); err != nil {
		return c, err
	}
	bytes, err := FolderBytes(part)
	if err != nil {
		return c, err
	}
	c.Created = s.now().UTC()
	err = s.change(ctx, func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, "INSERT INTO comparison (day,revision,record,name,settings,created,created_by,outcome,bytes) VALUES (?,?,?,?,?,?,?,?,?)",
			c.Day, c.Revision, c.Record, c.Name, string(c.Settings), c.Created.Format(time.RFC3339Nano), c.CreatedBy, string(c.Outcome), bytes)
		if err != nil {
			return err
		}
		if c.ID, err = res.LastInsertId(); err != nil {
			return err
		}
		final := s.comparisonName(c.ID)
		// Of a process that was killed between the folder's name and the row.
		if err := os.RemoveAll(final); err != nil {
			return err
		}
		if err := os.Rename(part, final); err != nil {
			return err
		}
		if err := syncDir(filepath.Dir(final)); err != nil {
			return err
		}
		return s.note(ctx, tx, c.CreatedBy, "compared", revisionName(c.Day, c.Revision), c.Name)
	})
	return c, err
}

const comparisonColumns = "id,day,revision,record,name,settings,created,created_by,outcome"

func scanComparison(row interface{ Scan(...any) error }) (Comparison, error) {
	var c Comparison
	var settings, created, outcome string
	if err := row.Scan(&c.ID, &c.Day, &c.Revision, &c.Record, &c.Name, &settings, &created, &c.CreatedBy, &outcome); err != nil {
		return c, found(err)
	}
	c.Settings, c.Outcome = raw(settings), raw(outcome)
	var err error
	c.Created, err = time.Parse(time.RFC3339Nano, created)
	return c, err
}

// Comparison gives one comparison.
func (s *Store) Comparison(ctx context.Context, id int64) (Comparison, error) {
	return scanComparison(s.db.QueryRowContext(ctx, "SELECT "+comparisonColumns+" FROM comparison WHERE id=?", id))
}

// Comparisons lists those of a day, the newest first.
func (s *Store) Comparisons(ctx context.Context, day int64) ([]Comparison, error) {
	rows, err := s.db.QueryContext(ctx, "SELECT "+comparisonColumns+" FROM comparison WHERE day=? ORDER BY id DESC LIMIT 500", day)
	return collect(rows, err, scanComparison)
}

// OpenComparison opens a file of a comparison; the name is one that the caller
// knows.
func (s *Store) OpenComparison(id int64, name string) (*os.File, error) {
	root, err := os.OpenRoot(s.comparisonName(id))
	if err != nil {
		return nil, missing(err)
	}
	defer root.Close()
	f, err := root.Open(name)
	return f, missing(err)
}

// OriginalPath is where an original lies, for what reads it by path.
func (s *Store) OriginalPath(ctx context.Context, sum string) (string, error) {
	o, err := s.Original(ctx, sum)
	if err != nil {
		return "", err
	}
	path := s.originalPath(o.SHA256)
	if _, err := os.Stat(path); err != nil {
		return "", errors.Join(ErrNotFound, err)
	}
	return path, nil
}
