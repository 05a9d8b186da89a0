package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"
)

// A Day is a crew's day: its originals and, as revisions, what was made of them.
type Day struct {
	ID        int64     `json:"id"`
	Title     string    `json:"title"`
	Created   time.Time `json:"created"`
	CreatedBy string    `json:"created_by"`
	Files     []File    `json:"files"`
	// Latest is the newest revision.
	Latest *Revision `json:"latest,omitempty"`
}

// A File is an original under the name that it was given for a day.
type File struct {
	Original
	Name string `json:"name"`
}

// NewDay makes a day of originals, with a first revision that waits to be
// computed.
func (s *Store) NewDay(ctx context.Context, title, who string, files []File, settings json.RawMessage) (Day, error) {
	var id int64
	err := s.change(ctx, func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, "INSERT INTO day (title,created,created_by) VALUES (?,?,?)", title, s.stamp(), who)
		if err != nil {
			return err
		}
		if id, err = res.LastInsertId(); err != nil {
			return err
		}
		for _, f := range files {
			if _, err := tx.ExecContext(ctx, "INSERT INTO day_file VALUES (?,?,?)", id, f.SHA256, f.Name); err != nil {
				return fmt.Errorf("%s: %w", f.Name, err)
			}
		}
		if err := s.insertRevision(ctx, tx, Revision{Day: id, Number: 1, Settings: settings, Why: "first computed", CreatedBy: who}); err != nil {
			return err
		}
		return s.note(ctx, tx, who, "day made", fmt.Sprintf("day %d", id), title)
	})
	if err != nil {
		return Day{}, err
	}
	return s.Day(ctx, id)
}

// SameFiles gives a day that holds exactly the originals of the given hashes,
// zero when there is none.
func (s *Store) SameFiles(ctx context.Context, sums []string) (int64, error) {
	list, err := json.Marshal(sums)
	if err != nil {
		return 0, err
	}
	var id int64
	err = s.db.QueryRowContext(ctx, `SELECT coalesce(max(day),0) FROM (SELECT day FROM day_file GROUP BY day
		HAVING count(*)=json_array_length(?1) AND sum(sha256 IN (SELECT value FROM json_each(?1)))=json_array_length(?1))`, string(list)).Scan(&id)
	return id, err
}

func scanDay(row interface{ Scan(...any) error }) (Day, error) {
	var d Day
	var created string
	if err := row.Scan(&d.ID, &d.Title, &created, &d.CreatedBy); err != nil {
		return d, found(err)
	}
	var err error
	d.Created, err = time.Parse(time.RFC3339Nano, created)
	return d, err
}

// Day gives a day with its files and its newest revision.
func (s *Store) Day(ctx context.Context, id int64) (Day, error) { return s.day(ctx, s.db, id) }

func (s *Store) day(ctx context.Context, q querier, id int64) (Day, error) {
	d, err := scanDay(q.QueryRowContext(ctx, "SELECT id,title,created,created_by FROM day WHERE id=?", id))
	if err != nil {
		return d, err
	}
	return d, fill(ctx, q, &d)
}

// Days lists the days, the newest first.
func (s *Store) Days(ctx context.Context) ([]Day, error) {
	rows, err := s.db.QueryContext(ctx, "SELECT id,title,created,created_by FROM day ORDER BY id DESC LIMIT 2000")
	days, err := collect(rows, err, scanDay)
	if err != nil {
		return nil, err
	}
	for i := range days {
		if err := fill(ctx, s.db, &days[i]); err != nil {
			return nil, err
		}
	}
	return days, nil
}

func fill(ctx context.Context, q querier, d *Day) error {
	rows, err := q.QueryContext(ctx, `SELECT o.sha256,o.size,o.name,o.kind,o.what,o.span_from,o.span_to,o.rows,o.added,o.added_by,f.name
		FROM day_file f JOIN original o USING (sha256) WHERE f.day=? ORDER BY o.kind, f.name, o.sha256`, d.ID)
	d.Files, err = collect(rows, err, func(row interface{ Scan(...any) error }) (File, error) {
		var f File
		var err error
		f.Original, err = scanOriginal(withMore{row, &f.Name})
		return f, err
	})
	if err != nil {
		return err
	}
	r, err := scanRevision(q.QueryRowContext(ctx, "SELECT "+revisionColumns+" FROM revision WHERE day=? ORDER BY number DESC LIMIT 1", d.ID))
	if err != nil {
		return err
	}
	d.Latest = &r
	return nil
}

// withMore scans one column more than its caller asks for.
type withMore struct {
	row  interface{ Scan(...any) error }
	more any
}

func (w withMore) Scan(to ...any) error { return w.row.Scan(append(to, w.more)...) }
