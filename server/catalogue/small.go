package catalogue

import (
	"context"
	"encoding/binary"
	"math/bits"
	"runtime"
	"sync"

	"wayfall/permits/quota"
	"wayfall/sync/op"
)

// small keeps every animal of a Book in small. It is renewed, animal by
// animal, when records change.
type small struct {
	mint
	all   []quota.Slip
	ids   []op.ID
	at    map[op.ID]uint32 // canonical animal to its place
	dirty map[op.ID]bool   // records whose animal must be read again
}

func newSmall() small {
	return small{mint: newMint(), at: map[op.ID]uint32{}, dirty: map[op.ID]bool{}}
}

// renew reads again every animal of which something changed. A record that no
// longer is an animal of its own is gone from the sums.
func (b *Book) renew() {
	if len(b.small.dirty) == 0 {
		return
	}
	again := make(map[op.ID]bool, len(b.small.dirty))
	for id := range b.small.dirty {
		again[id], again[b.root(id)] = true, true
	}
	clear(b.small.dirty)
	for id := range again {
		b.small.enter(id, b.root(id) == id && b.animals[id] != nil, b)
	}
}

func (m *small) enter(id op.ID, animal bool, b *Book) {
	at, known := m.at[id]
	var t Take
	if animal {
		t, animal = b.take(id)
	}
	if !animal {
		if known {
			m.all[at].Marks = quota.Gone
		}
		return
	}
	if !known {
		at = uint32(len(m.all))
		m.at[id] = at
		m.all, m.ids = append(m.all, quota.Slip{}), append(m.ids, id)
	}
	m.all[at] = m.slip(&t)
	m.all[at].Animal = at
}

// Count hands every animal in small to choose and returns the Takes of those
// that it asks for by their place, in its order. All of it is of one place in
// the log. The Census must not be kept or changed.
func (b *Book) Count(ctx context.Context, choose func(*Census) (want []uint32, err error)) ([]Take, error) {
	unlock, err := b.lock(ctx)
	if err != nil {
		return nil, err
	}
	defer unlock()
	b.renew()
	m := &b.small
	c := Census{Slips: quota.Slips{All: m.all, Words: m.words, Traits: m.traits, Before: m.before}, Place: b.place, Covers: m.covers}
	want, err := choose(&c)
	if err != nil {
		return nil, err
	}
	return b.taken(want), nil
}

func (m *small) before(a, b uint32) bool { return spelledBefore(m.ids[a], m.ids[b]) }

// taken reads animals whole, on every core.
func (b *Book) taken(want []uint32) []Take {
	out := make([]Take, len(want))
	cores := min(runtime.GOMAXPROCS(0), 1+len(want)/1000)
	var wait sync.WaitGroup
	for core := range cores {
		from, to := core*len(want)/cores, (core+1)*len(want)/cores
		wait.Go(func() {
			for i := from; i < to; i++ {
				out[i], _ = b.take(b.small.ids[want[i]])
			}
		})
	}
	wait.Wait()
	return out
}

// spelled are the letters of a written id in the order of their values.
const spelled = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"

// spelledBefore orders ids as they are ordered when they are written.
func spelledBefore(a, b op.ID) bool {
	for half := 0; half < 16; half += 8 {
		x, y := binary.BigEndian.Uint64(a[half:]), binary.BigEndian.Uint64(b[half:])
		if x == y {
			continue
		}
		letter := (half*8 + bits.LeadingZeros64(x^y)) / 6
		return spelled[sextet(a, letter)] < spelled[sextet(b, letter)]
	}
	return false
}

// sextet is the n-th six bits of an id; the last two letters' end is padding.
func sextet(id op.ID, n int) byte {
	bit := n * 6
	two := uint16(id[bit/8]) << 8
	if bit/8+1 < len(id) {
		two |= uint16(id[bit/8+1])
	}
	return byte(two>>(10-bit%8)) & 63
}
