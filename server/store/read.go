package store

import (
	"context"

	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

const entryColumns = `SELECT d.id, o.seq, o.lsn, o.received, o.eff, o.effect, o.code, o.why, o.wire
	FROM op o JOIN device d ON d.n = o.dev`

func receiptOf(r row) oplog.Receipt {
	return oplog.Receipt{Dev: op.DeviceID(r.bytes(0)), Seq: uint64(r.int(1)), LSN: uint64(r.int(2)), Received: r.int(3),
		Eff: clock.Unpack(r.int(4)), Effect: oplog.Effect(r.int(5)), Code: r.text(6), Why: r.text(7)}
}

func entryOf(r row) oplog.Entry { return oplog.Entry{Receipt: receiptOf(r), Wire: r.bytes(8)} }

// Read returns entries of every scope after a place, in order; see oplog.Log.
func (s *Store) Read(ctx context.Context, after uint64, limit int) (all []oplog.Entry, err error) {
	err = s.read(ctx, func(c *conn) error {
		return c.query(entryColumns+" WHERE o.lsn > ? ORDER BY o.lsn LIMIT ?", func(r row) error {
			all = append(all, entryOf(r))
			return nil
		}, after, limit)
	})
	return all, err
}

// Pull returns up to limit entries of one scope after a place, in order, but
// no more than about maxBytes of operations, and whether more follow.
func (s *Store) Pull(ctx context.Context, scope string, after uint64, limit, maxBytes int) (all []oplog.Entry, more bool, err error) {
	err = s.read(ctx, func(c *conn) error {
		return c.query(entryColumns+" WHERE o.scope = (SELECT n FROM word WHERE text = ?) AND o.lsn > ? ORDER BY o.lsn LIMIT ?", func(r row) error {
			if len(all) == limit || len(all) > 0 && maxBytes <= 0 {
				more = true
				return errStop
			}
			e := entryOf(r)
			maxBytes -= len(e.Wire)
			all = append(all, e)
			return nil
		}, scope, after, limit+1)
	})
	return all, more, err
}

// Head returns the end of a device's stream; see oplog.Log.
func (s *Store) Head(ctx context.Context, dev op.DeviceID) (oplog.Head, error) {
	var d devHead
	err := s.read(ctx, func(c *conn) error { return readHead(c, dev, &d) })
	return d.Head, err
}

// Aside returns what a device told in a second story.
func (s *Store) Aside(ctx context.Context, dev op.DeviceID) (all []oplog.Entry, err error) {
	err = s.read(ctx, func(c *conn) error {
		return c.query(`SELECT a.seq, a.received, a.wire FROM aside a JOIN device d ON d.n = a.dev WHERE d.id = ? ORDER BY a.n`, func(r row) error {
			it := oplog.Item{Seq: uint64(r.int(0)), Wire: r.bytes(2)}
			it.Op, it.Bad = op.Decode(it.Wire)
			all = append(all, oplog.Entry{Receipt: oplog.SetAside(it, dev, timeOf(r.int(1))), Wire: it.Wire})
			return nil
		}, dev[:])
	})
	return all, err
}

// LastBefore returns the last place in the log that was received before t.
func (s *Store) LastBefore(ctx context.Context, ms int64) (lsn uint64, err error) {
	err = s.read(ctx, func(c *conn) error {
		low, high := uint64(0), s.Last() // low was received before, high+1 not
		for low < high {
			mid := low + (high-low+1)/2
			before := false
			if _, err := c.one("SELECT received < ? FROM op WHERE lsn = ?", func(r row) { before = r.int(0) == 1 }, ms, mid); err != nil {
				return err
			}
			if before {
				low = mid
			} else {
				high = mid - 1
			}
		}
		lsn = low
		return nil
	})
	return lsn, err
}
