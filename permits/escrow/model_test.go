package escrow

import (
	"encoding/binary"
	"fmt"
	"slices"
	"strings"

	"wayfall/permits"
)

// The model: phones, what they saved, and a server. The server's side is the
// Ledger and the phones' side the Purse of this package, nothing else. What a
// phone saved may reach the server at any later time, in any order, any number
// of times or never; so may what the server lent reach the phone.

var year = Number{Authority: "paper", Quota: "loons", From: permits.NewDate(2025, 1, 1), To: permits.NewDate(2025, 12, 31)}

const today = permits.Date(2025<<9 | 6<<5 | 1)

// rule is what may happen in a run of the model.
type rule struct {
	noFence bool // a restored or copied phone keeps its name and its shares
	timeout bool // the server frees the rest of a silent phone's share
	sized   bool // shares have the proposed size, not any

	limit, grants, returns, restores, copies, losses, entries, amends, ends, size int
}

type phone struct {
	dev   string
	seq   uint64
	life  int // times it was restored
	purse Purse
}

func (p phone) clone() phone {
	p.purse.Holdings = slices.Clone(p.purse.Holdings)
	return p
}

type saved struct {
	Event
	known bool // by the server
}

type state struct {
	ledger    Ledger
	phones    []phone
	old       []phone // copies of phones, one each at most
	saved     []saved
	used      [8]int8 // of each allowance
	names     int
	covered   int // animals that a phone said are covered
	entered   int // animals that the desk said are covered
	mostLimit int
}

// Allowances, by place in used.
const (
	grants = iota
	returns
	restores
	copies
	losses
	entries
	amends
	ends
)

func begin(r rule, phones int) *state {
	s := &state{mostLimit: r.limit, names: phones}
	s.ledger.Apply(&Event{Kind: Limited, Limit: r.limit, Reserve: Reserve(r.limit)})
	for i := range phones {
		s.phones = append(s.phones, phone{dev: string(rune('A' + i))})
	}
	s.old = make([]phone, phones)
	return s
}

func (s *state) clone() *state {
	c := *s
	l := &c.ledger
	l.shares, l.devices = slices.Clone(l.shares), slices.Clone(l.devices)
	l.entries, l.alarms = slices.Clone(l.entries), slices.Clone(l.alarms)
	for i := range l.shares {
		l.shares[i].spent = slices.Clone(l.shares[i].spent)
	}
	c.phones, c.saved, c.old = slices.Clone(s.phones), slices.Clone(s.saved), slices.Clone(s.old)
	for i := range c.phones {
		c.phones[i] = c.phones[i].clone()
	}
	return &c
}

// step is one thing that happens. a is mostly a phone, b a share, a save or a
// size.
type step struct {
	what verb
	a, b int
}

type verb uint8

const (
	lend verb = iota
	hear
	use
	giveBack
	deliver
	backUp
	restore
	copyPhone
	lose
	enter
	amend
	end
	expire
)

func (s *state) steps(r rule, out []step) []step {
	free := s.ledger.Sums().Free
	left := func(i, most int) bool { return int(s.used[i]) < most }
	for i := range s.phones {
		p := &s.phones[i]
		for size := 1; size <= r.size && left(grants, r.grants) && size <= free; size++ {
			out = append(out, step{lend, i, size})
			if r.sized {
				break
			}
		}
		for j := range s.ledger.shares {
			if s.ledger.shares[j].Device == p.dev && !p.knows(s.ledger.shares[j].ID) {
				out = append(out, step{hear, i, j})
			}
		}
		if p.purse.Left("paper", "loons", "", today) > 0 {
			out = append(out, step{use, i, 0})
		}
		for j := range p.purse.Holdings {
			if left(returns, r.returns) && p.purse.Holdings[j].Left() > 0 {
				out = append(out, step{giveBack, i, j})
			}
		}
		if left(restores, r.restores) {
			if s.old[i].dev == "" && len(p.purse.Holdings) > 0 {
				out = append(out, step{backUp, i, 0})
			}
			if s.old[i].dev != "" {
				out = append(out, step{restore, i, 0})
			}
		}
		if left(copies, r.copies) && len(p.purse.Holdings) > 0 {
			out = append(out, step{copyPhone, i, 0})
		}
		if left(losses, r.losses) && !s.ledger.burned(p.dev) {
			out = append(out, step{lose, i, 0})
		}
	}
	for i := range s.saved {
		out = append(out, step{deliver, i, 0})
	}
	if left(entries, r.entries) {
		out = append(out, step{enter, 0, 0})
	}
	if left(amends, r.amends) {
		out = append(out, step{amend, 0, 0})
	}
	if left(ends, r.ends) {
		out = append(out, step{end, 0, 0})
	}
	for j := range s.ledger.shares {
		if r.timeout && s.ledger.shares[j].Left() > 0 {
			out = append(out, step{expire, j, 0})
		}
	}
	return out
}

func (p *phone) knows(grant string) bool {
	return slices.ContainsFunc(p.purse.Holdings, func(h Holding) bool { return h.ID == grant })
}

// take makes the step.
func (s *state) take(r rule, t step) {
	switch t.what {
	case lend:
		s.lend(r, t)
	case hear:
		g := &s.ledger.shares[t.b]
		s.phones[t.a].purse.Take(Holding{Grant{ID: g.ID, Device: g.Device, Number: year, First: g.First, Last: g.Last}, g.First}) // the oldest answer there is
	case use:
		all, ok := s.phones[t.a].purse.Spend("paper", "loons", "", today, 1)
		if ok {
			s.covered++
			s.save(t.a, Event{Kind: Spent, Grant: all[0].Grant, Serial: all[0].Serial})
		}
	case giveBack:
		if back, ok := s.phones[t.a].purse.GiveBack(s.phones[t.a].purse.Holdings[t.b].ID); ok {
			s.used[returns]++
			s.save(t.a, Event{Kind: Returned, Grant: back.Grant, First: back.From})
		}
	case deliver:
		s.deliver(t.a)
	case backUp:
		s.old[t.a] = s.phones[t.a].clone()
	case restore:
		s.used[restores]++
		back := s.old[t.a].clone()
		back.life = s.phones[t.a].life + 1
		s.phones[t.a] = s.fence(r, back)
	case copyPhone:
		s.used[copies]++
		twin := s.phones[t.a].clone()
		twin.life += 10 * (int(s.used[copies]))
		s.phones, s.old = append(s.phones, s.fence(r, twin)), append(s.old, phone{})
	default:
		s.serve(t)
	}
}

// serve makes the steps that happen at the server alone.
func (s *state) serve(t step) {
	l := &s.ledger
	switch t.what {
	case lose:
		s.used[losses]++
		l.Apply(&Event{Kind: Burned, Device: s.phones[t.a].dev, Why: Lost})
	case enter:
		s.used[entries]++
		before := l.Sums()
		l.Apply(&Event{Kind: Entered, Op: fmt.Sprint("desk", s.used[entries]), Count: 1})
		s.entered += l.Sums().Entered - before.Entered
	case amend:
		s.used[amends]++
		to := l.limit / 2
		if s.used[amends]%2 == 0 {
			to = s.mostLimit
		}
		l.Apply(&Event{Kind: Limited, Limit: to, Reserve: Reserve(to)})
	case end:
		s.used[ends]++
		l.Apply(&Event{Kind: Ended})
	case expire: // what must not be: nothing in the product does this
		g := &l.shares[t.a]
		g.back, g.restored = g.Next(), true
	}
}

// fence makes a phone whose store was put back or copied another device.
func (s *state) fence(r rule, p phone) phone {
	if r.noFence {
		return p
	}
	s.names++
	return phone{dev: string(rune('A' + s.names - 1))}
}

func (s *state) lend(r rule, t step) {
	n := t.b
	dev := s.phones[t.a].dev
	if r.sized {
		n = s.ledger.Propose(Ask{Device: dev, Phones: len(s.phones), Recent: t.b * int(s.used[grants])})
	}
	if e, ok := s.ledger.Lend(dev, fmt.Sprint("g", len(s.ledger.shares)+1), n); ok {
		s.used[grants]++
		s.ledger.Apply(&e)
	}
}

func (s *state) save(phone int, e Event) {
	p := &s.phones[phone]
	p.seq++
	e.Device, e.Seq = p.dev, p.seq
	e.Op = fmt.Sprintf("%s:%d/%d", p.dev, p.seq, p.life)
	at, _ := slices.BinarySearchFunc(s.saved, e.Op, func(x saved, op string) int { return strings.Compare(x.Op, op) })
	s.saved = slices.Insert(s.saved, at, saved{Event: e})
}

func (s *state) deliver(i int) {
	m := &s.saved[i]
	m.known = true
	s.ledger.Apply(&m.Event)
	var held uint64
	for more := true; more; {
		more = false
		for j := range s.saved {
			if x := &s.saved[j]; x.known && x.Device == m.Device && x.Seq == held+1 {
				held, more = held+1, true
			}
		}
	}
	s.ledger.Apply(&Event{Kind: Held, Device: m.Device, Seq: held})
}

// broken says which promise does not hold, or "".
func (s *state) broken(r rule) string {
	sum := s.ledger.Sums()
	if s.covered+s.entered > s.mostLimit {
		return fmt.Sprintf("%d animals were said to be covered by phones and %d at the desk, of %d", s.covered, s.entered, s.mostLimit)
	}
	if rights := sum.Spent + sum.Lent + sum.Burned; rights > s.mostLimit {
		return fmt.Sprintf("%d units are in shares, of %d", rights, s.mostLimit)
	}
	all := sum.Free + sum.Reserve + sum.Lent + sum.Spent + sum.Burned + sum.Entered
	if sum.Free < 0 || all < sum.Limit || all > sum.Limit && sum.Free+sum.Reserve+sum.Entered > 0 {
		return fmt.Sprintf("the places of the units do not add up: %+v", sum)
	}
	if silent := s.covered - sum.Spent; !r.noFence && !r.timeout && silent > sum.Lent+sum.Burned {
		return fmt.Sprintf("%d units are spent and not reported, yet only %d lent and %d burned", silent, sum.Lent, sum.Burned)
	}
	for _, a := range s.ledger.alarms {
		if a.Kind != SpentGone && !r.noFence && !r.timeout { // a lost phone that turns up is shown
			return "honest devices raised an alarm: " + string(a.Kind)
		}
	}
	return ""
}

// key writes everything that decides what can happen next.
func (s *state) key(b []byte) []byte {
	num := func(all ...int) {
		for _, n := range all {
			b = binary.AppendVarint(b, int64(n))
		}
	}
	text := func(t string) { num(len(t)); b = append(b, t...) }
	yes := func(v bool) {
		if v {
			num(1)
		} else {
			num(0)
		}
	}
	l := &s.ledger
	num(l.limit, l.reserve, l.next, len(l.shares), len(l.entries), len(l.alarms), s.covered, s.entered, s.names)
	yes(l.ended)
	for i := range l.shares {
		g := &l.shares[i]
		text(g.Device)
		num(g.First, g.Last, g.back, int(g.backSeq))
		yes(g.restored)
		for _, op := range g.spent {
			text(op)
		}
	}
	// A device of which nothing is known is as one that was never heard of.
	for c := 'A'; c < rune('A'+s.names); c++ {
		for i := range l.devices {
			if d := &l.devices[i]; d.id == string(c) {
				text(d.id)
				num(int(d.held), len(d.burned))
			}
		}
	}
	for _, p := range append(slices.Clone(s.phones), s.old...) {
		text(p.dev)
		num(int(p.seq), p.life, len(p.purse.Holdings))
		for _, h := range p.purse.Holdings {
			text(h.ID)
			num(h.Next)
		}
	}
	for i := range s.saved {
		m := &s.saved[i]
		text(m.Op)
		text(m.Grant)
		num(int(m.Kind), m.Serial, m.First)
		yes(m.known)
	}
	for _, u := range s.used {
		num(int(u))
	}
	return b
}

func (t step) tell(s *state) string {
	dev := func() string { return s.phones[t.a].dev }
	switch t.what {
	case lend:
		return fmt.Sprintf("the server lends %d to phone %s", t.b, dev())
	case hear:
		return fmt.Sprintf("phone %s hears of its share %s", dev(), s.ledger.shares[t.b].ID)
	case use:
		return fmt.Sprintf("phone %s (%d) takes an animal and says it is covered", dev(), t.a)
	case giveBack:
		return fmt.Sprintf("phone %s gives back the rest of share %s", dev(), s.phones[t.a].purse.Holdings[t.b].ID)
	case deliver:
		m := &s.saved[t.a]
		return fmt.Sprintf("the save %s (share %s, serial %d) reaches the server", m.Op, m.Grant, max(m.Serial, m.First))
	case backUp:
		return fmt.Sprintf("the store of phone %s is backed up", dev())
	case restore:
		return fmt.Sprintf("the store of phone %s is put back", dev())
	case copyPhone:
		return fmt.Sprintf("phone %s is copied to a second one", dev())
	case lose:
		return fmt.Sprintf("phone %s is declared lost", dev())
	case enter:
		return "the desk enters an animal"
	case amend:
		return "the paper is amended"
	case end:
		return "the window ends"
	case expire:
		return fmt.Sprintf("share %s runs out of time and is free again", s.ledger.shares[t.a].ID)
	}
	return "?"
}
