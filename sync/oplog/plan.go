package oplog

import (
	"time"

	"wayfall/sync/clock"
	"wayfall/sync/op"
)

// Item is one operation of a batch, read once.
type Item struct {
	Wire []byte
	Seq  uint64
	Hash op.Hash
	Link op.Link // the device's chain after it
	Op   op.Op   // if Bad is nil
	Bad  error   // why it is no operation of that device and place
}

// Prepare reads and hashes the operations of a batch. It needs no log, so it
// can run beside others. It returns ErrBody if they do not add up.
func Prepare(b Batch) ([]Item, error) {
	if len(b.Ops) == 0 || b.First == 0 {
		return nil, ErrEmpty
	}
	items := make([]Item, len(b.Ops))
	link := b.Before
	for i, wire := range b.Ops {
		it := &items[i]
		it.Wire, it.Seq, it.Hash = wire, b.First+uint64(i), op.HashOf(wire)
		link = link.Then(it.Hash)
		it.Link = link
		it.Op, it.Bad = op.Decode(wire)
		if it.Bad == nil && (it.Op.Dev != b.Dev || it.Op.Seq != it.Seq) {
			it.Bad = errMisplaced
		}
	}
	if link != b.After {
		return nil, ErrBody
	}
	return items, nil
}

var errMisplaced = &op.FormError{Reason: op.ErrMalformed, Offset: -1, Detail: "not of this device and number"}

// Stored is what a plan asks a log about one of a device's operations.
type Stored struct {
	Hash op.Hash
	Link op.Link
}

// Plan is what is to be done with the operations of a batch: the first Repeats
// are in the log already, the next Fresh are to be added, the rest is to be
// set aside, because the device told another story before.
type Plan struct {
	Repeats, Fresh int
	Freeze         bool // the device is to be frozen
}

// Make plans what to do with a batch of a device whose stream ends at head.
// stored tells of an operation up to head; it is not asked about others.
func Make(b Batch, items []Item, head Head, stored func(seq uint64) (Stored, error)) (Plan, error) {
	if b.First > head.Seq+1 {
		return Plan{}, &GapError{b.Dev, head.Seq + 1}
	}
	before := op.Genesis(b.Dev)
	if b.First == head.Seq+1 {
		before = head.Link
	} else if b.First > 1 {
		s, err := stored(b.First - 1)
		if err != nil {
			return Plan{}, err
		}
		before = s.Link
	}
	if before != b.Before {
		if head.Frozen {
			return Plan{}, nil // all aside
		}
		return Plan{}, &ChainError{b.Dev, b.First - 1}
	}
	var p Plan
	for p.Repeats < len(items) && items[p.Repeats].Seq <= head.Seq {
		s, err := stored(items[p.Repeats].Seq)
		if err != nil {
			return Plan{}, err
		}
		if s.Hash != items[p.Repeats].Hash {
			p.Freeze = !head.Frozen
			return p, nil
		}
		p.Repeats++
	}
	p.Fresh = len(items) - p.Repeats
	return p, nil
}

// Receive returns the receipt of a fresh operation at its place in the log.
// judge is not asked about what is unreadable or of a frozen device.
func Receive(it Item, dev op.DeviceID, lsn uint64, now time.Time, frozen bool, judge Judge) Receipt {
	r := Receipt{Dev: dev, Seq: it.Seq, LSN: lsn, Received: now.UnixMilli(), Eff: clock.Effective(it.Op.HLC, now)}
	ruling := Ruling{Effect: OK}
	switch {
	case it.Bad != nil:
		r.Eff = clock.Effective(clock.Stamp{}, now)
		ruling = Ruling{Quarantined, CodeUnreadable, it.Bad.Error()}
	case frozen:
		ruling = Ruling{Quarantined, CodeFrozen, "this device was stopped; somebody must look at what it sends"}
	case judge != nil:
		ruling = judge(it.Op)
	}
	r.Effect, r.Code, r.Why = ruling.Effect, ruling.Code, ruling.Why
	return r
}

// SetAside returns the receipt of an operation that is kept beside the log.
func SetAside(it Item, dev op.DeviceID, received time.Time) Receipt {
	return Receipt{Dev: dev, Seq: it.Seq, Received: received.UnixMilli(), Eff: clock.Effective(it.Op.HLC, received),
		Effect: Quarantined, Code: CodeEquivocation, Why: "this device sent other work under the same number before; both are kept"}
}
