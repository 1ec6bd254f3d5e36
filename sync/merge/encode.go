package merge

import (
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"slices"

	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// Format is the version of a state's bytes. Every version stays readable.
const Format = 1

// ErrState says that bytes are not a state.
var ErrState = errors.New("not a state of a record, or of a later release")

// Digest is the SHA-256 of a state's bytes. Replicas that folded the same
// operations and receipts have the same digest.
type Digest [sha256.Size]byte

// Digest returns the digest of the state.
func (s State) Digest() Digest { return sha256.Sum256(s.Append(nil)) }

// Append appends the state's bytes to b. Equal states have equal bytes.
//
//	format, id, kind, devices, saves, fields
//
// Numbers are variable-length (LEB128), lists and texts begin with their
// length, devices are numbered by their place in the sorted list.
func (s State) Append(b []byte) []byte {
	w := writer{buf: append(b, Format), devs: s.devices()}
	w.buf = append(w.buf, s.ID[:]...)
	w.text(string(s.Kind))
	w.number(uint64(len(w.devs)))
	for _, d := range w.devs {
		w.buf = append(w.buf, d[:]...)
	}
	w.number(uint64(len(s.saves)))
	for i := range s.saves {
		w.save(&s.saves[i])
	}
	w.number(uint64(len(s.fields)))
	for i := range s.fields {
		w.field(&s.fields[i])
	}
	return w.buf
}

// devices returns every device named in s, sorted.
func (s State) devices() []op.DeviceID {
	devs := make([]op.DeviceID, 0, 4)
	note := func(d op.DeviceID) {
		if i, ok := slices.BinarySearchFunc(devs, d, compareDev); !ok {
			devs = slices.Insert(devs, i, d)
		}
	}
	for i := range s.saves {
		note(s.saves[i].dev)
	}
	for i := range s.fields {
		f := &s.fields[i]
		for j := range f.regs {
			if f.regs[j].dead { // what has a value has a save
				note(f.regs[j].dot.Dev)
			}
		}
		for _, d := range f.gone {
			note(d.Dev)
		}
	}
	return devs
}

type writer struct {
	buf  []byte
	devs []op.DeviceID
}

func (w *writer) number(n uint64) { w.buf = binary.AppendUvarint(w.buf, n) }

func (w *writer) text(s string) {
	w.number(uint64(len(s)))
	w.buf = append(w.buf, s...)
}

func (w *writer) device(d op.DeviceID) {
	i, _ := slices.BinarySearchFunc(w.devs, d, compareDev)
	w.number(uint64(i))
}

func (w *writer) dot(d op.Dot, flag uint64) {
	w.device(d.Dev)
	w.number(d.Seq)
	w.number(uint64(d.Index)<<1 | flag)
}

func (w *writer) save(n *save) {
	w.device(n.dev)
	w.number(n.seq)
	w.text(n.Actor)
	w.buf = binary.AppendVarint(w.buf, n.Wall.Millis)
	w.text(n.Wall.Zone)
	w.text(n.Wall.Source)
	w.number(uint64(n.HLC.Packed()))
	w.number(uint64(n.Eff.Packed()))
	w.number(n.LSN)
	w.number(n.Base)
}

func (w *writer) field(f *field) {
	w.text(f.name)
	w.number(uint64(len(f.regs)))
	for _, r := range f.regs {
		if r.dead {
			w.dot(r.dot, 1)
			continue
		}
		w.dot(r.dot, 0)
		w.text(string(r.value))
	}
	w.items(f.items)
	w.number(uint64(len(f.gone)))
	for _, d := range f.gone {
		w.dot(d, 0)
	}
	w.items(f.events)
}

func (w *writer) items(items []item) {
	w.number(uint64(len(items)))
	for _, it := range items {
		w.dot(it.dot, 0)
		w.text(string(it.value))
	}
}

// Decode reads a state's bytes. It refuses any other spelling of a state than
// the one Append writes.
func Decode(b []byte) (State, error) {
	r := reader{text: string(b)}
	s := r.state()
	if r.bad || r.at != len(r.text) {
		return State{}, ErrState
	}
	return s, nil
}

// reader turns bad at the first thing that is wrong and reads zeros from then on.
type reader struct {
	text string
	at   int
	bad  bool
	devs []op.DeviceID
	used []bool
}

func (r *reader) need(ok bool) {
	if !ok {
		r.bad = true
		r.at = len(r.text)
	}
}

func (r *reader) number() (n uint64) {
	for shift := 0; ; shift += 7 {
		if r.at >= len(r.text) || shift > 63 {
			r.need(false)
			return 0
		}
		c := r.text[r.at]
		r.at++
		n |= uint64(c&0x7f) << shift
		if c < 0x80 {
			r.need(c != 0 || shift == 0)     // shortest form
			r.need(shift < 63 || c&0x7f < 2) // 64 bits
			return n
		}
	}
}

// count reads a length of a list whose entries take at least size bytes.
func (r *reader) count(size int) int {
	n := r.number()
	r.need(n <= uint64((len(r.text)-r.at)/size))
	if r.bad {
		return 0
	}
	return int(n)
}

func (r *reader) take(n int) string {
	if n > len(r.text)-r.at {
		r.need(false)
		return ""
	}
	r.at += n
	return r.text[r.at-n : r.at]
}

func (r *reader) string() string { return r.take(r.count(1)) }

func (r *reader) id() (id [16]byte) {
	copy(id[:], r.take(16))
	return id
}

func (r *reader) device() op.DeviceID {
	i := r.number()
	if r.need(i < uint64(len(r.devs))); r.bad {
		return op.DeviceID{}
	}
	r.used[i] = true
	return r.devs[i]
}

func (r *reader) dot() (d op.Dot, flag bool) {
	d.Dev = r.device()
	d.Seq = r.number()
	n := r.number()
	r.need(d.Seq > 0 && n>>1 <= 1<<32-1)
	d.Index = uint32(n >> 1)
	return d, n&1 == 1
}

func (r *reader) plainDot() op.Dot {
	d, flag := r.dot()
	r.need(!flag)
	return d
}

func (r *reader) state() (s State) {
	r.need(r.take(1) == string(rune(Format)))
	s.ID = r.id()
	s.Kind = record.Kind(r.string())
	r.devs = make([]op.DeviceID, r.count(16))
	r.used = make([]bool, len(r.devs))
	for i := range r.devs {
		r.devs[i] = r.id()
		r.need(i == 0 || compareDev(r.devs[i-1], r.devs[i]) < 0)
	}
	s.saves = make([]save, r.count(9))
	for i := range s.saves {
		s.saves[i] = r.save()
		r.need(i == 0 || s.saves[i-1].before(s.saves[i]))
	}
	s.fields = make([]field, r.count(5))
	for i := range s.fields {
		s.fields[i] = r.field(&s)
		r.need(i == 0 || s.fields[i-1].name < s.fields[i].name)
	}
	for _, u := range r.used {
		r.need(u)
	}
	r.needSaves(&s)
	return s
}

// needSaves refuses saves that pruning would have dropped.
func (r *reader) needSaves(s *State) {
	n := len(s.saves)
	if n < 2 || r.bad {
		return
	}
	pruned := *s
	pruned.saves = slices.Clone(s.saves)
	pruned.prune()
	r.need(len(pruned.saves) == n)
}

func (n save) before(m save) bool {
	c := compareDev(n.dev, m.dev)
	return c < 0 || c == 0 && n.seq < m.seq
}

func (r *reader) save() (n save) {
	n.dev = r.device()
	n.seq = r.number()
	r.need(n.seq > 0)
	n.Actor = r.string()
	zigzag := r.number()
	n.Wall.Millis = int64(zigzag>>1) ^ -int64(zigzag&1)
	n.Wall.Zone = r.string()
	n.Wall.Source = r.string()
	n.HLC = r.stamp()
	n.Eff = r.stamp()
	n.LSN = r.number()
	n.Base = r.number()
	return n
}

func (r *reader) stamp() clock.Stamp {
	n := r.number()
	r.need(n < 1<<63)
	return clock.Unpack(int64(n))
}

func (r *reader) field(s *State) (f field) {
	f.name = r.string()
	f.regs = make([]reg, r.count(3))
	for i := range f.regs {
		x := &f.regs[i]
		if x.dot, x.dead = r.dot(); !x.dead {
			x.value = r.value(s, x.dot)
		}
		r.need(i == 0 || compareDev(f.regs[i-1].dot.Dev, x.dot.Dev) < 0)
	}
	f.items = r.items(s)
	if n := r.count(3); n > 0 {
		f.gone = make([]op.Dot, n)
	}
	for i := range f.gone {
		f.gone[i] = r.plainDot()
		r.need(i == 0 || f.gone[i-1].Compare(f.gone[i]) < 0)
	}
	for _, it := range f.items {
		_, gone := slices.BinarySearchFunc(f.gone, it.dot, op.Dot.Compare)
		r.need(!gone)
	}
	f.events = r.items(s)
	return f
}

func (r *reader) items(s *State) []item {
	n := r.count(4)
	if n == 0 {
		return nil
	}
	items := make([]item, n)
	for i := range items {
		items[i].dot = r.plainDot()
		items[i].value = r.value(s, items[i].dot)
		r.need(i == 0 || items[i-1].dot.Compare(items[i].dot) < 0)
	}
	return items
}

// value reads a value, which somebody must have saved.
func (r *reader) value(s *State, d op.Dot) op.Value {
	if _, ok := s.findSave(d.Dev, d.Seq); !ok {
		r.need(false)
	}
	return op.Value(r.string())
}
