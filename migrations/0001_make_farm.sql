-- Instants are microseconds since 1970-01-01 UTC; dates are days since then.

CREATE TABLE farm (
    id             INTEGER PRIMARY KEY CHECK (id = 1),
    name           TEXT NOT NULL DEFAULT '',
    time_zone      TEXT NOT NULL,
    public         TEXT NOT NULL DEFAULT '',
    listened       TEXT NOT NULL DEFAULT '', -- the address last listened on
    margin         REAL NOT NULL DEFAULT 0.05 CHECK (margin > 0 AND margin < 1),
    first_look_day INTEGER NOT NULL DEFAULT 7 CHECK (first_look_day BETWEEN 1 AND 365),
    units          TEXT NOT NULL DEFAULT 'metric' CHECK (units IN ('metric', 'imperial')),
    default_sheet  TEXT NOT NULL DEFAULT '',
    grown          TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(grown)), -- species grown here
    made_at        INTEGER NOT NULL,
    set_up_at      INTEGER
) STRICT;

CREATE TABLE codes (
    code    TEXT PRIMARY KEY CHECK (length(code) = 8),
    kind    TEXT NOT NULL CHECK (kind IN ('bag', 'blank', 'place', 'lot', 'card')),
    made_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE conditions (
    key  TEXT PRIMARY KEY,
    data TEXT NOT NULL CHECK (json_valid(data))
) STRICT, WITHOUT ROWID;

CREATE TABLE species_own (
    slug   TEXT NOT NULL,
    strain TEXT NOT NULL, -- '' for the species itself
    data   TEXT NOT NULL CHECK (json_valid(data)),
    PRIMARY KEY (slug, strain)
) STRICT, WITHOUT ROWID;

CREATE TABLE places (
    id       INTEGER PRIMARY KEY,
    code     TEXT NOT NULL UNIQUE REFERENCES codes (code),
    name     TEXT NOT NULL,
    name_key TEXT NOT NULL UNIQUE, -- the name without regard to case
    made_at  INTEGER NOT NULL
) STRICT;

CREATE TABLE lots (
    id       INTEGER PRIMARY KEY,
    code     TEXT NOT NULL UNIQUE REFERENCES codes (code),
    kind     TEXT NOT NULL CHECK (kind IN ('culture', 'spawn', 'substrate')),
    name     TEXT NOT NULL,
    name_key TEXT NOT NULL UNIQUE,
    made_at  INTEGER NOT NULL
) STRICT;

CREATE TABLE steriliser_runs (
    id       INTEGER PRIMARY KEY,
    name     TEXT NOT NULL,
    name_key TEXT NOT NULL UNIQUE,
    made_at  INTEGER NOT NULL
) STRICT;

CREATE TABLE cards (
    id   INTEGER PRIMARY KEY,
    code TEXT NOT NULL UNIQUE REFERENCES codes (code),
    does TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE batches (
    id               INTEGER PRIMARY KEY,
    code             TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 3 AND 16),
    uuid             TEXT UNIQUE,
    sent_sha256      BLOB CHECK (length(sent_sha256) = 32),
    species          TEXT NOT NULL,
    inoculated_at    INTEGER NOT NULL,
    bags             INTEGER NOT NULL CHECK (bags BETWEEN 1 AND 2000),
    lab_day          TEXT,
    strain           TEXT,
    bag_wet_g        REAL CHECK (bag_wet_g > 0),
    moisture_pct     REAL CHECK (moisture_pct BETWEEN 0 AND 100),
    spawn_lot_id     INTEGER REFERENCES lots (id),
    spawn_rate_pct   REAL CHECK (spawn_rate_pct BETWEEN 0 AND 100),
    run_id           INTEGER REFERENCES steriliser_runs (id),
    recipe           TEXT,
    operator         TEXT,
    place_id         INTEGER REFERENCES places (id),
    labels_later     INTEGER,
    note             TEXT,
    bag_conditions   TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(bag_conditions)), -- as sent
    imported_as      TEXT UNIQUE, -- what the spreadsheet called it
    label_changed_at INTEGER, -- when something printed was last corrected
    made_at          INTEGER NOT NULL,
    made_by          TEXT NOT NULL,
    made_device      TEXT NOT NULL
) STRICT;
CREATE INDEX batches_by_inoculation ON batches (inoculated_at DESC, code);
CREATE INDEX batches_by_lab_day ON batches (lab_day) WHERE lab_day IS NOT NULL;

CREATE TABLE batch_conditions (
    batch_id INTEGER NOT NULL REFERENCES batches (id),
    key      TEXT NOT NULL REFERENCES conditions (key),
    value    TEXT NOT NULL,
    PRIMARY KEY (batch_id, key)
) STRICT, WITHOUT ROWID;

-- What a batch was, is never forgotten: each correction keeps old and new.
CREATE TABLE changes (
    id        INTEGER PRIMARY KEY,
    batch_id  INTEGER NOT NULL REFERENCES batches (id),
    field     TEXT NOT NULL,
    old       TEXT NOT NULL,
    new       TEXT NOT NULL,
    at        INTEGER NOT NULL,
    by_person TEXT NOT NULL,
    device    TEXT NOT NULL
) STRICT;
CREATE INDEX changes_by_batch ON changes (batch_id);

CREATE TABLE bags (
    id              INTEGER PRIMARY KEY,
    batch_id        INTEGER NOT NULL REFERENCES batches (id),
    number          INTEGER NOT NULL CHECK (number BETWEEN 1 AND 2000),
    code            TEXT NOT NULL UNIQUE REFERENCES codes (code),
    made_place_id   INTEGER REFERENCES places (id), -- where it stood before its log begins, if not with its batch
    made_marked_at  INTEGER, -- taken over from records that count as marked
    -- What replaying the log gives, kept in the transaction of each entry.
    state           TEXT NOT NULL CHECK (state IN ('unmarked', 'colonising', 'colonised', 'isolated', 'fruiting', 'finished', 'culled')),
    contaminated_at INTEGER,
    started_at      INTEGER,
    not_yet_at      INTEGER, -- last seen not grown over
    grown_over_at   INTEGER, -- first seen grown over
    last_clean_at   INTEGER,
    last_seen_at    INTEGER,
    ended_at        INTEGER,
    status          TEXT NOT NULL CHECK (json_valid(status)),
    UNIQUE (batch_id, number)
) STRICT;
CREATE INDEX bags_grown_over ON bags (batch_id) WHERE grown_over_at IS NOT NULL;
CREATE INDEX bags_in_care ON bags (batch_id) WHERE state NOT IN ('finished', 'culled');

CREATE TABLE bag_conditions (
    bag_id INTEGER NOT NULL REFERENCES bags (id),
    key    TEXT NOT NULL REFERENCES conditions (key),
    value  TEXT, -- null: known to be unknown
    PRIMARY KEY (bag_id, key)
) STRICT, WITHOUT ROWID;

-- Labels that a bag carried before it got another.
CREATE TABLE old_codes (
    code   TEXT PRIMARY KEY REFERENCES codes (code),
    bag_id INTEGER NOT NULL REFERENCES bags (id)
) STRICT, WITHOUT ROWID;

CREATE TABLE entries (
    seq         INTEGER PRIMARY KEY, -- the order in which the farm received them
    id          TEXT NOT NULL UNIQUE CHECK (length(id) = 36),
    bag_id      INTEGER NOT NULL REFERENCES bags (id),
    kind        TEXT NOT NULL,
    at          INTEGER NOT NULL, -- when it was seen
    received_at INTEGER NOT NULL,
    at_sent     INTEGER, -- the phone's own time where its clock was wrong
    by_person   TEXT NOT NULL,
    device      TEXT NOT NULL,
    detail      TEXT NOT NULL CHECK (json_valid(detail)),
    sent_sha256 BLOB NOT NULL CHECK (length(sent_sha256) = 32),
    hash        BLOB NOT NULL CHECK (length(hash) = 32) -- of itself and of the entry received before it
) STRICT;
CREATE INDEX entries_by_bag ON entries (bag_id, at, seq);

CREATE TRIGGER entries_never_change BEFORE UPDATE ON entries
BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END;
CREATE TRIGGER entries_never_go BEFORE DELETE ON entries
BEGIN SELECT RAISE(ABORT, 'an entry is never deleted'); END;
CREATE TRIGGER changes_never_change BEFORE UPDATE ON changes
BEGIN SELECT RAISE(ABORT, 'a change on record is never changed'); END;
CREATE TRIGGER changes_never_go BEFORE DELETE ON changes
BEGIN SELECT RAISE(ABORT, 'a change on record is never deleted'); END;

CREATE TABLE photos (
    id          TEXT PRIMARY KEY,
    sent_sha256 BLOB NOT NULL UNIQUE CHECK (length(sent_sha256) = 32), -- of the bytes as sent
    file_sha256 BLOB NOT NULL CHECK (length(file_sha256) = 32), -- of the file as kept
    bytes       INTEGER NOT NULL,
    width       INTEGER NOT NULL,
    height      INTEGER NOT NULL,
    made_at     INTEGER NOT NULL, -- while no entry shows it: when it was last sent
    by_person   TEXT NOT NULL,
    device      TEXT NOT NULL,
    used        INTEGER NOT NULL DEFAULT 0 CHECK (used IN (0, 1)) -- an entry shows it
) STRICT, WITHOUT ROWID;

CREATE TABLE people (
    id         INTEGER PRIMARY KEY,
    name       TEXT NOT NULL,
    name_key   TEXT NOT NULL UNIQUE,
    role       TEXT NOT NULL CHECK (role IN ('owner', 'grower', 'viewer')),
    passphrase TEXT NOT NULL, -- Argon2id in the PHC string format, '' for none: joins by pairing only
    made_at    INTEGER NOT NULL,
    ended_at   INTEGER
) STRICT;

-- A device is a signed-in browser or an API token: what may be revoked.
CREATE TABLE devices (
    id         INTEGER PRIMARY KEY,
    person_id  INTEGER REFERENCES people (id), -- null for a token
    kind       TEXT NOT NULL CHECK (kind IN ('browser', 'token')),
    name       TEXT NOT NULL,
    role       TEXT NOT NULL CHECK (role IN ('owner', 'grower', 'viewer', 'sensor')), -- the most it may do
    made_at    INTEGER NOT NULL,
    used_at    INTEGER NOT NULL,
    expires_at INTEGER, -- null: never
    revoked_at INTEGER
) STRICT;

-- What a device shows to prove itself; a browser may have one over HTTP and one
-- over HTTPS. Only hashes are kept.
CREATE TABLE secrets (
    sha256    BLOB PRIMARY KEY CHECK (length(sha256) = 32),
    device_id INTEGER NOT NULL REFERENCES devices (id) ON DELETE CASCADE,
    over      TEXT NOT NULL CHECK (over IN ('http', 'https', 'token')),
    most      TEXT NOT NULL CHECK (most IN ('owner', 'grower', 'viewer', 'sensor')), -- the most it may do over this
    made_at   INTEGER NOT NULL,
    UNIQUE (device_id, over)
) STRICT, WITHOUT ROWID;

CREATE TABLE pairings (
    sha256     BLOB PRIMARY KEY CHECK (length(sha256) = 32),
    by_device  INTEGER NOT NULL REFERENCES devices (id) ON DELETE CASCADE,
    person_id  INTEGER NOT NULL REFERENCES people (id),
    made_at    INTEGER NOT NULL,
    expires_at INTEGER NOT NULL,
    device_id  INTEGER REFERENCES devices (id) ON DELETE CASCADE -- who joined
) STRICT, WITHOUT ROWID;
CREATE INDEX pairings_by_device ON pairings (by_device);
CREATE INDEX devices_by_person ON devices (person_id);

-- What each device's bench switches say, so that a reload loses nothing.
CREATE TABLE benches (
    device_id INTEGER PRIMARY KEY REFERENCES devices (id) ON DELETE CASCADE,
    data      TEXT NOT NULL CHECK (json_valid(data))
) STRICT;

CREATE TABLE sheets_own (
    name TEXT PRIMARY KEY,
    data TEXT NOT NULL CHECK (json_valid(data))
) STRICT, WITHOUT ROWID;

CREATE TABLE sheet_corrections (
    sheet TEXT PRIMARY KEY,
    data  TEXT NOT NULL CHECK (json_valid(data))
) STRICT, WITHOUT ROWID;
