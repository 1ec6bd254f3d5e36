package screen_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

// table counts the cases of the walk along every boundary.
type table struct {
	t          *testing.T
	cases      int
	permissive int
	by         map[string]int
	fact       int // the fact with which the next variant goes on
}

func (b *table) count(kind string) {
	b.cases++
	b.by[kind]++
}

// wrong reports a case that is more permissive than it may be.
func (b *table) wrong(format string, args ...any) {
	b.t.Helper()
	b.permissive++
	b.t.Errorf(format, args...)
}

// site is a find, the world it is judged in, and the papers of that world.
type site struct {
	name   string
	facts  screen.Facts
	papers []permits.Authority
	tally  rules.Tally
}

func (s *site) world(book *rules.Book, list *permits.Checklist) *screen.World {
	return &screen.World{Book: book, Register: rules.NewRegister(book, s.papers), Checklist: list, Tally: s.tally}
}

// permittedSites are the finds of all scenarios that may be taken.
func permittedSites(t *testing.T, book *rules.Book, list *permits.Checklist) []site {
	t.Helper()
	papers := func(text []byte) []permits.Authority {
		var all []permits.Authority
		if err := json.Unmarshal(text, &all); err != nil {
			t.Fatal(err)
		}
		return all
	}
	var all, out []site
	f := loadVectors(t)
	for i := range f.Cases {
		for n, facts := range f.facts(t, &f.Cases[i]) {
			all = append(all, site{fmt.Sprintf("%s.%d", f.Cases[i].ID, n), facts, papers(packs.Authorities()), f.Cases[i].Tallies})
		}
	}
	for _, c := range michigan {
		all = append(all, site{c.name, owl(c.change), papers(packs.DemoAuthorities()), c.tally})
	}
	for _, s := range all {
		if v := screen.Check(&s.facts, s.world(book, list)); v.Outcome.Permits() {
			out = append(out, s)
		}
	}
	if len(out) < 15 {
		t.Fatalf("got %d finds that may be taken, want 15 or more", len(out))
	}
	return out
}

func reliesOn(v *permits.Verdict, id string) bool {
	return slices.ContainsFunc(v.Relies, func(r permits.Reliance) bool { return r.Authority == id })
}

// paper returns the paper of that id among those of a site, adding the one
// that the regulation grants so that it can be changed too.
func (s *site) paper(book *rules.Book, id string) int {
	i := slices.IndexFunc(s.papers, func(a permits.Authority) bool { return a.ID == id })
	if i >= 0 {
		return i
	}
	for _, p := range book.Packs() {
		for _, a := range p.Authorised {
			if a.ID == id {
				s.papers = append(s.papers, a)
				return len(s.papers) - 1
			}
		}
	}
	return -1
}

// with returns the site with one paper changed.
func (s site) with(i int, change func(*permits.Authority)) site {
	s.papers = slices.Clone(s.papers)
	s.papers[i].Persons = slices.Clone(s.papers[i].Persons)
	s.papers[i].Quotas = slices.Clone(s.papers[i].Quotas)
	change(&s.papers[i])
	return s
}

func TestEveryBoundaryIsKeptOnItsStricterSide(t *testing.T) {
	book := loadBook(t)
	list, err := permits.ReadChecklist(packs.Taxa())
	if err != nil {
		t.Fatal(err)
	}
	b := &table{t: t, by: map[string]int{}}
	for _, s := range permittedSites(t, book, list) {
		base := screen.Check(&s.facts, s.world(book, list))
		done := map[string]bool{}
		for _, r := range base.Relies {
			if r.Authority == "" || done[r.Authority] {
				continue
			}
			done[r.Authority] = true
			i := s.paper(book, r.Authority)
			b.dates(s, i, book, list)
			b.listings(s, i, book, list)
			b.numbers(s, i, book, list)
		}
		b.persons(s, book, list)
		b.missing(s, s.world(book, list), len(factNames()))
	}
	b.rulesInTime(book, list)
	b.thresholds(book, list)
	b.thresholdInTime(book, list)
	b.borders(book, list)
	for _, kind := range slices.Sorted(maps.Keys(b.by)) {
		t.Logf("%6d %s", b.by[kind], kind)
	}
	t.Logf("SHOW %d cases, %d more permissive", b.cases, b.permissive)
	if b.cases < 3000 {
		t.Errorf("got %d cases, want 3,000 or more", b.cases)
	}
}

// expect judges a variant: on the outer side of a boundary the paper must not
// be relied on, on the inner side the find is as allowed as before.
func (b *table) expect(kind string, s site, id string, inside bool, book *rules.Book, list *permits.Checklist) {
	b.t.Helper()
	w := s.world(book, list)
	v := screen.Check(&s.facts, w)
	b.count(kind)
	switch {
	case !inside && v.Outcome.Permits() && reliesOn(&v, id):
		b.wrong("%s, %s: outside, yet it is permitted on %s", s.name, kind, id)
	case inside && !(v.Outcome.Permits() && reliesOn(&v, id)):
		b.t.Errorf("%s, %s: inside, got %s by %s (%s), want it permitted on %s", s.name, kind, v.Outcome, v.Deciding.Rule, v.Deciding.Because, id)
	}
	b.missing(s, w, factsEach())
}

func (b *table) dates(s site, i int, book *rules.Book, list *permits.Checklist) {
	b.t.Helper()
	id := s.papers[i].ID
	day, last := days(&s.facts)
	for n := -2; n <= 2; n++ {
		from, to := day.AddDays(n), last.AddDays(n)
		b.expect("first day of a paper", s.with(i, func(a *permits.Authority) { a.ValidFrom = from }), id, n <= 0, book, list)
		b.expect("last day of a paper", s.with(i, func(a *permits.Authority) { a.ValidTo = to }), id, n >= 0, book, list)
	}
	for _, status := range []permits.Status{permits.Draft, permits.IssuedUnsigned, permits.Suspended, permits.Revoked, permits.Surrendered, ""} {
		b.expect("how a paper stands", s.with(i, func(a *permits.Authority) { a.Status = status }), id, false, book, list)
	}
	// An amended edition that ends the paper counts from its own first day.
	for n := -2; n <= 2; n++ {
		v := s.with(i, func(*permits.Authority) {})
		next := v.papers[i]
		next.Version, next.EffectiveFrom, next.Activities = next.Version+1, day.AddDays(n), []string{"band"}
		v.papers = append(v.papers, next)
		if day == last {
			b.expect("first day of an edition", v, id, n > 0, book, list)
		}
	}
	b.stretches(s, i, id, day, book, list)
}

// stretches asks of finds whose day is known only to a stretch that reaches
// over the first or the last day.
func (b *table) stretches(s site, i int, id string, day permits.Date, book *rules.Book, list *permits.Checklist) {
	b.t.Helper()
	wide := s
	wide.facts.Possessed = permits.When{From: permits.Moment{Date: day.AddDays(-1)}, To: permits.Moment{Date: day.AddDays(1)}}
	wide.facts.Found = wide.facts.Possessed
	if v := screen.Check(&wide.facts, wide.world(book, list)); !v.Outcome.Permits() {
		return // something else, such as a listing, does not last that long
	}
	for n := -1; n <= 2; n++ {
		b.expect("a stretch over the first day", wide.with(i, func(a *permits.Authority) { a.ValidFrom, a.EffectiveFrom = day.AddDays(n), 0 }), id, n <= -1, book, list)
	}
	for n := -2; n <= 1; n++ {
		b.expect("a stretch over the last day", wide.with(i, func(a *permits.Authority) { a.ValidTo = day.AddDays(n) }), id, n >= 1, book, list)
	}
}

// days are the first and the last day on which the find may have been taken.
func days(f *screen.Facts) (first, last permits.Date) {
	at := f.Possessed
	if !at.Known() {
		at = f.Found
	}
	return at.From.Date, at.To.Date
}

func (b *table) listings(s site, i int, book *rules.Book, list *permits.Checklist) {
	b.t.Helper()
	a := &s.papers[i]
	g := slices.IndexFunc(a.Persons, func(g permits.Grant) bool { return g.Person == s.facts.Person })
	if a.AnyPerson || g < 0 {
		return
	}
	day, last := days(&s.facts)
	for n := -2; n <= 2; n++ {
		b.expect("first day of a listing", s.with(i, func(a *permits.Authority) { a.Persons[g].From = day.AddDays(n) }), a.ID, n <= 0, book, list)
		b.expect("last day of a listing", s.with(i, func(a *permits.Authority) { a.Persons[g].To = last.AddDays(n) }), a.ID, n >= 0, book, list)
	}
	b.expect("a person struck from the list", s.with(i, func(a *permits.Authority) { a.Persons = slices.Delete(a.Persons, g, g+1) }), a.ID, false, book, list)
}

// numbers puts a number on the paper and walks what is used up to it and over.
func (b *table) numbers(s site, i int, book *rules.Book, list *permits.Checklist) {
	b.t.Helper()
	id := s.papers[i].ID
	for _, per := range []string{"all", "taxon", "list"} {
		for _, limit := range []int{1, 3, 12} {
			for _, count := range []int{1, 2} {
				for d := -1; d <= 1; d++ {
					used := limit - count + d
					if used < 0 {
						continue
					}
					v := s.with(i, func(a *permits.Authority) {
						q := permits.Quota{ID: "B", Per: per, Limit: limit, Window: "calendar_year"}
						if per == "list" {
							q.Taxa = []string{list.Resolve(s.facts.Taxon, true, nil).Taxa[0].Class}
						}
						a.Quotas = []permits.Quota{q}
					})
					v.facts.Count, v.facts.EventCount = count, max(count, s.facts.EventCount)
					v.tally = usedUp{"B", used}
					if b.more(s, count, book, list) {
						b.expect("a number of "+per, v, id, d <= 0, book, list)
					}
				}
			}
		}
	}
}

// more tells whether so many may be taken when no number stands against it.
func (b *table) more(s site, count int, book *rules.Book, list *permits.Checklist) bool {
	s.facts.Count, s.facts.EventCount = count, max(count, s.facts.EventCount)
	s.tally = usedUp{}
	v := screen.Check(&s.facts, s.world(book, list))
	return v.Outcome.Permits()
}

// usedUp takes one number as used so far, and every other as free.
type usedUp struct {
	quota string
	used  int
}

func (u usedUp) Used(_ *permits.Authority, q *permits.Quota, _ string, _ permits.Date) (used, left int, known bool) {
	if q.ID != u.quota {
		return 0, 1000, true
	}
	return u.used, q.Limit - u.used, true
}

func (b *table) persons(s site, book *rules.Book, list *permits.Checklist) {
	b.t.Helper()
	w := s.world(book, list)
	for _, who := range []string{"", "h.new", "lena", "nobody", strings.ToUpper(s.facts.Person), s.facts.Person + " "} {
		f := s.facts
		if f.Person = who; who == s.facts.Person {
			continue
		}
		v := screen.Check(&f, w)
		b.count("a person who is not listed")
		for _, r := range v.Relies {
			day, _ := days(&f)
			a := w.Register.Authority(r.Authority, day)
			if v.Outcome.Permits() && a != nil && !a.Lists(who, day) {
				b.wrong("%s: %q is not on %s, yet it is relied on", s.name, who, a.ID)
			}
		}
	}
	f := s.facts
	f.Barred = permits.Yes
	v := screen.Check(&f, w)
	for _, r := range v.Relies {
		// 50 CFR 13.21(c)(1) bars people from federal permits; what needs no
		// permit, and the law of other countries, does not ask.
		if a := w.Register.Authority(r.Authority, f.JudgedAt.Date); v.Outcome.Permits() && a != nil && a.Jurisdiction[:2] == "US" {
			b.wrong("%s: a barred person is permitted by %s on %s", s.name, v.Deciding.Rule, a.ID)
		}
	}
	b.count("a person who is barred")
}
