package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/driver"
)

// The errors that callers branch on.
var (
	ErrNotFound = errors.New("not found")
	// ErrStale says that somebody else has made a newer revision meanwhile.
	ErrStale = errors.New("there is a newer revision")
	// ErrLocked says that the revision was handed over and does not change.
	ErrLocked = errors.New("handed over")
	// ErrInUse says that another process serves the folder.
	ErrInUse = errors.New("the folder is in use by another tracemap serve")
)

//go:embed migrations/*.sql
var migrations embed.FS

// A Store is an open data folder. It may be used by several goroutines.
type Store struct {
	dir   string
	db    *sql.DB
	guard *sqlite3.Conn // holds the lock of the folder; the system drops it when the process ends; nil beside a server
	now   func() time.Time
	// Mended says what Open changed because other users of the machine could read
	// the folder.
	Mended []string
}

// Open opens a data folder, made when it is not there, and brings its database
// to the present form. Work that a killed process left half done waits again.
func Open(ctx context.Context, dir string, now func() time.Time) (*Store, error) {
	mended, err := privateAll(dir)
	if err != nil {
		return nil, fmt.Errorf("data folder: %w", err)
	}
	guard, err := hold(filepath.Join(dir, "in-use.sqlite"))
	if err != nil {
		return nil, err
	}
	s := &Store{dir: dir, guard: guard, now: now, Mended: mended}
	name := filepath.Join(dir, "tracemap.sqlite")
	if _, err := privateFile(name); err != nil {
		guard.Close()
		return nil, fmt.Errorf("data folder: %w", err)
	}
	if s.db, err = openDB(name, "wal"); err != nil {
		guard.Close()
		return nil, err
	}
	for _, step := range []func(context.Context) error{s.migrate, s.recover, s.measure} {
		if err := step(ctx); err != nil {
			s.Close()
			return nil, err
		}
	}
	if err := privateBeside(dir); err != nil {
		s.Close()
		return nil, fmt.Errorf("data folder: %w", err)
	}
	return s, nil
}

// Close lets go of the folder.
func (s *Store) Close() error {
	err := s.db.Close()
	if s.guard != nil {
		err = errors.Join(err, s.guard.Close())
	}
	return err
}

// hold takes the folder for this process by an exclusive lock on a database of
// its own: the one lock that works alike on every system.
func hold(name string) (*sqlite3.Conn, error) {
	c, err := sqlite3.Open(name)
	if err != nil {
		return nil, fmt.Errorf("data folder: %w", err)
	}
	for _, q := range []string{"PRAGMA busy_timeout=0", "BEGIN EXCLUSIVE"} {
		if err := c.Exec(q); err != nil {
			c.Close()
			if errors.Is(err, sqlite3.BUSY) {
				return nil, ErrInUse
			}
			return nil, fmt.Errorf("data folder: %w", err)
		}
	}
	return c, nil
}

// openDB opens the database so that a committed change is on the disk.
func openDB(name, journal string) (*sql.DB, error) {
	u := url.URL{Scheme: "file", Opaque: (&url.URL{Path: filepath.ToSlash(name)}).EscapedPath()}
	u.RawQuery = url.Values{"_txlock": {"immediate"}, "_pragma": {
		"busy_timeout(20000)", "journal_mode(" + journal + ")", "synchronous(full)", "foreign_keys(on)",
	}}.Encode()
	db, err := driver.Open(u.String())
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", name, err)
	}
	db.SetMaxOpenConns(4)
	return db, nil
}

// sameForm refuses a database of another form than this program's.
func (s *Store) sameForm(ctx context.Context) error {
	names, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		return err
	}
	var have int
	if err := s.db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&have); err != nil {
		return fmt.Errorf("data folder: %w", err)
	}
	if have != len(names) {
		return fmt.Errorf("the data folder %s is served by another version of tracemap (form %d, this one knows %d): use that one", s.dir, have, len(names))
	}
	return nil
}

// migrate applies the numbered files that the database has not seen, each with
// its number in one transaction.
func (s *Store) migrate(ctx context.Context) error {
	names, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		return err
	}
	var have int
	if err := s.db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&have); err != nil {
		return fmt.Errorf("data folder: %w", err)
	}
	if have > len(names) {
		return fmt.Errorf("the data folder %s was written by a newer tracemap (form %d, this one knows %d): use that one", s.dir, have, len(names))
	}
	for i := have; i < len(names); i++ {
		text, err := migrations.ReadFile(names[i])
		if err != nil {
			return err
		}
		err = s.inTransaction(ctx, func(tx *sql.Tx) error {
			if _, err := tx.ExecContext(ctx, string(text)); err != nil {
				return err
			}
			_, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version=%d", i+1))
			return err
		})
		if err != nil {
			return fmt.Errorf("%s: %w", names[i], err)
		}
	}
	return nil
}

// mostAttempts is how often the server may break off while it computes one revision.
// A power cut may do it once; what does it twice would do it at every start.
const mostAttempts = 2

// recover takes up what a killed process left: computing starts again, and
// half-received files and half-made results go.
func (s *Store) recover(ctx context.Context) error {
	_, err := s.db.ExecContext(ctx, `UPDATE revision SET state=iif(attempts<?1,'waiting','failed'),
		message=iif(attempts<?1,'','the server broke off '||attempts||' times while this was computed; it is not tried again by itself: make a new revision to try once more')
		WHERE state='computing'`, mostAttempts)
	if err != nil {
		return err
	}
	if err := s.dropClaimed(ctx); err != nil {
		return err
	}
	for _, left := range []struct{ folder, ending string }{{"incoming", ""}, {"results", ".part"}} {
		folder := filepath.Join(s.dir, left.folder)
		entries, err := os.ReadDir(folder) // not a pattern: the folder's own name may hold its signs
		if err != nil {
			return err
		}
		for _, e := range entries {
			if !strings.HasSuffix(e.Name(), left.ending) {
				continue
			}
			if err := os.RemoveAll(filepath.Join(folder, e.Name())); err != nil {
				return err
			}
		}
	}
	return nil
}

// change runs f in a transaction that is committed when f returns nil. What the
// context holds of WithRight is asked first, within the same transaction.
func (s *Store) change(ctx context.Context, f func(tx *sql.Tx) error) error {
	return s.inTransaction(ctx, func(tx *sql.Tx) error {
		if ask, ok := ctx.Value(rightKey{}).(func(*Present) error); ok {
			if err := ask(&Present{ctx, s, tx}); err != nil {
				return err
			}
		}
		return f(tx)
	})
}

// inTransaction runs f in a transaction that is committed when f returns nil.
// Transactions are immediate: nobody else writes meanwhile.
func (s *Store) inTransaction(ctx context.Context, f func(tx *sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := f(tx); err != nil {
		return errors.Join(err, ignoreDone(tx.Rollback()))
	}
	return tx.Commit()
}

func ignoreDone(err error) error {
	if errors.Is(err, sql.ErrTxDone) {
		return nil
	}
	return err
}

// Full reports whether an error comes of a full disk. SQLite tells one where it
// cannot grow its log, but not where it cannot grow the log's index.
func (s *Store) Full(err error) bool {
	if errors.Is(err, sqlite3.FULL) || errors.Is(err, syscall.ENOSPC) {
		return true
	}
	free, e := s.Free()
	return e == nil && free < 1<<20 && errors.Is(err, sqlite3.IOERR)
}

// stamp is the present time as the database keeps times.
func (s *Store) stamp() string { return s.now().UTC().Format(time.RFC3339Nano) }

// found turns the driver's word for no row into ours.
func found(err error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return ErrNotFound
	}
	return err
}
