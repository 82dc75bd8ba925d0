-- Columns are the fields of records.py, which also checks what they may hold; here stand their kinds and what refers to what.
-- Times are UTC texts of fixed width, so that their order is the order in time; lists and tables of keys are JSON.

CREATE TABLE household (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    name TEXT NOT NULL, units TEXT NOT NULL,
    place_name TEXT NOT NULL, latitude_deg REAL NOT NULL, longitude_deg REAL NOT NULL, elevation_m REAL NOT NULL,
    time_zone TEXT NOT NULL, terrain TEXT NOT NULL, horizon TEXT NOT NULL,
    last_frost TEXT, tmin_c TEXT NOT NULL, tmax_c TEXT NOT NULL, sun_h TEXT NOT NULL, weather_file TEXT,
    weekday_h TEXT NOT NULL, weekend_h TEXT NOT NULL, crops TEXT NOT NULL, wishes TEXT NOT NULL
) STRICT;

CREATE TABLE shelters (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    name TEXT NOT NULL UNIQUE, toml TEXT NOT NULL, position INTEGER NOT NULL, active INTEGER NOT NULL, own_visits INTEGER NOT NULL
) STRICT;

CREATE TABLE tunings (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    shelter_id TEXT NOT NULL REFERENCES shelters, parameters TEXT NOT NULL, intervals TEXT NOT NULL, quality TEXT NOT NULL,
    active INTEGER NOT NULL
) STRICT;
CREATE INDEX tunings_of_shelter ON tunings (shelter_id);

CREATE TABLE visit_exceptions (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    "on" TEXT NOT NULL UNIQUE, hours TEXT NOT NULL, reason TEXT NOT NULL
) STRICT;

CREATE TABLE packets (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    crop_id TEXT NOT NULL, packed INTEGER NOT NULL, variety TEXT NOT NULL, count INTEGER, mass_kg REAL, bought_from TEXT NOT NULL,
    storage_k REAL, storage_rh REAL
) STRICT;

CREATE TABLE germination_tests (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    packet_id TEXT NOT NULL REFERENCES packets, "on" TEXT NOT NULL, n_sown INTEGER NOT NULL, n_up INTEGER NOT NULL
) STRICT;
CREATE INDEX germination_tests_of_packet ON germination_tests (packet_id);

CREATE TABLE sowings (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    crop_id TEXT NOT NULL, sown_on TEXT NOT NULL,
    grown_in_id TEXT NOT NULL REFERENCES shelters, stands_in_id TEXT NOT NULL REFERENCES shelters,
    raised_in_id TEXT REFERENCES shelters, variety TEXT NOT NULL, packet_id TEXT REFERENCES packets,
    count INTEGER, cells INTEGER, area_m2 REAL, stage TEXT NOT NULL,
    came_up_on TEXT, hardening_on TEXT, standing_on TEXT, fruiting_on TEXT, done_on TEXT, origin TEXT NOT NULL
) STRICT;
CREATE INDEX sowings_by_day ON sowings (sown_on);

CREATE TABLE readings (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    at TEXT NOT NULL, value_k REAL NOT NULL, shelter_id TEXT REFERENCES shelters, probe TEXT NOT NULL, kind TEXT NOT NULL,
    depth_m REAL, height_m REAL, in_sun INTEGER, source_file TEXT
) STRICT;
CREATE INDEX readings_of_shelter ON readings (shelter_id, at);

CREATE TABLE lid_actions (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    at TEXT NOT NULL, shelter_id TEXT NOT NULL REFERENCES shelters, setting TEXT NOT NULL, gap_m REAL
) STRICT;
CREATE INDEX lid_actions_of_shelter ON lid_actions (shelter_id, at);

CREATE TABLE waterings (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    at TEXT NOT NULL, shelter_id TEXT REFERENCES shelters, sowing_id TEXT REFERENCES sowings, volume_m3 REAL
) STRICT;

CREATE TABLE harvests (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    sowing_id TEXT NOT NULL REFERENCES sowings, "on" TEXT NOT NULL, mass_kg REAL, servings REAL
) STRICT;
CREATE INDEX harvests_of_sowing ON harvests (sowing_id);

CREATE TABLE losses (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    sowing_id TEXT NOT NULL REFERENCES sowings, "on" TEXT NOT NULL, cause TEXT NOT NULL, count INTEGER
) STRICT;
CREATE INDEX losses_of_sowing ON losses (sowing_id);

CREATE TABLE notes (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    at TEXT NOT NULL, text TEXT NOT NULL, tags TEXT NOT NULL, shelter_id TEXT REFERENCES shelters, sowing_id TEXT REFERENCES sowings
) STRICT;

CREATE TABLE photos (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    at TEXT NOT NULL, file TEXT NOT NULL, caption TEXT NOT NULL, shelter_id TEXT REFERENCES shelters, sowing_id TEXT REFERENCES sowings
) STRICT;

CREATE TABLE pins (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    crop_id TEXT NOT NULL, wish TEXT NOT NULL, sow_on TEXT, grown_in_id TEXT REFERENCES shelters, raised_in_id TEXT REFERENCES shelters
) STRICT;

CREATE TABLE settings (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL, value TEXT NOT NULL
) STRICT;

CREATE TABLE devices (
    id TEXT PRIMARY KEY, created TEXT NOT NULL, version INTEGER NOT NULL,
    name TEXT NOT NULL, token_hash TEXT NOT NULL UNIQUE, seen TEXT NOT NULL, revoked INTEGER NOT NULL
) STRICT;

-- The journal: each change as a person sees it, and each record it touched, before and after.  Rows are only ever added.
CREATE TABLE changes (
    id INTEGER PRIMARY KEY AUTOINCREMENT, at TEXT NOT NULL, what TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('do', 'undo', 'redo')), of INTEGER REFERENCES changes
) STRICT;
CREATE INDEX changes_of ON changes (of);

CREATE TABLE journal (
    id INTEGER PRIMARY KEY AUTOINCREMENT, change_id INTEGER NOT NULL REFERENCES changes,
    "table" TEXT NOT NULL, record_id TEXT NOT NULL, before TEXT, after TEXT
) STRICT;
CREATE INDEX journal_of_change ON journal (change_id);
CREATE INDEX journal_of_record ON journal ("table", record_id);
