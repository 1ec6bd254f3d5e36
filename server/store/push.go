package store

import (
	"context"
	"encoding/binary"
	"fmt"
	"time"

	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// Push appends a batch as a device sent it. When it returns without error, the
// operations are on disk. It keeps the promises of oplog.Log's Append.
func (s *Store) Push(ctx context.Context, b oplog.Batch) ([]oplog.Receipt, error) {
	items, err := oplog.Prepare(b)
	if err != nil {
		return nil, err
	}
	var receipts []oplog.Receipt
	j := &job{size: len(items), sure: true, done: make(chan error, 1)}
	j.run = func(w *writer) (err error) {
		receipts, err = w.push(b, items)
		return err
	}
	if err := s.wait(ctx, j); err != nil {
		return nil, err
	}
	return receipts, nil
}

// Append is Push under the name that oplog.Log gives it.
func (s *Store) Append(ctx context.Context, b oplog.Batch) ([]oplog.Receipt, error) {
	return s.Push(ctx, b)
}

func (w *writer) push(b oplog.Batch, items []oplog.Item) ([]oplog.Receipt, error) {
	d, err := w.device(b.Dev)
	if err != nil {
		return nil, err
	}
	plan, err := oplog.Make(b, items, d.Head, func(seq uint64) (oplog.Stored, error) { return w.stored(d.n, seq) })
	if err != nil {
		return nil, err
	}
	if err := w.known(b.Dev, d); err != nil {
		return nil, err
	}
	if plan.Freeze {
		if err := w.freeze(d, "it told two stories under one number: a copied phone, or somebody pretending"); err != nil {
			return nil, err
		}
	}
	receipts := make([]oplog.Receipt, 0, len(items))
	for i, it := range items {
		var r oplog.Receipt
		switch {
		case i < plan.Repeats:
			r, err = w.receipt(d.n, it.Seq)
		case i < plan.Repeats+plan.Fresh:
			r, err = w.add(it, b.Dev, d)
		default:
			r, err = w.setAside(it, b.Dev, d.n)
		}
		if err != nil {
			return nil, err
		}
		receipts = append(receipts, r)
	}
	return receipts, nil
}

// device returns what is remembered of a device, with n 0 if it is new.
func (w *writer) device(id op.DeviceID) (*devHead, error) {
	if d := w.devices[id]; d != nil {
		return d, nil
	}
	d := &devHead{}
	if err := readHead(w.c, id, d); err != nil {
		return nil, err
	}
	if len(w.devices) > 10_000 {
		clear(w.devices)
	}
	w.devices[id] = d
	return d, nil
}

func readHead(c *conn, id op.DeviceID, d *devHead) error {
	d.Link = op.Genesis(id)
	found, err := c.one("SELECT n, frozen IS NOT NULL FROM device WHERE id = ?", func(r row) { d.n, d.Frozen = r.int(0), r.int(1) == 1 }, id[:])
	if err != nil || !found {
		return err
	}
	_, err = c.one("SELECT seq, link FROM op WHERE dev = ? ORDER BY seq DESC LIMIT 1", func(r row) {
		d.Seq, d.Link = uint64(r.int(0)), op.Link(r.bytes(1))
	}, d.n)
	return err
}

// known gives a new device its number.
func (w *writer) known(id op.DeviceID, d *devHead) error {
	if d.n != 0 {
		return nil
	}
	if _, err := w.c.exec("INSERT INTO device (id, first) VALUES (?, ?)", id[:], w.now().UnixMilli()); err != nil {
		return err
	}
	_, err := w.c.one("SELECT n FROM device WHERE id = ?", func(r row) { d.n = r.int(0) }, id[:])
	return err
}

func (w *writer) freeze(d *devHead, why string) error {
	d.Frozen = true
	_, err := w.c.exec("UPDATE device SET frozen = ? WHERE n = ?", why, d.n)
	return err
}

func (w *writer) stored(dev int64, seq uint64) (st oplog.Stored, err error) {
	found, err := w.c.one("SELECT hash, link FROM op WHERE dev = ? AND seq = ?", func(r row) {
		st = oplog.Stored{Hash: op.Hash(r.bytes(0)), Link: op.Link(r.bytes(1))}
	}, dev, seq)
	if err == nil && !found {
		err = fmt.Errorf("operation %d of device number %d is missing from the log", seq, dev)
	}
	return st, err
}

func (w *writer) receipt(dev int64, seq uint64) (r oplog.Receipt, err error) {
	_, err = w.c.one(entryColumns+" WHERE o.dev = ? AND o.seq = ?", func(x row) { r = receiptOf(x) }, dev, seq)
	return r, err
}

// add writes a fresh operation to the end of the log.
func (w *writer) add(it oplog.Item, dev op.DeviceID, d *devHead) (oplog.Receipt, error) {
	now := w.now()
	r := oplog.Receive(it, dev, w.next, now, d.Frozen, w.judge())
	scope := int64(0)
	if it.Bad == nil {
		var err error
		if scope, err = w.word(it.Op.Scope); err != nil {
			return r, err
		}
	}
	return r, w.insert(it, d, r, scope)
}

func (w *writer) judge() oplog.Judge {
	if w.s.opts.Judge == nil {
		return nil
	}
	return func(o op.Op) (ruling oplog.Ruling) {
		defer func() {
			if p := recover(); p != nil { // one odd operation must not stop a phone, or the server
				ruling = oplog.Ruling{Effect: oplog.Review, Code: CodeUnjudged, Why: fmt.Sprint("the rules could not be applied: ", p)}
			}
		}()
		return w.s.opts.Judge(&Tx{w: w}, o)
	}
}

// CodeUnjudged is the code of an operation whose judge failed.
const CodeUnjudged = "unjudged"

func (w *writer) insert(it oplog.Item, d *devHead, r oplog.Receipt, scope int64) error {
	var code, why any
	if r.Code != "" {
		code = r.Code
	}
	if r.Why != "" {
		why = r.Why
	}
	err := w.c.run(`INSERT INTO op (lsn, dev, seq, scope, received, eff, effect, code, why, hash, link, wire)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		r.LSN, d.n, r.Seq, scope, r.Received, r.Eff.Packed(), int64(r.Effect), code, why, it.Hash[:], it.Link[:], it.Wire)
	if err != nil {
		return err
	}
	w.next++
	d.Seq, d.Link = it.Seq, it.Link
	if r.Eff.Compare(w.stamp) > 0 {
		w.stamp = r.Eff
	}
	if it.Bad != nil {
		return nil
	}
	for i := range it.Op.On {
		if err := w.touch(&it.Op.On[i], scope, r.LSN); err != nil {
			return err
		}
	}
	return nil
}

// touch notes that an operation is about a record.
func (w *writer) touch(g *op.Group, scope int64, lsn uint64) error {
	kind, err := w.word(g.Kind)
	if err != nil {
		return err
	}
	place := binary.AppendUvarint(make([]byte, 0, 8), lsn)
	return w.c.run(`INSERT INTO record (id, kind, scope, tail, lsns) VALUES (?, ?, ?, 1, ?)
		ON CONFLICT (id, kind) DO UPDATE SET tail = record.tail + 1, lsns = CAST(record.lsns || excluded.lsns AS BLOB)`, g.ID[:], kind, scope, place)
}

func (w *writer) setAside(it oplog.Item, dev op.DeviceID, n int64) (oplog.Receipt, error) {
	received := w.now()
	found, err := w.c.one("SELECT received FROM aside WHERE dev = ? AND seq = ? AND hash = ?",
		func(r row) { received = time.UnixMilli(r.int(0)) }, n, it.Seq, it.Hash[:])
	if err == nil && !found {
		_, err = w.c.exec("INSERT INTO aside (dev, seq, received, hash, wire) VALUES (?, ?, ?, ?, ?)",
			n, it.Seq, received.UnixMilli(), it.Hash[:], it.Wire)
	}
	return oplog.SetAside(it, dev, received), err
}
