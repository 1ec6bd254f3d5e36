package escrow

import (
	"encoding/binary"
	"fmt"
	"hash/maphash"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// The model of two levels: the server of the number, one second server S that
// is lent blocks, phones A and B behind it, and a phone C at the first. What
// anybody saved reaches either server at any later time, in any order, any
// number of times or never.

// levels is what may happen in a run.
type levels struct {
	limit, block, size                                    int
	blocks, shares, backs, ups, copies, restores, losses  int
	noFence, noStationFence, timeout, freesLost, takesAll bool
}

type note struct {
	Event
	by            string // whose save it is
	home, station bool   // who knows it
	block         string // of a use: which block it comes from
}

type base struct {
	dev    string
	seq    uint64
	names  int // shares it made
	ledger Ledger
	told   []string // notes it knows, for a store that is put back
}

type pair struct {
	home     Ledger
	s, old   base // the second server, and a copy of its store
	phones   []phone
	backup   phone // of A
	notes    []note
	used     [8]int8
	names    int
	covered  int
	ofBlock  map[string]int
	inBlocks map[string]int
}

func openPair(r levels) *pair {
	p := &pair{names: 3, ofBlock: map[string]int{}, inBlocks: map[string]int{}}
	p.home.Apply(&Event{Kind: Limited, Limit: r.limit})
	p.s = base{dev: "S"}
	for _, n := range []string{"A", "B", "C"} {
		p.phones = append(p.phones, phone{dev: n})
	}
	return p
}

func copyLedger(l Ledger) Ledger {
	l.shares, l.devices = slices.Clone(l.shares), slices.Clone(l.devices)
	l.entries, l.alarms, l.early = slices.Clone(l.entries), slices.Clone(l.alarms), slices.Clone(l.early)
	for i := range l.shares {
		l.shares[i].spent = slices.Clone(l.shares[i].spent)
	}
	return l
}

func (b base) clone() base {
	b.ledger, b.told = copyLedger(b.ledger), slices.Clone(b.told)
	return b
}

func (p *pair) clone() *pair {
	c := *p
	c.home, c.s, c.old = copyLedger(p.home), p.s.clone(), p.old.clone()
	c.phones, c.notes, c.backup = slices.Clone(p.phones), slices.Clone(p.notes), p.backup.clone()
	for i := range c.phones {
		c.phones[i] = c.phones[i].clone()
	}
	c.ofBlock, c.inBlocks = map[string]int{}, map[string]int{}
	for k, v := range p.ofBlock {
		c.ofBlock[k] = v
	}
	for k, v := range p.inBlocks {
		c.inBlocks[k] = v
	}
	return &c
}

// move is one thing that happens; to tells it in words.
type move struct {
	what string
	a, b int
}

var allowance = map[string]int{"block": 0, "lend": 1, "onward": 1, "back": 2, "up": 3, "copy": 4, "restore": 5, "put back": 5, "lost": 6, "lost station": 6}

// direct tells whether a phone speaks to the first server.
func (p *pair) direct(i int) bool { return i == 2 }

func (p *pair) moves(r levels) (out []move) {
	most := [8]int{r.blocks, r.shares, r.backs, r.ups, r.copies, r.restores, r.losses}
	add := func(what string, a, b int) {
		if n, limited := allowance[what]; !limited || int(p.used[n]) < most[n] {
			out = append(out, move{what, a, b})
		}
	}
	for n := 1; n <= r.block; n++ {
		if p.home.Lendable(p.s.dev, n) {
			add("block", 0, n)
		}
	}
	for j := range p.home.shares {
		if g := &p.home.shares[j]; g.Block && g.Device == p.s.dev && p.s.ledger.share(g.ID) == nil {
			add("learn", 0, j)
		}
	}
	for j := range p.s.ledger.shares {
		g := &p.s.ledger.shares[j]
		if _, ok := p.s.ledger.Spare(g.ID); g.Block && g.Device == p.s.dev && g.back == 0 && (ok || r.takesAll) {
			add("up", 0, j)
		}
		if r.timeout && !g.Block && g.Left() > 0 {
			add("timeout", 0, j)
		}
	}
	for i := range p.phones {
		p.movesOf(r, i, add)
	}
	for i := range p.notes {
		if n := &p.notes[i]; !n.home {
			add("home", i, 0)
		}
		if n := &p.notes[i]; !n.station && n.by != "C" {
			add("station", i, 0)
		}
	}
	if !p.home.burned(p.s.dev) {
		add("lost station", 0, 0)
	}
	if p.old.dev == "" && len(p.s.ledger.shares) > 0 && r.restores > 0 {
		add("back up", 1, 0)
	}
	if p.old.dev != "" {
		add("put back", 0, 0)
	}
	return out
}

func (p *pair) movesOf(r levels, i int, add func(string, int, int)) {
	ph, from := &p.phones[i], &p.s.ledger
	for n := 1; n <= r.size; n++ {
		if p.direct(i) {
			if p.home.Lendable(ph.dev, n) {
				add("lend", i, n)
			}
		} else if _, ok := p.s.ledger.LendOn(p.s.dev, ph.dev, "?", n); ok {
			add("onward", i, n)
		}
	}
	if p.direct(i) {
		from = &p.home
	}
	for j := range from.shares {
		if g := &from.shares[j]; g.Device == ph.dev && !ph.knows(g.ID) {
			add("hear", i, j)
		}
	}
	if ph.purse.Left("paper", "loons", "", today) > 0 {
		add("use", i, 0)
	}
	for j := range ph.purse.Holdings {
		if ph.purse.Holdings[j].Left() > 0 {
			add("back", i, j)
		}
	}
	if len(ph.purse.Holdings) > 0 {
		add("copy", i, 0)
	}
	if !from.burned(ph.dev) {
		add("lost", i, 0)
	}
}

// do makes a move.
func (p *pair) do(r levels, m move) {
	if n, limited := allowance[m.what]; limited {
		p.used[n]++
	}
	switch m.what {
	case "block":
		e, _ := p.home.Lend(p.s.dev, fmt.Sprint("b", len(p.home.shares)+1), m.b)
		e.Block = true
		p.home.Apply(&e)
		p.inBlocks[e.Grant] = m.b
	case "learn":
		g := &p.home.shares[m.b]
		p.s.ledger.Apply(&Event{Kind: Granted, Device: g.Device, Grant: g.ID, Block: true, First: g.First, Last: g.Last})
	case "onward":
		p.s.names++
		e, _ := p.s.ledger.LendOn(p.s.dev, p.phones[m.a].dev, fmt.Sprintf("%s%d/%d", p.s.dev, p.s.names, p.used[5]), m.b)
		p.byStation(e)
	case "up":
		g := &p.s.ledger.shares[m.b]
		back, _ := p.s.ledger.Spare(g.ID)
		if r.takesAll {
			back = Return{g.ID, g.First}
		}
		p.byStation(Event{Kind: Returned, Device: p.s.dev, Grant: back.Grant, First: back.From})
	case "timeout":
		g := &p.s.ledger.shares[m.b]
		g.back, g.restored = g.Next(), true
	case "home", "station":
		p.tell(m)
	case "lost station":
		p.home.Apply(&Event{Kind: Burned, Device: p.s.dev, Why: Lost})
		if r.freesLost {
			free(&p.home, p.s.dev)
		}
	case "back up":
		p.old = p.s.clone()
	case "put back":
		p.putBack(r)
	default:
		p.doPhone(r, m)
	}
}

func free(l *Ledger, dev string) {
	for i := range l.shares {
		if g := &l.shares[i]; g.Device == dev {
			g.back, g.restored = g.First, true
		}
	}
}

// byStation is an act of the second server, which it knows at once.
func (p *pair) byStation(e Event) {
	p.s.seq++
	e.Op, e.Seq = fmt.Sprintf("%s:%d/%d", p.s.dev, p.s.seq, p.used[5]), p.s.seq
	p.s.ledger.Apply(&e)
	p.s.ledger.Apply(&Event{Kind: Held, Device: p.s.dev, Seq: e.Seq})
	p.keep(note{Event: e, by: p.s.dev, station: true})
}

func (p *pair) keep(n note) {
	at, _ := slices.BinarySearchFunc(p.notes, n.Op, func(x note, op string) int { return strings.Compare(x.Op, op) })
	p.notes = slices.Insert(p.notes, at, n)
}

// putBack gives the second server the store it had; with the fence it goes on
// under another name, which holds nothing.
func (p *pair) putBack(r levels) {
	lost := p.s
	p.s = p.old.clone()
	for i := range p.notes {
		p.notes[i].station = slices.Contains(p.s.told, p.notes[i].Op)
	}
	if r.noStationFence {
		p.s.dev = lost.dev
		return
	}
	p.s.dev, p.s.seq = "S'", 0
}

func (p *pair) tell(m move) {
	n, l := &p.notes[m.a], &p.home
	if m.what == "station" {
		n.station, l = true, &p.s.ledger
		p.s.told = append(p.s.told, n.Op)
	} else {
		n.home = true
	}
	l.Apply(&n.Event)
	var held uint64
	for i := range p.notes { // in the order of names, which is that of seq below 10
		x := &p.notes[i]
		if x.by == n.by && x.Seq == held+1 && (m.what == "station" && x.station || m.what == "home" && x.home) {
			held++
		}
	}
	l.Apply(&Event{Kind: Held, Device: n.by, Seq: held})
}

func (p *pair) doPhone(r levels, m move) {
	ph, from := &p.phones[m.a], &p.s.ledger
	if p.direct(m.a) {
		from = &p.home
	}
	save := func(e Event, block string) {
		ph.seq++
		e.Device, e.Seq, e.Op = ph.dev, ph.seq, fmt.Sprintf("%s:%d/%d", ph.dev, ph.seq, ph.life)
		p.keep(note{Event: e, by: ph.dev, block: block})
	}
	switch m.what {
	case "lend":
		e, _ := p.home.Lend(ph.dev, fmt.Sprint("g", len(p.home.shares)+1), m.b)
		p.home.Apply(&e)
	case "hear":
		g := &from.shares[m.b]
		ph.purse.Take(Holding{Grant{ID: g.ID, Device: g.Device, Number: year, First: g.First, Last: g.Last, Of: g.Of}, g.First})
	case "use":
		all, _ := ph.purse.Spend("paper", "loons", "", today, 1)
		p.covered++
		block := ""
		for _, h := range ph.purse.Holdings {
			if h.ID == all[0].Grant && h.Of != "" {
				block = h.Of
				p.ofBlock[block]++
			}
		}
		save(Event{Kind: Spent, Grant: all[0].Grant, Serial: all[0].Serial}, block)
	case "back":
		back, _ := ph.purse.GiveBack(ph.purse.Holdings[m.b].ID)
		save(Event{Kind: Returned, Grant: back.Grant, First: back.From}, "")
	case "copy":
		if r.noFence { // B's hand is the copy's now
			twin := ph.clone()
			twin.life += 10
			p.phones[1] = twin
			return
		}
		p.names++
		p.phones[1] = phone{dev: string(rune('A' + p.names - 1))}
	case "lost":
		from.Apply(&Event{Kind: Burned, Device: ph.dev, Why: Lost})
		if r.freesLost {
			free(from, ph.dev)
		}
	}
}

// wrong says which promise does not hold, or "".
func (p *pair) wrong(r levels) string {
	if p.covered > r.limit {
		return fmt.Sprintf("%d animals were said to be covered, of %d", p.covered, r.limit)
	}
	for b, n := range p.ofBlock {
		if n > p.inBlocks[b] {
			return fmt.Sprintf("%d animals were said to be covered by the %d units of one block", n, p.inBlocks[b])
		}
	}
	s := p.home.Sums()
	if all := s.Free + s.Reserve + s.Lent + s.Spent + s.Burned + s.Entered + s.Doubt; s.Free < 0 || all != s.Limit {
		return fmt.Sprintf("the places of the units do not add up: %+v", s)
	}
	if r.broken() {
		return ""
	}
	heard := s.Spent
	for _, e := range p.home.early {
		if e.Kind == Spent {
			heard++
		}
	}
	if silent := p.covered - heard; silent > s.Lent+s.Burned {
		return fmt.Sprintf("%d units are spent and not reported, yet only %d lent and %d burned", silent, s.Lent, s.Burned)
	}
	for _, a := range p.home.Alarms() {
		early := a.Kind == NoSuchSerial && !p.allHome() // until the share itself is heard of
		if a.Kind != SpentGone && !early {
			return "honest devices raised an alarm: " + string(a.Kind)
		}
	}
	for _, a := range p.s.ledger.Alarms() {
		if a.Kind != SpentGone && a.Kind != NoSuchSerial {
			return "honest devices raised an alarm at the station: " + string(a.Kind)
		}
	}
	return ""
}

// allHome tells whether the first server knows everything.
func (p *pair) allHome() bool {
	return !slices.ContainsFunc(p.notes, func(n note) bool { return !n.home })
}

// broken tells whether a safeguard is taken out.
func (r levels) broken() bool {
	return r.noFence || r.noStationFence || r.timeout || r.freesLost || r.takesAll
}

func (p *pair) key(b []byte) []byte {
	num := func(n int) { b = binary.AppendVarint(b, int64(n)) }
	text := func(s string) { num(len(s)); b = append(b, s...) }
	yes := func(all ...bool) {
		for _, v := range all {
			if v {
				num(1)
			} else {
				num(0)
			}
		}
	}
	book := func(l *Ledger) {
		num(len(l.shares))
		for i := range l.shares {
			g := &l.shares[i]
			text(g.ID)
			text(g.Device)
			num(g.First)
			num(g.Last)
			num(g.back)
			yes(g.restored, l.burned(g.Device))
			for _, op := range g.spent {
				text(op)
			}
		}
		num(len(l.alarms))
		num(len(l.early))
		num(len(l.entries))
	}
	server := func(s *base) { text(s.dev); num(int(s.seq)); num(s.names); book(&s.ledger) }
	book(&p.home)
	server(&p.s)
	server(&p.old)
	for i := range p.phones {
		ph := &p.phones[i]
		text(ph.dev)
		num(int(ph.seq))
		num(ph.life)
		for _, h := range ph.purse.Holdings {
			text(h.ID)
			num(h.Next)
		}
		yes(p.home.burned(ph.dev), p.s.ledger.burned(ph.dev))
	}
	for i := range p.notes {
		n := &p.notes[i]
		text(n.Op)
		text(n.Grant)
		num(n.Serial + n.First)
		yes(n.home, n.station)
	}
	for _, u := range p.used {
		num(int(u))
	}
	yes(p.home.burned(p.s.dev))
	return b
}

func (m move) tell(p *pair) string {
	who := func() string { return "phone " + p.phones[m.a].dev }
	switch m.what {
	case "block":
		return fmt.Sprintf("the first server lends the station a block of %d", m.b)
	case "learn":
		return "the station hears of its block"
	case "lend":
		return fmt.Sprintf("the first server lends %d to %s", m.b, who())
	case "onward":
		return fmt.Sprintf("the station lends %d to %s", m.b, who())
	case "hear":
		return who() + " hears of its share"
	case "use":
		return who() + " takes an animal and says it is covered"
	case "back":
		return who() + " gives back the rest of its share"
	case "up":
		return "the station gives back the rest of its block"
	case "home", "station":
		return fmt.Sprintf("the save %s reaches the %s", p.notes[m.a].Op, map[string]string{"home": "first server", "station": "station"}[m.what])
	case "copy":
		return who() + " is copied to another one"
	case "lost":
		return who() + " is declared lost"
	case "lost station":
		return "the station is declared lost"
	case "back up":
		return "the store of the station is copied"
	case "put back":
		return "the store of the station is put back"
	case "timeout":
		return fmt.Sprintf("share %s runs out of time at the station", p.s.ledger.shares[m.b].ID)
	}
	return m.what
}

// exploreLevels goes breadth first through every interleaving.
func exploreLevels(r levels, most int) (out found) {
	type node struct {
		p      *pair
		parent int32
		by     move
	}
	seed := maphash.MakeSeed()
	var buf []byte
	hash := func(p *pair) uint64 { buf = p.key(buf[:0]); return maphash.Bytes(seed, buf) }
	first := openPair(r)
	nodes, seen := []node{{first, -1, move{}}}, map[uint64]struct{}{hash(first): {}}
	for at := 0; at < len(nodes) && len(nodes) < most; at++ {
		p := nodes[at].p
		for _, m := range p.moves(r) {
			next := p.clone()
			next.do(r, m)
			h := hash(next)
			if _, old := seen[h]; old {
				continue
			}
			seen[h] = struct{}{}
			nodes = append(nodes, node{next, int32(at), m})
			if out.wrong = next.wrong(r); out.wrong != "" {
				var way []move
				for i := int32(len(nodes) - 1); i > 0; i = nodes[i].parent {
					way = append([]move{nodes[i].by}, way...)
				}
				out.states, out.depth, out.way = len(nodes), len(way), tellWay(r, way)
				return out
			}
		}
		nodes[at].p = nil
	}
	out.states = len(nodes)
	return out
}

func tellWay(r levels, way []move) (out []string) {
	p := openPair(r)
	for _, m := range way {
		out = append(out, m.tell(p))
		p.do(r, m)
	}
	return out
}

const boundless = 1 << 30

func TestTwoLevelsOfServersNeverPassTheNumber(t *testing.T) {
	for _, c := range []struct {
		name string
		soak bool
		rule levels
	}{
		{"returns of phones and of the station", false, levels{limit: 4, block: 2, size: 1, blocks: 1, shares: 2, backs: 1, ups: 1}},
		{"copied phones", false, levels{limit: 4, block: 2, size: 2, blocks: 1, shares: 2, copies: 1}},
		{"the station put back", false, levels{limit: 4, block: 2, size: 1, blocks: 1, shares: 2, restores: 1}},
		{"copies, and the station put back", true, levels{limit: 4, block: 2, size: 2, blocks: 1, shares: 2, copies: 1, restores: 1}},
		{"lost phones and a lost station, shares of two", true, levels{limit: 4, block: 2, size: 2, blocks: 1, shares: 2, losses: 1}},
		{"lost phones and a lost station", false, levels{limit: 4, block: 2, size: 1, blocks: 1, shares: 2, losses: 1}},
		{"everything", true, levels{limit: 4, block: 2, size: 2, blocks: 1, shares: 2, backs: 1, ups: 1, copies: 1, restores: 1, losses: 1}},
	} {
		if c.soak && !soak() {
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			got := exploreLevels(c.rule, boundless)
			t.Logf("SHOW two servers, 2 phones behind the second, 1 at the first, number %d, %s: %d states, %d violations", c.rule.limit, c.name, got.states, min(1, len(got.way)))
			if got.wrong != "" {
				t.Errorf("%s:\n  %s", got.wrong, strings.Join(got.way, "\n  "))
			}
		})
	}
}

func TestEachSafeguardOfTwoLevelsIsNeeded(t *testing.T) {
	for _, c := range []struct {
		name string
		rule levels
	}{
		{"without the fence, a copied phone spends its units twice", levels{noFence: true, limit: 2, block: 2, size: 2, blocks: 1, shares: 1, copies: 1}},
		{"without the fence, a station that was put back lends its block twice", levels{noStationFence: true, limit: 2, block: 1, size: 1, blocks: 1, shares: 2, restores: 1}},
		{"with release by timeout, the station lends a silent phone's units twice", levels{timeout: true, limit: 2, block: 1, size: 1, blocks: 1, shares: 2}},
		{"if what is lost were free again", levels{freesLost: true, limit: 2, block: 2, size: 2, blocks: 1, shares: 2, losses: 1}},
		{"if the station gave back what its phones hold", levels{takesAll: true, limit: 2, block: 2, size: 2, blocks: 1, shares: 2, ups: 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := exploreLevels(c.rule, 3_000_000)
			if got.wrong == "" {
				t.Fatalf("got no counterexample in %d states, want one", got.states)
			}
			t.Logf("SHOW %s: after %d states: %s: %s", c.name, got.states, got.wrong, strings.Join(got.way, "; "))
		})
	}
}

// walk runs one random schedule of two levels.
func walk(seed uint64) string {
	rnd := rand.New(rand.NewPCG(seed, 29))
	r := levels{limit: 1 + rnd.IntN(20), block: 6, size: 3, blocks: 4, shares: 8, backs: 3, ups: 2, copies: 1, restores: 1, losses: 1}
	p := openPair(r)
	for range 60 {
		all := p.moves(r)
		if len(all) == 0 {
			return ""
		}
		m := all[rnd.IntN(len(all))]
		if rare := strings.HasPrefix(m.what, "lost") || m.what == "put back" || m.what == "copy"; rare && rnd.IntN(4) > 0 {
			m = all[rnd.IntN(len(all))]
		}
		p.do(r, m)
		if wrong := p.wrong(r); wrong != "" {
			return wrong
		}
	}
	return ""
}

func TestRandomSchedulesOfTwoLevelsNeverPassTheNumber(t *testing.T) {
	n := many() / 10
	if soak() {
		n = many()
	}
	broken, wrong := countOf(n, walk)
	t.Logf("SHOW %d schedules of up to 60 steps with a second server, numbers 1 to 20: %d broke a promise", n, broken)
	if broken > 0 {
		t.Errorf("got %d schedules, want 0: %s", broken, wrong)
	}
}
