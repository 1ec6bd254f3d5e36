package simulate

import (
	"bytes"
	"maps"
	"slices"

	"wayfall/sync/clock"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/record"
	"wayfall/sync/seal"
)

// check holds what is there in the end against the model.
func (w *world) check(s Schedule) error {
	log := w.server.all()
	for _, part := range []func([]oplog.Entry) error{w.quiet, w.answered, w.once, w.nothingLost, w.order, w.agree, w.heads} {
		if err := part(log); err != nil {
			return err
		}
	}
	c := chance(0)
	for _, x := range s {
		c ^= chance(x.A)
	}
	return w.converge(log, &c)
}

// quiet: every phone that is left was answered about everything (P18), and has
// the whole log (P14).
func (w *world) quiet(log []oplog.Entry) error {
	for i, p := range w.phones {
		if p.lost {
			continue
		}
		if len(p.said) != len(p.kept) {
			return broken("P18", "phone %d was answered about %d of %d operations after the network healed", i, len(p.said), len(p.kept))
		}
		if len(p.heard) != len(log) {
			return broken("P14", "phone %d has pulled %d of %d places", i, len(p.heard), len(log))
		}
		if err := p.prefix(); err != nil {
			return err
		}
	}
	return nil
}

// answered: what a phone was told about an operation is what the log says of
// it, however often it was offered (P11). A server that was put back may say
// it anew.
func (w *world) answered(log []oplog.Entry) error {
	if len(w.server.restore) > 0 || w.mistake == RestoredInStealth {
		return nil
	}
	for i, p := range w.phones {
		for _, e := range log {
			if said, ok := p.said[e.Seq]; ok && e.Dev == p.dev && !p.double && said != e.Receipt && w.mistake == None {
				return broken("P11", "phone %d was told %+v about what the log has as %+v", i, said, e.Receipt)
			}
		}
	}
	return nil
}

type name struct {
	dev op.DeviceID
	seq uint64
}

// once: nothing is in the log twice, and nothing that nobody saved (P11); what
// is there is there byte for byte (P25); streams have no holes.
func (w *world) once(log []oplog.Entry) error {
	seen, received := map[op.DeviceID]uint64{}, int64(0)
	for i, e := range log {
		seen[e.Dev]++
		if e.LSN != uint64(i)+1 || e.Seq != seen[e.Dev] {
			return broken("P11", "place %d of the log holds operation %d of a device, after %d of it", e.LSN, e.Seq, seen[e.Dev]-1)
		}
		if !slices.ContainsFunc(w.saved[e.Dev][e.Seq], func(wire []byte) bool { return bytes.Equal(wire, e.Wire) }) {
			return broken("P25", "place %d of the log is not what anybody saved", e.LSN)
		}
		if e.Received < received {
			return broken("P23", "place %d was received before the one above it", e.LSN)
		}
		received = e.Received
	}
	return nil
}

// nothingLost: what any phone holds is in the log, or beside it when it is a
// second story (P13, P27); and what was acknowledged is there unless every
// phone that held it is lost and the server was put back (P12).
func (w *world) nothingLost(log []oplog.Entry) error {
	there := map[name][][]byte{}
	for _, e := range log {
		there[name{e.Dev, e.Seq}] = append(there[name{e.Dev, e.Seq}], e.Wire)
	}
	for _, p := range w.phones {
		for _, e := range w.asideOf(p.dev) {
			there[name{e.Dev, e.Seq}] = append(there[name{e.Dev, e.Seq}], e.Wire)
		}
	}
	for i, p := range w.phones {
		if p.lost {
			continue
		}
		for seq, wire := range p.kept {
			if !slices.ContainsFunc(there[name{p.dev, uint64(seq) + 1}], func(b []byte) bool { return bytes.Equal(b, wire) }) {
				return broken("P13", "operation %d that phone %d holds is nowhere", seq+1, i)
			}
		}
	}
	if len(w.server.restore) > 0 || w.mistake == RestoredInStealth && w.server.copied != nil {
		return nil
	}
	for dev, all := range w.answer {
		for seq := range all {
			if len(there[name{dev, seq}]) == 0 {
				return broken("P12", "operation %d was acknowledged and is nowhere", seq)
			}
		}
	}
	return w.stories(there)
}

// stories: of two operations under one number that both reached the server,
// both are kept and the device is stopped (P27).
func (w *world) stories(there map[name][][]byte) error {
	for n, wires := range there {
		for _, a := range wires {
			if bytes.Equal(a, wires[0]) {
				continue
			}
			if h, err := w.server.log.Head(ctx, n.dev); err != nil || !h.Frozen {
				return broken("P27", "a device told two stories about its number %d and was not stopped", n.seq)
			}
		}
	}
	return nil
}

func (w *world) asideOf(dev op.DeviceID) []oplog.Entry {
	all, err := w.server.log.Aside(ctx, dev)
	if err != nil {
		panic(err)
	}
	return all
}

// order: the stamps of one story of a device only grow, and nothing is ordered
// long after it was received (P23).
func (w *world) order(log []oplog.Entry) error {
	last := map[op.DeviceID]clock.Stamp{}
	for _, e := range log {
		if e.Eff.Millis > e.Received+clock.Lead.Milliseconds() {
			return broken("P23", "place %d is ordered at %v and was received at %d", e.LSN, e.Eff, e.Received)
		}
		o, err := w.decode(e.Wire)
		if err != nil {
			continue
		}
		if o.HLC.Compare(last[e.Dev]) <= 0 {
			return broken("P23", "place %d is stamped %v after %v", e.LSN, o.HLC, last[e.Dev])
		}
		last[e.Dev] = o.HLC
	}
	return nil
}

// folded are the operations that have an effect.
func (w *world) folded(log []oplog.Entry) (all []merge.Folded) {
	for _, e := range log {
		if o, err := w.decode(e.Wire); err == nil && e.Effect.Folded() {
			all = append(all, merge.Folded{Op: o, Receipt: merge.Receipt{LSN: e.LSN, Eff: e.Eff}})
		}
	}
	return all
}

func fold(id op.ID, kind record.Kind, all []merge.Folded) merge.State {
	st := merge.New(id, kind)
	for _, f := range all {
		st.Apply(f.Op, f.Receipt)
	}
	return st
}

// agree: every record is on every phone what it is on the server, and both are
// what the model says (P4, P5, P8, P9).
func (w *world) agree(log []oplog.Entry) error {
	all := w.folded(log)
	for _, t := range things {
		st := fold(t.id, t.kind, all)
		for i, p := range w.phones {
			if p.lost || p.double { // a second story is on its own phone only
				continue
			}
			if v := p.view(t.id, t.kind); v.Digest() != st.Digest() {
				return broken("P1", "phone %d and the server do not show the same", i)
			}
		}
		if err := w.model(st, all); err != nil {
			return err
		}
	}
	return nil
}

// model reckons in the plainest way which writings are live, and holds the
// state against that.
func (w *world) model(st merge.State, all []merge.Folded) error {
	wrote, seen := map[string][]writing{}, map[string][]op.Dot{}
	for _, f := range all {
		eachAct(f.Op, func(g op.Group, a op.Act, dot op.Dot) {
			if g.ID == st.ID && record.Kind(g.Kind) == st.Kind {
				wrote[a.Field] = append(wrote[a.Field], writing{dot, a.Kind, f.Receipt.Eff})
				seen[a.Field] = append(seen[a.Field], a.Saw...)
			}
		})
	}
	for _, field := range slices.Sorted(maps.Keys(wrote)) {
		how := record.MergeOf(st.Kind, field)
		if how == record.Unknown {
			how = record.MV // what a release does not know it keeps
		}
		live := liveOf(how, wrote[field], seen[field])
		if how == record.LWW {
			if got := dotsOf(st.Field(field)); !shows(got, live) {
				return broken("P4", "of %s the writings %v are shown, and the last is not among them or one is not live", field, got)
			}
			continue
		}
		dots := make([]op.Dot, len(live))
		for i, x := range live {
			dots[i] = x.dot
		}
		if err := sameDots(how, field, dots, dotsOf(st.Field(field))); err != nil {
			return err
		}
	}
	return nil
}

type writing struct {
	dot  op.Dot
	kind string
	eff  clock.Stamp
}

// liveOf returns the writings that nobody replaced who saw them, and that
// their own device did not write over.
func liveOf(how record.Merge, all []writing, seen []op.Dot) (live []writing) {
	for _, x := range all {
		gone := x.kind == op.KindRem
		switch how {
		case record.MV, record.LWW:
			for _, y := range all {
				gone = gone || y.dot.Dev == x.dot.Dev && y.kind == op.KindSet && y.dot.Age(x.dot) > 0
			}
			for _, d := range seen {
				gone = gone || d.Dev == x.dot.Dev && d.Age(x.dot) >= 0
			}
		case record.ORSet:
			gone = gone || slices.Contains(seen, x.dot)
		}
		if !gone {
			live = append(live, x)
		}
	}
	return live
}

// shows tells whether what is shown is live and holds the writing that is
// ordered last; others of the same value stand with it.
func shows(got []op.Dot, live []writing) bool {
	if len(live) == 0 {
		return len(got) == 0
	}
	last := slices.MaxFunc(live, func(a, b writing) int {
		if c := a.eff.Compare(b.eff); c != 0 {
			return c
		}
		return a.dot.Compare(b.dot)
	})
	isLive := func(d op.Dot) bool { return slices.ContainsFunc(live, func(x writing) bool { return x.dot == d }) }
	return slices.Contains(got, last.dot) && !slices.ContainsFunc(got, func(d op.Dot) bool { return !isLive(d) })
}

func dotsOf(f merge.Field) (dots []op.Dot) {
	for _, list := range [][]merge.Value{f.Values, f.Elements, f.Events} {
		for _, v := range list {
			dots = append(dots, v.Dots()...)
		}
	}
	return dots
}

func sameDots(how record.Merge, field string, want, got []op.Dot) error {
	slices.SortFunc(want, op.Dot.Compare)
	slices.SortFunc(got, op.Dot.Compare)
	if slices.Equal(want, got) {
		return nil
	}
	property := "P4"
	if how == record.ORSet {
		property = "P9"
	}
	return broken(property, "of %s the writings %v are live, want %v", field, got, want)
}

// converge: order, repetition, grouping and a snapshot in between change
// nothing (P1, P2, P3), nor do the devices' clocks but for what is shown (P24).
func (w *world) converge(log []oplog.Entry, c *chance) error {
	all := w.folded(log)
	mixed := slices.Clone(all)
	for i := len(mixed) - 1; i > 0; i-- {
		j := c.below(i + 1)
		mixed[i], mixed[j] = mixed[j], mixed[i]
	}
	mixed = append(mixed, mixed[:len(mixed)/3]...)
	for _, t := range things {
		want := fold(t.id, t.kind, all)
		if got := fold(t.id, t.kind, mixed); got.Digest() != want.Digest() {
			return broken("P1", "another order of the same operations makes another record")
		}
		cut := c.below(len(mixed) + 1)
		a, b := fold(t.id, t.kind, mixed[:cut]), fold(t.id, t.kind, mixed[cut:])
		if merge.Join(a, b).Digest() != want.Digest() || merge.Join(b, a).Digest() != want.Digest() {
			return broken("P2", "two parts of the log do not join to the whole")
		}
		at := c.below(len(all) + 1)
		half := fold(t.id, t.kind, all[:at])
		tail, err := merge.Decode(half.Append(nil))
		if err != nil {
			return broken("P3", "a snapshot cannot be read: %v", err)
		}
		for _, f := range all[at:] {
			tail.Apply(f.Op, f.Receipt)
		}
		if tail.Digest() != want.Digest() {
			return broken("P3", "a snapshot and what followed do not make the whole")
		}
		if err := clockless(t.id, t.kind, all, want); err != nil {
			return err
		}
	}
	return nil
}

// clockless folds the same with stamps turned around: what is live may not
// depend on them.
func clockless(id op.ID, kind record.Kind, all []merge.Folded, want merge.State) error {
	other := merge.New(id, kind)
	for i, f := range all {
		f.Receipt.Eff = clock.Stamp{Millis: int64(1e12) - int64(i)}
		f.Op.HLC = f.Receipt.Eff
		other.Apply(f.Op, f.Receipt)
	}
	for _, field := range want.Names() {
		if want.Field(field).Merge == record.LWW {
			continue // there the stamps decide, and only there
		}
		if err := sameDots(record.Log, field, dotsOf(want.Field(field)), dotsOf(other.Field(field))); err != nil {
			return broken("P24", "with other clocks, %v", err)
		}
	}
	return nil
}

// heads: every head that a phone kept of the present life, or of an earlier one
// before its end, is the beginning of the log; one changed receipt and no head
// of it agrees (P26).
func (w *world) heads(log []oplog.Entry) error {
	leaves := leavesOf(log)
	if len(leaves) == 0 {
		return nil
	}
	now, tree := w.server.head(), treeOf(leaves)
	for i, p := range w.phones {
		for _, h := range p.heads {
			upto := uint64(len(log))
			for _, n := range w.server.restore[min(int(h.life), len(w.server.restore)):] {
				upto = min(upto, n)
			}
			if h.Size > upto {
				continue // of what was lost when the server was put back
			}
			proof, err := seal.Prove(h.Size, now.Size, tree)
			if err == nil {
				err = seal.Agree(proof, h.Head, now)
			}
			if err != nil {
				return broken("P26", "a head of %d places that phone %d kept: %v", h.Size, i, err)
			}
			forged := slices.Clone(log)
			forged[h.Size-1].Received++
			if rootOf(leavesOf(forged[:h.Size])) == h.Root {
				return broken("P26", "a changed receipt has the head it had")
			}
		}
	}
	return nil
}
