package store

import (
	"context"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"strings"

	sqlite3 "github.com/mattn/go-sqlite3"
)

// conn is one connection to the database with its prepared statements. It is
// used by one goroutine at a time. It speaks to the driver directly, since
// ingest spends most of its time between database/sql and SQLite otherwise.
type conn struct {
	raw   driver.Conn
	stmts map[string]*stmt
}

type stmt struct {
	raw  driver.Stmt
	args []driver.NamedValue
	row  []driver.Value
}

// escape makes a path part of the URI by which SQLite opens it.
func escape(path string) string {
	return strings.NewReplacer("%", "%25", "?", "%3f", "#", "%23").Replace(path)
}

func dsn(path string, readOnly bool) string {
	s := "file:" + escape(path) + "?_journal_mode=WAL&_synchronous=FULL&_foreign_keys=1&_busy_timeout=10000"
	if readOnly {
		return s + "&_query_only=1&_cache_size=-1000" // there are several, and the system caches the file too
	}
	return s + "&_cache_size=-4000"
}

func connect(path string, readOnly bool) (*conn, error) {
	raw, err := (&sqlite3.SQLiteDriver{}).Open(dsn(path, readOnly))
	if err != nil {
		return nil, fmt.Errorf("open database %s: %w", path, err)
	}
	return &conn{raw: raw, stmts: map[string]*stmt{}}, nil
}

func (c *conn) close() error {
	var errs []error
	for _, s := range c.stmts {
		errs = append(errs, s.raw.Close())
	}
	return errors.Join(append(errs, c.raw.Close())...)
}

func (c *conn) prepare(query string) (*stmt, error) {
	if s := c.stmts[query]; s != nil {
		return s, nil
	}
	raw, err := c.raw.Prepare(query)
	if err != nil {
		return nil, fmt.Errorf("prepare %s: %w", query, err)
	}
	s := &stmt{raw: raw}
	c.stmts[query] = s
	return s, nil
}

func (s *stmt) bind(args []any) []driver.NamedValue {
	s.args = s.args[:0]
	for i, a := range args {
		s.args = append(s.args, driver.NamedValue{Ordinal: i + 1, Value: value(a)})
	}
	return s.args
}

func value(a any) driver.Value {
	switch a := a.(type) {
	case uint64:
		return int64(a)
	case int:
		return int64(a)
	case bool:
		if a {
			return int64(1)
		}
		return int64(0)
	}
	return a
}

// exec runs a statement and returns how many rows it changed.
func (c *conn) exec(query string, args ...any) (int64, error) {
	s, err := c.prepare(query)
	if err != nil {
		return 0, err
	}
	res, err := s.raw.(driver.StmtExecContext).ExecContext(context.Background(), s.bind(args))
	if err != nil {
		return 0, fmt.Errorf("%s: %w", query, err)
	}
	return res.RowsAffected()
}

// run runs a statement without a result. The driver crosses into SQLite once
// for a query, where exec crosses once for every argument.
func (c *conn) run(query string, args ...any) error {
	return c.query(query, func(row) error { return nil }, args...)
}

// row is one row of a result. Its bytes are the caller's.
type row []driver.Value

func (r row) int(i int) int64 { n, _ := r[i].(int64); return n }

func (r row) bytes(i int) []byte {
	switch v := r[i].(type) {
	case []byte:
		return v
	case string:
		return []byte(v)
	}
	return nil
}

func (r row) text(i int) string {
	switch v := r[i].(type) {
	case string:
		return v
	case []byte:
		return string(v)
	}
	return ""
}

// errStop ends a query early; query then returns nil.
var errStop = errors.New("stop")

// query calls each for every row, in order.
func (c *conn) query(query string, each func(row) error, args ...any) (err error) {
	s, err := c.prepare(query)
	if err != nil {
		return err
	}
	rows, err := s.raw.(driver.StmtQueryContext).QueryContext(context.Background(), s.bind(args))
	if err != nil {
		return fmt.Errorf("%s: %w", query, err)
	}
	defer func() {
		if e := rows.Close(); err == nil {
			err = e
		}
	}()
	if s.row == nil {
		s.row = make([]driver.Value, len(rows.Columns()))
	}
	for {
		switch err := rows.Next(s.row); {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return fmt.Errorf("%s: %w", query, err)
		}
		if err := each(s.row); errors.Is(err, errStop) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

// one calls each for the first row and reports whether there was one.
func (c *conn) one(query string, each func(row), args ...any) (bool, error) {
	found := false
	err := c.query(query, func(r row) error {
		found = true
		each(r)
		return errStop
	}, args...)
	return found, err
}
