-- A person's private address under which a calendar program fetches what is to
-- come. Only its hash is kept; a new address takes the place of the one before.
CREATE TABLE calendars (
    person_id INTEGER PRIMARY KEY REFERENCES people (id),
    sha256    BLOB NOT NULL UNIQUE CHECK (length(sha256) = 32),
    made_at   INTEGER NOT NULL
) STRICT;
