package store

import (
	"context"
	"database/sql"
	"time"
)

// An Entry of the audit log says what somebody did. Entries are only added.
type Entry struct {
	ID     int64     `json:"id"`
	At     time.Time `json:"at"`
	Who    string    `json:"who"`
	Did    string    `json:"did"`
	About  string    `json:"about"`
	Detail string    `json:"detail,omitempty"`
	From   string    `json:"from,omitempty"` // network address; none on the command line
}

// fromKey is the context key of the address that a request comes from.
type fromKey struct{}

// From says from where what is done within the context is done.
func From(ctx context.Context, address string) context.Context {
	return context.WithValue(ctx, fromKey{}, address)
}

// note adds an entry within the change that it tells of.
func (s *Store) note(ctx context.Context, tx *sql.Tx, who, did, about, detail string) error {
	from, _ := ctx.Value(fromKey{}).(string)
	_, err := tx.ExecContext(ctx, "INSERT INTO audit (at,who,did,about,detail,address) VALUES (?,?,?,?,?,?)", s.stamp(), who, did, about, detail, from)
	return err
}

// Note adds an entry about something that changes nothing in the database.
func (s *Store) Note(ctx context.Context, who, did, about, detail string) error {
	return s.change(ctx, func(tx *sql.Tx) error { return s.note(ctx, tx, who, did, about, detail) })
}

// Audit lists the newest entries with a number below before, the newest first.
func (s *Store) Audit(ctx context.Context, before int64, most int) ([]Entry, error) {
	rows, err := s.db.QueryContext(ctx, "SELECT id,at,who,did,about,detail,address FROM audit WHERE id<? ORDER BY id DESC LIMIT ?", before, most)
	return collect(rows, err, func(row interface{ Scan(...any) error }) (Entry, error) {
		var e Entry
		var at string
		if err := row.Scan(&e.ID, &at, &e.Who, &e.Did, &e.About, &e.Detail, &e.From); err != nil {
			return e, err
		}
		var err error
		e.At, err = time.Parse(time.RFC3339Nano, at)
		return e, err
	})
}
