-- What the plan said of a day, to be set beside what was read; computed, so no part of the history and of no undo.
CREATE TABLE planned_days (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    shelter_id TEXT NOT NULL REFERENCES shelters, "on" TEXT NOT NULL, start TEXT NOT NULL,
    low_k TEXT NOT NULL, middle_k TEXT NOT NULL, high_k TEXT NOT NULL, steps TEXT NOT NULL,
    UNIQUE (shelter_id, "on")
) STRICT;
