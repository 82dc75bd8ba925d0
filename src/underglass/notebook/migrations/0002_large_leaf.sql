-- A plant with large leaves freezes sooner than the young one it was; and what stood already when a notebook was begun has no day of sowing.
ALTER TABLE sowings ADD COLUMN large_leaf_on TEXT;
ALTER TABLE sowings ADD COLUMN sown_known INTEGER NOT NULL DEFAULT 1;
