package catalogue

import (
	"context"
	"sync"
	"time"

	"wayfall/sync/clock"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// Memory is a log in memory. It serves tests, and reading a log as it stood at
// an earlier place: feed it the operations up to there. It is safe for use by
// several goroutines.
type Memory struct {
	Device op.DeviceID // of the server itself
	Scope  string

	writing sync.Mutex // held from deciding to appending
	mu      sync.Mutex
	states  map[op.ID]*merge.State
	touched [][]op.ID // by place in the log, from 1
	at      []int64
	seq     uint64
	stamp   clock.Stamp
}

// Take folds one operation that came in at that moment.
func (m *Memory) Take(o op.Op, receivedMS int64) (lsn uint64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.states == nil {
		m.states = map[op.ID]*merge.State{}
	}
	lsn = uint64(len(m.touched)) + 1
	received := time.UnixMilli(receivedMS)
	var ids []op.ID
	for _, g := range o.On {
		s := m.states[g.ID]
		if s == nil {
			fresh := merge.New(g.ID, record.Kind(g.Kind))
			s = &fresh
			m.states[g.ID] = s
		}
		s.Apply(o, merge.Receipt{LSN: lsn, Eff: clock.Effective(o.HLC, received)})
		ids = append(ids, g.ID)
	}
	m.touched = append(m.touched, ids)
	m.at = append(m.at, receivedMS)
	return lsn
}

// Touched returns what Log asks for, a hundred entries at a time.
func (m *Memory) Touched(_ context.Context, after uint64) ([]op.ID, Place, bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	end := min(uint64(len(m.touched)), after+100)
	var ids []op.ID
	for _, t := range m.touched[min(after, end):end] {
		ids = append(ids, t...)
	}
	reached := Place{LSN: end}
	if end > 0 {
		reached.AtMS = m.at[end-1]
	}
	return ids, reached, end < uint64(len(m.touched)), nil
}

// State returns a copy of the record.
func (m *Memory) State(_ context.Context, id op.ID) (merge.State, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if s := m.states[id]; s != nil {
		return s.Clone(), nil
	}
	return merge.State{}, nil
}

// WriteIf appends what Writer asks for.
func (m *Memory) WriteIf(ctx context.Context, by Hand, decide func(read Read) ([]op.Group, error)) error {
	m.writing.Lock()
	defer m.writing.Unlock()
	groups, err := decide(func(id op.ID) (merge.State, error) { return m.State(ctx, id) })
	if err != nil || len(groups) == 0 {
		return err
	}
	now := time.UnixMilli(by.AtMS)
	m.seq++
	m.stamp = m.stamp.Next(now)
	m.Take(op.Op{
		Dev: m.Device, Seq: m.seq, HLC: m.stamp, Wall: op.Wall{Millis: by.AtMS, Zone: by.Zone, Source: "server"},
		Actor: by.Person, Scope: m.Scope, Base: uint64(len(m.touched)), Schema: 1, On: groups,
	}, by.AtMS)
	return nil
}
