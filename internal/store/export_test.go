package store

import "fmt"

// SetForm pretends that another program wrote the folder.
func (s *Store) SetForm(n int) error { return s.Exec(fmt.Sprintf("PRAGMA user_version=%d", n)) }

// Exec reaches past what the package offers.
func (s *Store) Exec(q string) error {
	_, err := s.db.Exec(q)
	return err
}

// Count is the number of a table's rows, -1 when they cannot be counted.
func (s *Store) Count(table string) (n int) {
	if s.db.QueryRow("SELECT count(*) FROM "+table).Scan(&n) != nil {
		return -1
	}
	return n
}
