-- +goose Up

-- A photo's document is its shelf-format object without the picture, which
-- comes last so that a list of photos never reads one.
CREATE TABLE photo (
    seq  INTEGER PRIMARY KEY,
    unit INTEGER NOT NULL REFERENCES unit (id),
    id   TEXT NOT NULL,
    doc  TEXT NOT NULL CHECK (json_valid(doc)),
    jpeg BLOB NOT NULL,
    UNIQUE (unit, id)
) STRICT;

-- What holds for the whole bench: one document under each name.
CREATE TABLE setting (
    name TEXT PRIMARY KEY,
    doc  TEXT NOT NULL CHECK (json_valid(doc))
) STRICT;
