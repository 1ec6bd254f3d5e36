package intake

import (
	"context"
	"slices"
	"time"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
	facts "wayfall/permits/screen/find"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// unlimited is a tally in which every number is free: it tells under which
// papers an animal would count.
type unlimited struct{}

func (unlimited) Used(*permits.Authority, *permits.Quota, string, permits.Date) (used, left int, known bool) {
	return 0, 1 << 30, true
}

// said returns a field that somebody wrote, or nil.
func said[T any](v view.Value[T]) *T {
	if !v.Known {
		return nil
	}
	return &v.Shown
}

// facts are the facts of a report: judged as of when it was saved, so that the
// answer does not change with the day on which it is asked again. Beyond what
// a phone asks before the pick-up, the server knows what was done.
func (in *Intake) facts(f *find) screen.Facts {
	r := f.report
	tell := facts.Report{Found: said(r.Found), TakenAt: said(r.TakenAt), Taxon: said(r.Taxon), Count: r.Count.Shown,
		Material: r.Material.Shown, Condition: said(r.Condition), Where: r.Circumstance.Shown, Cause: said(r.Cause),
		Signs: said(r.Signs), Band: r.Band.Shown, Land: said(r.Land), Authority: r.Authority.Shown}
	if p := f.place(); p.Known || r.Place.Known {
		tell.Place = &p
	}
	tell.Count = max(tell.Count, len(f.animals))
	out := facts.Of(tell, facts.Asked{Person: f.person, Role: in.role(f.person), Now: momentOf(f.reported), Lines: in.ground.Map})
	switch r.Deed.Shown {
	case "taken":
		out.InHand = permits.Yes
	case "left", "vanished", "agency":
		out.InHand = permits.No
	}
	if !out.Possessed.Known() && out.InHand == permits.Yes {
		out.Possessed = out.Found
	}
	return out
}

func momentOf(t time.Time) permits.Moment {
	if t.IsZero() {
		return permits.Moment{}
	}
	y, m, d := t.Date()
	return permits.NewDate(y, int(m), d).At(t.Hour(), t.Minute())
}

// register is every edition of every authority, with those the packs grant.
func (in *Intake) register() *rules.Register {
	var all []permits.Authority
	ids := make([]op.ID, 0, len(in.world.papers))
	for id := range in.world.papers {
		ids = append(ids, id)
	}
	slices.SortFunc(ids, func(a, b op.ID) int { return slices.Compare(a[:], b[:]) })
	for _, id := range ids {
		all = append(all, in.world.papers[id]...)
	}
	return rules.NewRegister(in.rules.Book, all)
}

// bench is a screening in progress: the papers and tallies of this moment.
type bench struct {
	register *rules.Register
	ledger   *quota.Ledger
}

func (in *Intake) check(f *find, b bench, tally rules.Tally) permits.Verdict {
	asked := in.facts(f)
	w := &screen.World{Book: in.rules.Book, Register: b.register, Checklist: in.rules.Checklist, Tally: tally}
	return screen.Check(&asked, w)
}

// usesOf returns what a report counts under papers with numbers: each animal
// that was taken, once, under every paper that would cover it or that the
// salvager named.
func (in *Intake) usesOf(f *find, reg *rules.Register) []quota.Use {
	if f.hidden || f.report.Deed.Shown != "taken" {
		return nil
	}
	v := in.check(f, bench{register: reg}, unlimited{})
	under := []string{}
	for _, r := range v.Relies {
		if r.Authority != "" && !slices.Contains(under, r.Authority) {
			under = append(under, r.Authority)
		}
	}
	if a := f.report.Authority.Shown; a != "" && !slices.Contains(under, a) {
		under = append(under, a)
	}
	found := foundAt(f)
	var out []quota.Use
	for _, id := range under {
		a := reg.Authority(id, found.Date)
		if a == nil || len(a.Quotas) == 0 {
			continue
		}
		for _, animal := range in.individuals(f) {
			out = append(out, quota.Use{Animal: animal.String(), Authority: id, Taxon: taxonOf(f.report.Taxon.Shown),
				Material: f.report.Material.Shown, Count: 1, Found: found, Person: f.person,
				Provisional: f.report.Taxon.Shown.Certainty != record.Sure})
		}
	}
	return out
}

func foundAt(f *find) permits.Moment {
	m, err := permits.ParseMoment(f.report.Found.Shown.Earliest)
	if err != nil {
		return permits.Moment{}
	}
	return m
}

func taxonOf(d record.Determination) string {
	if d.Name != "" {
		return d.Name
	}
	return d.Written
}

// individuals returns the animals of a report, each by the record it was
// joined to; a report that names none is of one.
func (in *Intake) individuals(f *find) []op.ID {
	if len(f.animals) == 0 {
		return []op.ID{f.id}
	}
	out := make([]op.ID, len(f.animals))
	for i, id := range f.animals {
		out[i] = in.root(id)
	}
	return out
}

func (in *Intake) root(id op.ID) op.ID {
	for range 100 {
		b := in.world.beasts[id]
		if b == nil || b.sameAs == (op.ID{}) || b.sameAs == id {
			return id
		}
		id = b.sameAs
	}
	return id
}

// ledgerOf counts all uses, one animal once: of two reports that both say they
// took it, the one found first.
func (in *Intake) ledgerOf() *quota.Ledger {
	type key struct{ animal, authority string }
	first := map[key]quota.Use{}
	var order []key
	for _, f := range in.world.finds {
		for _, u := range f.uses {
			k := key{u.Animal, u.Authority}
			old, seen := first[k]
			if !seen {
				order = append(order, k)
			}
			if !seen || u.Found.Known() && (!old.Found.Known() || u.Found.Before(old.Found)) {
				first[k] = u
			}
		}
	}
	uses := make([]quota.Use, len(order))
	for i, k := range order {
		uses[i] = first[k]
	}
	return quota.NewLedger(uses, in.rules.Checklist)
}

// screenDue screens what has to be screened and returns the reports whose
// verdict is another one than the newest in the log.
func (in *Intake) screenDue() []*find {
	if in.world.redo {
		in.knowPapers()
		for id := range in.world.finds {
			in.world.due[id] = true
		}
	}
	if len(in.world.due) == 0 {
		return nil
	}
	reg := in.register()
	for id := range in.world.due {
		if f := in.world.finds[id]; f != nil {
			f.uses = in.usesOf(f, reg)
		}
	}
	b := bench{reg, in.ledgerOf()}
	in.overturned(b)
	var out []*find
	for id := range in.world.due {
		f := in.world.finds[id]
		if f == nil || f.hidden {
			continue
		}
		f.verdict = in.check(f, b, in.tally(f, b))
		text, err := op.ValueOf(f.verdict)
		if err == nil && text != f.judged {
			f.judged = text
			out = append(out, f)
		}
	}
	clear(in.world.due)
	in.world.redo = false
	slices.SortFunc(out, func(a, b *find) int { return slices.Compare(a.id[:], b.id[:]) })
	return out
}

// overturned adds the reports that have come to lie beyond a number, or no
// longer do, because of others.
func (in *Intake) overturned(b bench) {
	for _, f := range in.world.finds {
		if len(f.uses) == 0 {
			continue
		}
		if over := in.isOver(f, b); over != f.over {
			f.over = over
			in.world.due[f.id] = true
		}
	}
}

func (in *Intake) isOver(f *find, b bench) bool {
	for _, u := range f.uses {
		a := b.register.Authority(u.Authority, u.Found.Date)
		for i := range a.Quotas {
			q := &a.Quotas[i]
			if q.Unlimited || !in.concerns(q, u.Taxon) {
				continue
			}
			if _, left, known := (quota.Before{Ledger: b.ledger, Use: u}).Used(a, q, u.Taxon, u.Found.Date); known && left <= 0 {
				return true
			}
		}
	}
	return false
}

// concerns reports whether a number may count the taxon at all.
func (in *Intake) concerns(q *permits.Quota, taxon string) bool {
	if q.Per == "all" || len(q.Taxa) == 0 {
		return true
	}
	for _, t := range in.rules.Checklist.Resolve(taxon, true, nil).Taxa {
		if slices.ContainsFunc(q.Taxa, t.Is) {
			return true
		}
	}
	return false
}

// tally returns what is used before this report's own animals, so that of two
// that together pass a number the one found later is the excess.
func (in *Intake) tally(f *find, b bench) rules.Tally {
	if len(f.uses) == 0 {
		return b.ledger
	}
	last := f.uses[0]
	for _, u := range f.uses {
		if u.Animal > last.Animal {
			last = u
		}
	}
	return quota.Before{Ledger: b.ledger, Use: last}
}

// Screen brings the verdicts of the server up to date with the log: each
// report that is new, or whose grounds have changed, gets a new verdict beside
// the earlier ones. It returns how many.
func (in *Intake) Screen(ctx context.Context) (int, error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	return in.screen(ctx)
}

func (in *Intake) screen(ctx context.Context) (int, error) {
	if err := in.catchUp(ctx); err != nil {
		return 0, err
	}
	if in.papers.Load() == nil {
		in.knowPapers()
	}
	changed := in.screenDue()
	for batch := range slices.Chunk(changed, verdictsAtOnce) {
		err := in.writer.WriteIf(ctx, in.serverHand(), func(Read) ([]op.Group, error) { return verdicts(batch), nil })
		if err != nil {
			for _, f := range changed {
				in.world.due[f.id] = true // try again next time
				f.judged = ""
			}
			return 0, err
		}
	}
	return len(changed), nil
}

// verdictsAtOnce keeps an operation of verdicts well below its size limit.
const verdictsAtOnce = 5

func verdicts(batch []*find) []op.Group {
	out := make([]op.Group, len(batch))
	for i, f := range batch {
		out[i] = op.Group{ID: f.id, Kind: string(record.Report), Acts: []op.Act{op.Event("verdicts", f.judged)}}
	}
	return out
}
