package store

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"wayfall/server/fault"
	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// Writes are collected into one commit until it holds groupOps operations or
// groupTime has passed. A writer that is alone does not wait.
const (
	groupOps  = 500
	groupTime = 5 * time.Millisecond
	queue     = 128 // writes that may wait; more are told to come back
)

// job is one write. Its run is all or nothing.
type job struct {
	run   func(*writer) error
	size  int         // operations
	sure  bool        // refused before it writes or not at all, but for a broken disk: needs no savepoint
	taken atomic.Bool // by the writer, or by a caller who gave up before it began
	done  chan error
}

// writer is the one goroutine that writes. What it remembers is dropped when
// anything is rolled back.
type writer struct {
	s        *Store
	c        *conn
	next     uint64                   // place of the next operation
	received int64                    // of the last operation, milliseconds
	stamp    clock.Stamp              // of this server
	devices  map[op.DeviceID]*devHead // by id
	words    map[string]int64
}

type devHead struct {
	n int64
	oplog.Head
}

func (s *Store) newWriter() (*writer, error) {
	c, err := connect(s.path, false)
	if err != nil {
		return nil, err
	}
	w := &writer{s: s, c: c}
	if c.lite {
		if _, err := c.exec("PRAGMA wal_autocheckpoint = 4000"); err != nil {
			return nil, errors.Join(err, c.close())
		}
	}
	err = w.transact(func() error { return w.load() })
	if err == nil {
		err = w.forget()
	}
	if err != nil {
		return nil, errors.Join(err, c.close())
	}
	s.head = w.next - 1
	return w, nil
}

func (w *writer) transact(do func() error) error {
	if err := w.c.begin(); err != nil {
		return err
	}
	if err := do(); err != nil {
		_, e := w.c.exec("ROLLBACK")
		return errors.Join(err, e)
	}
	_, err := w.c.exec("COMMIT")
	return err
}

// forget drops everything remembered and reads where the log ends.
func (w *writer) forget() error {
	w.devices, w.words = map[op.DeviceID]*devHead{}, map[string]int64{}
	w.next = 1
	if _, err := w.c.one("SELECT lsn, received FROM op ORDER BY lsn DESC LIMIT 1", func(r row) {
		w.next, w.received = uint64(r.int(0))+1, r.int(1)
	}); err != nil {
		return err
	}
	// The server stamps later than everything it acknowledged lately.
	return w.c.query("SELECT eff FROM op WHERE lsn > ?", func(r row) error {
		if e := clock.Unpack(r.int(0)); e.Compare(w.stamp) > 0 {
			w.stamp = e
		}
		return nil
	}, int64(w.next)-2000)
}

// do hands a write to the writer and waits until it is on disk. If ctx ends
// before the write began, nothing is written; once begun it is waited for, so
// that nobody is told of a failure that was none.
func (s *Store) do(ctx context.Context, run func(*writer) error) error {
	return s.wait(ctx, &job{run: run, size: 1, done: make(chan error, 1)})
}

func (s *Store) wait(ctx context.Context, j *job) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := s.send(j); err != nil {
		return err
	}
	select {
	case err := <-j.done:
		return err
	case <-ctx.Done():
		if j.taken.CompareAndSwap(false, true) {
			return ctx.Err()
		}
		return <-j.done
	}
}

func (s *Store) send(j *job) error {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.closed {
		return errClosed
	}
	if s.usurped {
		return errServed
	}
	select {
	case s.jobs <- j:
		return nil
	default:
		return fault.New(fault.Busy, "too much is being written; come back in a moment")
	}
}

func (w *writer) run() {
	defer close(w.s.stopped)
	for first := range w.s.jobs {
		w.group(first)
	}
	if w.c.lite {
		_, _ = w.c.exec("PRAGMA wal_checkpoint(TRUNCATE)") // only tidies; everything is committed
	}
	_ = w.c.close()
}

// group runs first and whatever waits behind it in one commit.
func (w *writer) group(first *job) {
	if err := w.begin(); err != nil {
		if first.taken.CompareAndSwap(false, true) {
			first.done <- err
		}
		return
	}
	ran, err := w.gather(first)
	if err == nil {
		err = w.foldLong()
	}
	if err == nil {
		err = w.ring()
	}
	if err == nil {
		_, err = w.c.exec("COMMIT")
	}
	if err == nil {
		w.announce()
	} else {
		_, e := w.c.exec("ROLLBACK")
		err = errors.Join(fmt.Errorf("commit: %w", err), e, w.forget())
	}
	for _, j := range ran {
		j.done <- err
	}
}

// begin begins to write. If another program wrote last, what this one
// remembers is of no use any more.
func (w *writer) begin() error {
	err := w.c.begin()
	if err != nil || w.s.listener == nil {
		return err
	}
	last := ""
	_, err = w.c.one("SELECT holder FROM turn", func(r row) { last = r.text(0) })
	if err == nil && last != w.s.listener.name {
		if err = w.forget(); err == nil {
			err = w.c.run("UPDATE turn SET holder = ?", w.s.listener.name)
		}
	}
	if err != nil {
		_, e := w.c.exec("ROLLBACK")
		err = errors.Join(err, e)
	}
	return err
}

// ring tells other programs of a commit, when it happens.
func (w *writer) ring() error {
	if w.s.listener == nil {
		return nil
	}
	return w.c.run("SELECT pg_notify('" + bell + "', '')")
}

// gather runs jobs inside the open transaction and returns those that wait
// for the commit. An error means that nothing may be committed.
func (w *writer) gather(first *job) (ran []*job, err error) {
	begun, size := time.Now(), 0
	for j := first; j != nil; j = w.waiting() {
		if !j.taken.CompareAndSwap(false, true) {
			continue // nobody waits for it
		}
		size += j.size
		broken, err := w.attempt(j)
		switch {
		case broken:
			return append(ran, j), err
		case err != nil:
			j.done <- err
		default:
			ran = append(ran, j)
		}
		if size >= groupOps || time.Since(begun) >= groupTime {
			break
		}
	}
	return ran, nil
}

func (w *writer) waiting() *job {
	select {
	case j := <-w.s.jobs: // nil once closed and empty
		return j
	default:
		return nil
	}
}

// attempt runs a job all or not at all, inside the open transaction. It
// reports broken if the transaction can only be rolled back.
func (w *writer) attempt(j *job) (broken bool, err error) {
	if j.sure {
		err = j.run(w)
		return err != nil && !isPlain(err), err
	}
	if _, err := w.c.exec("SAVEPOINT job"); err != nil {
		return true, err
	}
	if err = j.run(w); err == nil {
		_, err = w.c.exec("RELEASE job")
		return err != nil, err
	}
	_, e1 := w.c.exec("ROLLBACK TO job")
	_, e2 := w.c.exec("RELEASE job")
	if e := errors.Join(e1, e2, w.forget()); e != nil {
		return true, errors.Join(err, e)
	}
	return false, err
}

// isPlain reports whether err is a refusal that comes before any write.
func isPlain(err error) bool {
	var gap *oplog.GapError
	var chain *oplog.ChainError
	return errors.As(err, &gap) || errors.As(err, &chain)
}

// announce tells readers of a commit.
func (w *writer) announce() { w.s.reached(w.next - 1) }

// reached tells readers how far the log reaches.
func (s *Store) reached(head uint64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.head < head {
		s.head = head
		close(s.changed)
		s.changed = make(chan struct{})
	}
}

// now returns the time of receipt, which never falls along the log.
func (w *writer) now() time.Time {
	now := w.s.opts.Now()
	w.received = max(w.received, now.UnixMilli())
	return time.UnixMilli(w.received)
}

// word returns the number of a scope or kind.
func (w *writer) word(text string) (int64, error) {
	if n, ok := w.words[text]; ok {
		return n, nil
	}
	if _, err := w.c.exec("INSERT INTO word (text) VALUES (?) ON CONFLICT DO NOTHING", text); err != nil {
		return 0, err
	}
	var n int64
	if _, err := w.c.one("SELECT n FROM word WHERE text = ?", func(r row) { n = r.int(0) }, text); err != nil {
		return 0, err
	}
	if len(w.words) < 10_000 {
		w.words[text] = n
	}
	return n, nil
}
