package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"time"
)

// An Original is a log as it came in.
type Original struct {
	SHA256  string    `json:"sha256"`
	Size    int64     `json:"size"`
	Name    string    `json:"name"`
	Kind    string    `json:"kind"` // nmea, readings, unknown
	What    string    `json:"what,omitempty"`
	From    string    `json:"from,omitempty"` // RFC 3339, on the clock of the log
	To      string    `json:"to,omitempty"`
	Rows    int       `json:"rows"`
	Added   time.Time `json:"added"`
	AddedBy string    `json:"added_by"`
}

// A Look is what an original shows of itself when somebody looks into it.
type Look struct {
	Kind, What string
	From, To   string
	Rows       int
}

var hashForm = regexp.MustCompile(`^[0-9a-f]{64}$`)

// originalPath is where an original lies; its name comes from its bytes alone.
func (s *Store) originalPath(sum string) string {
	return filepath.Join(s.dir, "originals", sum[:2], sum)
}

// Put keeps the bytes of r for ever and says whether they were there already.
// When it returns, they are on the disk. look is asked once about new bytes,
// with a function that opens them. What is cut off or refused leaves no trace.
func (s *Store) Put(ctx context.Context, r io.Reader, name, who string, look func(open func() (io.ReadCloser, error), size int64) (Look, error)) (o Original, known bool, err error) {
	temp, err := os.CreateTemp(filepath.Join(s.dir, "incoming"), "log-*")
	if err != nil {
		return o, false, err
	}
	defer func() {
		temp.Close()
		if e := os.Remove(temp.Name()); err == nil && e != nil && !errors.Is(e, os.ErrNotExist) {
			err = e
		}
	}()
	h := sha256.New()
	size, err := io.Copy(io.MultiWriter(temp, h), r)
	if err != nil {
		return o, false, fmt.Errorf("receiving %s: %w", name, err)
	}
	sum := hex.EncodeToString(h.Sum(nil))
	if o, err = s.Original(ctx, sum); err == nil {
		return o, true, nil
	} else if !errors.Is(err, ErrNotFound) {
		return o, false, err
	}
	seen, err := look(func() (io.ReadCloser, error) { return os.Open(temp.Name()) }, size)
	if err != nil {
		return o, false, err
	}
	if err := s.keep(temp, sum); err != nil {
		return o, false, fmt.Errorf("keeping %s: %w", name, err)
	}
	o = Original{SHA256: sum, Size: size, Name: name, Kind: seen.Kind, What: seen.What, From: seen.From, To: seen.To, Rows: seen.Rows, Added: s.now().UTC(), AddedBy: who}
	res, err := s.db.ExecContext(ctx, "INSERT INTO original VALUES (?,?,?,?,?,?,?,?,?,?) ON CONFLICT DO NOTHING",
		o.SHA256, o.Size, o.Name, o.Kind, o.What, o.From, o.To, o.Rows, o.Added.Format(time.RFC3339Nano), o.AddedBy)
	if err != nil {
		return o, false, err
	}
	if n, err := res.RowsAffected(); err != nil || n == 0 { // somebody sent the same at the same time
		o, e := s.Original(ctx, sum)
		return o, true, errors.Join(err, e)
	}
	return o, false, nil
}

// keep brings a received file to its place: bytes first, then the name, then the
// folder that holds the name.
func (s *Store) keep(temp *os.File, sum string) error {
	if err := temp.Sync(); err != nil {
		return err
	}
	if err := temp.Close(); err != nil {
		return err
	}
	path := s.originalPath(sum)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	if err := os.Rename(temp.Name(), path); err != nil {
		return err
	}
	if err := os.Chmod(path, 0o400); err != nil {
		return err
	}
	return errors.Join(syncDir(filepath.Dir(path)), syncDir(filepath.Dir(filepath.Dir(path))))
}

const originalColumns = "sha256,size,name,kind,what,span_from,span_to,rows,added,added_by"

func scanOriginal(row interface{ Scan(...any) error }) (Original, error) {
	var o Original
	var added string
	if err := row.Scan(&o.SHA256, &o.Size, &o.Name, &o.Kind, &o.What, &o.From, &o.To, &o.Rows, &added, &o.AddedBy); err != nil {
		return o, found(err)
	}
	var err error
	o.Added, err = time.Parse(time.RFC3339Nano, added)
	return o, err
}

// Original gives what is known of an original.
func (s *Store) Original(ctx context.Context, sum string) (Original, error) {
	if !hashForm.MatchString(sum) {
		return Original{}, ErrNotFound
	}
	return scanOriginal(s.db.QueryRowContext(ctx, "SELECT "+originalColumns+" FROM original WHERE sha256=?", sum))
}

// OpenOriginal opens the bytes of an original.
func (s *Store) OpenOriginal(ctx context.Context, sum string) (*os.File, Original, error) {
	o, err := s.Original(ctx, sum)
	if err != nil {
		return nil, o, err
	}
	f, err := os.Open(s.originalPath(sum))
	return f, o, err
}

// Loose lists originals that belong to no day, the newest first.
func (s *Store) Loose(ctx context.Context) ([]Original, error) {
	rows, err := s.db.QueryContext(ctx, "SELECT "+originalColumns+" FROM original WHERE sha256 NOT IN (SELECT sha256 FROM day_file) AND sha256 NOT IN (SELECT record FROM comparison) ORDER BY added DESC, sha256 LIMIT 1000")
	return collect(rows, err, scanOriginal)
}

// Usage is what originals take: all, and those that one person brought in.
type Usage struct {
	All, Own int64 // bytes
	Count    int64 // of all
}

// Used gives what originals take.
func (s *Store) Used(ctx context.Context, who string) (u Usage, err error) {
	err = s.db.QueryRowContext(ctx, "SELECT coalesce(sum(size),0), coalesce(sum(size) FILTER (WHERE added_by=?),0), count(*) FROM original", who).Scan(&u.All, &u.Own, &u.Count)
	return u, err
}

// collect reads all rows of a query.
func collect[T any](rows *sql.Rows, err error, scan func(interface{ Scan(...any) error }) (T, error)) ([]T, error) {
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := []T{}
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, rows.Err()
}
