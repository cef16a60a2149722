-- Readings of a sensor that were taken back: they are not of the place's air any
-- more, and stay here. Undone, they are readings again.
CREATE TABLE reading_takebacks (
    id        INTEGER PRIMARY KEY,
    place_id  INTEGER NOT NULL REFERENCES places (id),
    source_id INTEGER NOT NULL REFERENCES reading_sources (id),
    at        INTEGER NOT NULL,
    by_person TEXT NOT NULL,
    device    TEXT NOT NULL,
    undone_at INTEGER
) STRICT;
CREATE INDEX reading_takebacks_by_source ON reading_takebacks (source_id);

-- Values as in readings: those that the source itself had brought.
CREATE TABLE readings_taken_back (
    takeback_id INTEGER NOT NULL REFERENCES reading_takebacks (id),
    at          INTEGER NOT NULL,
    temp        INTEGER,
    rh          INTEGER,
    co2         INTEGER,
    PRIMARY KEY (takeback_id, at),
    CHECK (coalesce(temp, rh, co2) IS NOT NULL)
) STRICT, WITHOUT ROWID;
