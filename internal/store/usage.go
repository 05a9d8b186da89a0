package store

import (
	"context"
	"errors"
	"io/fs"
	"os"
)

// Usage is what originals, results and comparisons take on the disk: all of them,
// and those that one person brought in or had computed.
type Usage struct {
	All, Own int64 // bytes
	Count    int64 // of all originals
}

// Used returns what is kept, and how much of it is one person's.
func (s *Store) Used(ctx context.Context, who string) (u Usage, err error) {
	err = s.db.QueryRowContext(ctx, `SELECT coalesce(sum(bytes),0), coalesce(sum(bytes) FILTER (WHERE by=?),0), (SELECT count(*) FROM original) FROM (
		SELECT size AS bytes, added_by AS by FROM original
		UNION ALL SELECT bytes, created_by FROM revision
		UNION ALL SELECT bytes, created_by FROM comparison)`, who).Scan(&u.All, &u.Own, &u.Count)
	return u, err
}

// measure writes down what results take that were made before this was counted.
func (s *Store) measure(ctx context.Context) error {
	type result struct {
		day, number int64 // number is -1 for a comparison, whose own number is day
	}
	rows, err := s.db.QueryContext(ctx, "SELECT day, number FROM revision WHERE state='done' AND bytes=0 UNION ALL SELECT id, -1 FROM comparison WHERE bytes=0")
	list, err := collect(rows, err, func(row interface{ Scan(...any) error }) (r result, err error) {
		return r, row.Scan(&r.day, &r.number)
	})
	if err != nil {
		return err
	}
	for _, r := range list {
		name, q, args := s.resultName(r.day, int(r.number)), "UPDATE revision SET bytes=? WHERE day=? AND number=?", []any{r.day, r.number}
		if r.number < 0 {
			name, q, args = s.comparisonName(r.day), "UPDATE comparison SET bytes=? WHERE id=?", []any{r.day}
		}
		bytes, err := FolderBytes(name)
		if err != nil {
			return err
		}
		if _, err := s.db.ExecContext(ctx, q, append([]any{bytes}, args...)...); err != nil {
			return err
		}
	}
	return nil
}

// FolderBytes returns the sum of the sizes of a flat folder's files, zero where
// there is no folder.
func FolderBytes(dir string) (sum int64, err error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	for _, e := range entries {
		info, err := e.Info()
		if err != nil {
			return 0, err
		}
		sum += info.Size()
	}
	return sum, nil
}
