package server

import (
	"context"
	"encoding/json"

	"wayfall/permits"
	"wayfall/permits/escrow"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/intake"
	"wayfall/server/web"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// paperDesk is what the desk does with authorities.
type paperDesk struct{ s *Server }

// Enter implements web.Papers.
func (d paperDesk) Enter(ctx context.Context, by catalogue.Hand, a permits.Authority, saw int) error {
	return d.s.intake.Amend(ctx, intake.Hand(by), a, saw)
}

// Attach implements web.Papers: the bytes first, so that no link is without
// them.
func (d paperDesk) Attach(ctx context.Context, by catalogue.Hand, id string, s web.Scan, body []byte) error {
	st, err := d.s.log.State(ctx, intake.AuthorityID(id))
	if err != nil {
		return err
	}
	if st.Empty() {
		return fault.New(fault.Missing, "no permit of that name is known here")
	}
	if err := (photos{d.s.store}).PutPhoto(ctx, s.SHA256, s.Type, body); err != nil {
		return err
	}
	return d.s.intake.AddScan(ctx, intake.Hand(by), id, s.Photo)
}

// Trail implements web.Papers.
func (d paperDesk) Trail(ctx context.Context, id string) (web.Trail, error) {
	var out web.Trail
	rid := intake.AuthorityID(id)
	st, err := d.s.log.State(ctx, rid)
	if err != nil || st.Empty() {
		return out, err
	}
	for _, s := range view.Elements[record.Photo](st, "scans") {
		if !s.Ill {
			out.Scans = append(out.Scans, web.Scan{Photo: s.Value, Who: s.Actor, AtMS: s.At.UnixMilli(), LSN: s.LSN})
		}
	}
	all, err := d.s.store.OpsOf(ctx, rid)
	for _, e := range all {
		o, err := op.Decode(e.Wire)
		if err != nil {
			continue
		}
		for _, g := range o.On {
			for _, a := range g.Acts {
				if g.ID == rid && a.Field == "document" {
					out.Entered = append(out.Entered, editionsIn(a.Value, o.Actor, e.Received, e.LSN)...)
				}
			}
		}
	}
	return out, err
}

// editionsIn is the edition that a document was written for.
func editionsIn(v op.Value, who string, ms int64, lsn uint64) []web.Entered {
	var a permits.Authority
	if json.Unmarshal([]byte(v), &a) != nil {
		return nil
	}
	return []web.Entered{{Version: a.Version, From: a.From(), Who: who, AtMS: ms, LSN: lsn}}
}

// Shares implements web.Papers.
func (d paperDesk) Shares(ctx context.Context) ([]web.Share, error) {
	numbers, err := d.s.lender.Numbers(ctx)
	if err != nil {
		return nil, err
	}
	devices, err := d.s.people.Devices(ctx)
	if err != nil {
		return nil, err
	}
	owner, since := map[string]string{}, d.s.lender.since()
	for _, dev := range devices {
		owner[dev.ID] = dev.Person
	}
	heard := map[string]int64{}
	var out []web.Share
	for _, n := range numbers {
		species := ""
		if t := d.s.office.Names.Taxon(n.Taxon); t != nil {
			species = t.English
		}
		for _, sh := range n.Shares {
			if _, asked := heard[sh.Device]; !asked {
				if heard[sh.Device], err = d.heard(ctx, sh.Device); err != nil {
					return nil, err
				}
			}
			if sh.Left == 0 && sh.Spent == 0 {
				continue
			}
			out = append(out, web.Share{Authority: n.Authority, Quota: n.Quota, Species: species, Device: sh.Device, Person: owner[sh.Device],
				Left: sh.Left, Spent: sh.Spent, SinceMS: since[sh.ID], HeardMS: heard[sh.Device], Gone: gone[sh.Gone]})
		}
	}
	return out, nil
}

// gone says why a phone may not use its shares any more.
var gone = map[string]string{"": "", string(escrow.Lost): "phone lost", string(escrow.Replaced): "phone put back"}

// since is when each share was lent, in milliseconds.
func (l *lender) since() map[string]int64 {
	l.mu.Lock()
	defer l.mu.Unlock()
	out := map[string]int64{}
	for i := range l.facts {
		if f := &l.facts[i]; f.Kind == escrow.Granted {
			out[f.Grant] = f.ms
		}
	}
	return out
}

// heard is when the last save of a device came in, 0 for none.
func (d paperDesk) heard(ctx context.Context, device string) (int64, error) {
	id, err := op.ParseDevice(device)
	if err != nil {
		return 0, nil
	}
	return d.s.store.Heard(ctx, id)
}
