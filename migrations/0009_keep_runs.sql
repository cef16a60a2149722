-- Steriliser runs: how, with what load, and what was read. Until now a run was a
-- name. Each gets a label of its own.
ALTER TABLE farm ADD COLUMN f0_target REAL NOT NULL DEFAULT 15 CHECK (f0_target >= 0); -- minutes at 121.1 °C, under pressure; 0: none
ALTER TABLE farm ADD COLUMN f0_target_steam REAL NOT NULL DEFAULT 3 CHECK (f0_target_steam >= 0); -- the same for open steam
ALTER TABLE farm ADD COLUMN altitude_m REAL NOT NULL DEFAULT 0 CHECK (altitude_m BETWEEN -450 AND 6000);

ALTER TABLE steriliser_runs ADD COLUMN code TEXT REFERENCES codes (code);
ALTER TABLE steriliser_runs ADD COLUMN uuid TEXT;
ALTER TABLE steriliser_runs ADD COLUMN sent_sha256 BLOB CHECK (length(sent_sha256) = 32);
ALTER TABLE steriliser_runs ADD COLUMN method TEXT CHECK (method IN ('pressure', 'open_steam', 'hot_water', 'lime'));
ALTER TABLE steriliser_runs ADD COLUMN started_at INTEGER;
ALTER TABLE steriliser_runs ADD COLUMN vessel TEXT;
ALTER TABLE steriliser_runs ADD COLUMN hold_c REAL;
ALTER TABLE steriliser_runs ADD COLUMN target_f0 REAL CHECK (target_f0 >= 0); -- null: the farm's
ALTER TABLE steriliser_runs ADD COLUMN gauge_kpa REAL;
ALTER TABLE steriliser_runs ADD COLUMN recipe TEXT;
ALTER TABLE steriliser_runs ADD COLUMN load TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(load));
ALTER TABLE steriliser_runs ADD COLUMN note TEXT;
ALTER TABLE steriliser_runs ADD COLUMN made_by TEXT NOT NULL DEFAULT '';
ALTER TABLE steriliser_runs ADD COLUMN made_device TEXT NOT NULL DEFAULT '';
-- What its readings gave, kept in the transaction of each change: null where they
-- give no verdict.
ALTER TABLE steriliser_runs ADD COLUMN f0 REAL;
ALTER TABLE steriliser_runs ADD COLUMN short INTEGER CHECK (short IN (0, 1));
CREATE UNIQUE INDEX steriliser_runs_by_code ON steriliser_runs (code);
CREATE UNIQUE INDEX steriliser_runs_by_uuid ON steriliser_runs (uuid);

-- Readings of one place, as one piece: sixteen bytes each, microseconds since
-- 1970 UTC as a whole number and °C as a double, both with the high byte first.
CREATE TABLE run_series (
    id          INTEGER PRIMARY KEY,
    run_id      INTEGER NOT NULL REFERENCES steriliser_runs (id),
    probe       TEXT NOT NULL,
    spot        TEXT NOT NULL CHECK (spot IN ('core', 'chamber')),
    position    TEXT,
    readings    BLOB NOT NULL CHECK (length(readings) > 0 AND length(readings) % 16 = 0),
    sha256      BLOB NOT NULL CHECK (length(sha256) = 32),
    missing     INTEGER NOT NULL DEFAULT 0,
    made_at     INTEGER NOT NULL,
    by_person   TEXT NOT NULL,
    device      TEXT NOT NULL,
    voided_at   INTEGER,
    voided_by   TEXT
) STRICT;
CREATE INDEX run_series_by_run ON run_series (run_id);
CREATE TRIGGER run_series_never_change BEFORE UPDATE OF run_id, probe, spot, position, readings, sha256, missing, made_at, by_person, device ON run_series
BEGIN SELECT RAISE(ABORT, 'readings are never changed'); END;
CREATE TRIGGER run_series_never_go BEFORE DELETE ON run_series
BEGIN SELECT RAISE(ABORT, 'readings are never deleted'); END;

-- Bags filled before the steam. Until a batch takes it, its code is a blank's.
-- A control stays closed and uninoculated: mould in it points at the run.
CREATE TABLE sterile_bags (
    code      TEXT PRIMARY KEY REFERENCES codes (code),
    run_id    INTEGER NOT NULL REFERENCES steriliser_runs (id),
    recipe    TEXT,
    filled_on INTEGER NOT NULL,
    position  TEXT,
    control   INTEGER NOT NULL DEFAULT 0 CHECK (control IN (0, 1)),
    bag_id    INTEGER REFERENCES bags (id), -- once inoculated
    made_at   INTEGER NOT NULL,
    made_by   TEXT NOT NULL,
    made_device TEXT NOT NULL,
    CHECK (bag_id IS NULL OR control = 0)
) STRICT, WITHOUT ROWID;
CREATE INDEX sterile_bags_by_run ON sterile_bags (run_id);
CREATE UNIQUE INDEX one_control_a_run ON sterile_bags (run_id) WHERE control = 1;
