package reports

import (
	"cmp"
	"slices"
	"strconv"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/server/catalogue"
)

// picks gathers the animals that are wanted whole.
type picks struct {
	want  []uint32
	takes []catalogue.Take // once they are there, in the same order
}

// span is a run of picks.
type span struct{ from, to int }

func (p *picks) add(animals []uint32) span {
	from := len(p.want)
	p.want = append(p.want, animals...)
	return span{from, len(p.want)}
}

func (p *picks) of(s span) []catalogue.Take { return p.takes[s.from:s.to] }

func (p *picks) rows(s span) []catalogue.Row {
	if s.from == s.to {
		return nil
	}
	out := make([]catalogue.Row, 0, s.to-s.from)
	for i := range p.of(s) {
		out = append(out, p.of(s)[i].Row)
	}
	return out
}

// balances are the numbers of an authority and who is over each of them.
type balances struct {
	all  []Balance
	over [][]uint32
	who  []span
}

// balances counts every number of an authority in the window of the day.
func (o *Office) balances(a permits.Authority, t *catalogue.Census, day permits.Date) balances {
	var out balances
	sc := scopeOf(t, a.ID)
	for i := range a.Quotas {
		q := &a.Quotas[i]
		taxa := []string{""}
		if q.Per == "taxon" {
			taxa = o.taxaOf(q, t, &sc)
		}
		for n, c := range t.Counts(&a, q, taxa, day, o.Names, sc.covers) {
			taxon := taxa[n]
			b := Balance{Quota: q.ID, Name: o.countsWhat(q, taxon), Limit: q.Limit, Unlimited: q.Unlimited, Window: windowText(q, day), Used: c.Used, Over: c.Excess, WarnsFrom: q.WarnsFrom(), Near: c.Near, Open: c.Provisional}
			if !q.Unlimited {
				b.Used = min(c.Used, q.Limit)
				if o.Lent != nil {
					b.Lent = min(o.Lent(a.ID, q.ID, taxon), q.Limit-b.Used)
				}
				b.Free = q.Limit - b.Used - b.Lent
			}
			out.all, out.over = append(out.all, b), append(out.over, c.Over)
		}
	}
	return out
}

// pick asks for the animals that are over.
func (b *balances) pick(p *picks) {
	for _, over := range b.over {
		b.who = append(b.who, p.add(over))
	}
}

// shown are the balances with the animals that were picked.
func (b *balances) shown(p *picks) []Balance {
	for i, who := range b.who {
		b.all[i].OverWho = p.rows(who)
	}
	return b.all
}

// windowText says for which time a number holds.
func windowText(q *permits.Quota, day permits.Date) string {
	switch q.Window {
	case "calendar_year":
		return "in " + strconv.Itoa(day.Year())
	case "permit_year":
		return "in the year of the permit"
	case "season":
		return "in its season"
	case "event":
		return "on one day"
	case "permit_life":
		return "as long as the permit runs"
	}
	return ""
}

// taxaOf is the species that a number per species is shown for: those it
// names, or those that were taken.
func (o *Office) taxaOf(q *permits.Quota, t *catalogue.Census, sc *scope) []string {
	if len(q.Taxa) > 0 && (o.Names == nil || o.Names.Taxon(q.Taxa[0]) != nil) {
		return q.Taxa
	}
	seen := make([]bool, len(t.Words))
	var out []string
	for i := range t.All {
		s := &t.All[i]
		if !seen[s.Taxon] && s.Has(quota.Taken) && !s.Has(quota.Gone) && sc.under[s.Cover] {
			seen[s.Taxon] = true
			if name := t.Words[s.Taxon]; name != "" {
				out = append(out, name)
			}
		}
	}
	slices.SortFunc(out, func(x, y string) int { return cmp.Or(cmp.Compare(o.common(x), o.common(y)), cmp.Compare(x, y)) })
	return out
}

// countsWhat says what a number counts: the kind, and of them which.
func (o *Office) countsWhat(q *permits.Quota, taxon string) string {
	if kinds := q.Kinds(); kinds != "" {
		return o.kind(q, taxon) + ", " + kinds
	}
	return o.kind(q, taxon)
}

func (o *Office) kind(q *permits.Quota, taxon string) string {
	switch {
	case taxon != "":
		return o.common(taxon)
	case q.Per == "all" || len(q.Taxa) == 0:
		return "All together"
	}
	name := ""
	for i, t := range q.Taxa {
		if i > 0 {
			name += ", "
		}
		name += o.common(t)
	}
	return name
}

// common is the common name of a scientific one, or that name itself.
func (o *Office) common(name string) string {
	if o.Names != nil {
		if t := o.Names.Taxon(name); t != nil {
			return t.English
		}
	}
	return Selector(name)
}

// selectors are the names of groups of animals in the rule packs, as people
// say them.
var selectors = map[string]string{
	"Aves": "Birds", "Mammalia": "Mammals", "Reptilia": "Reptiles", "Amphibia": "Amphibians", "eagle": "Eagles", "raptor": "Birds of prey",
	"us-mbta": "Birds under federal protection", "us-esa": "Species on the federal list", "us-mi-listed": "Species on Michigan's list",
}

// Selector writes the name of a group of animals as people say it.
func Selector(name string) string {
	if words := selectors[name]; words != "" {
		return words
	}
	return name
}
