-- A trial is a question asked before its bags were made. The question stays as
-- it was asked; it is answered once, and how often somebody looked before that
-- is counted.
CREATE TABLE trials (
    id          INTEGER PRIMARY KEY,
    batch_id    INTEGER NOT NULL UNIQUE REFERENCES batches (id),
    question    TEXT NOT NULL CHECK (question <> ''),
    key         TEXT NOT NULL REFERENCES conditions (key),
    value       TEXT NOT NULL, -- what is tried
    against     TEXT NOT NULL, -- what it is compared with
    event       TEXT NOT NULL CHECK (event IN ('contaminated', 'colonised')),
    day         INTEGER NOT NULL CHECK (day BETWEEN 1 AND 400), -- of the batch's life, on which it is answered
    made_at     INTEGER NOT NULL,
    made_by     TEXT NOT NULL,
    looks       INTEGER NOT NULL DEFAULT 0 CHECK (looks >= 0),
    answered_at INTEGER,
    answer      TEXT CHECK (json_valid(answer)),
    CHECK (value <> against),
    CHECK ((answer IS NULL) = (answered_at IS NULL))
) STRICT;

CREATE TRIGGER trials_keep_their_question BEFORE UPDATE OF batch_id, question, key, value, against, event, day, made_at, made_by ON trials
BEGIN SELECT RAISE(ABORT, 'the question of a trial is never changed'); END;
CREATE TRIGGER trials_are_answered_once BEFORE UPDATE OF answer, answered_at, looks ON trials WHEN OLD.answer IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'a trial is answered once'); END;
CREATE TRIGGER trials_never_go BEFORE DELETE ON trials
BEGIN SELECT RAISE(ABORT, 'a trial is never deleted'); END;
