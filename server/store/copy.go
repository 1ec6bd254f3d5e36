package store

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"wayfall/server/fault"
)

// table is a table as a store is copied from one database to another.
type table struct {
	name    string
	columns []string
	texts   []string // columns that hold text
	key     string   // a number that rises; "" is a small table, read at once
	counts  bool     // the database gives the key
}

// tables is everything a store keeps, what is referred to before what refers.
var tables = []table{
	{name: "meta", columns: []string{"name", "value"}, texts: []string{"name"}},
	{name: "word", columns: []string{"n", "text"}, texts: []string{"text"}, key: "n", counts: true},
	{name: "device", columns: []string{"n", "id", "actor", "first", "frozen"}, texts: []string{"actor", "frozen"}, key: "n", counts: true},
	{name: "op", columns: []string{"lsn", "dev", "seq", "scope", "received", "eff", "effect", "code", "why", "hash", "link", "wire"}, texts: []string{"code", "why"}, key: "lsn"},
	{name: "aside", columns: []string{"n", "dev", "seq", "received", "hash", "wire"}, key: "n", counts: true},
	{name: "record", columns: []string{"rid", "id", "kind", "scope", "upto", "tail", "lsns", "state"}, key: "rid", counts: true},
	{name: "drawer", columns: []string{"space", "key", "version", "value"}, texts: []string{"space", "key"}},
	{name: "tile", columns: []string{"id", "level", "n", "hashes"}, key: "id", counts: true},
	{name: "head", columns: []string{"n", "size", "at", "signed"}, texts: []string{"signed"}, key: "n", counts: true},
	{name: "life", columns: []string{"n", "incarnation", "upto"}, key: "n", counts: true},
}

// copyStep is how many rows are in memory at once.
const copyStep = 2000

// CopyStore copies the whole store at one place, a file or the URL of a
// database, to another that holds none, as it is at one moment. It is how a
// store moves from SQLite to PostgreSQL and back. Photos are not copied.
func CopyStore(ctx context.Context, from, to string) (err error) {
	if isURL(to) {
		err = migratePostgres(to)
	} else {
		err = migrateLite(to)
	}
	if err != nil {
		return err
	}
	src, err := connect(from, true)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, src.close()) }()
	dst, err := connect(to, false)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, dst.close()) }()
	if _, err := src.exec(src.beginRead); err != nil {
		return err
	}
	if err := dst.begin(); err != nil {
		return err
	}
	end := "COMMIT"
	if err = copyTables(ctx, src, dst); err != nil {
		end = "ROLLBACK"
	}
	_, e1 := dst.exec(end)
	_, e2 := src.exec("ROLLBACK")
	return errors.Join(err, e1, e2)
}

func copyTables(ctx context.Context, src, dst *conn) error {
	var there int64
	if _, err := dst.one("SELECT count(*) FROM op", func(r row) { there = r.int(0) }); err != nil {
		return err
	}
	if there > 0 {
		return fault.New(fault.Stale, "there is a store already where the copy should go")
	}
	for _, t := range tables {
		if err := t.copy(ctx, src, dst); err != nil {
			return fmt.Errorf("copy %s: %w", t.name, err)
		}
	}
	return nil
}

func (t table) copy(ctx context.Context, src, dst *conn) error {
	list := strings.Join(t.columns, ", ")
	in := fmt.Sprintf("INSERT INTO %s (%s) VALUES (?%s)", t.name, list, strings.Repeat(", ?", len(t.columns)-1))
	out, last := fmt.Sprintf("SELECT %s FROM %s", list, t.name), int64(-1)
	if t.key != "" {
		out += fmt.Sprintf(" WHERE %s > ? ORDER BY %[1]s LIMIT %d", t.key, copyStep)
	}
	for more := true; more; {
		if err := ctx.Err(); err != nil {
			return err
		}
		args, n := []any{}, 0
		if t.key != "" {
			args = append(args, last)
		}
		if err := src.query(out, func(r row) error {
			n++
			last = r.int(0)
			return dst.run(in, t.values(r)...)
		}, args...); err != nil {
			return err
		}
		more = t.key != "" && n == copyStep
	}
	if t.counts && !dst.lite {
		return dst.run(fmt.Sprintf("SELECT setval(pg_get_serial_sequence('%s', '%s'), greatest((SELECT max(%[2]s) FROM %[1]s), 1))", t.name, t.key))
	}
	return nil
}

// values are a row's, with texts as texts.
func (t table) values(r row) []any {
	all := make([]any, len(t.columns))
	for i, c := range t.columns {
		all[i] = r[i]
		for _, text := range t.texts {
			if c == text && r[i] != nil {
				all[i] = r.text(i)
			}
		}
	}
	return all
}
