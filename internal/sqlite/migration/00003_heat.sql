-- +goose Up

-- What a heat run was begun with never changes; its readings are only added to.
CREATE TABLE heat_run (
    id    INTEGER PRIMARY KEY,
    doc   TEXT NOT NULL CHECK (json_valid(doc)),
    began TEXT NOT NULL
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER heat_run_kept BEFORE UPDATE ON heat_run
BEGIN SELECT RAISE(ABORT, 'a heat run is never altered'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER heat_run_not_deleted BEFORE DELETE ON heat_run
BEGIN SELECT RAISE(ABORT, 'a heat run is never deleted'); END;
-- +goose StatementEnd

CREATE TABLE heat_reading (
    run INTEGER NOT NULL REFERENCES heat_run (id),
    seq INTEGER NOT NULL,
    doc TEXT NOT NULL CHECK (json_valid(doc)),
    PRIMARY KEY (run, seq)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER heat_reading_kept BEFORE UPDATE ON heat_reading
BEGIN SELECT RAISE(ABORT, 'a reading is never altered'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER heat_reading_not_deleted BEFORE DELETE ON heat_reading
BEGIN SELECT RAISE(ABORT, 'a reading is never deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER heat_reading_not_replaced BEFORE INSERT ON heat_reading
WHEN EXISTS (SELECT 1 FROM heat_reading WHERE run = NEW.run AND seq = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'a reading is never replaced'); END;
-- +goose StatementEnd
