// Package merge folds operations into the record they are about.
//
// It promises that the result depends on nothing but which operations and
// receipts were folded: not on their order, their grouping or their
// repetition; that a value disappears only when somebody who saw it replaced
// it, or its own device wrote the field again; that edits to different fields
// never differ and equal values never do. It reads no clock: stamps decide
// only what is shown first. It does not judge: an operation that has no effect
// must not be handed in.
//
// A register is, per field and device, the newest dot and whether somebody
// has replaced it; the join of two is the greater of (dot, replaced). A record
// is the product of such semilattices, of grow-only sets and of sets with
// removed dots, and so is a semilattice itself (Shapiro, Preguiça, Baquero,
// Zawirski, Conflict-free Replicated Data Types, SSS 2011; Preguiça, Baquero,
// Almeida, Fonte, Gonçalves, Dotted Version Vectors, 2010).
package merge

import (
	"bytes"
	"cmp"
	"iter"
	"slices"

	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// Version is the version of folding. When it rises, states are folded again
// from the operations.
const Version = 1

// Save is what is known of one save: who, when, and where it came in.
type Save struct {
	Actor string
	Wall  op.Wall // without unknown members
	HLC   clock.Stamp
	Eff   clock.Stamp // orders what is shown; HLC until there is a receipt
	LSN   uint64      // place in the server's log; 0 until there is a receipt
	Base  uint64      // what the writer had seen of the server's log
}

// Receipt is what folding needs of a server's receipt. The zero Receipt stands
// for an operation that no server has acknowledged yet.
type Receipt struct {
	LSN uint64
	Eff clock.Stamp
}

// State is one record, folded from any number of operations. The zero State
// with its ID and Kind set is a record nobody has written to.
type State struct {
	ID     op.ID
	Kind   record.Kind
	saves  []save  // by device and seq
	fields []field // by name
}

type save struct {
	dev op.DeviceID
	seq uint64
	Save
}

type field struct {
	name   string
	regs   []reg    // one per device, by device
	items  []item   // elements of sets, writings of once; by dot
	gone   []op.Dot // removed from the set, whether they came in yet or not
	events []item   // by dot
}

type reg struct {
	dot   op.Dot
	dead  bool // somebody who saw it replaced it; value is then empty
	value op.Value
}

type item struct {
	dot   op.Dot
	value op.Value
}

// New returns the record of that name before anything is written to it.
func New(id op.ID, kind record.Kind) State { return State{ID: id, Kind: kind} }

// Empty reports whether nothing was folded into s.
func (s State) Empty() bool { return len(s.saves) == 0 && len(s.fields) == 0 }

// Apply folds into s what o does to it. Folding an operation again does
// nothing, except that a receipt is added where none was.
func (s *State) Apply(o op.Op, r Receipt) {
	if s.take(o, r) {
		s.prune()
	}
}

// Fold is Apply for many operations, in a time that grows with their number
// and not with its square. It stops at the first error and returns it; what
// came before is folded.
func (s *State) Fold(history iter.Seq2[Folded, error]) error {
	defer s.prune()
	for f, err := range history {
		if err != nil {
			return err
		}
		s.take(f.Op, f.Receipt)
	}
	return nil
}

// Folded is an operation with what its receipt says of it.
type Folded struct {
	Op      op.Op
	Receipt Receipt
}

// take is Apply, but keeps what is known of every save.
func (s *State) take(o op.Op, r Receipt) (touched bool) {
	index := 0
	for _, g := range o.On {
		if g.ID == s.ID && record.Kind(g.Kind) == s.Kind {
			touched = true
			if s.fields == nil {
				s.fields = make([]field, 0, len(g.Acts))
			}
			for i, a := range g.Acts {
				s.act(o.Dot(index+i), a)
			}
		}
		index += len(g.Acts)
	}
	if touched {
		s.addSave(saveOf(o, r))
	}
	return touched
}

func saveOf(o op.Op, r Receipt) save {
	w := o.Wall
	w.Extra = nil
	eff := r.Eff
	if !eff.Known() {
		eff = o.HLC
	}
	return save{o.Dev, o.Seq, Save{o.Actor, w, o.HLC, eff, r.LSN, o.Base}}
}

func (s *State) act(dot op.Dot, a op.Act) {
	switch a.Kind {
	case op.KindSet:
		f := s.field(a.Field)
		if record.MergeOf(s.Kind, a.Field) == record.Once {
			f.add(item{dot, a.Value})
			return
		}
		f.raise(reg{dot, false, a.Value})
		for _, d := range a.Saw {
			if d.Dev != dot.Dev { // a device's newer dot covers its older ones anyway
				f.raise(reg{d, true, ""})
			}
		}
	case op.KindAdd:
		s.field(a.Field).add(item{dot, a.Value})
	case op.KindRem:
		if m := record.MergeOf(s.Kind, a.Field); m == record.GSet || m == record.Once {
			return // grows only
		}
		for _, d := range a.Saw {
			s.field(a.Field).remove(d)
		}
	case op.KindEvent:
		f := s.field(a.Field)
		f.events = addItem(f.events, item{dot, a.Value})
	}
}

// field returns the field of that name, new if it must be.
func (s *State) field(name string) *field {
	i, ok := slices.BinarySearchFunc(s.fields, name, func(f field, n string) int { return cmp.Compare(f.name, n) })
	if !ok {
		s.fields = slices.Insert(s.fields, i, field{name: name})
	}
	return &s.fields[i]
}

// raise joins one register into the field: the greater of (dot, dead) stays.
// Two values of one dot come from a cloned device; the greater text stays, so
// that every replica shows the same one.
func (f *field) raise(r reg) {
	i, ok := slices.BinarySearchFunc(f.regs, r.dot.Dev, func(x reg, d op.DeviceID) int { return compareDev(x.dot.Dev, d) })
	if !ok {
		f.regs = slices.Insert(f.regs, i, r)
		return
	}
	have := &f.regs[i]
	switch c := r.dot.Age(have.dot); {
	case c > 0,
		c == 0 && r.dead && !have.dead,
		c == 0 && r.dead == have.dead && r.value > have.value:
		*have = r
	}
}

func compareDev(a, b op.DeviceID) int { return bytes.Compare(a[:], b[:]) }

// add joins one element into the set, unless somebody removed it.
func (f *field) add(it item) {
	if _, removed := slices.BinarySearchFunc(f.gone, it.dot, op.Dot.Compare); !removed {
		f.items = addItem(f.items, it)
	}
}

// remove takes out the element with that dot, now or when it comes in.
func (f *field) remove(d op.Dot) {
	i, ok := slices.BinarySearchFunc(f.gone, d, op.Dot.Compare)
	if ok {
		return
	}
	f.gone = slices.Insert(f.gone, i, d)
	if i, ok := findItem(f.items, d); ok {
		f.items = slices.Delete(f.items, i, i+1)
	}
}

func findItem(items []item, d op.Dot) (int, bool) {
	return slices.BinarySearchFunc(items, d, func(x item, d op.Dot) int { return x.dot.Compare(d) })
}

func addItem(items []item, it item) []item {
	i, ok := findItem(items, it.dot)
	if !ok {
		return slices.Insert(items, i, it)
	}
	items[i].value = max(items[i].value, it.value)
	return items
}

func (s *State) findSave(dev op.DeviceID, seq uint64) (int, bool) {
	return slices.BinarySearchFunc(s.saves, seq, func(x save, seq uint64) int {
		return cmp.Or(compareDev(x.dev, dev), cmp.Compare(x.seq, seq))
	})
}

func (s *State) addSave(n save) {
	i, ok := s.findSave(n.dev, n.seq)
	if !ok {
		s.saves = slices.Insert(s.saves, i, n)
		return
	}
	s.saves[i].Save = joinSaves(s.saves[i].Save, n.Save)
}

// joinSaves joins two accounts of one save: the first receipt counts.
func joinSaves(a, b Save) Save {
	out := a
	if compareSaves(a, b) < 0 { // of a cloned device: any, but the same one everywhere
		out = b
	}
	out.Eff = clock.Earlier(a.Eff, b.Eff)
	if out.LSN = min(a.LSN, b.LSN); out.LSN == 0 {
		out.LSN = max(a.LSN, b.LSN)
	}
	return out
}

func compareSaves(a, b Save) int {
	return cmp.Or(cmp.Compare(a.Actor, b.Actor), a.HLC.Compare(b.HLC), cmp.Compare(a.Base, b.Base),
		cmp.Compare(a.Wall.Millis, b.Wall.Millis), cmp.Compare(a.Wall.Zone, b.Wall.Zone), cmp.Compare(a.Wall.Source, b.Wall.Source))
}

// prune drops what is known of a save once nothing of it is left to show,
// except the newest of each device, which withdrawal is measured by.
func (s *State) prune() {
	if len(s.saves) < 2 {
		return
	}
	keep := make([]bool, len(s.saves))
	for i := range s.saves {
		keep[i] = i+1 == len(s.saves) || s.saves[i+1].dev != s.saves[i].dev
	}
	mark := func(d op.Dot) {
		if i, ok := s.findSave(d.Dev, d.Seq); ok {
			keep[i] = true
		}
	}
	for i := range s.fields {
		s.fields[i].eachShown(mark)
	}
	kept := s.saves[:0]
	for i, k := range keep {
		if k {
			kept = append(kept, s.saves[i])
		}
	}
	s.saves = kept
}

// eachShown calls do with every dot of the field that has a value.
func (f *field) eachShown(do func(op.Dot)) {
	for i := range f.regs {
		if !f.regs[i].dead {
			do(f.regs[i].dot)
		}
	}
	for i := range f.items {
		do(f.items[i].dot)
	}
	for i := range f.events {
		do(f.events[i].dot)
	}
}

// Clone returns a copy of s that shares nothing it could change.
func (s State) Clone() State {
	s.saves = slices.Clone(s.saves)
	s.fields = slices.Clone(s.fields)
	for i := range s.fields {
		f := &s.fields[i]
		f.regs, f.items = slices.Clone(f.regs), slices.Clone(f.items)
		f.gone, f.events = slices.Clone(f.gone), slices.Clone(f.events)
	}
	return s
}

// Join returns the record that both a and b know parts of. They must be states
// of one record.
func Join(a, b State) State {
	out := a.Clone()
	for _, f := range b.fields {
		t := out.field(f.name)
		for _, r := range f.regs {
			t.raise(r)
		}
		for _, d := range f.gone {
			t.remove(d)
		}
		for _, it := range f.items {
			t.add(it)
		}
		for _, it := range f.events {
			t.events = addItem(t.events, it)
		}
	}
	for _, n := range b.saves {
		out.addSave(n)
	}
	out.prune()
	return out
}
