-- A comparison holds a revision's lines against an owner's record. Its row is
-- written once, when its files are whole.
CREATE TABLE comparison (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  day        INTEGER NOT NULL,
  revision   INTEGER NOT NULL,
  record     TEXT NOT NULL REFERENCES original(sha256),
  name       TEXT NOT NULL,          -- of the record; only ever shown
  settings   TEXT NOT NULL,          -- JSON
  created    TEXT NOT NULL,
  created_by TEXT NOT NULL,
  outcome    TEXT NOT NULL,          -- JSON: what lists show of it
  FOREIGN KEY (day, revision) REFERENCES revision(day, number)
) STRICT;
CREATE INDEX comparison_day ON comparison(day);
