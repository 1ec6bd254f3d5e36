package reports

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"time"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
)

// Book is what the Office reads; catalogue.Book is one. One that can count
// (Counter) is asked to; of another all animals are taken.
type Book interface {
	Takes(ctx context.Context, authority string) ([]catalogue.Take, catalogue.Place, error)
	Papers(ctx context.Context) ([]catalogue.Paper, error)
	Duties(ctx context.Context) ([]catalogue.Duty, error)
}

// Counter is a Book that hands every animal in small to choose and returns
// those that it asks for.
type Counter interface {
	Count(ctx context.Context, choose func(*catalogue.Census) (want []uint32, err error)) ([]catalogue.Take, error)
}

// Office reckons what is used of each authority and what a year amounts to.
type Office struct {
	Book  Book
	Names *permits.Checklist // may be nil: species are then called as written
	// Zone is the institution's, for the day on which a year is drawn up; nil
	// is UTC.
	Zone *time.Location
	// Lent returns how many animals of a number phones may still take while
	// offline; nil is none.
	Lent func(authority, quota, taxon string) int
}

// count lets choose look at every animal and reads those that it picked. What
// it hands to choose holds only while that runs.
func (o *Office) count(ctx context.Context, choose func(*catalogue.Census, *picks) error) (*picks, error) {
	p := new(picks)
	look := func(t *catalogue.Census) ([]uint32, error) {
		err := choose(t, p)
		return p.want, err
	}
	var err error
	if c, ok := o.Book.(Counter); ok {
		p.takes, err = c.Count(ctx, look)
		return p, err
	}
	takes, place, err := o.Book.Takes(ctx, catalogue.Everything)
	if err != nil {
		return nil, err
	}
	p.takes, err = catalogue.Chosen(takes, place, look)
	return p, err
}

// papers are the authorities with all their versions.
func (o *Office) papers(ctx context.Context) (map[string]*editions, error) {
	papers, err := o.Book.Papers(ctx)
	if err != nil {
		return nil, err
	}
	return read(papers), nil
}

// paper is one of them.
func (o *Office) paper(ctx context.Context, id string) (*editions, error) {
	all, err := o.papers(ctx)
	if err != nil {
		return nil, err
	}
	if all[id] == nil {
		return nil, fault.New(fault.Missing, "no permit of that name is known here")
	}
	return all[id], nil
}

// Permits returns every authority with what is used of its numbers.
func (o *Office) Permits(ctx context.Context, today permits.Date) ([]PermitRow, error) {
	papers, err := o.papers(ctx)
	if err != nil {
		return nil, err
	}
	var out []PermitRow
	var numbers []balances
	p, err := o.count(ctx, func(t *catalogue.Census, p *picks) error {
		years := lastYears(t)
		for _, id := range sortedIDs(papers) {
			row, b := o.row(t, papers[id], shown(years[id], today))
			b.pick(p)
			out, numbers = append(out, row), append(numbers, b)
		}
		return nil
	})
	for i := range out {
		if err == nil {
			out[i].Balances = numbers[i].shown(p)
		}
	}
	return out, err
}

func (o *Office) row(t *catalogue.Census, e *editions, day permits.Date) (PermitRow, balances) {
	a := e.at(day)
	return PermitRow{Authority: a, Name: nameOf(a), Year: day.Year()}, o.balances(a, t, day)
}

// lastYears are the years in which something was last taken under each paper.
func lastYears(t *catalogue.Census) map[string]int {
	last := make([]permits.Date, len(t.Covers))
	for i := range t.All {
		if s := &t.All[i]; s.Has(quota.Taken) && !s.Has(quota.Gone) {
			last[s.Cover] = max(last[s.Cover], s.Day)
		}
	}
	out := map[string]int{}
	for i := range t.Covers {
		for _, on := range t.Covers[i].On {
			out[on.Authority] = max(out[on.Authority], last[i].Year())
		}
	}
	return out
}

// shown is the day whose year is shown first: today, or the end of the last
// year in which anything was taken when nothing was in this one.
func shown(last int, today permits.Date) permits.Date {
	if last == 0 || last >= today.Year() {
		return today
	}
	return permits.NewDate(last, 12, 31)
}

// Permit returns everything about one authority.
func (o *Office) Permit(ctx context.Context, id string, today permits.Date) (PermitSheet, error) {
	e, err := o.paper(ctx, id)
	if err != nil {
		return PermitSheet{}, err
	}
	out := PermitSheet{Versions: versionsOf(e, today), Said: e.said}
	var numbers balances
	var use usage
	p, err := o.count(ctx, func(t *catalogue.Census, p *picks) error {
		out.PermitRow, numbers = o.row(t, e, shown(lastYears(t)[id], today))
		use = usageOf(t, out.Authority, out.Year, today)
		numbers.pick(p)
		use.due = p.add(use.owed)
		return nil
	})
	if err != nil {
		return PermitSheet{}, err
	}
	out.Balances = numbers.shown(p)
	for _, g := range out.Authority.Persons {
		out.Persons = append(out.Persons, Listed{g.Person, g.Role, g.From, g.To, out.Lists(g.Person, today), use.by[g.Person]})
	}
	for y := today.Year(); y >= use.first; y-- {
		out.Years = append(out.Years, y)
	}
	out.Covers, out.Without = o.called(out.TaxaInclude), o.called(out.TaxaExclude)
	out.Due = o.due(out.Authority, &use, p.of(use.due), today)
	return out, nil
}

// usage is what was done under one paper.
type usage struct {
	first    int            // year in which anything was first taken
	by       map[string]int // animals by person in the year that is shown
	toReport int            // animals of the year that is next reported
	owed     []uint32       // animals with an open duty that has a day
	due      span
}

// reported is the year that is to be reported next.
func reported(a permits.Authority, today permits.Date) int {
	year := today.Year() - 1
	if a.ReportDue.In(today.Year()) < today || a.ValidFrom.Year() > year {
		year++
	}
	return year
}

func usageOf(t *catalogue.Census, a permits.Authority, year int, today permits.Date) usage {
	sc := scopeOf(t, a.ID)
	next := reported(a, today)
	use := usage{first: today.Year(), by: map[string]int{}}
	persons := make([]int, len(t.Words))
	for i := range t.All {
		s := &t.All[i]
		if s.Has(quota.Gone) || !sc.under[s.Cover] {
			continue
		}
		if s.Due.Known() {
			use.owed = append(use.owed, s.Animal)
		}
		if !s.Has(quota.Taken) {
			continue
		}
		if s.Day.Known() {
			use.first = min(use.first, s.Day.Year())
		}
		if s.Day.Year() == year {
			persons[s.Person]++
		}
		if sc.covered[s.Cover] && s.Day.Year() == next {
			use.toReport++
		}
	}
	for w, n := range persons {
		if n > 0 {
			use.by[t.Words[w]] = n
		}
	}
	return use
}

// due returns the duties under an authority that are not done, the most urgent
// first, and the yearly report of last year or this. A duty of one report on
// several animals stands once.
func (o *Office) due(a permits.Authority, use *usage, takes []catalogue.Take, today permits.Date) []catalogue.Duty {
	type told struct{ report, code, due string }
	seen := map[told]bool{}
	var out []catalogue.Duty
	for i := range takes {
		for _, d := range takes[i].Dated {
			key := told{d.Report, d.Code, d.Due}
			if d.Done || d.Report != "" && seen[key] {
				continue
			}
			seen[key] = true
			out = append(out, d)
		}
	}
	if a.ReportDue != 0 {
		year := reported(a, today)
		out = append(out, catalogue.Duty{Code: "ANNUAL_REPORT", Due: a.ReportDue.In(year + 1).String(),
			Text: "File the yearly report of " + strconv.Itoa(year) + ", " + strconv.Itoa(use.toReport) + " animals so far"})
	}
	slices.SortStableFunc(out, func(x, y catalogue.Duty) int {
		return cmp.Or(cmp.Compare(x.Due, y.Due), cmp.Compare(x.Animal.ID, y.Animal.ID))
	})
	return out
}

// called is what people call some species and groups.
func (o *Office) called(taxa []string) []string {
	var out []string
	for _, t := range taxa {
		out = append(out, o.common(t))
	}
	return out
}
