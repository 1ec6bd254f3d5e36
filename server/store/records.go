package store

import (
	"context"
	"encoding/binary"
	"iter"
	"time"

	"wayfall/server/fault"
	"wayfall/sync/clock"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/record"
)

func timeOf(ms int64) time.Time { return time.UnixMilli(ms) }

// kept is one row of the record table.
type kept struct {
	rid   int64
	id    op.ID
	kind  record.Kind
	upto  uint64
	lsns  []byte
	state []byte
}

const keptColumns = `SELECT r.rid, r.id, w.text, r.upto, r.lsns, r.state FROM record r JOIN word w ON w.n = r.kind`

func keptOf(r row) kept {
	return kept{r.int(0), op.ID(r.bytes(1)), record.Kind(r.text(2)), uint64(r.int(3)), r.bytes(4), r.bytes(5)}
}

// places returns the places of the record's operations after one place.
func (k kept) places(after uint64) []uint64 {
	var all []uint64
	for b := k.lsns; len(b) > 0; {
		lsn, n := binary.Uvarint(b)
		if n <= 0 {
			break
		}
		if b = b[n:]; lsn > after {
			all = append(all, lsn)
		}
	}
	return all
}

// load folds the record up to a place; 0 stands for the end of the log.
func (k kept) load(c *conn, asOf uint64) (merge.State, error) {
	st, after := merge.New(k.id, k.kind), uint64(0)
	if k.state != nil && (asOf == 0 || k.upto <= asOf) {
		var err error
		if st, err = merge.Decode(k.state); err != nil {
			return st, fault.Wrap(err, "read the state of record %v", k.id)
		}
		after = k.upto
	}
	return st, st.Fold(k.history(c, after, asOf))
}

// history are the record's operations after one place and up to another; 0
// stands for the end of the log.
func (k kept) history(c *conn, after, upto uint64) iter.Seq2[merge.Folded, error] {
	return func(yield func(merge.Folded, error) bool) {
		for _, lsn := range k.places(after) {
			if upto > 0 && lsn > upto {
				return
			}
			one, has, err := folded(c, lsn)
			if (has || err != nil) && !yield(one, err) {
				return
			}
		}
	}
}

// folded reads one entry of the log, and whether it has an effect.
func folded(c *conn, lsn uint64) (f merge.Folded, has bool, err error) {
	var wire []byte
	var effect oplog.Effect
	if _, err := c.one("SELECT eff, effect, wire FROM op WHERE lsn = ?", func(x row) {
		f.Receipt = merge.Receipt{LSN: lsn, Eff: clock.Unpack(x.int(0))}
		effect, wire = oplog.Effect(x.int(1)), x.bytes(2)
	}, lsn); err != nil || !effect.Folded() {
		return f, false, err
	}
	f.Op, err = op.Decode(wire)
	return f, err == nil, fault.Wrap(err, "read operation %d of the log", lsn)
}

// foldLong keeps the states of records behind which much has gathered. The
// index record_long holds just those.
func (w *writer) foldLong() error {
	var rids []int64
	if err := w.c.query("SELECT rid FROM record WHERE tail >= 12", func(r row) error {
		rids = append(rids, r.int(0))
		return nil
	}); err != nil {
		return err
	}
	for _, rid := range rids {
		if err := w.fold(rid); err != nil {
			return err
		}
	}
	return nil
}

// fold keeps the state of a record as it is now.
func (w *writer) fold(rid int64) error {
	var k kept
	if _, err := w.c.one(keptColumns+" WHERE r.rid = ?", func(r row) { k = keptOf(r) }, rid); err != nil {
		return err
	}
	st, err := k.load(w.c, 0)
	if err != nil {
		return err
	}
	_, err = w.c.exec("UPDATE record SET state = ?, upto = ?, tail = 0 WHERE rid = ?", st.Append(nil), w.next-1, rid)
	return err
}

func findRecord(c *conn, id op.ID) (k kept, found bool, err error) {
	found, err = c.one(keptColumns+" WHERE r.id = ? ORDER BY r.rid LIMIT 1", func(r row) { k = keptOf(r) }, id[:])
	return k, found, err
}

func recordOf(c *conn, id op.ID, asOf uint64) (merge.State, error) {
	k, found, err := findRecord(c, id)
	if err != nil {
		return merge.State{}, err
	}
	if !found {
		return merge.State{}, fault.New(fault.Missing, "there is no record %v", id)
	}
	return k.load(c, asOf)
}

// Record returns the record as it is now. It returns a fault of kind Missing
// if nobody ever wrote to it.
func (s *Store) Record(ctx context.Context, id op.ID) (st merge.State, err error) {
	err = s.snapshot(ctx, func(c *conn) error {
		st, err = recordOf(c, id, 0)
		return err
	})
	return st, err
}

// RecordAt returns the record as it was at a place in the log, an empty state
// if nobody had written to it by then.
func (s *Store) RecordAt(ctx context.Context, id op.ID, place uint64) (st merge.State, err error) {
	err = s.snapshot(ctx, func(c *conn) error {
		k, found, err := findRecord(c, id)
		if err != nil || !found || place == 0 {
			return err
		}
		st, err = k.load(c, place)
		return err
	})
	return st, err
}

// ScopeOf returns the institution in which the record was first written.
func (s *Store) ScopeOf(ctx context.Context, id op.ID) (scope string, err error) {
	err = s.read(ctx, func(c *conn) error {
		found, err := c.one("SELECT w.text FROM record r JOIN word w ON w.n = r.scope WHERE r.id = ? ORDER BY r.rid LIMIT 1",
			func(r row) { scope = r.text(0) }, id[:])
		if err == nil && !found {
			err = fault.New(fault.Missing, "there is no record %v", id)
		}
		return err
	})
	return scope, err
}

// Which says which records to go through, and as of when.
type Which struct {
	Kind  record.Kind
	Scope string
	AsOf  uint64 // place in the log; 0 stands for now
}

// Each calls do for every record, in the order in which they were first
// written, all as of one moment. Records that only had operations without
// effect are handed over empty. It keeps one record in memory at a time. An
// error from do ends it and is returned.
func (s *Store) Each(ctx context.Context, which Which, do func(merge.State) error) error {
	return s.snapshot(ctx, func(c *conn) error {
		return each(ctx, c, which, do)
	})
}

func each(ctx context.Context, c *conn, which Which, do func(merge.State) error) error {
	return c.query(keptColumns+` WHERE r.scope = (SELECT n FROM word WHERE text = ?)
		AND r.kind = (SELECT n FROM word WHERE text = ?) ORDER BY r.rid`, func(r row) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		k := keptOf(r)
		if first := k.places(0); which.AsOf > 0 && (len(first) == 0 || first[0] > which.AsOf) {
			return nil
		}
		st, err := k.load(c, which.AsOf)
		if err != nil {
			return err
		}
		return do(st)
	}, which.Scope, string(which.Kind))
}

// OpsOf returns the whole history of a record, in the order of the log, with
// operations that had no effect.
func (s *Store) OpsOf(ctx context.Context, id op.ID) (all []oplog.Entry, err error) {
	err = s.snapshot(ctx, func(c *conn) error {
		k, found, err := findRecord(c, id)
		if err != nil {
			return err
		}
		if !found {
			return fault.New(fault.Missing, "there is no record %v", id)
		}
		for _, lsn := range k.places(0) {
			if _, err := c.one(entryColumns+" WHERE o.lsn = ?", func(r row) { all = append(all, entryOf(r)) }, lsn); err != nil {
				return err
			}
		}
		return nil
	})
	return all, err
}
