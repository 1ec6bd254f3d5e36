package intake

import (
	"context"
	"maps"
	"slices"
	"time"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
	facts "wayfall/permits/screen/find"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// unlimited is a tally in which every number is free: it tells under which
// papers an animal would count.
type unlimited struct{}

func (unlimited) Used(*permits.Authority, *permits.Quota, string, permits.Date) (used, left int, known bool) {
	return 0, 1 << 30, true
}

// facts are the facts of a report: judged as of when it was saved, so that the
// answer does not change with the day on which it is asked again. Beyond what
// a phone asks before the pick-up, the server knows what was done.
func (in *Intake) facts(f *find) screen.Facts {
	tell := f.tell
	tell.Count = max(tell.Count, len(f.animals))
	out := facts.Of(tell, facts.Asked{Person: f.person, Role: in.role(f.person), Now: momentOf(f.reported), Where: &f.where, Land: in.rules.Land,
		Traits: in.world.asks.facts, Sex: in.bodyOf(f).Sex, Age: in.bodyOf(f).Age})
	switch f.deed {
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
	r := rules.NewRegister(in.rules.Book, all)
	for _, b := range in.crew.Load().Bars {
		r.BarOn(b)
	}
	return r
}

// bench is a screening in progress: the papers and tallies of this moment.
type bench struct {
	register *rules.Register
	ledger   *quota.Ledger
}

func (in *Intake) check(f *find, b bench, tally rules.Tally) permits.Verdict {
	asked := in.facts(f)
	w := &screen.World{Book: in.rules.Book, Register: b.register, Checklist: in.rules.Checklist, Ground: in.rules.Land.Edition(), Tally: tally}
	return screen.Check(&asked, w)
}

// usesOf returns what a report counts under papers with numbers: each animal
// that was taken, once, under every paper that would cover it were no number
// full, as v says, or, where nothing covers it, that the salvager named.
func (in *Intake) usesOf(f *find, v permits.Verdict, reg *rules.Register) []quota.Use {
	left := f.deed != "taken"
	if f.hidden || left && !in.world.asks.finds {
		return nil
	}
	under := []string{}
	for _, r := range v.Relies {
		if r.Authority != "" && !slices.Contains(under, r.Authority) {
			under = append(under, r.Authority)
		}
	}
	if a := f.tell.Authority; a != "" && !v.Outcome.Permits() && !slices.Contains(under, a) {
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
			u := quota.Use{Animal: animal.String(), Authority: id, Taxon: taxonOf(f.taxon()),
				Material: f.tell.Material, Count: 1, Found: found, Person: f.person,
				Provisional: f.taxon().Certainty != record.Sure}
			in.mark(&u, f, animal)
			u.Left = left
			out = append(out, u)
		}
	}
	return out
}

func foundAt(f *find) permits.Moment {
	m, err := permits.ParseMoment(f.found().Earliest)
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

// screenDue screens what has to be screened, adds the verdicts that are other
// ones than the newest in the log, and returns how many. A report stays due
// until its verdict is written.
func (in *Intake) screenDue(ctx context.Context) (int, error) {
	if in.world.redo {
		in.knowPapers()
		for id := range in.world.finds {
			in.world.due[id] = true
		}
	}
	out := docket{in: in, ctx: ctx}
	if len(in.world.due) > 0 {
		if err := in.hear(&out); err != nil {
			return out.written, err
		}
	}
	in.world.redo = false
	return out.written, nil
}

// hear screens first what no number concerns, where the first answer is the
// last, and then, with everything counted, the rest and what has come to lie
// beyond a number because of it.
func (in *Intake) hear(out *docket) error {
	b := bench{register: in.register()}
	counted := false
	for _, id := range in.dueNow() {
		f := in.world.finds[id]
		if f == nil {
			delete(in.world.due, id)
			continue
		}
		v := in.check(f, b, unlimited{})
		counted = counted || len(f.uses) > 0
		f.uses = in.usesOf(f, v, b.register)
		if len(f.uses) == 0 && !in.numbers(v, b.register) {
			if err := out.add(f, v); err != nil {
				return err
			}
		}
		counted = counted || len(f.uses) > 0
	}
	if err := out.write(); err != nil {
		return err
	}
	if !counted && len(in.world.due) == 0 {
		return nil
	}
	b.ledger = in.ledgerOf()
	in.overturned(b)
	for _, id := range in.dueNow() {
		f := in.world.finds[id]
		if err := out.add(f, in.check(f, b, in.tally(f, b))); err != nil {
			return err
		}
	}
	return out.write()
}

func (in *Intake) dueNow() []op.ID {
	return slices.SortedFunc(maps.Keys(in.world.due), func(a, b op.ID) int { return slices.Compare(a[:], b[:]) })
}

// numbers reports whether a verdict relies on a paper with numbers.
func (in *Intake) numbers(v permits.Verdict, reg *rules.Register) bool {
	return slices.ContainsFunc(v.Relies, func(r permits.Reliance) bool {
		a := reg.Authority(r.Authority, 0)
		return a != nil && len(a.Quotas) > 0
	})
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
			if q.Unlimited || !in.concerns(q, u.Taxon) || q.Concerns(u.Material, &u.Traits) == permits.No {
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
// that together pass a number the one found later is the excess. What was left
// where it lay is judged by what was used when it was found: the answer of that
// day does not change with the uses of later ones.
func (in *Intake) tally(f *find, b bench) rules.Tally {
	if len(f.uses) == 0 {
		if at := foundAt(f); at.Known() {
			return quota.Before{Ledger: b.ledger, Use: quota.Use{Found: at}}
		}
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
	if in.barsChanged.Swap(false) {
		in.world.redo = true
	}
	return in.screenDue(ctx)
}
