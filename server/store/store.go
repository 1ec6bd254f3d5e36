// Package store keeps the log, what is folded from it, and the small things
// other packages keep, in one SQLite file with photos beside it.
//
// It promises that what it acknowledged is on disk (write-ahead log,
// synchronous=FULL), that the order of the log is the order of commits, that
// several operations are written together or not at all, and that it can be
// killed at any moment. It passes oplogtest.Run. It does not decide what an
// operation's effect is: a Judge is handed in. It does not know HTTP.
//
// The log is the truth. A record's state is derived: it is folded when read,
// from a kept state and the operations after it.
package store

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"time"

	"wayfall/server/fault"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

//go:embed migrations/*.sql migrations/postgres/*.sql
var migrations embed.FS

// Options are what a store needs from outside.
type Options struct {
	Now    func() time.Time
	Random io.Reader
	// Judge decides the effect of every operation that comes in, in the order
	// of the log, before it is folded. It may read through tx, not write. Nil
	// finds everything OK.
	Judge func(tx *Tx, o op.Op) oplog.Ruling
	// Schema is written into the server's own operations; 0 stands for 1.
	Schema int
	// Photos is the folder of photos. A store in a file has one of its own.
	Photos string
	// Shared lets other programs write to the same PostgreSQL database. The
	// log stays right; whoever remembers anything beside it must not rely on it.
	Shared bool
}

// Identity is who this server is.
type Identity struct {
	Server      [16]byte    // for ever
	Incarnation [16]byte    // until the store is restored from a backup
	Device      op.DeviceID // under which the server writes, new with each incarnation
}

// Store is an open store. Its methods may be called from any goroutine.
type Store struct {
	path    string
	opts    Options
	blobs   string
	readers chan *conn
	jobs    chan *job
	stopped chan struct{} // closed when the writer has ended
	uploads sync.Map      // Sum -> true: photos being received

	listener *listener // nil: nobody else can write

	mu      sync.RWMutex // guards what follows
	closed  bool
	usurped bool // another program serves the store now
	id      Identity
	head    uint64        // the last committed place
	changed chan struct{} // closed at the next commit
}

const readerCount = 4

// Open opens the store at the path, and makes it if there is none. Photos are
// kept in the folder of the same name with ".blobs" behind it. A path that is
// the URL of a PostgreSQL database opens the store in there; its photos lie in
// a folder that the options name.
func Open(path string, opts Options) (*Store, error) {
	if opts.Now == nil || opts.Random == nil {
		return nil, fault.New(fault.Internal, "a store needs a clock and a source of chance")
	}
	if opts.Schema == 0 {
		opts.Schema = 1
	}
	path, photos, err := prepare(path, opts.Photos)
	if err != nil {
		return nil, err
	}
	s := &Store{path: path, opts: opts, blobs: photos, readers: make(chan *conn, readerCount),
		jobs: make(chan *job, queue), stopped: make(chan struct{}), changed: make(chan struct{})}
	for _, dir := range []string{s.blobs, filepath.Join(s.blobs, "tmp")} {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return nil, err
		}
	}
	if err := s.start(); err != nil {
		return nil, err
	}
	return s, nil
}

// prepare brings the tables up to date, and returns path and folder of photos
// in full.
func prepare(path, photos string) (string, string, error) {
	if isURL(path) {
		if photos == "" {
			return "", "", fault.New(fault.Invalid, "a store in a database needs a folder for its photos")
		}
		return path, photos, fault.Wrap(migratePostgres(path), "bring the store in the database up to date")
	}
	path, err := filepath.Abs(path)
	if err != nil {
		return "", "", err
	}
	if photos == "" {
		photos = path + ".blobs"
	}
	return path, photos, fault.Wrap(migrateLite(path), "bring the store %s up to date", filepath.Base(path))
}

// start opens the connections and begins to write.
func (s *Store) start() (err error) {
	w, err := s.newWriter()
	if err != nil {
		return err
	}
	open := []func() error{w.c.close}
	defer func() {
		for _, end := range open {
			if err != nil {
				err = errors.Join(err, end())
			}
		}
	}()
	for range readerCount {
		c, err := connect(s.path, true)
		if err != nil {
			return err
		}
		open = append(open, c.close)
		s.readers <- c
	}
	if isURL(s.path) {
		if s.listener, err = s.listen(); err != nil {
			return err
		}
	}
	go w.run()
	return nil
}

// Close finishes what was begun, refuses what is new, and closes the files.
func (s *Store) Close() error {
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		return nil
	}
	s.closed = true
	s.mu.Unlock()
	close(s.jobs) // no sender is left: each holds the read lock while it sends
	<-s.stopped
	var errs []error
	if s.listener != nil {
		errs = append(errs, s.listener.end())
	}
	for range readerCount {
		errs = append(errs, (<-s.readers).close())
	}
	return errors.Join(errs...)
}

// Identity returns who this server is.
func (s *Store) Identity() Identity {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.id
}

// Last returns the last place in the log.
func (s *Store) Last() uint64 {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.head
}

// Wait returns once the log has a place after the given one, or ctx ends.
func (s *Store) Wait(ctx context.Context, after uint64) error {
	for {
		s.mu.RLock()
		head, changed := s.head, s.changed
		s.mu.RUnlock()
		if head > after {
			return nil
		}
		select {
		case <-changed:
		case <-s.stopped:
			return errClosed
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

var errClosed = fault.New(fault.Busy, "the store is closing")

// read lends a connection for reading.
func (s *Store) read(ctx context.Context, use func(*conn) error) error {
	select {
	case c := <-s.readers:
		defer func() { s.readers <- c }()
		select {
		case <-s.stopped:
			return errClosed
		default:
		}
		return use(c)
	case <-s.stopped:
		return errClosed
	case <-ctx.Done():
		return ctx.Err()
	}
}

// snapshot lends a connection that sees the store as it is now until use ends.
func (s *Store) snapshot(ctx context.Context, use func(*conn) error) error {
	return s.read(ctx, func(c *conn) (err error) {
		if _, err := c.exec(c.beginRead); err != nil {
			return err
		}
		defer func() {
			if _, e := c.exec("ROLLBACK"); err == nil {
				err = e
			}
		}()
		return use(c)
	})
}

// load reads what a writer starts from: the identity, new in a new store.
func (w *writer) load() error {
	ident := map[string][]byte{"server": nil, "incarnation": nil, "device": nil}
	for name := range ident {
		v, err := w.meta(name, 16)
		if err != nil {
			return err
		}
		ident[name] = v
	}
	w.s.id = Identity{[16]byte(ident["server"]), [16]byte(ident["incarnation"]), op.DeviceID(ident["device"])}
	return w.refold()
}

// meta returns a kept value, drawn at random when it is first asked for.
func (w *writer) meta(name string, size int) ([]byte, error) {
	var v []byte
	found, err := w.c.one("SELECT value FROM meta WHERE name = ?", func(r row) { v = r.bytes(0) }, name)
	if err != nil || found {
		return v, err
	}
	v = make([]byte, size)
	if _, err := io.ReadFull(w.s.opts.Random, v); err != nil {
		return nil, err
	}
	_, err = w.c.exec("INSERT INTO meta (name, value) VALUES (?, ?)", name, v)
	return v, err
}

// refold drops kept states that another release folded by other rules.
func (w *writer) refold() error {
	want := fmt.Sprint(merge.Version, merge.Format)
	var have string
	if _, err := w.c.one("SELECT value FROM meta WHERE name = 'fold'", func(r row) { have = r.text(0) }); err != nil {
		return err
	}
	if have == want {
		return nil
	}
	if _, err := w.c.exec("UPDATE record SET state = NULL, upto = 0, tail = tail + 1000000 WHERE state IS NOT NULL"); err != nil {
		return err
	}
	return keepMeta(w.c, "fold", []byte(want))
}

// keepMeta writes what the store knows about itself.
func keepMeta(c *conn, name string, value []byte) error {
	return c.run("INSERT INTO meta (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value", name, value)
}
