-- +goose Up

-- Small things that other packages keep: people, sessions, counters, lists.
CREATE TABLE drawer (
    space   TEXT NOT NULL,
    key     TEXT NOT NULL,
    version INTEGER NOT NULL,
    value   BLOB NOT NULL,
    PRIMARY KEY (space, key)
) WITHOUT ROWID;

-- +goose Down
DROP TABLE drawer;
