package oplog

import (
	"context"
	"slices"
	"sync"
	"time"

	"wayfall/sync/op"
)

// Memory is a log that lives as long as the process. It is for tests and
// small tools. Make one with NewMemory.
type Memory struct {
	now   func() time.Time
	judge Judge

	mu      sync.Mutex
	entries []Entry // entry i has place i+1
	devices map[op.DeviceID]*stream
}

type stream struct {
	stored []Stored // of operation i+1
	lsn    []uint64
	frozen bool
	aside  []aside
}

type aside struct {
	hash op.Hash
	Entry
}

// NewMemory returns an empty log. A nil judge finds everything OK.
func NewMemory(now func() time.Time, judge Judge) *Memory {
	return &Memory{now: now, judge: judge, devices: map[op.DeviceID]*stream{}}
}

// Append takes the operations of b that the log does not have; see Log.
func (m *Memory) Append(_ context.Context, b Batch) ([]Receipt, error) {
	items, err := Prepare(b)
	if err != nil {
		return nil, err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	d := m.devices[b.Dev]
	if d == nil {
		d = &stream{}
	}
	plan, err := Make(b, items, d.head(b.Dev), func(seq uint64) (Stored, error) { return d.stored[seq-1], nil })
	if err != nil {
		return nil, err
	}
	m.devices[b.Dev] = d
	d.frozen = d.frozen || plan.Freeze
	receipts := make([]Receipt, 0, len(items))
	for i, it := range items {
		switch {
		case i < plan.Repeats:
			receipts = append(receipts, m.entries[d.lsn[it.Seq-1]-1].Receipt)
		case i < plan.Repeats+plan.Fresh:
			r := Receive(it, b.Dev, uint64(len(m.entries)+1), m.now(), d.frozen, m.judge)
			m.entries = append(m.entries, Entry{r, slices.Clone(it.Wire)})
			d.stored = append(d.stored, Stored{it.Hash, it.Link})
			d.lsn = append(d.lsn, r.LSN)
			receipts = append(receipts, r)
		default:
			receipts = append(receipts, d.setAside(it, b.Dev, m.now()))
		}
	}
	return receipts, nil
}

func (d *stream) head(dev op.DeviceID) Head {
	h := Head{Seq: uint64(len(d.stored)), Link: op.Genesis(dev), Frozen: d.frozen}
	if h.Seq > 0 {
		h.Link = d.stored[h.Seq-1].Link
	}
	return h
}

func (d *stream) setAside(it Item, dev op.DeviceID, now time.Time) Receipt {
	for _, a := range d.aside {
		if a.Seq == it.Seq && a.hash == it.Hash {
			return a.Receipt
		}
	}
	r := SetAside(it, dev, now)
	d.aside = append(d.aside, aside{it.Hash, Entry{r, slices.Clone(it.Wire)}})
	return r
}

// Read returns entries after a place; see Log.
func (m *Memory) Read(_ context.Context, after uint64, limit int) ([]Entry, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if after >= uint64(len(m.entries)) || limit <= 0 {
		return nil, nil
	}
	rest := m.entries[after:]
	return slices.Clone(rest[:min(limit, len(rest))]), nil
}

// Head returns the end of a device's stream; see Log.
func (m *Memory) Head(_ context.Context, dev op.DeviceID) (Head, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if d := m.devices[dev]; d != nil {
		return d.head(dev), nil
	}
	return (&stream{}).head(dev), nil
}

// Aside returns what the device told in a second story.
func (m *Memory) Aside(_ context.Context, dev op.DeviceID) ([]Entry, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var all []Entry
	if d := m.devices[dev]; d != nil {
		for _, a := range d.aside {
			all = append(all, a.Entry)
		}
	}
	return all, nil
}

// Clone returns the log as it is now, as a copy of a store would hold it.
func (m *Memory) Clone() *Memory {
	m.mu.Lock()
	defer m.mu.Unlock()
	c := &Memory{now: m.now, judge: m.judge, entries: slices.Clone(m.entries), devices: make(map[op.DeviceID]*stream, len(m.devices))}
	for id, d := range m.devices {
		c.devices[id] = &stream{stored: slices.Clone(d.stored), lsn: slices.Clone(d.lsn), frozen: d.frozen, aside: slices.Clone(d.aside)}
	}
	return c
}
