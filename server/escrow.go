package server

import (
	"bytes"
	"context"
	"slices"
	"sync"

	"wayfall/permits"
	"wayfall/permits/escrow"
	"wayfall/permits/quota"
	"wayfall/server/intake"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/record"
)

// lender lends shares of numbers to phones: it gathers from the log what the
// ledgers of permits/escrow are folded from.
type lender struct {
	s *Server

	mu    sync.Mutex
	at    uint64 // place in the log up to which facts are known
	facts []fact
	wins  map[string]escrow.Number // of each grant

	settled map[string]string // how each oddity was settled
	life    string            // this life of the store, if it began by putting back a copy
}

// fact is one event of the log, with when it was received. The number of a
// spend or a return is that of its grant.
type fact struct {
	escrow.Event
	number escrow.Number
	report op.ID // of a spend
	ms     int64
}

// telling are the fields that tell of shares, as they stand on the wire.
var telling = [][]byte{[]byte(`"grants"`), []byte(`"spent"`), []byte(`"returned"`), []byte(`"burned"`), []byte(`"settles"`)}

// follow reads the log to its end. It holds mu.
func (l *lender) follow(ctx context.Context) error {
	for {
		entries, err := l.s.store.Read(ctx, l.at, page)
		if err != nil {
			return err
		}
		for i := range entries {
			e := &entries[i]
			if slices.ContainsFunc(telling, func(name []byte) bool { return bytes.Contains(e.Wire, name) }) {
				if err := l.read(ctx, e); err != nil {
					return err
				}
			}
			l.at = e.LSN
		}
		if len(entries) < page {
			return nil
		}
	}
}

// read takes the facts out of one operation, whatever its effect: a spend in
// an operation that waits for a person is spent all the same. Only a server
// lends and burns; an enrolled device that says so is not heard.
func (l *lender) read(ctx context.Context, e *oplog.Entry) error {
	o, err := op.Decode(e.Wire)
	if err != nil {
		return nil
	}
	_, phone, err := l.s.people.Device(ctx, o.Dev.String())
	if err != nil {
		return err
	}
	n := 0
	for _, g := range o.On {
		for _, a := range g.Acts {
			if a.Kind == op.KindEvent {
				f := fact{Event: escrow.Event{Op: o.Dot(n).String(), Device: o.Dev.String(), Seq: o.Seq}, report: g.ID, ms: e.Received}
				l.fact(record.Kind(g.Kind), a, f, phone)
			}
			n++
		}
	}
	return nil
}

func (l *lender) fact(kind record.Kind, a op.Act, f fact, phone bool) {
	switch {
	case kind == record.Authority && a.Field == "grants" && !phone:
		var g escrow.Grant
		if a.Value.Into(&g) != nil || g.ID == "" {
			return
		}
		f.Kind, f.Grant, f.Device, f.First, f.Last, f.number = escrow.Granted, g.ID, g.Device, g.First, g.Last, g.Number
		l.wins[g.ID] = g.Number
	case kind == record.Authority && a.Field == "burned" && !phone:
		var b escrow.Burn
		if a.Value.Into(&b) != nil {
			return
		}
		f.Kind, f.Device, f.Why = escrow.Burned, b.Device, b.Why
	case kind == record.Authority && a.Field == "returned":
		var r escrow.Return
		if a.Value.Into(&r) != nil {
			return
		}
		f.Kind, f.Grant, f.First, f.number = escrow.Returned, r.Grant, r.From, l.wins[r.Grant]
	case kind == record.Authority && a.Field == "remarks" && !phone:
		l.decided(a)
		return
	case kind == record.Report && a.Field == "spent":
		var sp escrow.Spend
		if a.Value.Into(&sp) != nil {
			return
		}
		f.Kind, f.Grant, f.Serial, f.number = escrow.Spent, sp.Grant, sp.Serial, l.wins[sp.Grant]
	default:
		return
	}
	l.facts = append(l.facts, f)
}

// same tells whether a grant draws on the number. Windows that overlap are one,
// so an amended end of a permit does not lend its units anew.
func same(a, b escrow.Number) bool {
	return a.Authority == b.Authority && a.Quota == b.Quota && a.Taxon == b.Taxon && a.From <= b.To && b.From <= a.To
}

// line is one number that may be lent, with its ledger.
type line struct {
	escrow.Number
	paper  permits.Authority
	quota  permits.Quota
	ledger escrow.Ledger
	phones int            // that ask for shares of it
	recent map[string]int // units each device used in the last week
}

// fold makes the ledger of a number from the facts and from how many animals
// were entered without a share.
func (l *lender) fold(n escrow.Number, limit, entered int, lost []string, then ...escrow.Event) escrow.Ledger {
	events := []escrow.Event{{Kind: escrow.Limited, Limit: limit, Reserve: escrow.Reserve(limit)}}
	for i := range l.facts {
		switch f := &l.facts[i]; {
		case f.Kind == escrow.Burned:
			events = append(events, f.Event)
		case same(f.number, n):
			// The log takes no save of a device before all its earlier ones.
			events = append(events, f.Event)
			if f.Kind != escrow.Granted {
				events = append(events, escrow.Event{Kind: escrow.Held, Device: f.Device, Seq: f.Seq})
			}
		}
	}
	for _, dev := range lost {
		events = append(events, escrow.Event{Kind: escrow.Burned, Device: dev, Why: escrow.Lost})
	}
	if entered > 0 {
		events = append(events, escrow.Event{Kind: escrow.Entered, Op: "without a share", Count: entered})
	}
	return escrow.Fold(append(events, then...))
}

// look reckons every number that can be lent today, all as of one place in the
// log.
func (l *lender) look(ctx context.Context) (all []line, at uint64, err error) {
	now := l.s.cfg.Now().In(l.s.cfg.Zone)
	papers, _, err := l.s.intake.Papers(ctx, now.Format("2006-01-02"))
	if err != nil {
		return nil, 0, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if err := l.follow(ctx); err != nil {
		return nil, 0, err
	}
	asking, lost, err := l.devices(ctx)
	if err != nil {
		return nil, 0, err
	}
	today := permits.NewDate(now.Year(), int(now.Month()), now.Day())
	seen := map[string]bool{}
	for i := range papers {
		if id := papers[i].ID; !seen[id] {
			seen[id] = true
			some, err := l.linesOf(ctx, permits.VersionAt(papers, id, today), today, asking, lost)
			if err != nil {
				return nil, 0, err
			}
			all = append(all, some...)
		}
	}
	return all, l.at, nil
}

// linesOf are the numbers of one paper that can be lent: those over a list or
// over everything, and those for each species where the paper names species.
func (l *lender) linesOf(ctx context.Context, a *permits.Authority, today permits.Date, asking map[string]string, lost []string) ([]line, error) {
	if a == nil || a.InForce(today) != permits.Yes {
		return nil, nil
	}
	var out []line
	for _, q := range a.Quotas {
		from, to := quota.Window(a, &q, today)
		if q.Unlimited || q.Limit < 1 || !from.Known() {
			continue
		}
		taxa := []string{""}
		if q.Per == "taxon" {
			taxa = slices.DeleteFunc(slices.Clone(q.Taxa), func(t string) bool { return l.s.office.Names.Taxon(t) == nil })
		}
		for _, taxon := range taxa {
			out = append(out, line{Number: escrow.Number{Authority: a.ID, Quota: q.ID, Taxon: taxon, From: from, To: to}, paper: *a, quota: q})
		}
	}
	if len(out) == 0 {
		return nil, nil
	}
	takes, err := l.takes(ctx, a.ID)
	for i := range out {
		n := &out[i]
		n.ledger = l.fold(n.Number, n.quota.Limit, l.entered(n, takes, today), lost, l.putBack(asking)...)
		n.recent = l.recent(n.Number)
		for _, person := range asking {
			if a.Lists(person, today) {
				n.phones++
			}
		}
	}
	return out, err
}

// recent counts what each device used of a number in the last week.
func (l *lender) recent(n escrow.Number) map[string]int {
	out := map[string]int{}
	since := l.s.cfg.Now().AddDate(0, 0, -7).UnixMilli()
	for i := range l.facts {
		if f := &l.facts[i]; f.Kind == escrow.Spent && f.ms >= since && same(f.number, n) {
			out[f.Device]++
		}
	}
	return out
}

// taken is one animal that counts under a paper, and its report.
type taken struct {
	use    quota.Use
	report string
}

func (l *lender) takes(ctx context.Context, authority string) ([]taken, error) {
	takes, _, err := l.s.book.Takes(ctx, authority)
	var out []taken
	for i := range takes {
		if t := &takes[i]; t.Under(authority) && t.Covered(authority) {
			out = append(out, taken{quota.Use{Animal: t.ID, Authority: authority, Taxon: t.Taxon, Material: t.Material,
				Found: permits.Moment{Date: t.Day}, Person: t.Person, Traits: t.Traits, Stay: t.Stay()}, t.ReportID})
		}
	}
	return out, err
}

// entered counts the animals under a number for which no share was spent.
func (l *lender) entered(n *line, takes []taken, today permits.Date) int {
	spent := map[string]int{}
	for i := range l.facts {
		if f := &l.facts[i]; f.Kind == escrow.Spent && same(f.number, n.Number) {
			spent[f.report.String()]++
		}
	}
	uses := make([]quota.Use, 0, len(takes))
	for _, t := range takes {
		if spent[t.report] > 0 {
			spent[t.report]--
			continue
		}
		uses = append(uses, t.use)
	}
	return quota.NewLedger(uses, l.s.office.Names).Standing(&n.paper, &n.quota, n.Taxon, today).Used
}

// askedShelf keeps which devices ask for shares.
const askedShelf = "shares asked for"

// devices returns who holds each device that asks for shares, and the devices
// that were declared lost.
func (l *lender) devices(ctx context.Context) (asking map[string]string, lost []string, err error) {
	all, err := l.s.people.Devices(ctx)
	if err != nil {
		return nil, nil, err
	}
	asked, err := shelves{l.s.store}.List(ctx, askedShelf)
	asking = map[string]string{}
	for _, d := range all {
		switch {
		case d.Lost:
			lost = append(lost, d.ID)
		case asked[d.ID] != nil:
			asking[d.ID] = d.Person
		}
	}
	return asking, lost, err
}

// lent is what of a number is out with phones or burned with them, for the
// balances of the office.
func (l *lender) lent(authority, quotaID, taxon string) int {
	ctx := context.Background()
	l.mu.Lock()
	defer l.mu.Unlock()
	if err := l.follow(ctx); err != nil {
		l.s.cfg.Log.Error("read what was lent", "error", err)
		return 0
	}
	now := l.s.cfg.Now().In(l.s.cfg.Zone)
	today := permits.NewDate(now.Year(), int(now.Month()), now.Day())
	n := escrow.Number{Authority: authority, Quota: quotaID, Taxon: taxon, From: today, To: today}
	if !slices.ContainsFunc(l.facts, func(f fact) bool { return same(f.number, n) }) {
		return 0
	}
	sums := l.fold(n, 0, 0, nil)
	all := sums.Sums()
	return all.Lent + all.Burned
}

// groupOf writes events on the record of an authority.
func groupOf(authority, field string, values ...any) (op.Group, error) {
	g := op.Group{ID: intake.AuthorityID(authority), Kind: string(record.Authority)}
	for _, v := range values {
		val, err := op.ValueOf(v)
		if err != nil {
			return g, err
		}
		g.Acts = append(g.Acts, op.Event(field, val))
	}
	return g, nil
}
