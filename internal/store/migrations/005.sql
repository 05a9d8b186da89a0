-- What the files of a result take, so that quotas count them. Results of before
-- are measured at the next start.
ALTER TABLE revision ADD COLUMN bytes INTEGER NOT NULL DEFAULT 0;
ALTER TABLE comparison ADD COLUMN bytes INTEGER NOT NULL DEFAULT 0;
