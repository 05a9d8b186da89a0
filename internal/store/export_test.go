package store

import "fmt"

// SetForm pretends that another program wrote the folder.
func (s *Store) SetForm(n int) error {
	_, err := s.db.Exec(fmt.Sprintf("PRAGMA user_version=%d", n))
	return err
}
