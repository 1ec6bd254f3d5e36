package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	sqlite3 "github.com/mattn/go-sqlite3"
	"github.com/pressly/goose/v3"
)

// lite is a session with SQLite. It speaks to the driver directly, since
// ingest spends most of its time between database/sql and SQLite otherwise.
type lite struct {
	raw   driver.Conn
	stmts map[string]*stmt
}

type stmt struct {
	raw  driver.Stmt
	args []driver.NamedValue
	row  []driver.Value
}

var liteSpeech = speech{beginWrite: []string{"BEGIN IMMEDIATE"}, beginRead: "BEGIN", lite: true}

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

func connectLite(path string, readOnly bool) (*conn, error) {
	raw, err := (&sqlite3.SQLiteDriver{}).Open(dsn(path, readOnly))
	if err != nil {
		return nil, fmt.Errorf("open database %s: %w", path, err)
	}
	return &conn{&lite{raw: raw, stmts: map[string]*stmt{}}, liteSpeech}, nil
}

func (c *lite) close() error {
	var errs []error
	for _, s := range c.stmts {
		errs = append(errs, s.raw.Close())
	}
	return errors.Join(append(errs, c.raw.Close())...)
}

func (c *lite) prepare(query string) (*stmt, error) {
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

func (c *lite) exec(query string, args ...any) (int64, error) {
	s, err := c.prepare(query)
	if err != nil {
		return 0, err
	}
	res, err := s.raw.(driver.StmtExecContext).ExecContext(context.Background(), s.bind(args))
	if err != nil {
		return 0, inQuery(query, err)
	}
	return res.RowsAffected()
}

// query crosses into SQLite once for a statement, where exec crosses once for
// every argument.
func (c *lite) query(query string, each func(row) error, args ...any) (err error) {
	s, err := c.prepare(query)
	if err != nil {
		return err
	}
	rows, err := s.raw.(driver.StmtQueryContext).QueryContext(context.Background(), s.bind(args))
	if err != nil {
		return inQuery(query, err)
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
			return inQuery(query, err)
		}
		if err := each(s.row); errors.Is(err, errStop) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

// pageSize holds a few operations of usual length; at SQLite's own 4096 bytes
// a third of every page stays empty.
const pageSize = 8192

// create makes an empty database with our page size, if there is none.
func create(path string) error {
	if _, err := os.Stat(path); err == nil {
		return nil
	}
	raw, err := (&sqlite3.SQLiteDriver{}).Open("file:" + escape(path))
	if err != nil {
		return err
	}
	c := &lite{raw: raw, stmts: map[string]*stmt{}}
	_, err = c.exec(fmt.Sprint("PRAGMA page_size = ", pageSize))
	if err == nil {
		_, err = c.exec("PRAGMA journal_mode = WAL")
	}
	return errors.Join(err, c.close())
}

func migrateLite(path string) (err error) {
	if err := create(path); err != nil {
		return err
	}
	db, err := sql.Open("sqlite3", dsn(path, false))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	return migrate(db, goose.DialectSQLite3, "migrations")
}

func migrate(db *sql.DB, dialect goose.Dialect, folder string) error {
	steps, err := fs.Sub(migrations, folder)
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(dialect, db, steps)
	if err != nil {
		return err
	}
	_, err = p.Up(context.Background())
	return err
}
