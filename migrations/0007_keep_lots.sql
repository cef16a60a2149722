-- What stands before the bag: lots with what they were made from, their jars, and
-- a log of each. Until now a lot was a name.
ALTER TABLE lots ADD COLUMN uuid TEXT;
ALTER TABLE lots ADD COLUMN sent_sha256 BLOB CHECK (length(sent_sha256) = 32);
ALTER TABLE lots ADD COLUMN species TEXT;
ALTER TABLE lots ADD COLUMN strain TEXT;
ALTER TABLE lots ADD COLUMN made_on INTEGER;
ALTER TABLE lots ADD COLUMN expires_on INTEGER;
ALTER TABLE lots ADD COLUMN amount TEXT;
ALTER TABLE lots ADD COLUMN look TEXT;
ALTER TABLE lots ADD COLUMN recipe TEXT;
ALTER TABLE lots ADD COLUMN run_id INTEGER REFERENCES steriliser_runs (id);
ALTER TABLE lots ADD COLUMN note TEXT;
ALTER TABLE lots ADD COLUMN made_by TEXT NOT NULL DEFAULT '';
ALTER TABLE lots ADD COLUMN made_device TEXT NOT NULL DEFAULT '';
CREATE UNIQUE INDEX lots_by_uuid ON lots (uuid);
CREATE INDEX lots_by_run ON lots (run_id) WHERE run_id IS NOT NULL;
CREATE INDEX batches_by_lot ON batches (spawn_lot_id) WHERE spawn_lot_id IS NOT NULL;
CREATE INDEX batches_by_run ON batches (run_id) WHERE run_id IS NOT NULL;

CREATE TABLE jars (
    id      INTEGER PRIMARY KEY,
    lot_id  INTEGER NOT NULL REFERENCES lots (id),
    number  INTEGER NOT NULL CHECK (number BETWEEN 1 AND 500),
    code    TEXT NOT NULL UNIQUE REFERENCES codes (code),
    made_at INTEGER NOT NULL,
    UNIQUE (lot_id, number)
) STRICT;

-- What a lot was made from: another lot, or one jar of it.
CREATE TABLE lot_sources (
    id      INTEGER PRIMARY KEY,
    lot_id  INTEGER NOT NULL REFERENCES lots (id),
    from_id INTEGER NOT NULL REFERENCES lots (id),
    jar_id  INTEGER REFERENCES jars (id),
    CHECK (lot_id <> from_id)
) STRICT;
CREATE UNIQUE INDEX lot_sources_once ON lot_sources (lot_id, from_id, coalesce(jar_id, 0));
CREATE INDEX lot_sources_down ON lot_sources (from_id);

-- The log of whatever stands before the bag, by the code it carries.
CREATE TABLE stock_entries (
    seq         INTEGER PRIMARY KEY,
    id          TEXT NOT NULL UNIQUE CHECK (length(id) = 36),
    code        TEXT NOT NULL REFERENCES codes (code),
    kind        TEXT NOT NULL,
    at          INTEGER NOT NULL,
    received_at INTEGER NOT NULL,
    at_sent     INTEGER,
    by_person   TEXT NOT NULL,
    device      TEXT NOT NULL,
    detail      TEXT NOT NULL CHECK (json_valid(detail)),
    sent_sha256 BLOB NOT NULL CHECK (length(sent_sha256) = 32),
    hash        BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;
CREATE INDEX stock_entries_by_code ON stock_entries (code, at, seq);
CREATE TRIGGER stock_entries_never_change BEFORE UPDATE ON stock_entries
BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END;
CREATE TRIGGER stock_entries_never_go BEFORE DELETE ON stock_entries
BEGIN SELECT RAISE(ABORT, 'an entry is never deleted'); END;

-- What replaying such a log gives, kept in the transaction of each entry. What
-- has no entry has no row.
CREATE TABLE stock_status (
    code   TEXT PRIMARY KEY REFERENCES codes (code),
    state  TEXT NOT NULL CHECK (state IN ('colonising', 'colonised', 'finished', 'culled')),
    status TEXT NOT NULL CHECK (json_valid(status))
) STRICT, WITHOUT ROWID;

-- Corrections, with old and new.
CREATE TABLE stock_changes (
    id        INTEGER PRIMARY KEY,
    code      TEXT NOT NULL REFERENCES codes (code),
    field     TEXT NOT NULL,
    old       TEXT NOT NULL,
    new       TEXT NOT NULL,
    at        INTEGER NOT NULL,
    by_person TEXT NOT NULL,
    device    TEXT NOT NULL
) STRICT;
CREATE INDEX stock_changes_by_code ON stock_changes (code);
CREATE TRIGGER stock_changes_never_change BEFORE UPDATE ON stock_changes
BEGIN SELECT RAISE(ABORT, 'a change on record is never changed'); END;
CREATE TRIGGER stock_changes_never_go BEFORE DELETE ON stock_changes
BEGIN SELECT RAISE(ABORT, 'a change on record is never deleted'); END;

-- The jar or lot that a bag's spawn came from, as its log says; drawn from its
-- status like the columns beside it.
ALTER TABLE bags ADD COLUMN spawn_jar TEXT;
CREATE INDEX bags_by_spawn_jar ON bags (spawn_jar) WHERE spawn_jar IS NOT NULL;
