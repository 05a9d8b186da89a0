package web

import (
	"errors"
	"fmt"
	"net/http"
	"strconv"

	"tracemap/internal/store"
)

func (s *Server) getAccounts(r *http.Request, w http.ResponseWriter) error {
	list, err := s.store.Accounts(r.Context())
	if err != nil {
		return err
	}
	return answer(w, http.StatusOK, map[string]any{"accounts": list})
}

// newAccount is the body of a request for an account.
type newAccount struct {
	Name     string     `json:"name"`
	Role     store.Role `json:"role"`
	Password string     `json:"password"`
}

func (s *Server) postAccount(r *http.Request, w http.ResponseWriter) error {
	if !s.opt.Accounts {
		return &problem{http.StatusConflict, "this page has no accounts", "Make the first one on the command line: tracemap account add."}
	}
	var n newAccount
	if err := read(r, &n); err != nil {
		return err
	}
	if err := s.store.NewAccount(r.Context(), who(r), n.Name, n.Role, n.Password); err != nil {
		return accountProblem(err)
	}
	a, err := s.store.Account(r.Context(), n.Name)
	if err != nil {
		return err
	}
	return answer(w, http.StatusCreated, a)
}

// accountChange is the body of a request to change an account.
type accountChange struct {
	Role     *store.Role `json:"role,omitempty"`
	Password *string     `json:"password,omitempty"`
	Closed   *bool       `json:"closed,omitempty"`
}

func (s *Server) patchAccount(r *http.Request, w http.ResponseWriter) error {
	var c accountChange
	if err := read(r, &c); err != nil {
		return err
	}
	name := r.PathValue("name")
	if err := s.store.ChangeAccount(r.Context(), who(r), name, store.AccountChange(c), store.SessionHash(userOf(r).secret)); err != nil {
		return accountProblem(err)
	}
	a, err := s.store.Account(r.Context(), name)
	if err != nil {
		return err
	}
	return answer(w, http.StatusOK, a)
}

// newPassword is the body of a request for another password of one's own.
type newPassword struct {
	Old string `json:"old"`
	New string `json:"new"`
}

// putPassword changes the password of who asks. The old one is asked for, so
// that an unlocked machine is not enough.
func (s *Server) putPassword(r *http.Request, w http.ResponseWriter) error {
	var n newPassword
	if err := read(r, &n); err != nil {
		return err
	}
	p := userOf(r)
	if p.secret == "" {
		return &problem{http.StatusConflict, "this page has no accounts", ""}
	}
	if _, err := s.enter(r, entry{p.name, n.Old}); err != nil {
		return err
	}
	if err := s.store.ChangeAccount(r.Context(), p.name, p.name, store.AccountChange{Password: &n.New}, store.SessionHash(p.secret)); err != nil {
		return accountProblem(err)
	}
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// accountProblem tells why an account cannot become what was asked.
func accountProblem(err error) error {
	switch {
	case errors.Is(err, store.ErrNotFound):
		return err
	case errors.Is(err, store.ErrExists):
		return &problem{http.StatusConflict, "that name is taken", "Choose another; names stay with what was done under them."}
	case errors.Is(err, store.ErrLastAdministrator):
		return &problem{http.StatusConflict, "that is the last administrator", "Make another one first."}
	case errors.Is(err, store.ErrRefused):
		return &problem{http.StatusUnprocessableEntity, err.Error(), ""}
	}
	return err
}

// auditPage is how many entries an answer holds.
const auditPage = 500

// getAudit lists what was done, the newest first: all of it, or what came before
// an entry.
func (s *Server) getAudit(r *http.Request, w http.ResponseWriter) error {
	before := int64(1) << 62
	if text := r.URL.Query().Get("before"); text != "" {
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n < 1 {
			return &problem{http.StatusUnprocessableEntity, fmt.Sprintf("before=%q is no entry's number", plainName(text)), ""}
		}
		before = n
	}
	list, err := s.store.Audit(r.Context(), before, auditPage)
	if err != nil {
		return err
	}
	return answer(w, http.StatusOK, map[string]any{"entries": list})
}
