// Package oplogtest is the test that every log of operations must pass.
//
// It promises to hold a log to everything oplog.Log says. It cannot pull the
// plug: what survives a kill is tested beside each implementation.
package oplogtest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"

	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// Phone makes valid operations of one device for tests.
type Phone struct {
	Dev  op.DeviceID
	Seq  uint64
	Link op.Link
}

// NewPhone returns a device that has not saved anything.
func NewPhone(n byte) *Phone {
	dev := op.DeviceID{n, 15: n}
	return &Phone{Dev: dev, Link: op.Genesis(dev)}
}

// Save returns the device's next save of one remark on one report.
func (p *Phone) Save(t testing.TB, remark string) []byte {
	t.Helper()
	return p.Write(t, op.Group{ID: op.ID{p.Dev[0], 1}, Kind: "report", Acts: []op.Act{op.Event("remarks", op.Text(remark))}})
}

// Write returns the device's next save of any groups.
func (p *Phone) Write(t testing.TB, on ...op.Group) []byte {
	t.Helper()
	p.Seq++
	o := op.Op{Dev: p.Dev, Seq: p.Seq, HLC: clock.Stamp{Millis: 1_777_809_600_000 + int64(p.Seq)},
		Wall:  op.Wall{Millis: 1_777_809_600_000, Zone: "+00:00", Source: "device"},
		Actor: "tester", Scope: "harbour", Schema: 1, On: on}
	wire, err := o.Encode()
	if err != nil {
		t.Fatalf("encode operation %d: %v", p.Seq, err)
	}
	return wire
}

// Batch returns the operations as the device pushes them, and moves its chain
// on. Use it for operations in the order they were saved.
func (p *Phone) Batch(ops ...[]byte) oplog.Batch {
	b := oplog.Batch{Dev: p.Dev, First: p.Seq - uint64(len(ops)) + 1, Before: p.Link, Ops: ops}
	for _, wire := range ops {
		p.Link = op.Next(p.Link, wire)
	}
	b.After = p.Link
	return b
}

// Saves returns a batch of n saves.
func (p *Phone) Saves(t testing.TB, n int) oplog.Batch {
	t.Helper()
	ops := make([][]byte, n)
	for i := range ops {
		ops[i] = p.Save(t, fmt.Sprintf("remark %d of %v", p.Seq+1, p.Dev))
	}
	return p.Batch(ops...)
}

// Run checks that a log keeps its promises. open must return an empty log that
// asks the judge.
func Run(t *testing.T, open func(t *testing.T, judge oplog.Judge) oplog.Log) {
	for _, c := range []struct {
		name string
		test func(*testing.T, oplog.Log)
	}{
		{"what was appended is read back unchanged and in order", appendThenRead},
		{"appending the same batch again repeats the receipts", appendTwice},
		{"a batch that overlaps the log adds its tail", overlap},
		{"a gap is refused and says what is expected", gap},
		{"a batch that does not add up is refused whole", body},
		{"a second story is kept beside the first and freezes the device", equivocation},
		{"a history that parts before the batch is refused", parted},
		{"what is unreadable is kept and blocks nothing", unreadable},
		{"an operation of another device has no effect", stolen},
		{"the effective stamp never runs ahead of the receipt", fastClock},
		{"a reader who starts late, or reads in small steps, sees all once", lateReader},
		{"readers beside writers see every entry once and in order", beside},
	} {
		t.Run(c.name, func(t *testing.T) { c.test(t, open(t, nil)) })
	}
	t.Run("an operation without effect never blocks later ones", func(t *testing.T) { effects(t, open) })
}

func mustAppend(t *testing.T, l oplog.Log, b oplog.Batch) []oplog.Receipt {
	t.Helper()
	rs, err := l.Append(context.Background(), b)
	if err != nil {
		t.Fatalf("append %d operations from %d: %v", len(b.Ops), b.First, err)
	}
	if len(rs) != len(b.Ops) {
		t.Fatalf("got %d receipts for %d operations", len(rs), len(b.Ops))
	}
	for i, r := range rs {
		if r.Dev != b.Dev || r.Seq != b.First+uint64(i) {
			t.Fatalf("receipt %d is for %v:%d, want %v:%d", i, r.Dev, r.Seq, b.Dev, b.First+uint64(i))
		}
	}
	return rs
}

func readAll(t *testing.T, l oplog.Log, after uint64, step int) []oplog.Entry {
	t.Helper()
	var all []oplog.Entry
	for {
		es, err := l.Read(context.Background(), after, step)
		if err != nil {
			t.Fatalf("read after %d: %v", after, err)
		}
		if len(es) > step {
			t.Fatalf("read after %d: got %d entries, want at most %d", after, len(es), step)
		}
		if len(es) == 0 {
			return all
		}
		for _, e := range es {
			if e.LSN <= after {
				t.Fatalf("place %d read after place %d", e.LSN, after)
			}
			after = e.LSN
		}
		all = append(all, es...)
	}
}

func wantHead(t *testing.T, l oplog.Log, dev op.DeviceID, want oplog.Head) {
	t.Helper()
	if got, err := l.Head(context.Background(), dev); err != nil || got != want {
		t.Errorf("head of %v: got %+v (%v), want %+v", dev, got, err, want)
	}
}

func appendThenRead(t *testing.T, l oplog.Log) {
	a, b := NewPhone(1), NewPhone(2)
	wantHead(t, l, a.Dev, oplog.Head{Link: op.Genesis(a.Dev)})
	batches := []oplog.Batch{a.Saves(t, 3), b.Saves(t, 2), a.Saves(t, 1)}
	var want [][]byte
	var receipts []oplog.Receipt
	for _, x := range batches {
		receipts = append(receipts, mustAppend(t, l, x)...)
		want = append(want, x.Ops...)
	}
	got := readAll(t, l, 0, 100)
	if len(got) != len(want) {
		t.Fatalf("got %d entries, want %d", len(got), len(want))
	}
	for i, e := range got {
		if !bytes.Equal(e.Wire, want[i]) {
			t.Errorf("entry %d:\n got %s\nwant %s", i, e.Wire, want[i])
		}
		if e.Receipt != receipts[i] {
			t.Errorf("entry %d: got receipt %+v, want %+v", i, e.Receipt, receipts[i])
		}
	}
	wantHead(t, l, a.Dev, oplog.Head{Seq: 4, Link: a.Link})
	wantHead(t, l, b.Dev, oplog.Head{Seq: 2, Link: b.Link})
}

func appendTwice(t *testing.T, l oplog.Log) {
	p := NewPhone(1)
	b := p.Saves(t, 4)
	first := mustAppend(t, l, b)
	mustAppend(t, l, p.Saves(t, 1))
	for range 3 {
		if again := mustAppend(t, l, b); !slices.Equal(again, first) {
			t.Errorf("got receipts %+v, want %+v", again, first)
		}
	}
	if got := readAll(t, l, 0, 100); len(got) != 5 {
		t.Errorf("got %d entries, want 5", len(got))
	}
}

func overlap(t *testing.T, l oplog.Log) {
	p := NewPhone(1)
	one := p.Saves(t, 3)
	two := p.Saves(t, 2)
	mustAppend(t, l, one)
	both := oplog.Batch{Dev: p.Dev, First: 2, Before: op.Next(one.Before, one.Ops[0]), After: two.After,
		Ops: append(slices.Clone(one.Ops[1:]), two.Ops...)}
	rs := mustAppend(t, l, both)
	if rs[0].LSN >= rs[2].LSN || len(readAll(t, l, 0, 100)) != 5 {
		t.Errorf("got receipts %+v, want two repeated and two new", rs)
	}
	wantHead(t, l, p.Dev, oplog.Head{Seq: 5, Link: p.Link})
}

func gap(t *testing.T, l oplog.Log) {
	p := NewPhone(1)
	mustAppend(t, l, p.Saves(t, 2))
	missing := p.Saves(t, 1)
	late := p.Saves(t, 1)
	var g *oplog.GapError
	if _, err := l.Append(context.Background(), late); !errors.As(err, &g) || g.Expected != 3 {
		t.Errorf("got %v, want a gap that expects 3", err)
	}
	if n := len(readAll(t, l, 0, 100)); n != 2 {
		t.Errorf("got %d entries after a refused push, want 2", n)
	}
	mustAppend(t, l, missing)
	mustAppend(t, l, late)
}

func body(t *testing.T, l oplog.Log) {
	p := NewPhone(1)
	b := p.Saves(t, 3)
	cut := b
	cut.Ops = b.Ops[:2]
	if _, err := l.Append(context.Background(), cut); !errors.Is(err, oplog.ErrBody) {
		t.Errorf("a batch that lost an operation: got %v, want %v", err, oplog.ErrBody)
	}
	if _, err := l.Append(context.Background(), oplog.Batch{Dev: p.Dev, First: 1, Before: b.Before, After: b.Before}); !errors.Is(err, oplog.ErrEmpty) {
		t.Errorf("an empty batch: got %v, want %v", err, oplog.ErrEmpty)
	}
	if n := len(readAll(t, l, 0, 100)); n != 0 {
		t.Errorf("got %d entries, want none", n)
	}
	mustAppend(t, l, b)
}

// Asider is a log that shows what it set aside.
type Asider interface {
	Aside(ctx context.Context, dev op.DeviceID) ([]oplog.Entry, error)
}

func equivocation(t *testing.T, l oplog.Log) {
	p := NewPhone(1)
	mustAppend(t, l, p.Saves(t, 2))
	clone := *p
	mustAppend(t, l, p.Saves(t, 2))
	other := clone.Batch(clone.Save(t, "the clone's third"), clone.Save(t, "the clone's fourth"))
	rs := mustAppend(t, l, other)
	for _, r := range rs {
		if r.Effect != oplog.Quarantined || r.Code != oplog.CodeEquivocation || r.LSN != 0 {
			t.Errorf("got %+v, want it set aside", r)
		}
	}
	wantHead(t, l, p.Dev, oplog.Head{Seq: 4, Link: p.Link, Frozen: true})
	if again := mustAppend(t, l, other); !slices.Equal(again, rs) {
		t.Errorf("offered again: got %+v, want %+v", again, rs)
	}
	more := mustAppend(t, l, clone.Batch(clone.Save(t, "the clone's fifth")))
	if more[0].Code != oplog.CodeEquivocation {
		t.Errorf("got %+v, want the clone's later work set aside too", more[0])
	}
	after := mustAppend(t, l, p.Saves(t, 1))
	if after[0].Effect != oplog.Quarantined || after[0].Code != oplog.CodeFrozen || after[0].LSN == 0 {
		t.Errorf("got %+v, want the first story kept in the log without effect", after[0])
	}
	if n := len(readAll(t, l, 0, 100)); n != 5 {
		t.Errorf("got %d entries, want 5", n)
	}
	kept, err := l.(Asider).Aside(context.Background(), p.Dev)
	if err != nil || len(kept) != 3 {
		t.Fatalf("got %d operations set aside (%v), want 3", len(kept), err)
	}
	for i, wire := range other.Ops {
		if !bytes.Equal(kept[i].Wire, wire) {
			t.Errorf("set aside: got %s, want %s", kept[i].Wire, wire)
		}
	}
}

func parted(t *testing.T, l oplog.Log) {
	p := NewPhone(1)
	mustAppend(t, l, p.Saves(t, 2))
	other := NewPhone(1)
	other.Batch(other.Save(t, "never sent"), other.Save(t, "never sent either"))
	var c *oplog.ChainError
	if _, err := l.Append(context.Background(), other.Saves(t, 1)); !errors.As(err, &c) || c.Seq != 2 {
		t.Errorf("got %v, want the chains told apart at 2", err)
	}
	wantHead(t, l, p.Dev, oplog.Head{Seq: 2, Link: p.Link})
}

func unreadable(t *testing.T, l oplog.Log) {
	p := NewPhone(1)
	good := p.Save(t, "fine")
	p.Seq++
	bad := []byte(`{"v":1,"what":`)
	last := p.Save(t, "fine again")
	rs := mustAppend(t, l, p.Batch(good, bad, last))
	if rs[0].Effect != oplog.OK || rs[2].Effect != oplog.OK {
		t.Errorf("got effects %v and %v around it, want ok", rs[0].Effect, rs[2].Effect)
	}
	if rs[1].Effect != oplog.Quarantined || rs[1].Code != oplog.CodeUnreadable || rs[1].Why == "" {
		t.Errorf("got %+v, want it quarantined as unreadable", rs[1])
	}
	if got := readAll(t, l, 0, 100); len(got) != 3 || !bytes.Equal(got[1].Wire, bad) {
		t.Errorf("got %d entries, want 3 with the bytes as they came", len(got))
	}
}

func stolen(t *testing.T, l oplog.Log) {
	victim, thief := NewPhone(1), NewPhone(2)
	wire := victim.Save(t, "mine")
	thief.Seq++
	rs := mustAppend(t, l, thief.Batch(wire))
	if rs[0].Code != oplog.CodeUnreadable || rs[0].Effect.Folded() {
		t.Errorf("got %+v, want no effect", rs[0])
	}
	wantHead(t, l, victim.Dev, oplog.Head{Link: op.Genesis(victim.Dev)})
}

func fastClock(t *testing.T, l oplog.Log) {
	p := NewPhone(1)
	p.Seq++
	o := op.Op{Dev: p.Dev, Seq: 1, HLC: clock.Stamp{Millis: 1 << 46}, Wall: op.Wall{Millis: 1 << 46}, Actor: "a", Scope: "harbour", Schema: 1,
		On: []op.Group{{ID: op.ID{1}, Kind: "report", Acts: []op.Act{op.Set("count", "1")}}}}
	wire, err := o.Encode()
	if err != nil {
		t.Fatal(err)
	}
	r := mustAppend(t, l, p.Batch(wire))[0]
	if ahead := r.Eff.Millis - r.Received; ahead > clock.Lead.Milliseconds() || r.Effect != oplog.OK {
		t.Errorf("got %v ms ahead of the receipt and effect %v, want at most %v and ok", ahead, r.Effect, clock.Lead)
	}
}

func lateReader(t *testing.T, l oplog.Log) {
	p := NewPhone(1)
	for range 5 {
		mustAppend(t, l, p.Saves(t, 7))
	}
	whole := readAll(t, l, 0, 1000)
	for _, step := range []int{1, 2, 34, 35, 36} {
		got := readAll(t, l, 0, step)
		if !slices.EqualFunc(got, whole, func(a, b oplog.Entry) bool { return a.Receipt == b.Receipt }) || len(got) != 35 {
			t.Errorf("in steps of %d: got %d entries, want the same 35", step, len(got))
		}
	}
	if got := readAll(t, l, whole[20].LSN, 1000); len(got) != 14 {
		t.Errorf("after the 21st: got %d entries, want 14", len(got))
	}
	if got := readAll(t, l, whole[34].LSN+1000, 10); len(got) != 0 {
		t.Errorf("after the end: got %d entries, want none", len(got))
	}
}

func beside(t *testing.T, l oplog.Log) {
	const phones, batches, size = 4, 12, 5
	var writers sync.WaitGroup
	done := make(chan struct{})
	for n := range phones {
		p := NewPhone(byte(n + 1))
		all := make([]oplog.Batch, batches)
		for i := range all {
			all[i] = p.Saves(t, size)
		}
		writers.Go(func() {
			for _, b := range all {
				if _, err := l.Append(context.Background(), b); err != nil {
					t.Errorf("append: %v", err)
				}
			}
		})
	}
	go func() { writers.Wait(); close(done) }()
	seen, last := map[op.Dot]bool{}, uint64(0)
	follow := func() {
		for _, e := range readAll(t, l, last, 9) {
			d := op.Dot{Dev: e.Dev, Seq: e.Seq}
			if seen[d] {
				t.Errorf("%v:%d was read twice", e.Dev, e.Seq)
			}
			seen[d], last = true, e.LSN
		}
	}
	for running := true; running; {
		select {
		case <-done:
			running = false
		default:
		}
		follow()
	}
	if len(seen) != phones*batches*size {
		t.Errorf("a reader beside the writers saw %d entries, want %d", len(seen), phones*batches*size)
	}
}

func effects(t *testing.T, open func(*testing.T, oplog.Judge) oplog.Log) {
	order := []oplog.Effect{oplog.OK, oplog.Quarantined, oplog.None, oplog.Review, oplog.OK}
	l := open(t, func(o op.Op) oplog.Ruling {
		e := order[(o.Seq-1)%uint64(len(order))]
		return oplog.Ruling{Effect: e, Code: e.String() + "-code", Why: "because the test says so"}
	})
	p := NewPhone(1)
	b := p.Saves(t, len(order))
	rs := mustAppend(t, l, b)
	for i, r := range rs {
		if r.Effect != order[i] || r.Code != order[i].String()+"-code" || r.Why == "" || r.LSN == 0 {
			t.Errorf("operation %d: got %+v, want effect %v with its reason", i+1, r, order[i])
		}
	}
	if got := readAll(t, l, 0, 10); len(got) != len(order) || got[1].Receipt != rs[1] {
		t.Errorf("got %d entries, want %d with their effects", len(got), len(order))
	}
}
