package catalogue

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"
	"strings"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/screen/find"
	"wayfall/sync/merge"
	"wayfall/sync/op"
)

// Take is one canonical animal as permits count it: once, by the report that
// tells of the pick-up, or the first report when nobody picked it up.
type Take struct {
	Row
	ReportID string
	LSN      uint64 // when that report came in
	Day      permits.Date
	Person   string
	Material string
	Deed     string // a word of Deeds
	Named    string // the authority that the salvager named
	Judged   bool   // there is a verdict that can be read
	Outcome  permits.Outcome
	Relies   []string // authorities on which the verdict relies
	Near     []string // authorities that something stands in the way of
	Full     []string // of them, those of which only a full number does; "" names none
	Why      string   // the deciding finding's sentence
	Sample   bool
	Traits   permits.Traits // what numbers may ask of it beside its kind
	Handed   []Handing      // every hand-over, in the order of the log
	Dated    []Duty         // duties that have a day and are open, or were done after it
}

// Handing is one hand-over of an animal. To is Here when it came to the
// institution.
type Handing struct {
	From, To string
	Day      permits.Date
	Note     string
}

// Here is to whom a hand-over at the institution's own door is made.
const Here = institution

// Everything asks Takes for every animal of which there is a report, whether
// or not it counts under an authority.
const Everything = "*"

// Taken reports whether somebody took the animal into the hand.
func (t *Take) Taken() bool { return t.Deed == "taken" }

// Stay is what became of the animal, as numbers ask.
func (t *Take) Stay() quota.Stay {
	return quota.Stay{Received: dayOf(t.Received), Left: !t.Taken(), Away: find.Gone(t.Disposition)}
}

// Under reports whether the animal concerns the authority: the verdict relies
// on it or says what stands in its way, or the salvager named it and nothing
// else lets the animal be taken. A paper that is only named answers for
// nothing that needs none.
func (t *Take) Under(authority string) bool {
	return authority != "" && (t.Named == authority && !(t.Judged && t.Outcome.Permits()) || slices.Contains(t.Relies, authority) || slices.Contains(t.Near, authority))
}

// Covered reports whether the authority answers for the animal: the verdict
// relies on it, or only a full number stands in the way, or it was named and
// nothing has been judged yet.
func (t *Take) Covered(authority string) bool {
	return slices.Contains(t.Relies, authority) || slices.Contains(t.Full, authority) ||
		t.Named == authority && (!t.Judged || slices.Contains(t.Full, ""))
}

// Takes returns the canonical animals that are not withdrawn and count under
// the authority, in the order in which their reports came in, and the place in
// the log up to which that holds. With "" it returns those that count under
// any authority, with Everything all of them.
func (b *Book) Takes(ctx context.Context, authority string) ([]Take, Place, error) {
	unlock, err := b.lock(ctx)
	if err != nil {
		return nil, Place{}, err
	}
	defer unlock()
	// The order is found before the rows are made: those are large to move.
	type turn struct {
		lsn  uint64
		root op.ID
	}
	turns := make([]turn, 0, len(b.animals))
	for id := range b.animals {
		if b.root(id) == id {
			if r := teller(b.reportsOf(id)); r != nil && r.under(authority) {
				turns = append(turns, turn{r.lsn, id})
			}
		}
	}
	slices.SortFunc(turns, func(x, y turn) int { return cmp.Or(cmp.Compare(x.lsn, y.lsn), compareID(x.root, y.root)) })
	out := make([]Take, 0, len(turns))
	for _, at := range turns {
		if t, ok := b.take(at.root); ok {
			out = append(out, t)
		}
	}
	return out, b.place, nil
}

func (r *reportEntry) under(authority string) bool {
	if authority == Everything {
		return true
	}
	if authority == "" {
		return r.authority != "" || len(r.verdict.relies)+len(r.verdict.near) > 0
	}
	named := r.authority == authority && !(r.verdict.known && r.verdict.outcome.Permits())
	return named || slices.Contains(r.verdict.relies, authority) || slices.Contains(r.verdict.near, authority)
}

// teller is the report that tells of the pick-up, or the first when nobody
// picked the animal up; nil when there is no report.
func teller(reports []*reportEntry) *reportEntry {
	for _, r := range reports {
		if r.standing != merge.Hidden && r.deed == "taken" {
			return r
		}
	}
	if len(reports) == 0 {
		return nil
	}
	return reports[0]
}

func (b *Book) take(root op.ID) (Take, bool) {
	reports := b.reportsOf(root)
	if len(reports) == 0 {
		return Take{}, false
	}
	t := Take{Row: b.rowWith(root, b.members(root), reports)}
	if t.Withdrawn {
		return t, false
	}
	r := teller(reports)
	t.ReportID, t.LSN, t.Person, t.Material, t.Deed, t.Named = r.id.String(), r.lsn, r.salvager, r.material, r.deed, r.authority
	t.Found, t.Report = r.found, r.id.String()
	if r.state != "" || r.county != "" {
		t.State, t.County = r.state, r.county
	}
	t.Day = dayOf(r.taken.Earliest)
	if !t.Day.Known() {
		t.Day = dayOf(r.found.Earliest)
	}
	g := r.verdict
	t.Judged, t.Outcome, t.Relies, t.Near, t.Full, t.Why, t.Sample = g.known, g.outcome, g.relies, g.near, g.full, g.why, g.sample
	t.Traits = b.traits(root, r)
	t.Handed = b.handed(root)
	t.Dated = b.dated(root, &t.Row, reports)
	return t, true
}

// traits are what the records of an animal say of it, and what the report of
// the pick-up does.
func (b *Book) traits(root op.ID, r *reportEntry) permits.Traits {
	var said []permits.Traits
	for _, m := range b.members(root) {
		if a := b.animals[m]; a != nil && a.traits != (permits.Traits{}) {
			said = append(said, a.traits)
		}
	}
	out := find.Joined(said)
	if out.Cause == "" {
		out.Cause = r.traits.Cause
	}
	out.Acquired = r.traits.Acquired
	return out
}

// dated are the duties on the animal that have a day and are open, or that
// were done after it.
func (b *Book) dated(root op.ID, animal *Row, reports []*reportEntry) []Duty {
	due := func(d *Duty) bool { return !strings.HasSuffix(d.Code, "_LINE") && dayOf(d.Due).Known() }
	if !slices.ContainsFunc(reports, func(r *reportEntry) bool {
		for i := range r.duties {
			if due(&r.duties[i]) {
				return true
			}
		}
		return false
	}) {
		return nil
	}
	var out []Duty
	for _, d := range b.dutiesOn(root, *animal, reports) {
		if due(&d) && d.Void == "" && (!d.Done || len(d.DoneAt) >= 10 && d.DoneAt[:10] > d.Due[:10]) {
			out = append(out, d)
		}
	}
	return out
}

// handed gathers the hand-overs of every record of the animal.
func (b *Book) handed(root op.ID) []Handing {
	var out []Handing
	for _, m := range b.members(root) {
		a := b.animals[m]
		if a == nil || a.standing == merge.Hidden && m != root {
			continue
		}
		for _, h := range a.handed {
			if !slices.Contains(out, h) {
				out = append(out, h)
			}
		}
	}
	return out
}

func dayOf(local string) permits.Date {
	if len(local) < 10 {
		return 0
	}
	d, err := permits.ParseDate(local[:10])
	if err != nil {
		return 0
	}
	return d
}

// Paper is one authority as it stands in the log.
type Paper struct {
	ID       string
	Document json.RawMessage
	Said     Said
}

// Papers returns the authorities that are not withdrawn.
func (b *Book) Papers(ctx context.Context) ([]Paper, error) {
	unlock, err := b.lock(ctx)
	if err != nil {
		return nil, err
	}
	defer unlock()
	var out []Paper
	for _, p := range b.papers {
		if p.standing != merge.Hidden && len(p.document) > 0 {
			out = append(out, Paper{p.id.String(), p.document, p.said})
		}
	}
	slices.SortFunc(out, func(x, y Paper) int { return cmp.Compare(x.ID, y.ID) })
	return out, nil
}
