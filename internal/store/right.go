package store

import (
	"context"
	"database/sql"
)

// rightKey is the context key of what WithRight keeps.
type rightKey struct{}

// WithRight returns a context in which each change of the store first asks
// whether it is still allowed, within the change's own transaction: a request's
// body may take hours to arrive, and its sender's account may have been closed,
// or the day handed over, in the meantime. An error of ask ends the change.
func WithRight(ctx context.Context, ask func(*Present) error) context.Context {
	return context.WithValue(ctx, rightKey{}, ask)
}

// Present is the state of the store within a transaction that is about to change
// it; nobody else can change it before that transaction ends.
type Present struct {
	ctx context.Context
	s   *Store
	tx  *sql.Tx
}

// Session returns the account whose session has the secret, ErrNotFound when it
// has none or has ended.
func (p *Present) Session(secret string) (Account, error) {
	a, _, err := p.s.session(p.ctx, p.tx, secret)
	return a, err
}

// Day returns a day with its files and its newest revision.
func (p *Present) Day(id int64) (Day, error) { return p.s.day(p.ctx, p.tx, id) }

// querier is what a database and a transaction have in common.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}
