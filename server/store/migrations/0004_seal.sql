-- +goose Up

-- The hash tree over receipts, in tiles of up to 256 hashes, and every head of
-- it that was signed. Both are grown, a narrow tile by a wider one.
CREATE TABLE tile (
    id     INTEGER PRIMARY KEY,
    level  INTEGER NOT NULL,
    n      INTEGER NOT NULL,
    hashes BLOB NOT NULL
);
CREATE UNIQUE INDEX tile_place ON tile (level, n);

CREATE TABLE head (
    n      INTEGER PRIMARY KEY,
    size   INTEGER NOT NULL,            -- leaves; leaf n stands for place n+1
    at     INTEGER NOT NULL,            -- milliseconds
    signed TEXT NOT NULL
);

-- The lives of the store that ended: each time it was put back from a copy.
CREATE TABLE life (
    n           INTEGER PRIMARY KEY,
    incarnation BLOB NOT NULL,
    upto        INTEGER NOT NULL        -- the last place of it that is here
);

-- +goose Down
DROP TABLE life;
DROP TABLE head;
DROP TABLE tile;
