package reports

import (
	"context"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/server/catalogue"
)

// InstitutionYear returns the calendar year of the institution under all its
// papers in one report: every animal once, even if several papers cover it,
// with the checks of a paper's own year and one that lays the papers' own
// reports beside it.
func (o *Office) InstitutionYear(ctx context.Context, year int) (InstitutionYear, error) {
	papers, err := o.papers(ctx)
	if err != nil {
		return InstitutionYear{}, err
	}
	var out InstitutionYear
	var d draft
	var told, counted int
	p, err := o.count(ctx, func(t *catalogue.Census, p *picks) error {
		ids := sortedIDs(papers)
		all := scopeOfAll(t, ids)
		under := make([]int, len(t.All)) // in how many papers' reports
		for _, id := range ids {
			a := papers[id].in(year)
			numbers := o.balances(a, t, permits.NewDate(year, 12, 31))
			all.beyond(&numbers)
			sc := scopeOf(t, id)
			sc.beyond(&numbers)
			one := o.draw(t, sc, a, year)
			for _, list := range one.taken() {
				for _, animal := range list {
					under[animal]++
				}
			}
			out.Papers = append(out.Papers, one.paper())
			told += out.Papers[len(out.Papers)-1].All
		}
		out.only(papers, t, under, year)
		d = o.draw(t, all, house(papers, year), year)
		d.entered = entered(t, &all, year)
		for _, list := range d.taken() {
			for _, animal := range list {
				counted += under[animal]
			}
		}
		d.pick(p)
		return nil
	})
	if err != nil {
		return InstitutionYear{}, err
	}
	y := d.year(o, p)
	y.check("The report and the papers’ ledger", d.sums, d.entered)
	y.Checks = append(y.Checks, Check{"The papers’ own reports", told, counted, "animals of each added up", "animals times their papers"})
	out.Sums = y
	return out, nil
}

// taken are the animals in somebody's hand.
func (d *draft) taken() [4][]uint32 {
	return [...][]uint32{d.sums.Table, d.sums.Over, d.sums.Bare, d.sums.NoDay}
}

func (d *draft) paper() PaperYear {
	s := &d.sums
	return PaperYear{Authority: d.y.Authority, Name: nameOf(d.y.Authority), Due: s.Due, Total: len(s.Table), Over: len(s.Over), Bare: len(s.Bare),
		Undated: len(s.NoDay), Observed: len(s.Seen), All: len(s.Table) + len(s.Over) + len(s.Bare) + len(s.NoDay)}
}

// only counts who stands in one paper's report alone and who in several.
func (out *InstitutionYear) only(papers map[string]*editions, t *catalogue.Census, under []int, year int) {
	at := map[string]int{}
	for i, id := range sortedIDs(papers) {
		at[id] = i
	}
	for i := range t.All {
		s := &t.All[i]
		if under[s.Animal] > 1 {
			out.Shared++
		}
		if under[s.Animal] != 1 || s.Has(quota.Gone) {
			continue
		}
		for _, on := range t.CoverOf(s).On {
			if n, ok := at[on.Authority]; ok {
				out.Papers[n].Only++
			}
		}
	}
}

// house stands for all papers together: whoever is on one of them while it
// holds is on its list.
func house(papers map[string]*editions, year int) permits.Authority {
	var a permits.Authority
	for _, id := range sortedIDs(papers) {
		one := papers[id].in(year)
		if a.Holder == "" {
			a.Holder = one.Holder
		}
		a.Sample = a.Sample || one.Sample
		for _, g := range one.Persons {
			g.From = max(g.From, one.ValidFrom)
			if one.ValidTo.Known() && (!g.To.Known() || one.ValidTo < g.To) {
				g.To = one.ValidTo
			}
			a.Persons = append(a.Persons, g)
		}
	}
	return a
}
