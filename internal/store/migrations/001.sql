-- An original is a log as it came in, kept for ever under the hash of its bytes.
CREATE TABLE original (
  sha256   TEXT PRIMARY KEY,
  size     INTEGER NOT NULL,
  name     TEXT NOT NULL,            -- as first given; only ever shown
  kind     TEXT NOT NULL,            -- nmea, readings, unknown
  what     TEXT NOT NULL,            -- of an unknown one: what it seems to be
  span_from TEXT NOT NULL,           -- RFC 3339; '' when nothing in it has a time
  span_to   TEXT NOT NULL,
  rows     INTEGER NOT NULL,
  added    TEXT NOT NULL,
  added_by TEXT NOT NULL
) STRICT;

CREATE TABLE day (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  title      TEXT NOT NULL,
  created    TEXT NOT NULL,
  created_by TEXT NOT NULL
) STRICT;

CREATE TABLE day_file (
  day    INTEGER NOT NULL REFERENCES day(id),
  sha256 TEXT NOT NULL REFERENCES original(sha256),
  name   TEXT NOT NULL,
  PRIMARY KEY (day, sha256)
) STRICT;

-- A revision is a day as computed with one set of settings and corrections. Its
-- row is written once; only state, message and outcome follow.
CREATE TABLE revision (
  day        INTEGER NOT NULL REFERENCES day(id),
  number     INTEGER NOT NULL,
  base       INTEGER NOT NULL,       -- the revision that it was made from; 0 for the first
  settings   TEXT NOT NULL,          -- JSON
  why        TEXT NOT NULL,
  created    TEXT NOT NULL,
  created_by TEXT NOT NULL,
  state      TEXT NOT NULL CHECK (state IN ('waiting', 'computing', 'done', 'refused', 'failed', 'stopped')),
  message    TEXT NOT NULL,          -- why it is refused, failed or stopped
  outcome    TEXT NOT NULL,          -- JSON: what lists show of it
  locked     TEXT NOT NULL,          -- JSON of the hand-over; '' while open
  PRIMARY KEY (day, number)
) STRICT;
CREATE INDEX revision_state ON revision(state);

CREATE TABLE audit (
  id     INTEGER PRIMARY KEY AUTOINCREMENT,
  at     TEXT NOT NULL,
  who    TEXT NOT NULL,
  did    TEXT NOT NULL,
  about  TEXT NOT NULL,
  detail TEXT NOT NULL
) STRICT;
