-- How often computing a revision was begun and not brought to an end. The server
-- that ends in order takes its attempt back; one that is killed, or that the
-- revision's own computing kills, does not.
ALTER TABLE revision ADD COLUMN attempts INTEGER NOT NULL DEFAULT 0;
