-- +goose Up

-- What the store knows about itself: ids, keys, watermarks.
CREATE TABLE meta (
    name  TEXT PRIMARY KEY,
    value BLOB NOT NULL
) WITHOUT ROWID;

-- Scopes and kinds, numbered so that rows stay small.
CREATE TABLE word (
    n    INTEGER PRIMARY KEY,
    text TEXT NOT NULL UNIQUE
);

CREATE TABLE device (
    n      INTEGER PRIMARY KEY,
    id     BLOB NOT NULL UNIQUE,
    actor  TEXT NOT NULL DEFAULT '',
    first  INTEGER NOT NULL,            -- when first heard of, milliseconds
    frozen TEXT                         -- why nothing it says takes effect; NULL if it does
);

-- The log. Rows are added, never changed.
CREATE TABLE op (
    lsn      INTEGER PRIMARY KEY,
    dev      INTEGER NOT NULL REFERENCES device (n),
    seq      INTEGER NOT NULL,
    scope    INTEGER NOT NULL,          -- 0 for what is unreadable
    received INTEGER NOT NULL,          -- milliseconds, never falling with lsn
    eff      INTEGER NOT NULL,          -- packed stamp
    effect   INTEGER NOT NULL,
    code     TEXT,
    why      TEXT,
    hash     BLOB NOT NULL,
    link     BLOB NOT NULL,
    wire     BLOB NOT NULL
);
CREATE UNIQUE INDEX op_dev ON op (dev, seq);
CREATE INDEX op_scope ON op (scope, lsn);

-- What a device told in a second story.
CREATE TABLE aside (
    n        INTEGER PRIMARY KEY,
    dev      INTEGER NOT NULL REFERENCES device (n),
    seq      INTEGER NOT NULL,
    received INTEGER NOT NULL,
    hash     BLOB NOT NULL,
    wire     BLOB NOT NULL,
    UNIQUE (dev, seq, hash)
);

-- Every record: the places in the log of all operations on it, and the state
-- folded from those up to one place. The rest is folded when it is read.
CREATE TABLE record (
    rid   INTEGER PRIMARY KEY,
    id    BLOB NOT NULL,
    kind  INTEGER NOT NULL,
    scope INTEGER NOT NULL,
    upto  INTEGER NOT NULL DEFAULT 0,   -- state holds everything up to this place
    tail  INTEGER NOT NULL DEFAULT 0,   -- operations not in state yet
    lsns  BLOB NOT NULL,                -- LEB128, rising
    state BLOB
);
CREATE UNIQUE INDEX record_id ON record (id, kind);
CREATE INDEX record_scope ON record (scope, kind);
CREATE INDEX record_long ON record (rid) WHERE tail >= 12; -- due to be folded

-- +goose Down
DROP TABLE record;
DROP TABLE aside;
DROP TABLE op;
DROP TABLE device;
DROP TABLE word;
DROP TABLE meta;
