-- +goose Up

-- "Yoke" in ASCII: the file says whose it is.
PRAGMA application_id = 1500474213;

-- A unit's document is its shelf-format object without the readings. A unit
-- taken off the shelf stays as a row, so that its readings keep their owner
-- and a later unit may bear its tag.
CREATE TABLE unit (
    id      INTEGER PRIMARY KEY,
    tag     TEXT NOT NULL,
    doc     TEXT NOT NULL CHECK (json_valid(doc)),
    added   TEXT NOT NULL,
    changed TEXT NOT NULL,
    removed TEXT
) STRICT;

CREATE UNIQUE INDEX unit_tag ON unit (tag) WHERE removed IS NULL;

CREATE TABLE reading (
    seq        INTEGER PRIMARY KEY,
    unit       INTEGER NOT NULL REFERENCES unit (id),
    id         TEXT NOT NULL,
    supersedes TEXT,
    doc        TEXT NOT NULL CHECK (json_valid(doc)),
    added      TEXT NOT NULL,
    UNIQUE (unit, id),
    FOREIGN KEY (unit, supersedes) REFERENCES reading (unit, id)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER reading_kept BEFORE UPDATE ON reading
BEGIN SELECT RAISE(ABORT, 'a reading is never altered'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER reading_not_deleted BEFORE DELETE ON reading
BEGIN SELECT RAISE(ABORT, 'a reading is never deleted'); END;
-- +goose StatementEnd

-- REPLACE would delete a row without asking the trigger above.
-- +goose StatementBegin
CREATE TRIGGER reading_not_replaced BEFORE INSERT ON reading
WHEN EXISTS (SELECT 1 FROM reading WHERE seq = NEW.seq OR (unit = NEW.unit AND id = NEW.id))
BEGIN SELECT RAISE(ABORT, 'a reading is never replaced'); END;
-- +goose StatementEnd

CREATE TABLE meter (
    id   INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    doc  TEXT NOT NULL CHECK (json_valid(doc))
) STRICT;

CREATE TABLE hookup (
    name    TEXT PRIMARY KEY,
    doc     TEXT NOT NULL CHECK (json_valid(doc)),
    changed TEXT NOT NULL
) STRICT;

CREATE TABLE need (
    name    TEXT PRIMARY KEY,
    doc     TEXT NOT NULL CHECK (json_valid(doc)),
    changed TEXT NOT NULL
) STRICT;

-- What a proof was asked about never changes; its state follows the answers.
CREATE TABLE proof (
    id      INTEGER PRIMARY KEY,
    hookup  TEXT NOT NULL CHECK (json_valid(hookup)),
    shelf   TEXT NOT NULL CHECK (json_valid(shelf)),
    state   TEXT NOT NULL CHECK (state IN ('open', 'good', 'stopped')),
    opened  TEXT NOT NULL,
    changed TEXT NOT NULL
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER proof_kept BEFORE UPDATE OF id, hookup, shelf, opened ON proof
BEGIN SELECT RAISE(ABORT, 'what a proof was asked about is never altered'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER proof_not_deleted BEFORE DELETE ON proof
BEGIN SELECT RAISE(ABORT, 'a proof is never deleted'); END;
-- +goose StatementEnd

CREATE TABLE answer (
    proof INTEGER NOT NULL REFERENCES proof (id),
    seq   INTEGER NOT NULL,
    at    TEXT NOT NULL,
    doc   TEXT NOT NULL CHECK (json_valid(doc)),
    PRIMARY KEY (proof, seq)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER answer_kept BEFORE UPDATE ON answer
BEGIN SELECT RAISE(ABORT, 'an answer is never altered'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER answer_not_deleted BEFORE DELETE ON answer
BEGIN SELECT RAISE(ABORT, 'an answer is never deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER answer_not_replaced BEFORE INSERT ON answer
WHEN EXISTS (SELECT 1 FROM answer WHERE proof = NEW.proof AND seq = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'an answer is never replaced'); END;
-- +goose StatementEnd
