package store_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"tracemap/internal/store"
)

const secret = "seven wet boots 4"

func TestPasswordsAndNames(t *testing.T) {
	s := open(t, t.TempDir())
	for _, c := range []struct{ name, password, want string }{
		{"Ann", "short", "shorter than 12"},
		{"Ann", strings.Repeat("ab", 10), "different characters"},
		{"Marlene", "xx marlene xx 99", "name in it"},
		{"Ann", strings.Repeat("abcdef", 300), "longer than"},
		{"A", secret, "2 to 60"},
		{"two  spaces", secret, "2 to 60"},
		{"right\u202eleft", secret, "2 to 60"},
		{"<b>", secret, "2 to 60"},
	} {
		err := s.NewAccount(t.Context(), "cli", c.name, store.Locator, c.password)
		if !errors.Is(err, store.ErrRefused) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q with %.20q: %v, want a refusal that says %q", c.name, c.password, err, c.want)
		}
	}
	if err := s.NewAccount(t.Context(), "cli", "Ann", "boss", secret); !errors.Is(err, store.ErrRefused) {
		t.Errorf("unknown role: %v", err)
	}
	if err := s.NewAccount(t.Context(), "cli", "Ann Ö.", store.Administrator, secret); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"ann ö.", "ANN Ö.", store.LocalUser} {
		if err := s.NewAccount(t.Context(), "cli", name, store.Locator, secret); !errors.Is(err, store.ErrExists) {
			t.Errorf("%q: %v, want ErrExists", name, err)
		}
	}
}

func TestEntry(t *testing.T) {
	s := open(t, t.TempDir())
	for _, a := range []struct {
		name string
		role store.Role
	}{{"Ann", store.Administrator}, {"Bo", store.Locator}} {
		if err := s.NewAccount(t.Context(), "cli", a.name, a.role, secret); err != nil {
			t.Fatal(err)
		}
	}
	if a, err := s.CheckEntry(t.Context(), "bO", secret); err != nil || a.Name != "Bo" || a.Role != store.Locator {
		t.Errorf("right password: %+v, %v", a, err)
	}
	for _, c := range [][2]string{{"Bo", secret + "x"}, {"Bo", ""}, {"Nobody", secret}, {"Bo", strings.Repeat("x", 1<<20)}} {
		if _, err := s.CheckEntry(t.Context(), c[0], c[1]); !errors.Is(err, store.ErrNoEntry) {
			t.Errorf("%s: %v, want ErrNoEntry", c[0], err)
		}
	}
	yes, locator := true, store.Locator
	for _, c := range []store.AccountChange{{Closed: &yes}, {Role: &locator}} {
		if err := s.ChangeAccount(t.Context(), "Ann", "Ann", c, ""); !errors.Is(err, store.ErrLastAdministrator) {
			t.Errorf("%+v of the last administrator: %v", c, err)
		}
	}
	if err := s.ChangeAccount(t.Context(), "Ann", "Bo", store.AccountChange{Closed: &yes}, ""); err != nil {
		t.Fatal(err)
	}
	if _, err := s.CheckEntry(t.Context(), "Bo", secret); !errors.Is(err, store.ErrNoEntry) {
		t.Errorf("closed account: %v", err)
	}
	if err := s.ChangeAccount(t.Context(), "Ann", "Nobody", store.AccountChange{Closed: &yes}, ""); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("no account: %v", err)
	}
}

// A session ends by itself, by a new login, by a changed account; its secret is
// not in the folder.
func TestSessionsEnd(t *testing.T) {
	now := start
	s, err := store.Open(t.Context(), t.TempDir(), func() time.Time { return now })
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.NewAccount(t.Context(), "cli", "Ann", store.Administrator, secret); err != nil {
		t.Fatal(err)
	}
	begin := func(old string) string {
		t.Helper()
		x, err := s.NewSession(t.Context(), "Ann", "192.0.2.7", old)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	lives := func(x string) bool { _, err := s.Session(t.Context(), x); return err == nil }
	a := begin("")
	b := begin(a)
	if lives(a) || !lives(b) || lives("") || lives(store.SessionHash(b)) {
		t.Errorf("a %v b %v none %v hash %v; want only b", lives(a), lives(b), lives(""), lives(store.SessionHash(b)))
	}
	if known, err := s.KnownPlace(t.Context(), "ann", "192.0.2.7"); err != nil || !known {
		t.Errorf("known place: %v, %v", known, err)
	}
	for range 13 {
		now = now.Add(11 * time.Hour)
		lives(b)
	}
	if !lives(b) {
		t.Error("a session in use ended within six days")
	}
	now = now.Add(30 * time.Hour)
	if lives(b) {
		t.Error("a session of more than a week goes on")
	}
	c := begin("")
	now = now.Add(12*time.Hour + time.Minute)
	if lives(c) {
		t.Error("an idle session goes on")
	}
	d, e := begin(""), begin("")
	word := "another word 55"
	if err := s.ChangeAccount(t.Context(), "Ann", "Ann", store.AccountChange{Password: &word}, store.SessionHash(d)); err != nil {
		t.Fatal(err)
	}
	if !lives(d) || lives(e) {
		t.Error("a changed password ends the other sessions, and only them")
	}
	if err := s.EndSession(t.Context(), "Ann", d); err != nil || lives(d) {
		t.Errorf("after logging out: %v", err)
	}
	for range 25 {
		begin("")
	}
	if n := s.Count("session"); n != 20 {
		t.Errorf("%d sessions of one account are kept, want 20", n)
	}
}

func TestAuditOnlyGrows(t *testing.T) {
	s := open(t, t.TempDir())
	if err := s.Note(store.From(t.Context(), "192.0.2.7"), "ann", "looked", "day 1", ""); err != nil {
		t.Fatal(err)
	}
	for _, q := range []string{"UPDATE audit SET who='bob'", "DELETE FROM audit"} {
		if err := s.Exec(q); err == nil || !strings.Contains(err.Error(), "only grows") {
			t.Errorf("%s: %v", q, err)
		}
	}
	list, err := s.Audit(t.Context(), 100, 10)
	if err != nil || len(list) != 1 || list[0].Who != "ann" || list[0].From != "192.0.2.7" || !list[0].At.Equal(start) {
		t.Errorf("audit = %+v, %v", list, err)
	}
	if list, err = s.Audit(t.Context(), list[0].ID, 10); err != nil || len(list) != 0 {
		t.Errorf("before the first: %+v, %v", list, err)
	}
}

// A folder from before there were accounts is brought to the present form, with
// all that was in it.
func TestOldFolderIsBroughtForward(t *testing.T) {
	dir := t.TempDir()
	if err := store.OldFolder(dir); err != nil {
		t.Fatal(err)
	}
	s := open(t, dir)
	days, err := s.Days(t.Context())
	if err != nil || len(days) != 1 || days[0].Title != "Mill Lane" || days[0].Latest.State != store.Done || len(days[0].Files) != 1 {
		t.Errorf("days = %+v, %v", days, err)
	}
	list, err := s.Audit(t.Context(), 100, 10)
	if err != nil || len(list) != 1 || list[0].Did != "day made" || list[0].From != "" {
		t.Errorf("audit = %+v, %v", list, err)
	}
	if err := s.NewAccount(t.Context(), "cli", "Ann", store.Administrator, secret); err != nil {
		t.Error(err)
	}
}
