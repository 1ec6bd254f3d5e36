package simulate

import (
	"bytes"
	"errors"
	"slices"
	"time"

	"wayfall/sync/clock"
	"wayfall/sync/exchange"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/record"
	"wayfall/sync/seal"
)

// memory is what a phone keeps. It is replaced as a whole or not at all.
type memory struct {
	kept   [][]byte // every operation it ever saved, in order
	links  []op.Link
	stamp  clock.Stamp
	said   map[uint64]oplog.Receipt // answers, by number
	cursor string
	heard  []oplog.Entry // what it pulled, in order, of the server's present life
	life   byte          // that life; what was pulled before is forgotten
	met    byte          // the life of the server that answered
}

func (m memory) clone() memory {
	m.kept, m.links, m.heard = slices.Clone(m.kept), slices.Clone(m.links), slices.Clone(m.heard)
	said := make(map[uint64]oplog.Receipt, len(m.said))
	for k, v := range m.said {
		said[k] = v
	}
	m.said = said
	return m
}

// phone is one phone.
type phone struct {
	memory
	dev    op.DeviceID
	offset time.Duration // of its clock
	old    *memory       // an earlier copy of what it keeps
	lost   bool
	double bool // somebody else speaks in its name, or it told another story before
	heads  []keptHead
	w      *world
}

type keptHead struct {
	seal.Head
	life byte
}

// things are the records that everybody writes to.
var things = []struct {
	id   op.ID
	kind record.Kind
}{{op.ID{1}, record.Animal}, {op.ID{2}, record.Animal}, {op.ID{3}, record.Report}}

// fields are what is written, one of each way to merge and one that nobody knows.
var fields = map[record.Kind][]string{
	record.Animal: {"sex", "age", "freezer", "hazards", "tags", "remarks", "withdrawn", "restored", "of_a_later_release"},
	record.Report: {"fieldno", "deed", "remarks", "animals"},
}

func (p *phone) link() op.Link {
	if len(p.links) == 0 {
		return op.Genesis(p.dev)
	}
	return p.links[len(p.links)-1]
}

// view is the record as the phone shows it: what it heard, and its own.
func (p *phone) view(id op.ID, kind record.Kind) merge.State {
	st, own := merge.New(id, kind), map[uint64]bool{}
	err := st.Fold(func(yield func(merge.Folded, error) bool) {
		for _, e := range p.heard {
			if e.Dev == p.dev {
				own[e.Seq] = true
			}
			if o, err := p.w.decode(e.Wire); err == nil && e.Effect.Folded() {
				yield(merge.Folded{Op: o, Receipt: merge.Receipt{LSN: e.LSN, Eff: e.Eff}}, nil)
			}
		}
		for i, wire := range p.kept {
			r, answered := p.said[uint64(i)+1]
			if own[uint64(i)+1] || answered && !r.Effect.Folded() {
				continue
			}
			if o, err := p.w.decode(wire); err == nil {
				yield(merge.Folded{Op: o, Receipt: merge.Receipt{LSN: r.LSN, Eff: r.Eff}}, nil)
			}
		}
	})
	if err != nil {
		panic(err) // nothing that is yielded fails
	}
	return st
}

// save keeps one operation that touches one record or two.
func (p *phone) save(c *chance) error {
	at := p.w.now().Add(p.offset)
	next := p.stamp.Next(at)
	if next.Compare(p.stamp) <= 0 {
		return broken("P23", "a phone stamped %v after %v", next, p.stamp)
	}
	o := op.Op{Dev: p.dev, Seq: uint64(len(p.kept)) + 1, HLC: next, Actor: "somebody", Scope: scope, Schema: 1,
		Wall: op.Wall{Millis: at.UnixMilli(), Zone: "+00:00", Source: "device"}}
	for range 1 + c.below(2) {
		t := things[c.below(len(things))]
		if slices.ContainsFunc(o.On, func(g op.Group) bool { return g.ID == t.id }) {
			continue
		}
		o.On = append(o.On, op.Group{ID: t.id, Kind: string(t.kind), Acts: p.acts(c, p.view(t.id, t.kind))})
	}
	wire, err := o.Encode()
	if err != nil {
		return broken("P25", "what was saved cannot be written: %v", err)
	}
	p.keep(wire, next)
	return p.own(o)
}

func (p *phone) keep(wire []byte, stamp clock.Stamp) {
	p.links = append(p.links, op.Next(p.link(), wire))
	p.kept, p.stamp = append(p.kept, wire), stamp
	p.w.everSaved(p.dev, uint64(len(p.kept)), wire)
}

// own checks that a phone reads what it just wrote.
func (p *phone) own(o op.Op) error {
	for _, g := range o.On {
		st := p.view(g.ID, record.Kind(g.Kind))
		for _, a := range g.Acts {
			if err := p.known(a.Saw); err != nil {
				return err
			}
			if a.Kind == op.KindSet && record.MergeOf(record.Kind(g.Kind), a.Field) == record.MV && !p.double &&
				!slices.ContainsFunc(st.Field(a.Field).Values, func(v merge.Value) bool { return v.JSON == a.Value }) {
				return broken("P7", "a phone does not read what it just wrote into %s", a.Field)
			}
		}
	}
	return nil
}

// known checks that a phone names as seen only what it has heard: all that is
// ever replaced was in front of somebody who replaced it.
func (p *phone) known(saw []op.Dot) error {
	for _, d := range saw {
		if d.Dev != p.dev && !slices.ContainsFunc(p.heard, func(e oplog.Entry) bool { return e.Dev == d.Dev && e.Seq == d.Seq }) {
			return broken("P4", "a phone replaces %v, which it never heard of", d)
		}
	}
	return nil
}

func (p *phone) acts(c *chance, st merge.State) (acts []op.Act) {
	names := fields[st.Kind]
	for range 1 + c.below(2) {
		name := names[c.below(len(names))]
		if slices.ContainsFunc(acts, func(a op.Act) bool { return a.Field == name }) {
			continue
		}
		v := op.Text(string(rune('a' + c.below(6))))
		switch m := record.MergeOf(st.Kind, name); m {
		case record.ORSet:
			elements := st.Field(name).Elements
			if len(elements) > 0 && c.below(3) == 0 {
				acts = append(acts, op.Remove(name, elements[c.below(len(elements))].Dots()...))
			} else {
				acts = append(acts, op.Add(name, v))
			}
		case record.GSet:
			acts = append(acts, op.Add(name, v))
		case record.Log:
			acts = append(acts, op.Event(name, v))
		default:
			saw := st.Saw(name, p.dev)
			if p.w.mistake == SeesTooMuch {
				saw = p.w.everything(st.ID, name, p.dev)
			}
			acts = append(acts, op.Set(name, v, saw...))
		}
	}
	return acts
}

// body is the push of some operations from a number on.
func (p *phone) body(from uint64, n int) []byte {
	before := op.Genesis(p.dev)
	if from > 1 {
		before = p.links[from-2]
	}
	upto := min(from-1+uint64(n), uint64(len(p.kept)))
	var out bytes.Buffer
	if err := exchange.WritePush(&out, oplog.Batch{Dev: p.dev, First: from, Before: before, After: p.links[upto-1], Ops: p.kept[from-1 : upto]}); err != nil {
		panic(err)
	}
	return out.Bytes()
}

// from is where a push begins: where the server stands, or at what was never
// answered.
func (p *phone) from(expected uint64) uint64 {
	from := expected
	if p.w.mistake == ForgetsRefill || p.w.mistake == SentIsAnswered {
		from = uint64(len(p.kept)) + 1
	}
	for seq := range uint64(len(p.kept)) {
		if _, ok := p.said[seq+1]; !ok {
			return min(from, seq+1)
		}
	}
	return from
}

// meet hears where the server stands. One that was put back since it answered
// may have lost what it set aside, and may have taken another story for the
// first: what it set aside is offered again, and everything if its chain is
// not the phone's.
func (p *phone) meet() (expected uint64) {
	h := p.w.server.hello(p.dev)
	if p.met == p.w.server.life {
		return h.Seq + 1
	}
	p.met = p.w.server.life
	same := h.Seq == 0 || h.Seq <= uint64(len(p.links)) && p.links[h.Seq-1] == h.Link
	for seq, r := range p.said {
		if !same || r.LSN == 0 {
			delete(p.said, seq)
		}
	}
	return h.Seq + 1
}

// push pushes once. What the network does is chosen by net: 0 nothing.
func (p *phone) push(n int, net uint64) error {
	from := p.from(p.meet())
	if from > uint64(len(p.kept)) {
		return nil
	}
	body := p.body(from, n)
	upto := from - 1 + uint64(min(n, len(p.kept)-int(from)+1))
	answer, err := p.w.send(body, net)
	var chain *oplog.ChainError
	if errors.As(err, &chain) { // another story was told in its name: offer all, so that it shows where
		p.double = true
		body, upto = p.body(1, len(p.kept)), uint64(len(p.kept))
		from = 1
		answer, err = p.w.send(body, net)
	}
	var v *Violation
	if errors.As(err, &v) {
		return err
	}
	if err != nil {
		if p.w.mistake == SentIsAnswered {
			for seq := from; seq <= upto; seq++ {
				p.said[seq] = oplog.Receipt{Dev: p.dev, Seq: seq, Effect: oplog.OK}
			}
		}
		return nil // nobody knows what became of it; it is offered again
	}
	receipts, err := exchange.ReadResults(bytes.NewReader(answer), int(upto-from+1))
	if err != nil {
		return nil
	}
	return p.settle(receipts)
}

func (p *phone) settle(receipts []oplog.Receipt) error {
	for _, r := range receipts {
		if limit := clock.Effective(clock.Stamp{Millis: 1 << 46}, time.UnixMilli(r.Received)); r.Eff.Compare(limit) > 0 {
			return broken("P23", "a receipt of %d is ordered at %v", r.Received, r.Eff)
		}
		p.said[r.Seq] = r
		if r.Code == oplog.CodeEquivocation || r.Code == oplog.CodeFrozen {
			p.double = true
		}
		p.w.acked(p.dev, r)
	}
	return nil
}

// pull pulls one page. The phone keeps what it says and its cursor together.
func (p *phone) pull(limit int, net uint64) error {
	if p.life != p.w.server.life { // a hello says so
		p.cursor, p.heard, p.life = "", nil, p.w.server.life
	}
	answer, err := p.w.server.pull(p.cursor, limit)
	if err != nil {
		if errors.Is(err, exchange.ErrCursor) {
			p.cursor, p.heard = "", nil
			return nil
		}
		return broken("P14", "a pull was refused: %v", err)
	}
	switch net % 8 {
	case 1:
		return nil // the answer is lost
	case 2:
		answer = answer[:len(answer)/2]
	case 3:
		answer = []byte("<html><body>Welcome to the harbour café</body></html>\n")
	}
	page, err := exchange.ReadPull(bytes.NewReader(answer), 1<<24)
	if err != nil {
		return nil
	}
	next := p.clone()
	next.heard = append(next.heard, page.Entries...)
	if net%8 == 4 { // the phone stops while it keeps the page
		if p.w.mistake == CursorFirst {
			p.cursor = page.Cursor
		}
		return nil
	}
	next.cursor = page.Cursor
	for _, e := range page.Entries {
		next.stamp = later(next.stamp, e.Eff)
	}
	p.memory = next
	return p.prefix()
}

func later(a, b clock.Stamp) clock.Stamp {
	if b.Compare(a) > 0 {
		return b
	}
	return a
}

// prefix checks that what was pulled is the beginning of the log.
func (p *phone) prefix() error {
	log := p.w.server.all()
	for i, e := range p.heard {
		if i >= len(log) || log[i].Receipt != e.Receipt || e.Code != oplog.CodeUnreadable && !bytes.Equal(log[i].Wire, e.Wire) {
			return broken("P14", "of the log a phone has pulled %d places, and the one at %d is not the log's", len(p.heard), i+1)
		}
	}
	return nil
}
