-- Values that another source brought to a reading which lacked them. All other
-- values of a reading are of its own source.
CREATE TABLE reading_fills (
    place_id  INTEGER NOT NULL,
    at        INTEGER NOT NULL,
    value     TEXT NOT NULL CHECK (value IN ('temp', 'rh', 'co2')),
    source_id INTEGER NOT NULL REFERENCES reading_sources (id),
    PRIMARY KEY (place_id, at, value),
    FOREIGN KEY (place_id, at) REFERENCES readings (place_id, at) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
CREATE INDEX reading_fills_by_source ON reading_fills (source_id);
