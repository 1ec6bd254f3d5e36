package compliance

import (
	"cmp"
	"slices"
	"wayfall/permits"
)

// tabulate fills the table and its subtotals. Whole animals come before nests,
// eggs and parts of the same species, which are counted apart.
func (r *Report) tabulate(lines []Line) {
	slices.SortStableFunc(lines, func(a, b Line) int {
		return cmp.Or(cmp.Compare(a.Taxon, b.Taxon), cmp.Compare(material(&a), material(&b)),
			cmp.Compare(a.State, b.State), cmp.Compare(a.County, b.County), cmp.Compare(month(a.On), month(b.On)),
			cmp.Compare(a.Animal, b.Animal))
	})
	for i := range lines {
		l := &lines[i]
		s := r.species(l)
		s.state(l).county(l).month(l)
		if l.individual() {
			r.Individuals += l.n()
		} else {
			r.Other += l.n()
		}
		if l.Identify {
			r.ToIdentify += l.n()
		}
	}
}

// The four steps below add a line to the last group of its level, or begin one.

func (r *Report) species(l *Line) *Species {
	n := len(r.Species)
	if n == 0 || r.Species[n-1].Taxon != l.Taxon || r.Species[n-1].Material != material(l) {
		r.Species = append(r.Species, Species{Taxon: l.Taxon, English: l.English, Material: material(l)})
		n++
	}
	r.Species[n-1].Subtotal += l.n()
	return &r.Species[n-1]
}

func (s *Species) state(l *Line) *State {
	n := len(s.States)
	if n == 0 || s.States[n-1].State != l.State {
		s.States = append(s.States, State{State: l.State})
		n++
	}
	s.States[n-1].Subtotal += l.n()
	return &s.States[n-1]
}

func (s *State) county(l *Line) *County {
	n := len(s.Counties)
	if n == 0 || s.Counties[n-1].County != l.County {
		s.Counties = append(s.Counties, County{County: l.County})
		n++
	}
	s.Counties[n-1].Subtotal += l.n()
	return &s.Counties[n-1]
}

func (c *County) month(l *Line) {
	n := len(c.Months)
	if n == 0 || c.Months[n-1].Month != month(l.On) {
		c.Months = append(c.Months, Month{Month: month(l.On)})
		n++
	}
	m := &c.Months[n-1]
	m.Count += l.n()
	m.Animals = append(m.Animals, l.Animal)
	if l.Person != "" && !slices.Contains(m.Persons, l.Person) {
		m.Persons = append(m.Persons, l.Person)
		slices.Sort(m.Persons)
	}
}

// balance reconciles the individuals of the table and of what went over: those
// are in the house too, whatever the paper says.
func (r *Report) balance(q Request, table []Line) {
	b := &r.Balance
	for _, list := range [...][]Line{table, r.OverQuota, r.NotCovered, r.Undated} {
		for i := range list {
			if list[i].individual() {
				b.add(&list[i])
			}
		}
	}
	b.close(q)
}

// close reckons what is held in the end.
func (b *Balance) close(q Request) {
	b.HeldBefore = q.HeldBefore
	b.HeldAfter = b.HeldBefore + b.Acquired - b.Transferred - b.Destroyed - b.Lost
	if b.Counted = q.Counted; b.Counted != nil {
		b.Difference = *b.Counted - b.HeldAfter
	}
}

func (b *Balance) add(l *Line) {
	b.Acquired += l.n()
	switch l.Fate {
	case Kept:
		b.Kept += l.n()
	case Transferred:
		b.Transferred += l.n()
	case Destroyed:
		b.Destroyed += l.n()
	case Lost:
		b.Lost += l.n()
	default:
		b.Pending += l.n()
	}
}

// persons lists everybody who was listed in the period or acted in it.
func (r *Report) persons(q Request, mine []Line) {
	counts := map[string]map[string]int{}
	for i := range mine {
		l := &mine[i]
		repeated := i > 0 && mine[i-1].Animal == l.Animal && l.Animal != ""
		if l.Person == "" || !l.On.Known() || l.Effect == Observed || repeated {
			continue
		}
		if counts[l.Person] == nil {
			counts[l.Person] = map[string]int{}
		}
		counts[l.Person][month(l.On)] += l.n()
	}
	r.Persons = actings(q, counts)
}

// actings lays out everybody's months: counts by person and month.
func actings(q Request, counts map[string]map[string]int) []Acting {
	listings := map[string][]permits.Grant{}
	for _, g := range q.Authority.Persons {
		listings[g.Person] = append(listings[g.Person], g)
	}
	var out []Acting
	for p, listing := range listings {
		if counts[p] != nil || listedIn(q.Authority, listing, q.From, q.To) {
			out = append(out, acting(q, p, listing, counts[p]))
		}
	}
	for p := range counts {
		if listings[p] == nil {
			out = append(out, acting(q, p, nil, counts[p]))
		}
	}
	slices.SortFunc(out, func(a, b Acting) int { return cmp.Compare(a.Person, b.Person) })
	return out
}

// acting lays out a person's months. A month counts as listed if the person
// stood on the permit on any of its days.
func acting(q Request, person string, listing []permits.Grant, counts map[string]int) Acting {
	out := Acting{Person: person}
	if n := len(listing); n > 0 {
		out.Role = listing[n-1].Role
	}
	for first := permits.NewDate(q.From.Year(), q.From.Month(), 1); first <= q.To; first = first.AddMonths(1) {
		begin, end := max(first, q.From), min(first.AddMonths(1).AddDays(-1), q.To)
		listed := listedIn(q.Authority, listing, begin, end)
		n := counts[month(first)]
		out.Listed = out.Listed || listed
		if !listed && n == 0 {
			continue
		}
		out.Months = append(out.Months, ActingRow{Month: month(first), Count: n, NoActivity: n == 0, Unlisted: !listed})
		out.Total += n
	}
	return out
}

// listedIn tells whether a person of that listing stood on the authority on
// any day between the two, both included. Someone who acts under an authority for everybody is
// not listed.
func listedIn(a *permits.Authority, listing []permits.Grant, from, to permits.Date) bool {
	from = max(from, a.ValidFrom)
	if a.ValidTo.Known() {
		to = min(to, a.ValidTo)
	}
	for i := range listing {
		g := &listing[i]
		begin, end := max(from, g.From), to
		if g.To.Known() {
			end = min(end, g.To)
		}
		if begin <= end {
			return true
		}
	}
	return false
}
