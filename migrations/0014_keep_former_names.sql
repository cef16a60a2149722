-- Names that places had before. A log keeps what was written: an entry received
-- up to until_seq that names the place so means the place as it is called now.
CREATE TABLE former_places (
    id        INTEGER PRIMARY KEY,
    place_id  INTEGER NOT NULL REFERENCES places (id),
    name      TEXT NOT NULL,
    name_key  TEXT NOT NULL,
    until_seq INTEGER NOT NULL,
    at        INTEGER NOT NULL,
    by_person TEXT NOT NULL,
    device    TEXT NOT NULL
) STRICT;
CREATE INDEX former_places_by_name ON former_places (name_key, until_seq);
