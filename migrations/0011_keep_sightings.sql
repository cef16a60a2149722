-- A round is one walk over a place. It is kept from the first bag seen on it.
CREATE TABLE rounds (
    id        TEXT PRIMARY KEY CHECK (length(id) = 36),
    place_id  INTEGER NOT NULL REFERENCES places (id),
    began_at  INTEGER NOT NULL,
    by_person TEXT NOT NULL,
    device    TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX rounds_by_place ON rounds (place_id, began_at);

-- Where a bag's label was last scanned on a round, or where somebody said to have
-- seen it, whatever the bag's log says of where it stands.
CREATE TABLE sightings (
    bag_id    INTEGER PRIMARY KEY REFERENCES bags (id),
    place_id  INTEGER NOT NULL REFERENCES places (id),
    at        INTEGER NOT NULL,
    round_id  TEXT REFERENCES rounds (id), -- null: on none
    by_person TEXT NOT NULL,
    device    TEXT NOT NULL
) STRICT;
CREATE INDEX sightings_by_place ON sightings (place_id);
CREATE INDEX sightings_by_round ON sightings (round_id);

-- What stands at a place.
CREATE INDEX bags_by_place ON bags (status ->> '$.place') WHERE state NOT IN ('finished', 'culled');
