-- How large a place is and how its bags stand. Null is not said: a rack is as its
-- room.
CREATE TABLE place_facts (
    place_id  INTEGER PRIMARY KEY REFERENCES places (id),
    touching  INTEGER CHECK (touching IN (0, 1)), -- bags stand against each other
    volume_m3 REAL CHECK (volume_m3 > 0 AND volume_m3 <= 100000)
) STRICT;

-- Where readings came from: a person, a file, a sensor. What a file or a person
-- brought can be taken back.
CREATE TABLE reading_sources (
    id        INTEGER PRIMARY KEY,
    place_id  INTEGER NOT NULL REFERENCES places (id),
    how       TEXT NOT NULL CHECK (how IN ('typed', 'file', 'sensor')),
    name      TEXT NOT NULL, -- of the file, '' for others
    by_person TEXT NOT NULL,
    device    TEXT NOT NULL,
    made_at   INTEGER NOT NULL
) STRICT;
CREATE INDEX reading_sources_by_place ON reading_sources (place_id, made_at);

-- Values are ten-thousandths: of a °C, of a per cent, of a part per million.
CREATE TABLE readings (
    place_id  INTEGER NOT NULL REFERENCES places (id),
    at        INTEGER NOT NULL,
    temp      INTEGER,
    rh        INTEGER,
    co2       INTEGER,
    source_id INTEGER NOT NULL REFERENCES reading_sources (id),
    PRIMARY KEY (place_id, at),
    CHECK (coalesce(temp, rh, co2) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX readings_by_source ON readings (source_id);

-- Sums over each hour (at / 3600 seconds), kept with the readings. They are
-- whole numbers, so they are exactly what adding up the readings gives.
CREATE TABLE reading_hours (
    place_id INTEGER NOT NULL REFERENCES places (id),
    hour     INTEGER NOT NULL,
    temps    INTEGER NOT NULL, temp_sum INTEGER NOT NULL, temp_min INTEGER, temp_max INTEGER,
    rhs      INTEGER NOT NULL, rh_sum INTEGER NOT NULL, rh_min INTEGER, rh_max INTEGER,
    co2s     INTEGER NOT NULL, co2_sum INTEGER NOT NULL, co2_min INTEGER, co2_max INTEGER,
    logged   INTEGER NOT NULL, -- readings that no person typed
    PRIMARY KEY (place_id, hour)
) STRICT, WITHOUT ROWID;

-- What was done in a room, and what its thermostat was set to. A line is never
-- changed: a wrong one is taken back.
CREATE TABLE room_log (
    id        TEXT PRIMARY KEY CHECK (length(id) = 36),
    place_id  INTEGER NOT NULL REFERENCES places (id),
    kind      TEXT NOT NULL,
    at        INTEGER NOT NULL,
    temp      INTEGER, -- of a set-point; null: switched off
    note      TEXT NOT NULL,
    by_person TEXT NOT NULL,
    device    TEXT NOT NULL,
    made_at   INTEGER NOT NULL,
    taken_back_at INTEGER
) STRICT, WITHOUT ROWID;
CREATE INDEX room_log_by_place ON room_log (place_id, at);

-- How a logger's file was read, by its heading, so that the next one is read alike.
CREATE TABLE logger_maps (
    heading TEXT PRIMARY KEY,
    data    TEXT NOT NULL CHECK (json_valid(data)),
    used_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
