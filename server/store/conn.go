package store

import (
	"database/sql/driver"
	"errors"
	"fmt"
	"strings"
)

// conn is one connection to the database. It is used by one goroutine at a
// time. Its queries are written in what SQLite and PostgreSQL both take.
type conn struct {
	session
	speech
}

// session passes statements to a database and keeps them prepared.
type session interface {
	// exec runs a statement and returns how many rows it changed.
	exec(query string, args ...any) (int64, error)
	// query calls each for every row, in order.
	query(query string, each func(row) error, args ...any) error
	close() error
}

// speech is what the databases say differently.
type speech struct {
	beginWrite []string // nothing else writes until this ends
	beginRead  string   // everything is seen as it is now until this ends
	lite       bool
}

// connect opens a connection to a file, or to a PostgreSQL database by its URL.
func connect(path string, readOnly bool) (*conn, error) {
	if isURL(path) {
		return connectPostgres(path)
	}
	return connectLite(path, readOnly)
}

func isURL(path string) bool {
	return strings.HasPrefix(path, "postgres://") || strings.HasPrefix(path, "postgresql://")
}

// begin begins a transaction that writes.
func (c *conn) begin() error {
	for _, text := range c.beginWrite {
		if _, err := c.exec(text); err != nil {
			return err
		}
	}
	return nil
}

// run runs a statement without a result.
func (c *conn) run(query string, args ...any) error {
	return c.query(query, func(row) error { return nil }, args...)
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

// row is one row of a result. Its bytes are the caller's.
type row []driver.Value

func (r row) int(i int) int64 {
	switch v := r[i].(type) {
	case int64:
		return v
	case bool:
		if v {
			return 1
		}
	}
	return 0
}

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

// value makes an argument one of few kinds.
func value(a any) any {
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

func inQuery(query string, err error) error { return fmt.Errorf("%s: %w", query, err) }
