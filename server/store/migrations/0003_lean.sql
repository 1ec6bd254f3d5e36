-- +goose Up

-- A store holds the log of one institution: its scope picks out next to
-- nothing, and both indexes cost every write.
DROP INDEX op_scope;
DROP INDEX record_scope;

-- +goose Down
CREATE INDEX op_scope ON op (scope, lsn);
CREATE INDEX record_scope ON record (scope, kind);
