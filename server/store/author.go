package store

import (
	"context"
	"slices"

	"wayfall/server/fault"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// Author is on whose behalf the server writes.
type Author struct {
	Actor string
	Scope string
}

// Tx reads the store as it is at this point of the log, nothing else being
// written meanwhile, and writes into the same commit. It is valid only inside
// the function it was handed to, and only on that goroutine.
type Tx struct {
	w      *writer
	writes bool
}

// Within runs do alone at the end of the log. What do writes is on disk when
// Within returns nil; if do fails, nothing of it is written. do must not call
// the Store and should be quick: everybody who writes is waiting.
func (s *Store) Within(ctx context.Context, do func(tx *Tx) error) error {
	return s.do(ctx, func(w *writer) (err error) {
		defer func() {
			if p := recover(); p != nil {
				err = fault.New(fault.Internal, "a write failed: %v", p)
			}
		}()
		return do(&Tx{w: w, writes: true})
	})
}

// Write writes one operation of the server's own device: all groups together.
func (s *Store) Write(ctx context.Context, a Author, groups ...op.Group) (oplog.Receipt, error) {
	return s.WriteIf(ctx, a, func(*Tx) ([]op.Group, error) { return groups, nil })
}

// WriteIf asks decide, alone at the end of the log, what to write, and writes
// it as one operation: for numbers that must be unique and for decisions that
// rest on what is there. Without groups nothing is written and the receipt is
// empty.
func (s *Store) WriteIf(ctx context.Context, a Author, decide func(tx *Tx) ([]op.Group, error)) (r oplog.Receipt, err error) {
	err = s.Within(ctx, func(tx *Tx) error {
		groups, err := decide(tx)
		if err != nil || len(groups) == 0 {
			return err
		}
		r, err = tx.Write(a, groups...)
		return err
	})
	return r, err
}

var errReadOnly = fault.New(fault.Internal, "a judge may read, not write")

// Write adds one operation of the server's own device to the log.
func (tx *Tx) Write(a Author, groups ...op.Group) (oplog.Receipt, error) {
	if !tx.writes {
		return oplog.Receipt{}, errReadOnly
	}
	w := tx.w
	dev := w.s.Identity().Device
	d, err := w.device(dev)
	if err != nil {
		return oplog.Receipt{}, err
	}
	if err := w.known(dev, d); err != nil {
		return oplog.Receipt{}, err
	}
	now := w.now()
	o := op.Op{Dev: dev, Seq: d.Seq + 1, HLC: w.stamp.Next(now), Actor: a.Actor, Scope: a.Scope,
		Wall: op.Wall{Millis: now.UnixMilli(), Zone: "+00:00", Source: "server"},
		Base: w.next - 1, Schema: w.s.opts.Schema, On: groups}
	wire, err := o.Encode()
	if err != nil {
		return oplog.Receipt{}, fault.As(fault.Invalid, err, "write as %s", a.Actor)
	}
	it := oplog.Item{Wire: wire, Seq: o.Seq, Hash: op.HashOf(wire), Op: o}
	it.Link = d.Link.Then(it.Hash)
	scope, err := w.word(o.Scope)
	if err != nil {
		return oplog.Receipt{}, err
	}
	r := oplog.Receive(it, dev, w.next, now, false, nil)
	return r, w.insert(it, d, r, scope)
}

// Record returns the record as it is at this point; see Store.Record.
func (tx *Tx) Record(id op.ID) (merge.State, error) { return recordOf(tx.w.c, id, 0) }

// Each goes through records as they are at this point; see Store.Each.
func (tx *Tx) Each(which Which, do func(merge.State) error) error {
	var all []kept // gathered first, so that do may write
	err := tx.w.c.query(keptColumns+` WHERE r.scope = (SELECT n FROM word WHERE text = ?)
		AND r.kind = (SELECT n FROM word WHERE text = ?) ORDER BY r.rid`, func(r row) error {
		all = append(all, keptOf(r))
		return nil
	}, which.Scope, string(which.Kind))
	for i := 0; err == nil && i < len(all); i++ {
		var st merge.State
		if st, err = all[i].load(tx.w.c, which.AsOf); err == nil {
			err = do(st)
		}
	}
	return err
}

// Last returns the last place in the log at this point.
func (tx *Tx) Last() uint64 { return tx.w.next - 1 }

// Device is what the store knows of a device.
type Device struct {
	ID     op.DeviceID
	Actor  string // who enrolled it; "" is unknown
	First  int64  // when first heard of, milliseconds
	Frozen string // why nothing it says takes effect; "" if it does
}

const deviceColumns = "SELECT id, actor, first, frozen FROM device"

func deviceOf(r row) Device {
	return Device{op.DeviceID(r.bytes(0)), r.text(1), r.int(2), r.text(3)}
}

// Devices returns every device ever heard of, in that order.
func (s *Store) Devices(ctx context.Context) (all []Device, err error) {
	err = s.read(ctx, func(c *conn) error {
		return c.query(deviceColumns+" ORDER BY n", func(r row) error {
			all = append(all, deviceOf(r))
			return nil
		})
	})
	return all, err
}

// Device returns what is known of one device; a fault of kind Missing if it
// was never heard of.
func (s *Store) Device(ctx context.Context, id op.DeviceID) (d Device, err error) {
	err = s.read(ctx, func(c *conn) error {
		found, err := c.one(deviceColumns+" WHERE id = ?", func(r row) { d = deviceOf(r) }, id[:])
		if err == nil && !found {
			err = fault.New(fault.Missing, "there is no device %v", id)
		}
		return err
	})
	return d, err
}

// Enrol notes whose device it is. A device belongs to the first who enrolled
// it; another is refused with a fault of kind Denied.
func (s *Store) Enrol(ctx context.Context, id op.DeviceID, actor string) error {
	return s.do(ctx, func(w *writer) error {
		d, err := w.device(id)
		if err != nil {
			return err
		}
		if err := w.known(id, d); err != nil {
			return err
		}
		n, err := w.c.exec("UPDATE device SET actor = ? WHERE n = ? AND actor IN ('', ?)", actor, d.n, actor)
		if err == nil && n == 0 {
			err = fault.New(fault.Denied, "this device is enrolled by somebody else")
		}
		return err
	})
}

// SetFrozen stops a device, with the reason, or lets it speak again with "".
// What it sent meanwhile stays as it was received.
func (s *Store) SetFrozen(ctx context.Context, id op.DeviceID, why string) error {
	return s.do(ctx, func(w *writer) error {
		d, err := w.device(id)
		if err != nil {
			return err
		}
		if err := w.known(id, d); err != nil {
			return err
		}
		if why != "" {
			return w.freeze(d, why)
		}
		d.Frozen = false
		_, err = w.c.exec("UPDATE device SET frozen = NULL WHERE n = ?", d.n)
		return err
	})
}

// Key returns a secret of 32 bytes of that name, drawn when first asked for.
func (s *Store) Key(ctx context.Context, name string) (key []byte, err error) {
	err = s.do(ctx, func(w *writer) error {
		v, err := w.meta("key "+name, 32)
		key = slices.Clone(v)
		return err
	})
	return key, err
}
