package store

import (
	"fmt"
	"path/filepath"
	"strings"
)

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

// OldFolder makes a data folder as the first form had it, with a day in it.
func OldFolder(dir string) error {
	db, err := openDB(filepath.Join(dir, "tracemap.sqlite"), "wal")
	if err != nil {
		return err
	}
	defer db.Close()
	form, err := migrations.ReadFile("migrations/001.sql")
	if err != nil {
		return err
	}
	for _, q := range []string{
		string(form),
		"INSERT INTO original VALUES ('" + strings.Repeat("a", 64) + "',3,'a.nmea','nmea','','','',1,'2031-05-06T07:00:00Z','ann')",
		"INSERT INTO day (title,created,created_by) VALUES ('Mill Lane','2031-05-06T07:00:00Z','ann')",
		"INSERT INTO day_file VALUES (1,'" + strings.Repeat("a", 64) + "','a.nmea')",
		"INSERT INTO revision VALUES (1,1,0,'{}','first computed','2031-05-06T07:00:00Z','ann','done','','{}','')",
		"INSERT INTO audit (at,who,did,about,detail) VALUES ('2031-05-06T07:00:00Z','ann','day made','day 1','Mill Lane')",
		"PRAGMA user_version=1",
	} {
		if _, err := db.Exec(q); err != nil {
			return err
		}
	}
	return nil
}

// Hashed is how many passwords this process has worked on.
func Hashed() int64 { return hashed.Load() }
