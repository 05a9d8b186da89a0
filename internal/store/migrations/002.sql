-- Accounts of a page that several people use. They are closed, never deleted:
-- days and the audit log name them.
CREATE TABLE account (
  key      TEXT PRIMARY KEY,         -- the name in lower case
  name     TEXT NOT NULL,
  role     TEXT NOT NULL CHECK (role IN ('locator', 'technician', 'engineer', 'administrator')),
  password TEXT NOT NULL,            -- Argon2id with its parameters and salt
  created  TEXT NOT NULL,
  closed   INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE TABLE session (
  hash    TEXT PRIMARY KEY,          -- SHA-256 of the secret; the secret itself is kept nowhere
  account TEXT NOT NULL REFERENCES account(key),
  created TEXT NOT NULL,
  seen    TEXT NOT NULL,
  address TEXT NOT NULL
) STRICT;
CREATE INDEX session_account ON session(account, address);

-- From where something was done; '' on the command line.
ALTER TABLE audit ADD COLUMN address TEXT NOT NULL DEFAULT '';

-- The audit log only grows.
CREATE TRIGGER audit_stays BEFORE UPDATE ON audit BEGIN SELECT RAISE(ABORT, 'the audit log only grows'); END;
CREATE TRIGGER audit_keeps BEFORE DELETE ON audit BEGIN SELECT RAISE(ABORT, 'the audit log only grows'); END;
