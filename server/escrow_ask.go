package server

import (
	"context"
	"slices"

	"wayfall/permits"
	"wayfall/permits/escrow"
	"wayfall/server/api"
	"wayfall/server/fault"
	"wayfall/server/intake"
	"wayfall/server/people"
	"wayfall/server/store"
	"wayfall/sync/op"
)

// moved says that the log grew between looking and writing.
var moved = fault.New(fault.Busy, "too much is being written at this moment; ask again")

// Ask implements api.Shares: it fills up what the device holds of every number
// that its person may use. Asked again it lends nothing twice, since what was
// lent counts as held whether or not the answer arrived.
func (l *lender) Ask(ctx context.Context, who people.Proof, device string, nextSeq uint64) ([]api.Share, error) {
	dev, err := op.ParseDevice(device)
	if err != nil {
		return nil, fault.New(fault.Invalid, "that is not the id of a device").At("/device", "22 characters of base64url")
	}
	if err := l.s.sync.mine(ctx, who, dev); err != nil {
		return nil, err
	}
	if err := l.fence(ctx, dev, nextSeq); err != nil {
		return nil, err
	}
	if err := (shelves{l.s.store}).Change(ctx, askedShelf, device, func([]byte) ([]byte, error) { return []byte("1"), nil }); err != nil {
		return nil, err
	}
	for try := 0; ; try++ {
		err := l.fill(ctx, who.Person.ID, device)
		if err == nil {
			return l.Held(ctx, device)
		}
		if err != error(moved) || try == 9 {
			return nil, err
		}
	}
}

// fence takes all rights from a device whose own count of saves is behind what
// the log holds of it: its store was put back, so it does not know what it has
// spent.
func (l *lender) fence(ctx context.Context, dev op.DeviceID, nextSeq uint64) error {
	head, err := l.s.store.Head(ctx, dev)
	if err != nil {
		return err
	}
	if nextSeq > head.Seq && !head.Frozen {
		return nil
	}
	if err := l.burn(ctx, dev.String(), escrow.Replaced); err != nil {
		return err
	}
	return fault.New(fault.Conflict, "this phone's memory is older than what the museum has from it, so it holds no shares any more; sign in anew as a new phone")
}

// fill lends in one operation, written only if nothing came in since the
// numbers were reckoned.
func (l *lender) fill(ctx context.Context, person, device string) error {
	lines, at, err := l.look(ctx)
	if err != nil {
		return err
	}
	today := l.today()
	var groups []op.Group
	for i := range lines {
		n := &lines[i]
		if !n.paper.Lists(person, today) {
			continue
		}
		id, err := l.s.newID()
		if err != nil {
			return err
		}
		units := n.ledger.Propose(escrow.Ask{Device: device, Phones: n.phones, Recent: n.recent[device]})
		e, ok := n.ledger.Lend(device, id.String(), units)
		if !ok {
			continue
		}
		g, err := groupOf(n.Authority, "grants", escrow.Grant{ID: e.Grant, Device: device, Number: n.Number, First: e.First, Last: e.Last})
		if err != nil {
			return err
		}
		groups = append(groups, g)
	}
	if len(groups) == 0 {
		return nil
	}
	return l.write(ctx, at, groups)
}

func (l *lender) write(ctx context.Context, at uint64, groups []op.Group) error {
	_, err := l.s.store.WriteIf(context.WithoutCancel(ctx), store.Author{Actor: intake.ServerActor, Scope: l.s.cfg.Institution},
		func(tx *store.Tx) ([]op.Group, error) {
			if tx.Last() != at {
				return nil, moved
			}
			return oneEach(groups), nil
		})
	return err
}

// oneEach puts what is written on one record into one group, as an operation
// wants it.
func oneEach(groups []op.Group) []op.Group {
	var out []op.Group
	for _, g := range groups {
		at := slices.IndexFunc(out, func(o op.Group) bool { return o.ID == g.ID })
		if at < 0 {
			out = append(out, g)
			continue
		}
		out[at].Acts = append(slices.Clip(out[at].Acts), g.Acts...)
	}
	return out
}

func (l *lender) today() permits.Date {
	now := l.s.cfg.Now().In(l.s.cfg.Zone)
	return permits.NewDate(now.Year(), int(now.Month()), now.Day())
}

// Held implements api.Shares: what a device holds, as far as the log knows.
func (l *lender) Held(ctx context.Context, device string) ([]api.Share, error) {
	lines, _, err := l.look(ctx)
	out := []api.Share{}
	for i := range lines {
		n := &lines[i]
		for _, s := range n.ledger.Shares() {
			if s.Device != device || s.Left() == 0 || n.ledger.Gone(device) != "" {
				continue
			}
			out = append(out, shareOf(n, &s))
		}
	}
	return out, err
}

func shareOf(n *line, s *escrow.Share) api.Share {
	return api.Share{ID: s.ID, Device: s.Device, Record: intake.AuthorityID(n.Authority).String(), Authority: n.Authority, Quota: n.Quota, Taxon: n.Taxon,
		From: n.From.String(), To: n.To.String(), First: s.First, Last: s.Last, Next: s.Next(), Left: s.Left(), Spent: s.Spent(), Gone: string(n.ledger.Gone(s.Device))}
}

// asks tells whether a device asks for shares at all.
func (l *lender) asks(ctx context.Context, device string) (bool, error) {
	if device == "" {
		return false, nil
	}
	v, err := shelves{l.s.store}.Read(ctx, askedShelf, device)
	return v != nil, err
}

// Numbers implements api.Shares.
func (l *lender) Numbers(ctx context.Context) ([]api.Number, error) {
	lines, _, err := l.look(ctx)
	out := []api.Number{}
	for i := range lines {
		n := &lines[i]
		s := n.ledger.Sums()
		row := api.Number{Authority: n.Authority, Quota: n.Quota, Taxon: n.Taxon, From: n.From.String(), To: n.To.String(),
			Limit: s.Limit, Free: s.Free, Reserve: s.Reserve, Lent: s.Lent, Spent: s.Spent, Burned: s.Burned, Entered: s.Entered, Over: s.Over,
			Shares: []api.Share{}, Alarms: []string{}}
		for _, sh := range n.ledger.Shares() {
			row.Shares = append(row.Shares, shareOf(n, &sh))
		}
		for _, a := range n.ledger.Alarms() {
			row.Alarms = append(row.Alarms, a.Sentence())
		}
		out = append(out, row)
	}
	return out, err
}

// Lost implements api.Shares: the device is marked as lost and what it held and
// has not told is burned.
func (l *lender) Lost(ctx context.Context, device string) error {
	if err := l.s.people.DeclareLost(ctx, device); err != nil {
		return err
	}
	return l.burn(ctx, device, escrow.Lost)
}

// burn writes on each paper of which the device ever held a share that it has
// no rights any more.
func (l *lender) burn(ctx context.Context, device string, why escrow.Why) error {
	l.mu.Lock()
	err := l.follow(ctx)
	var papers []string
	for i := range l.facts {
		f := &l.facts[i]
		if f.Device != device {
			continue
		}
		if f.Kind == escrow.Burned {
			papers = nil
			break
		}
		if f.Kind == escrow.Granted && !slices.Contains(papers, f.number.Authority) {
			papers = append(papers, f.number.Authority)
		}
	}
	l.mu.Unlock()
	if err != nil || len(papers) == 0 {
		return err
	}
	var groups []op.Group
	for _, p := range papers {
		g, err := groupOf(p, "burned", escrow.Burn{Device: device, Why: why})
		if err != nil {
			return err
		}
		groups = append(groups, g)
	}
	_, err = l.s.store.Write(context.WithoutCancel(ctx), store.Author{Actor: intake.ServerActor, Scope: l.s.cfg.Institution}, groups...)
	return err
}
