package store

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Role says what sort of work an account is for. What a role may do is the
// page's business.
type Role string

// The roles of accounts.
const (
	Locator       Role = "locator"
	Technician    Role = "technician"
	Engineer      Role = "engineer"
	Administrator Role = "administrator"
)

// LocalUser is how the one user of a page without accounts is called; no account
// takes that name.
const LocalUser = "local user"

// Roles lists the roles.
var Roles = []Role{Locator, Technician, Engineer, Administrator}

// An Account is a person who may log in.
type Account struct {
	Name    string    `json:"name"`
	Role    Role      `json:"role"`
	Created time.Time `json:"created"`
	Closed  bool      `json:"closed"`
}

var (
	// ErrNoEntry says that name and password do not belong together, or that the
	// account is closed: one answer for all, so that names cannot be tried out.
	ErrNoEntry = errors.New("name or password is wrong")
	// ErrExists says that the name is taken.
	ErrExists = errors.New("there is such an account already")
	// ErrLastAdministrator says that nobody would be left who can make accounts.
	ErrLastAdministrator = errors.New("that is the last administrator")
)

// CheckName refuses a name that could not be told from another on a page.
func CheckName(name string) error {
	odd := func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune(" .-_'’@", r)
	}
	n := utf8.RuneCountInString(name)
	if n < 2 || n > 60 || strings.IndexFunc(name, odd) >= 0 || name != strings.Join(strings.Fields(name), " ") {
		return fmt.Errorf("%w: the name %q; a name has 2 to 60 letters, digits, single spaces and . - _ ' @", ErrRefused, name)
	}
	return nil
}

func badRole(role Role) error { return fmt.Errorf("%w: there is no role %q", ErrRefused, role) }

func accountKey(name string) string { return strings.ToLower(name) }

// NewAccount makes an account.
func (s *Store) NewAccount(ctx context.Context, who, name string, role Role, password string) error {
	if err := CheckName(name); err != nil {
		return err
	}
	if err := CheckPassword(name, password); err != nil {
		return err
	}
	if accountKey(name) == LocalUser {
		return ErrExists
	}
	if !slices.Contains(Roles, role) {
		return badRole(role)
	}
	kept := hashPassword(password)
	return s.change(ctx, func(tx *sql.Tx) error {
		err := one(tx.ExecContext(ctx, "INSERT INTO account (key,name,role,password,created) VALUES (?,?,?,?,?) ON CONFLICT DO NOTHING", accountKey(name), name, string(role), kept, s.stamp()))
		if errors.Is(err, ErrNotFound) {
			return ErrExists
		}
		if err != nil {
			return err
		}
		return s.note(ctx, tx, who, "account made", name, string(role))
	})
}

// An AccountChange says what becomes of an account; what is nil stays.
type AccountChange struct {
	Role     *Role
	Password *string
	Closed   *bool
}

// ChangeAccount changes an account and ends its sessions, but the one with the
// hash keep. One account that can make others always stays open.
func (s *Store) ChangeAccount(ctx context.Context, who, name string, c AccountChange, keep string) error {
	key := accountKey(name)
	var kept string
	if c.Password != nil {
		if err := CheckPassword(name, *c.Password); err != nil {
			return err
		}
		kept = hashPassword(*c.Password)
	}
	if c.Role != nil && !slices.Contains(Roles, *c.Role) {
		return badRole(*c.Role)
	}
	return s.change(ctx, func(tx *sql.Tx) error {
		set := func(column string, v any) error {
			return one(tx.ExecContext(ctx, "UPDATE account SET "+column+"=? WHERE key=?", v, key)) // column is ours
		}
		var told []string
		if c.Role != nil {
			if err := set("role", string(*c.Role)); err != nil {
				return err
			}
			told = append(told, "role "+string(*c.Role))
		}
		if c.Password != nil {
			if err := set("password", kept); err != nil {
				return err
			}
			told = append(told, "new password")
		}
		if c.Closed != nil {
			if err := set("closed", *c.Closed); err != nil {
				return err
			}
			told = append(told, map[bool]string{true: "closed", false: "opened"}[*c.Closed])
		}
		var left int
		if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM account WHERE role='administrator' AND closed=0").Scan(&left); err != nil {
			return err
		}
		if left == 0 {
			return ErrLastAdministrator
		}
		if _, err := tx.ExecContext(ctx, "DELETE FROM session WHERE account=? AND hash<>?", key, keep); err != nil {
			return err
		}
		return s.note(ctx, tx, who, "account changed", name, strings.Join(told, ", "))
	})
}

const accountColumns = "name,role,created,closed"

func scanAccount(row interface{ Scan(...any) error }) (Account, error) {
	var a Account
	var created string
	if err := row.Scan(&a.Name, &a.Role, &created, &a.Closed); err != nil {
		return a, found(err)
	}
	var err error
	a.Created, err = time.Parse(time.RFC3339Nano, created)
	return a, err
}

// Accounts lists the accounts by name.
func (s *Store) Accounts(ctx context.Context) ([]Account, error) {
	rows, err := s.db.QueryContext(ctx, "SELECT "+accountColumns+" FROM account ORDER BY key")
	return collect(rows, err, scanAccount)
}

// Account gives an account by its name.
func (s *Store) Account(ctx context.Context, name string) (Account, error) {
	return scanAccount(s.db.QueryRowContext(ctx, "SELECT "+accountColumns+" FROM account WHERE key=?", accountKey(name)))
}

// CheckEntry gives the account that a name and a password open, ErrNoEntry where
// they open none. It takes as long either way.
func (s *Store) CheckEntry(ctx context.Context, name, password string) (Account, error) {
	var kept string
	a, err := scanAccount(withMore{s.db.QueryRowContext(ctx, "SELECT "+accountColumns+",password FROM account WHERE key=?", accountKey(name)), &kept})
	if errors.Is(err, ErrNotFound) {
		samePassword(nobody, password)
		return Account{}, ErrNoEntry
	}
	if err != nil {
		return a, err
	}
	if !samePassword(kept, password) || a.Closed {
		return Account{}, ErrNoEntry
	}
	return a, nil
}

// How long a session lasts: at most a week, and no longer than a working day
// without a request.
const (
	longestSession = 7 * 24 * time.Hour
	longestIdle    = 12 * time.Hour
	mostSessions   = 20 // of an account; the oldest gives way
	seenEvery      = 5 * time.Minute
)

// SessionHash is the name under which a session's secret is known.
func SessionHash(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// NewSession begins a session and gives its secret. The session old, when there
// is one, ends: a secret from before the login is worth nothing after it.
func (s *Store) NewSession(ctx context.Context, name, address, old string) (secret string, err error) {
	secret = rand.Text() + rand.Text() // 260 bits
	key := accountKey(name)
	err = s.change(ctx, func(tx *sql.Tx) error {
		now := s.now().UTC()
		for _, q := range []struct {
			text string
			args []any
		}{
			{"DELETE FROM session WHERE hash=? OR created<? OR seen<?", []any{SessionHash(old), sortable(now.Add(-longestSession)), sortable(now.Add(-longestIdle))}},
			{"DELETE FROM session WHERE hash IN (SELECT hash FROM session WHERE account=? ORDER BY seen DESC LIMIT -1 OFFSET ?)", []any{key, mostSessions - 1}},
			{"INSERT INTO session VALUES (?,?,?,?,?)", []any{SessionHash(secret), key, sortable(now), sortable(now), address}},
		} {
			if _, err := tx.ExecContext(ctx, q.text, q.args...); err != nil {
				return err
			}
		}
		return s.note(ctx, tx, name, "logged in", "", "")
	})
	return secret, err
}

// sortable writes a time so that texts sort as times do.
func sortable(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }

// Session gives the account whose session has the secret, ErrNotFound when it
// has none or has ended.
func (s *Store) Session(ctx context.Context, secret string) (Account, error) {
	a, seen, err := s.session(ctx, s.db, secret)
	if err != nil {
		return a, err
	}
	if now := s.now().UTC(); seen < sortable(now.Add(-seenEvery)) {
		_, err = s.db.ExecContext(ctx, "UPDATE session SET seen=? WHERE hash=?", sortable(now), SessionHash(secret))
	}
	return a, err
}

// session returns a session's account and when it was last seen.
func (s *Store) session(ctx context.Context, q querier, secret string) (a Account, seen string, err error) {
	now := s.now().UTC()
	a, err = scanAccount(withMore{q.QueryRowContext(ctx, `SELECT a.name,a.role,a.created,a.closed,s.seen FROM session s JOIN account a ON a.key=s.account
		WHERE s.hash=? AND a.closed=0 AND s.created>=? AND s.seen>=?`, SessionHash(secret), sortable(now.Add(-longestSession)), sortable(now.Add(-longestIdle))), &seen})
	return a, seen, err
}

// EndSession ends a session.
func (s *Store) EndSession(ctx context.Context, who, secret string) error {
	return s.change(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "DELETE FROM session WHERE hash=?", SessionHash(secret)); err != nil {
			return err
		}
		return s.note(ctx, tx, who, "logged out", "", "")
	})
}

// KnownPlace reports whether an account has a session from an address.
func (s *Store) KnownPlace(ctx context.Context, name, address string) (bool, error) {
	var n int
	err := s.db.QueryRowContext(ctx, "SELECT count(*) FROM session WHERE account=? AND address=?", accountKey(name), address).Scan(&n)
	return n > 0, err
}
