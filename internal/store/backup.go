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
	"strings"
	"time"
)

// OpenBeside opens a data folder that another process may be serving: for what
// is safe beside it, which is all that happens within the database.
func OpenBeside(ctx context.Context, dir string, now func() time.Time) (*Store, error) {
	if _, err := os.Stat(filepath.Join(dir, "tracemap.sqlite")); err != nil {
		return nil, fmt.Errorf("%s is no data folder of tracemap serve: tracemap.sqlite: %w", dir, fs.ErrNotExist)
	}
	s, err := Open(ctx, dir, now) // where nobody serves it, this brings it to the present form
	if err == nil {
		err = s.guard.Close() // and then it may be served
		s.guard = nil
		return s, err
	}
	if !errors.Is(err, ErrInUse) {
		return nil, err
	}
	s = &Store{dir: dir, now: now}
	if s.db, err = openDB(filepath.Join(dir, "tracemap.sqlite"), "wal"); err != nil {
		return nil, err
	}
	if err := s.sameForm(ctx); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// A BackupReport counts what a backup took.
type BackupReport struct {
	Originals, Results, Copied int   // logs and folders that are there; files copied now
	Bytes                      int64 // copied now
	// Damaged are originals whose bytes no longer have their hash, and files that
	// are gone: an older backup may still hold them.
	Damaged []string
	// Mended says what was changed because other users of the machine could read it.
	Mended []string
}

// Backup copies the folder to another, while it is being served: a data folder
// of its own, which tracemap serve takes as it is. Into an older backup only
// what is new is copied. The database is a snapshot, taken first; what it names
// is on the disk by then and does not change. It gets its name last: whatever
// ends the backup, the folder holds the older one or the newer one.
func (s *Store) Backup(ctx context.Context, to string) (rep BackupReport, err error) {
	if err := s.mayBackUp(to); err != nil {
		return rep, err
	}
	if rep.Mended, err = privateAll(to); err != nil {
		return rep, err
	}
	guard, err := hold(filepath.Join(to, "in-use.sqlite"))
	if err != nil {
		return rep, fmt.Errorf("%s: %w", to, err)
	}
	defer func() { err = errors.Join(err, guard.Close()) }()
	part := filepath.Join(to, "tracemap.part")
	if err := remove(part); err != nil {
		return rep, err
	}
	if _, err := privateFile(part); err != nil { // VACUUM INTO takes an empty file as it is
		return rep, err
	}
	if _, err := s.db.ExecContext(ctx, "VACUUM INTO ?", part); err != nil {
		return rep, fmt.Errorf("copying the database: %w", err)
	}
	snap, err := openDB(part, "delete")
	if err != nil {
		return rep, err
	}
	if _, err = snap.ExecContext(ctx, "DELETE FROM session"); err == nil {
		err = sameOffice(ctx, snap, to)
	}
	if err == nil {
		err = s.copyNamed(ctx, snap, to, &rep)
	}
	if err = errors.Join(err, snap.Close()); err != nil {
		return rep, err
	}
	final := filepath.Join(to, "tracemap.sqlite")
	for _, old := range []string{final + "-wal", final + "-shm"} { // of somebody who served the older backup
		if err := remove(old); err != nil {
			return rep, err
		}
	}
	return rep, errors.Join(syncFile(part), os.Rename(part, final), syncDir(to))
}

// mayBackUp refuses a folder that is not free for a backup.
func (s *Store) mayBackUp(to string) error {
	from, err := realPath(s.dir)
	if err != nil {
		return err
	}
	abs, err := realPath(to)
	if err != nil {
		return err
	}
	if rel, err := filepath.Rel(from, abs); err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
		return fmt.Errorf("%s lies in the data folder itself: a backup belongs on another disk", to)
	}
	entries, err := os.ReadDir(to)
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(entries) == 0 {
		return nil
	}
	if err != nil {
		return err
	}
	for _, e := range entries {
		if e.Name() == "tracemap.sqlite" || e.Name() == "tracemap.part" {
			return nil
		}
	}
	return fmt.Errorf("%s holds other files: give an empty folder or an older backup", to)
}

// realPath returns the absolute path of a file or folder without symbolic links;
// what is not there yet keeps its name below its nearest folder that is.
func realPath(name string) (string, error) {
	abs, err := filepath.Abs(name)
	if err != nil {
		return "", err
	}
	real, err := filepath.EvalSymlinks(abs)
	if !errors.Is(err, fs.ErrNotExist) || filepath.Dir(abs) == abs {
		return real, err
	}
	parent, err := realPath(filepath.Dir(abs))
	return filepath.Join(parent, filepath.Base(abs)), err
}

// copyNamed copies what a snapshot of the database names: originals and the
// results of computed revisions and of comparisons.
func (s *Store) copyNamed(ctx context.Context, snap *sql.DB, to string, rep *BackupReport) error {
	sums, err := texts(ctx, snap, "SELECT sha256 FROM original ORDER BY sha256")
	if err != nil {
		return err
	}
	for _, sum := range sums {
		if err := ctx.Err(); err != nil {
			return err
		}
		rep.Originals++
		dest := filepath.Join(to, "originals", sum[:2], sum)
		err := copyOnce(s.originalPath(sum), dest, sum, 0o400, rep)
		if errors.Is(err, errDamaged) || errors.Is(err, fs.ErrNotExist) {
			rep.Damaged = append(rep.Damaged, "originals/"+sum[:2]+"/"+sum)
			continue
		}
		if err != nil {
			return err
		}
	}
	done, err := texts(ctx, snap, "SELECT day||'-'||number FROM revision WHERE state='done' UNION ALL SELECT 'comparison-'||id FROM comparison")
	if err != nil {
		return err
	}
	for _, name := range done {
		if err := ctx.Err(); err != nil {
			return err
		}
		rep.Results++
		err := copyResult(filepath.Join(s.dir, "results", name), filepath.Join(to, "results", name), rep)
		if errors.Is(err, fs.ErrNotExist) {
			rep.Damaged = append(rep.Damaged, "results/"+name)
			continue
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// sameOffice refuses a backup of another folder: files of the two would have the
// same names. The audit log only grows, so the last entry of an older backup is
// in the snapshot too.
func sameOffice(ctx context.Context, snap *sql.DB, to string) error {
	name := filepath.Join(to, "tracemap.sqlite")
	if _, err := os.Stat(name); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	old, err := openDB(name, "delete")
	if err != nil {
		return err
	}
	defer old.Close()
	const entry = "SELECT id||' '||at||' '||who||' '||did||' '||about FROM audit "
	last, err := texts(ctx, old, entry+"ORDER BY id DESC LIMIT 1")
	if err != nil || len(last) == 0 {
		return err
	}
	id, _, _ := strings.Cut(last[0], " ")
	same, err := texts(ctx, snap, entry+"WHERE id="+id) // a number
	if err != nil {
		return err
	}
	if len(same) == 0 || same[0] != last[0] {
		return fmt.Errorf("%s holds the backup of another folder, or a newer one", to)
	}
	return nil
}

func texts(ctx context.Context, db *sql.DB, q string) ([]string, error) {
	rows, err := db.QueryContext(ctx, q)
	return collect(rows, err, func(row interface{ Scan(...any) error }) (text string, err error) {
		err = row.Scan(&text)
		return text, err
	})
}

// copyResult copies the folder of a revision, whole or not at all.
func copyResult(from, to string, rep *BackupReport) error {
	if _, err := os.Stat(to); err == nil {
		return nil
	}
	part := to + ".part"
	if err := os.RemoveAll(part); err != nil {
		return err
	}
	entries, err := os.ReadDir(from)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if err := copyOnce(filepath.Join(from, e.Name()), filepath.Join(part, e.Name()), "", 0o600, rep); err != nil {
			return err
		}
	}
	return errors.Join(os.Rename(part, to), syncDir(filepath.Dir(to)))
}

var errDamaged = errors.New("the bytes do not have their hash")

// copyOnce copies a file unless it is there, by another name first, and checks
// its hash where there is one.
func copyOnce(from, to, sum string, mode os.FileMode, rep *BackupReport) (err error) {
	if _, err := os.Stat(to); err == nil {
		return nil
	}
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return err
	}
	part := to + ".part"
	out, err := os.OpenFile(part, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	h := sha256.New()
	n, err := io.Copy(io.MultiWriter(out, h), in)
	if err = errors.Join(err, out.Sync(), out.Close()); err == nil && sum != "" && hex.EncodeToString(h.Sum(nil)) != sum {
		err = errDamaged
	}
	if err != nil {
		return errors.Join(err, os.Remove(part))
	}
	rep.Copied++
	rep.Bytes += n
	return errors.Join(os.Chmod(part, mode), os.Rename(part, to), syncDir(filepath.Dir(to)))
}
