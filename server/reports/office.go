package reports

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
)

// Book is what the Office reads; catalogue.Book is one.
type Book interface {
	Takes(ctx context.Context, authority string) ([]catalogue.Take, catalogue.Place, error)
	Papers(ctx context.Context) ([]catalogue.Paper, error)
	Duties(ctx context.Context) ([]catalogue.Duty, error)
}

// Office reckons what is used of each authority and what a year amounts to.
type Office struct {
	Book  Book
	Names *permits.Checklist // may be nil: species are then called as written
	// Lent returns how many animals of a number phones may still take while
	// offline; nil is none.
	Lent func(authority, quota, taxon string) int
}

// desk is everything one answer is reckoned from, read at one moment.
type desk struct {
	papers map[string]*editions
	takes  []catalogue.Take
	place  catalogue.Place
	ledger *quota.Ledger
}

// read reads the papers and the animals under one authority, "" for all.
func (o *Office) read(ctx context.Context, authority string) (*desk, error) {
	papers, err := o.Book.Papers(ctx)
	if err != nil {
		return nil, err
	}
	d := &desk{papers: read(papers)}
	if d.takes, d.place, err = o.Book.Takes(ctx, authority); err != nil {
		return nil, err
	}
	ids := []string{authority}
	if authority == "" {
		ids = sortedIDs(d.papers)
	}
	d.ledger = ledger(d.takes, ids, o.Names)
	return d, nil
}

func (d *desk) paper(id string) (*editions, error) {
	e := d.papers[id]
	if e == nil {
		return nil, fault.New(fault.Missing, "no permit of that name is known here")
	}
	return e, nil
}

// Permits returns every authority with what is used of its numbers.
func (o *Office) Permits(ctx context.Context, today permits.Date) ([]PermitRow, error) {
	d, err := o.read(ctx, "")
	if err != nil {
		return nil, err
	}
	var out []PermitRow
	for _, id := range sortedIDs(d.papers) {
		out = append(out, o.row(d, d.papers[id], today))
	}
	return out, nil
}

func (o *Office) row(d *desk, e *editions, today permits.Date) PermitRow {
	day := d.shown(e.all[0].ID, today)
	a := e.at(day)
	return PermitRow{Authority: a, Name: nameOf(a), Year: day.Year(), Balances: o.balances(a, d.ledger, d.takes, day)}
}

// shown is the day whose year is shown first: today, or the end of the last
// year in which anything was taken when nothing was in this one.
func (d *desk) shown(id string, today permits.Date) permits.Date {
	last := 0
	for i := range d.takes {
		if t := &d.takes[i]; t.Taken() && t.Under(id) {
			last = max(last, t.Day.Year())
		}
	}
	if last == 0 || last >= today.Year() {
		return today
	}
	return permits.NewDate(last, 12, 31)
}

// Permit returns everything about one authority.
func (o *Office) Permit(ctx context.Context, id string, today permits.Date) (PermitSheet, error) {
	d, err := o.read(ctx, id)
	if err != nil {
		return PermitSheet{}, err
	}
	e, err := d.paper(id)
	if err != nil {
		return PermitSheet{}, err
	}
	out := PermitSheet{PermitRow: o.row(d, e, today), Versions: versionsOf(e, today), Said: e.said}
	counts, first := map[string]int{}, today.Year()
	for i := range d.takes {
		t := &d.takes[i]
		if !t.Taken() || !t.Under(id) {
			continue
		}
		if t.Day.Known() {
			first = min(first, t.Day.Year())
		}
		if t.Day.Year() == out.Year {
			counts[t.Person]++
		}
	}
	for _, g := range out.Authority.Persons {
		out.Persons = append(out.Persons, Listed{g.Person, g.Role, g.From, g.To, out.Lists(g.Person, today), counts[g.Person]})
	}
	for y := today.Year(); y >= first; y-- {
		out.Years = append(out.Years, y)
	}
	out.Covers, out.Without = o.called(out.TaxaInclude), o.called(out.TaxaExclude)
	out.Due, err = o.due(ctx, d, out.Authority, today)
	return out, err
}

// due returns the duties under an authority that are not done, the most urgent
// first, and the yearly report of last year or this.
func (o *Office) due(ctx context.Context, d *desk, a permits.Authority, today permits.Date) ([]catalogue.Duty, error) {
	all, err := o.Book.Duties(ctx)
	if err != nil {
		return nil, err
	}
	under := map[string]bool{}
	for i := range d.takes {
		if t := &d.takes[i]; t.Under(a.ID) {
			under[t.ID] = true
		}
	}
	var out []catalogue.Duty
	for _, duty := range all {
		if !duty.Done && duty.Void == "" && len(duty.Due) >= 10 && under[duty.Animal.ID] && !strings.HasSuffix(duty.Code, "_LINE") {
			out = append(out, duty)
		}
	}
	if a.ReportDue != 0 {
		year := today.Year() - 1
		if a.ReportDue.In(today.Year()) < today || a.ValidFrom.Year() > year {
			year++
		}
		n := 0
		for i := range d.takes {
			t := &d.takes[i]
			if t.Taken() && t.Covered(a.ID) && t.Day.Year() == year {
				n++
			}
		}
		out = append(out, catalogue.Duty{Code: "ANNUAL_REPORT", Due: a.ReportDue.In(year + 1).String(),
			Text: "File the yearly report of " + strconv.Itoa(year) + ", " + strconv.Itoa(n) + " animals so far"})
	}
	slices.SortStableFunc(out, func(x, y catalogue.Duty) int { return cmp.Compare(x.Due, y.Due) })
	return out, nil
}

// called is what people call some species and groups.
func (o *Office) called(taxa []string) []string {
	var out []string
	for _, t := range taxa {
		out = append(out, o.common(t))
	}
	return out
}
