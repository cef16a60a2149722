-- Labels made under an id that the sender chose: the same id and body again
-- gives the same labels, so that a second tap or a retry makes nothing twice.
CREATE TABLE makings (
    id          TEXT PRIMARY KEY CHECK (length(id) = 36),
    sent_sha256 BLOB NOT NULL CHECK (length(sent_sha256) = 32),
    codes       TEXT NOT NULL CHECK (json_valid(codes)),
    made_at     INTEGER NOT NULL,
    made_by     TEXT NOT NULL,
    made_device TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TRIGGER makings_never_change BEFORE UPDATE ON makings
BEGIN SELECT RAISE(ABORT, 'what was made under an id is never changed'); END;
CREATE TRIGGER makings_never_go BEFORE DELETE ON makings
BEGIN SELECT RAISE(ABORT, 'what was made under an id is never deleted'); END;
