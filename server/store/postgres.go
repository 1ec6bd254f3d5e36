package store

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	_ "github.com/jackc/pgx/v5/stdlib" // the migrations speak database/sql
	"github.com/pressly/goose/v3"

	"wayfall/server/fault"
)

// Keys of PostgreSQL's advisory locks, counted in each database apart.
const (
	lockWrite   = 0x77617966616c6c01 // held to the end of a transaction that writes: the one commit point
	lockServe   = 0x77617966616c6c02 // held by the program that serves the store
	lockMigrate = 0x77617966616c6c03
)

// bell is rung at every commit. It is a hint, never data.
const bell = "wayfall"

// A place in the log is given under a lock that is let go after the commit can
// be seen. So places become visible in their order, and a reader that has seen
// one has seen all below it.
var postgresSpeech = speech{
	beginWrite: []string{"BEGIN", fmt.Sprint("SELECT pg_advisory_xact_lock(", lockWrite, ")")},
	beginRead:  "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY",
}

// postgres is a session with PostgreSQL. It connects again when the connection
// was lost, but never inside a transaction.
type postgres struct {
	url    string
	c      *pgx.Conn
	inside bool // a transaction is open
}

func connectPostgres(url string) (*conn, error) {
	p := &postgres{url: url}
	if err := p.dial(); err != nil {
		return nil, err
	}
	return &conn{p, postgresSpeech}, nil
}

const dialTime = 15 * time.Second

func (p *postgres) dial() (err error) {
	ctx, cancel := context.WithTimeout(context.Background(), dialTime)
	defer cancel()
	how, err := pgx.ParseConfig(p.url)
	if err != nil {
		return errors.New("this is no URL of a database") // the text may hold a password
	}
	how.RuntimeParams["synchronous_commit"] = "on" // acknowledged is on disk, whatever is usual there
	if p.c, err = pgx.ConnectConfig(ctx, how); err != nil {
		return fmt.Errorf("connect to the database: %w", errors.New(plainly(err)))
	}
	return nil
}

// plainly says what went wrong without the address, which may hold a password.
func plainly(err error) string {
	var refused *pgconn.ConnectError
	if errors.As(err, &refused) {
		return refused.Unwrap().Error()
	}
	return err.Error()
}

func (p *postgres) close() error {
	ctx, cancel := context.WithTimeout(context.Background(), dialTime)
	defer cancel()
	return p.c.Close(ctx)
}

// ready connects again if need be, and notes where transactions begin and end.
func (p *postgres) ready(query string) error {
	switch {
	case p.c.IsClosed() && p.inside:
		p.inside = false
		return errors.New("the connection to the database was lost inside a transaction")
	case p.c.IsClosed():
		if err := p.dial(); err != nil {
			return err
		}
	}
	switch {
	case strings.HasPrefix(query, "BEGIN"):
		p.inside = true
	case query == "COMMIT", query == "ROLLBACK":
		p.inside = false
	}
	return nil
}

func (p *postgres) exec(query string, args ...any) (int64, error) {
	if err := p.ready(query); err != nil {
		return 0, err
	}
	tag, err := p.c.Exec(context.Background(), numbered(query), bytesOf(args)...)
	if err != nil {
		return 0, inQuery(query, err)
	}
	return tag.RowsAffected(), nil
}

// query reads all rows before it calls each, which may query again.
func (p *postgres) query(query string, each func(row) error, args ...any) error {
	if err := p.ready(query); err != nil {
		return err
	}
	rows, err := p.c.Query(context.Background(), numbered(query), bytesOf(args)...)
	if err != nil {
		return inQuery(query, err)
	}
	all, err := pgx.CollectRows(rows, rowOf)
	if err != nil {
		return inQuery(query, err)
	}
	for _, r := range all {
		if err := each(r); errors.Is(err, errStop) {
			return nil
		} else if err != nil {
			return err
		}
	}
	return nil
}

func rowOf(r pgx.CollectableRow) (row, error) {
	values, err := r.Values()
	out := make(row, len(values))
	for i, v := range values {
		out[i] = v
	}
	return out, err
}

// bytesOf makes texts bytes, as they are kept.
func bytesOf(args []any) []any {
	out := make([]any, len(args))
	for i, a := range args {
		if text, ok := a.(string); ok {
			out[i] = []byte(text)
		} else {
			out[i] = value(a)
		}
	}
	return out
}

var numbers sync.Map // query -> the same with $1 for the first ?

func numbered(query string) string {
	if s, ok := numbers.Load(query); ok {
		return s.(string)
	}
	var b strings.Builder
	n := 0
	for _, c := range query {
		if c == '?' {
			n++
			b.WriteString("$" + strconv.Itoa(n))
		} else {
			b.WriteRune(c)
		}
	}
	numbers.Store(query, b.String())
	return b.String()
}

// migratePostgres brings the tables up to date, one program at a time.
func migratePostgres(url string) (err error) {
	c, err := connectPostgres(url)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.close()) }()
	if _, err := c.exec(fmt.Sprint("SELECT pg_advisory_lock(", lockMigrate, ")")); err != nil {
		return err
	}
	db, err := sql.Open("pgx", url)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	return migrate(db, goose.DialectPostgres, "migrations/postgres")
}

// errServed says that somebody else serves the store.
var errServed = fault.New(fault.Stale, "another program serves this store; one store is served by one program")

// listener hears of what other programs commit, and holds the lock of the one
// that serves.
type listener struct {
	s    *Store
	c    *conn
	name string // by which this program is told from others that write
	stop context.CancelFunc
	done chan struct{}
}

// listenEvery is how often the end of the log is asked for when no bell rings.
const listenEvery = 2 * time.Second

func (s *Store) listen() (*listener, error) {
	name := make([]byte, 16)
	if _, err := io.ReadFull(s.opts.Random, name); err != nil {
		return nil, err
	}
	c, err := connectPostgres(s.path)
	if err != nil {
		return nil, err
	}
	l := &listener{s: s, c: c, name: hex.EncodeToString(name), done: make(chan struct{})}
	if err := l.take(); err != nil {
		return nil, errors.Join(err, c.close())
	}
	ctx, cancel := context.WithCancel(context.Background())
	l.stop = cancel
	go l.run(ctx)
	return l, nil
}

// take takes the lock of the one that serves, and listens.
func (l *listener) take() error {
	if !l.s.opts.Shared {
		mine := false
		_, err := l.c.one(fmt.Sprint("SELECT pg_try_advisory_lock(", lockServe, ")"), func(r row) { mine = r.int(0) == 1 })
		if err != nil {
			return err
		}
		if !mine {
			return errServed
		}
	}
	_, err := l.c.exec("LISTEN " + bell)
	return err
}

func (l *listener) run(ctx context.Context) {
	defer close(l.done)
	p := l.c.session.(*postgres)
	for ctx.Err() == nil {
		wait, cancel := context.WithTimeout(ctx, listenEvery)
		if !p.c.IsClosed() {
			_, _ = p.c.WaitForNotification(wait) // a hint; what counts is read below
		} else if err := l.take(); errors.Is(err, errServed) {
			l.s.usurp(true)
		} else if err == nil {
			l.s.usurp(false)
		} else {
			<-wait.Done()
		}
		cancel()
		l.look(ctx)
	}
}

// usurp notes whether another program took the lock while the connection was
// lost. Until this one has it again, it writes nothing.
func (s *Store) usurp(yes bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.usurped = yes
}

func (l *listener) look(ctx context.Context) {
	head := uint64(0)
	err := l.s.read(ctx, func(c *conn) error {
		_, err := c.one("SELECT coalesce(max(lsn), 0) FROM op", func(r row) { head = uint64(r.int(0)) })
		return err
	})
	if err == nil {
		l.s.reached(head)
	}
}

func (l *listener) end() error {
	l.stop()
	<-l.done
	return l.c.close()
}
