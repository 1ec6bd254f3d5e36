package merge

import (
	"fmt"
	"math/rand/v2"
	"slices"

	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// A history is what a few devices did to one record, some of it without
// seeing each other, and the receipts a server gave.
type history struct {
	ops      []op.Op
	receipts []Receipt
}

var (
	theID = op.ID{7}
)

const kind = record.Report

type phone struct {
	dev   op.DeviceID
	seq   uint64
	hlc   clock.Stamp
	base  uint64
	state State
}

// histories draws one history from rng. The devices write with what their own
// replica shows, so every dot they name as seen was seen.
func drawHistory(rng *rand.Rand, saves int) history {
	var h history
	phones := make([]phone, 2+rng.IntN(3))
	for i := range phones {
		phones[i] = phone{dev: op.DeviceID{byte(i + 1), byte(rng.IntN(256))}, state: New(theID, kind)}
	}
	ms := int64(1_777_000_000_000)
	for range saves {
		p := &phones[rng.IntN(len(phones))]
		for range rng.IntN(3) { // hear of something
			if len(h.ops) > 0 {
				i := rng.IntN(len(h.ops))
				p.state.Apply(h.ops[i], h.receipts[i])
				if rng.IntN(2) == 0 {
					p.base = max(p.base, h.receipts[i].LSN)
				}
			}
		}
		ms += rng.Int64N(5) - 2
		o := p.save(rng, ms)
		eff := clock.Effective(o.HLC, clock.Stamp{Millis: ms - 1000}.Time())
		r := Receipt{LSN: uint64(len(h.ops) + 1), Eff: eff}
		h.ops, h.receipts = append(h.ops, o), append(h.receipts, r)
		p.state.Apply(o, Receipt{})
	}
	return h
}

func (p *phone) save(rng *rand.Rand, ms int64) op.Op {
	p.seq++
	p.hlc = p.hlc.Next(clock.Stamp{Millis: ms}.Time())
	o := op.Op{Dev: p.dev, Seq: p.seq, HLC: p.hlc, Wall: op.Wall{Millis: ms}, Actor: fmt.Sprint("p", p.dev[0]),
		Scope: "s", Base: p.base, Schema: 1}
	if rng.IntN(4) == 0 { // another record first, so that indices shift
		o.On = append(o.On, op.Group{ID: op.ID{9}, Kind: "animal", Acts: []op.Act{op.Set("sex", `"f"`)}})
	}
	g := op.Group{ID: theID, Kind: string(kind)}
	for range 1 + rng.IntN(3) {
		g.Acts = append(g.Acts, p.act(rng))
	}
	o.On = append(o.On, g)
	return o
}

func (p *phone) act(rng *rand.Rand) op.Act {
	v := op.Value(fmt.Sprint(rng.IntN(4)))
	switch rng.IntN(12) {
	case 0, 1, 2:
		return op.Set("cause", v, p.state.Saw("cause", p.dev)...)
	case 3:
		return op.Set("taxon", v, p.state.Saw("taxon", p.dev)...)
	case 4:
		return op.Set("mystery", v, p.state.Saw("mystery", p.dev)...)
	case 5:
		return op.Set("fieldno", v)
	case 6, 7:
		return op.Add("photos", v)
	case 8:
		if e := p.state.Field("photos").Elements; len(e) > 0 {
			return op.Remove("photos", e[rng.IntN(len(e))].Dots()...)
		}
		return op.Add("photos", v)
	case 9:
		return op.Event([]string{Withdrawn, Restored}[rng.IntN(2)], `{"reason":"test"}`)
	case 10: // blind: writes without looking
		return op.Set("cause", v)
	}
	return op.Event("remarks", v)
}

// fold folds the history in one random way: shuffled, repeated, some of it
// first without receipts, and in groups that are joined at random.
func (h history) fold(rng *rand.Rand) State {
	type step struct {
		i       int
		receipt bool
	}
	var steps []step
	for i := range h.ops {
		steps = append(steps, step{i, true})
		for range rng.IntN(3) {
			steps = append(steps, step{i, rng.IntN(2) == 0})
		}
	}
	rng.Shuffle(len(steps), func(a, b int) { steps[a], steps[b] = steps[b], steps[a] })
	parts := make([]State, 1+rng.IntN(4))
	for i := range parts {
		parts[i] = New(theID, kind)
	}
	for _, s := range steps {
		r := Receipt{}
		if s.receipt {
			r = h.receipts[s.i]
		}
		parts[rng.IntN(len(parts))].Apply(h.ops[s.i], r)
		if rng.IntN(4) == 0 { // what one replica knows reaches another
			a, b := rng.IntN(len(parts)), rng.IntN(len(parts))
			parts[a] = Join(parts[a], parts[b])
		}
	}
	for len(parts) > 1 {
		rng.Shuffle(len(parts), func(a, b int) { parts[a], parts[b] = parts[b], parts[a] })
		parts = append(parts[2:], Join(parts[0], parts[1]))
	}
	return parts[0]
}

func (h history) inOrder() State {
	s := New(theID, kind)
	for i, o := range h.ops {
		s.Apply(o, h.receipts[i])
	}
	return s
}

// surviving works out by definition which values of a field must be there: a
// value goes only if an operation named its dot as seen, or its own device
// wrote the field again. It knows nothing of states.
func (h history) surviving(name string) []op.Value {
	seen, newest := map[op.Dot]bool{}, map[op.DeviceID]op.Dot{}
	values := map[op.Dot]op.Value{}
	for _, o := range h.ops {
		index := 0
		for _, g := range o.On {
			for _, a := range g.Acts {
				d := o.Dot(index)
				index++
				if g.ID != theID || a.Field != name || a.Kind != op.KindSet {
					continue
				}
				values[d] = a.Value
				for _, s := range a.Saw {
					seen[s] = true
				}
				if last, ok := newest[o.Dev]; !ok || last.Age(d) < 0 {
					newest[o.Dev] = d
				}
			}
		}
	}
	var left []op.Value
	for d, v := range values {
		if !seen[d] && newest[d.Dev] == d && !slices.Contains(left, v) {
			left = append(left, v)
		}
	}
	slices.Sort(left)
	return left
}

// present works out by definition which elements of a set must be there.
func (h history) present(name string) []op.Value {
	gone, values := map[op.Dot]bool{}, map[op.Dot]op.Value{}
	for _, o := range h.ops {
		index := 0
		for _, g := range o.On {
			for _, a := range g.Acts {
				if g.ID == theID && a.Field == name && a.Kind == op.KindAdd {
					values[o.Dot(index)] = a.Value
				}
				if g.ID == theID && a.Field == name && a.Kind == op.KindRem {
					for _, s := range a.Saw {
						gone[s] = true
					}
				}
				index++
			}
		}
	}
	var left []op.Value
	for d, v := range values {
		if !gone[d] && !slices.Contains(left, v) {
			left = append(left, v)
		}
	}
	slices.Sort(left)
	return left
}
