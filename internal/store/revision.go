package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// State is how far a revision has come.
type State string

// The states of a revision. Refused means that its input cannot give a map.
const (
	Waiting   State = "waiting"
	Computing State = "computing"
	Done      State = "done"
	Refused   State = "refused"
	Failed    State = "failed"
	Stopped   State = "stopped"
)

// A Revision is a day as computed with one set of settings.
type Revision struct {
	Day       int64           `json:"day"`
	Number    int             `json:"number"`
	Base      int             `json:"base"`
	Settings  json.RawMessage `json:"settings"`
	Why       string          `json:"why"`
	Created   time.Time       `json:"created"`
	CreatedBy string          `json:"created_by"`
	State     State           `json:"state"`
	Message   string          `json:"message,omitempty"`
	Outcome   json.RawMessage `json:"outcome,omitempty"`
	Locked    json.RawMessage `json:"locked,omitempty"` // the hand-over
}

const revisionColumns = "day,number,base,settings,why,created,created_by,state,message,outcome,locked"

func scanRevision(row interface{ Scan(...any) error }) (Revision, error) {
	var r Revision
	var settings, created, outcome, locked string
	if err := row.Scan(&r.Day, &r.Number, &r.Base, &settings, &r.Why, &created, &r.CreatedBy, &r.State, &r.Message, &outcome, &locked); err != nil {
		return r, found(err)
	}
	r.Settings, r.Outcome, r.Locked = raw(settings), raw(outcome), raw(locked)
	var err error
	r.Created, err = time.Parse(time.RFC3339Nano, created)
	return r, err
}

func raw(text string) json.RawMessage {
	if text == "" {
		return nil
	}
	return json.RawMessage(text)
}

func (s *Store) insertRevision(ctx context.Context, tx *sql.Tx, r Revision) error {
	_, err := tx.ExecContext(ctx, "INSERT INTO revision ("+revisionColumns+") VALUES (?,?,?,?,?,?,?,'waiting','','','')",
		r.Day, r.Number, r.Base, string(r.Settings), r.Why, s.stamp(), r.CreatedBy)
	return err
}

// NewRevision makes a revision from the newest one, base, and ErrStale when base
// is no longer that: two people who correct one day cannot undo each other's work
// unseen.
func (s *Store) NewRevision(ctx context.Context, day int64, base int, settings json.RawMessage, why, who string) (Revision, error) {
	next := base + 1
	err := s.change(ctx, func(tx *sql.Tx) error {
		var newest int
		err := tx.QueryRowContext(ctx, "SELECT coalesce(max(number),0) FROM revision WHERE day=?", day).Scan(&newest)
		switch {
		case err != nil:
			return err
		case newest == 0:
			return ErrNotFound
		case newest != base:
			return ErrStale
		}
		if err := s.insertRevision(ctx, tx, Revision{Day: day, Number: next, Base: base, Settings: settings, Why: why, CreatedBy: who}); err != nil {
			return err
		}
		return s.note(ctx, tx, who, "revision made", revisionName(day, next), why)
	})
	if err != nil {
		return Revision{}, err
	}
	return s.Revision(ctx, day, next)
}

func revisionName(day int64, number int) string {
	return fmt.Sprintf("day %d revision %d", day, number)
}

// Revision gives one revision of a day.
func (s *Store) Revision(ctx context.Context, day int64, number int) (Revision, error) {
	return scanRevision(s.db.QueryRowContext(ctx, "SELECT "+revisionColumns+" FROM revision WHERE day=? AND number=?", day, number))
}

// Revisions lists the revisions of a day, the newest first.
func (s *Store) Revisions(ctx context.Context, day int64) ([]Revision, error) {
	rows, err := s.db.QueryContext(ctx, "SELECT "+revisionColumns+" FROM revision WHERE day=? ORDER BY number DESC", day)
	return collect(rows, err, scanRevision)
}

// Take gives the revision that has waited longest and marks it as being
// computed; ErrNotFound when none waits.
func (s *Store) Take(ctx context.Context) (Revision, error) {
	return scanRevision(s.db.QueryRowContext(ctx, `UPDATE revision SET state='computing', attempts=attempts+1 WHERE rowid=
		(SELECT rowid FROM revision WHERE state='waiting' ORDER BY created, rowid LIMIT 1) RETURNING `+revisionColumns))
}

// GiveBack lets a revision wait again whose computing the end of the server cut short:
// that was no fault of the revision.
func (s *Store) GiveBack(ctx context.Context, r Revision) error {
	_, err := s.db.ExecContext(ctx, "UPDATE revision SET state='waiting', attempts=max(attempts-1,0) WHERE day=? AND number=? AND state='computing'", r.Day, r.Number)
	return err
}

// Unfinished lists revisions that wait or are being computed, the oldest first.
func (s *Store) Unfinished(ctx context.Context) ([]Revision, error) {
	rows, err := s.db.QueryContext(ctx, "SELECT "+revisionColumns+" FROM revision WHERE state IN ('waiting','computing') ORDER BY created, rowid")
	return collect(rows, err, scanRevision)
}

// Finish writes how computing a revision ended, and what its files take.
func (s *Store) Finish(ctx context.Context, r Revision, state State, message string, outcome json.RawMessage) error {
	bytes, err := FolderBytes(s.resultName(r.Day, r.Number))
	if err != nil {
		return err
	}
	return one(s.db.ExecContext(ctx, "UPDATE revision SET state=?, message=?, outcome=?, bytes=? WHERE day=? AND number=? AND state='computing'",
		string(state), message, string(outcome), bytes, r.Day, r.Number))
}

// Stop marks a waiting revision as stopped; ErrNotFound when it does not wait.
func (s *Store) Stop(ctx context.Context, day int64, number int, who string) error {
	return s.change(ctx, func(tx *sql.Tx) error {
		err := one(tx.ExecContext(ctx, "UPDATE revision SET state='stopped', message='stopped by '||? WHERE day=? AND number=? AND state='waiting'", who, day, number))
		if err != nil {
			return err
		}
		return s.note(ctx, tx, who, "stopped", revisionName(day, number), "")
	})
}

// Lock marks a computed revision as handed over. Its row does not change again.
func (s *Store) Lock(ctx context.Context, day int64, number int, who string, handover json.RawMessage) error {
	return s.change(ctx, func(tx *sql.Tx) error {
		err := one(tx.ExecContext(ctx, `UPDATE revision SET locked=?1 WHERE day=?2 AND number=?3 AND state='done' AND locked=''
			AND number=(SELECT max(number) FROM revision WHERE day=?2)`, string(handover), day, number))
		if errors.Is(err, ErrNotFound) {
			return s.whyNotLocked(ctx, tx, day, number)
		}
		if err != nil {
			return err
		}
		return s.note(ctx, tx, who, "handed over", revisionName(day, number), "")
	})
}

func (s *Store) whyNotLocked(ctx context.Context, tx *sql.Tx, day int64, number int) error {
	var locked string
	var newest int
	err := tx.QueryRowContext(ctx, "SELECT locked, (SELECT max(number) FROM revision WHERE day=?1) FROM revision WHERE day=?1 AND number=?2", day, number).Scan(&locked, &newest)
	switch {
	case err != nil:
		return found(err)
	case locked != "":
		return ErrLocked
	case newest != number:
		return ErrStale
	}
	return fmt.Errorf("%s is not computed yet", revisionName(day, number))
}

// one turns a statement that met no row into ErrNotFound.
func one(res sql.Result, err error) error {
	if err != nil {
		return err
	}
	if n, err := res.RowsAffected(); err != nil || n == 0 {
		return errors.Join(err, ErrNotFound)
	}
	return nil
}
