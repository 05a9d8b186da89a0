package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
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
	o = Original{SHA256: sum, Size: size, Name: name, Kind: seen.Kind, What: seen.What, From: seen.From, To: seen.To, Rows: seen.Rows, Added: s.now().UTC(), AddedBy: who}
	if err := s.keep(ctx, temp, o); errors.Is(err, errKnown) { // somebody sent the same at the same time
		o, err = s.Original(ctx, sum)
		return o, true, err
	} else if err != nil {
		return o, false, fmt.Errorf("keeping %s: %w", name, err)
	}
	return o, false, nil
}

// errKnown says that an original is there already.
var errKnown = errors.New("the same bytes are there already")

// keep brings a received file to its place and writes its row and the audit
// log's entry, all or nothing. A claim beside the received files says which name
// the file is about to get: what is killed between the file and its row leaves the
// claim, by which dropClaimed finds the file that no row names.
func (s *Store) keep(ctx context.Context, temp *os.File, o Original) error {
	if err := errors.Join(temp.Sync(), temp.Close()); err != nil {
		return err
	}
	claim, err := os.CreateTemp(filepath.Join(s.dir, "incoming"), o.SHA256+claimMark+"*")
	if err != nil {
		return err
	}
	if err := errors.Join(claim.Close(), syncDir(filepath.Dir(claim.Name()))); err != nil {
		return err
	}
	err = s.change(ctx, func(tx *sql.Tx) error {
		err := one(tx.ExecContext(ctx, "INSERT INTO original VALUES (?,?,?,?,?,?,?,?,?,?) ON CONFLICT DO NOTHING",
			o.SHA256, o.Size, o.Name, o.Kind, o.What, o.From, o.To, o.Rows, o.Added.Format(time.RFC3339Nano), o.AddedBy))
		if errors.Is(err, ErrNotFound) {
			return errKnown
		}
		if err != nil {
			return err
		}
		if err := s.place(temp.Name(), o.SHA256); err != nil {
			return err
		}
		return s.note(ctx, tx, o.AddedBy, "uploaded", o.SHA256, o.Name)
	})
	if err != nil && !errors.Is(err, errKnown) {
		// The claim stays where the file could not be taken back: the next start does it.
		return errors.Join(err, s.dropClaim(context.WithoutCancel(ctx), filepath.Base(claim.Name())))
	}
	return errors.Join(err, remove(claim.Name()))
}

// place gives received bytes their name: the name first, then the folder that
// holds it.
func (s *Store) place(from, sum string) error {
	path := s.originalPath(sum)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	if err := errors.Join(os.Rename(from, path), os.Chmod(path, 0o400)); err != nil {
		return err
	}
	return errors.Join(syncDir(filepath.Dir(path)), syncDir(filepath.Dir(filepath.Dir(path))))
}

// claimMark stands between the hash and the rest of a claim's name.
const claimMark = ".claim-"

// dropClaimed removes what uploads that were killed left: see keep.
func (s *Store) dropClaimed(ctx context.Context) error {
	entries, err := os.ReadDir(filepath.Join(s.dir, "incoming"))
	if err != nil {
		return err
	}
	for _, e := range entries {
		if sum, _, ok := strings.Cut(e.Name(), claimMark); ok && hashForm.MatchString(sum) {
			if err := s.dropClaim(ctx, e.Name()); err != nil {
				return err
			}
		}
	}
	return nil
}

// dropClaim removes the original that a claim names, unless a row names it too,
// and then the claim. It holds the database's lock meanwhile, so that nobody is
// about to write that row.
func (s *Store) dropClaim(ctx context.Context, claim string) error {
	sum, _, _ := strings.Cut(claim, claimMark)
	return s.inTransaction(ctx, func(tx *sql.Tx) error {
		var named bool
		if err := tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM original WHERE sha256=?)", sum).Scan(&named); err != nil {
			return err
		}
		if !named {
			if err := remove(s.originalPath(sum)); err != nil {
				return err
			}
		}
		return remove(filepath.Join(s.dir, "incoming", claim))
	})
}

// remove removes a file that may be gone already.
func remove(name string) error {
	if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
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
