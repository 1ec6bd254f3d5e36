package reports

import (
	"cmp"
	"slices"
	"strconv"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/server/catalogue"
)

// use turns an animal into what counts under an authority.
func use(t *catalogue.Take, authority string) quota.Use {
	return quota.Use{
		Animal: t.ID, Authority: authority, Taxon: t.Taxon, Material: t.Material, Found: moment(t),
		Person: t.Person, Provisional: t.Taxon == "" || !t.Judged, Exempt: !t.Taken(),
	}
}

// moment is when the animal was picked up, to the minute when that is known.
func moment(t *catalogue.Take) permits.Moment {
	at := permits.Moment{Date: t.Day}
	local := t.Found.Earliest
	if t.Found.Precision == "minute" && len(local) >= 16 && t.Day.Known() && local[:10] == t.Day.String() {
		at = t.Day.At(int(local[11]-'0')*10+int(local[12]-'0'), int(local[14]-'0')*10+int(local[15]-'0'))
	}
	return at
}

// ledger enters every animal under each authority it counts under.
func ledger(takes []catalogue.Take, ids []string, names *permits.Checklist) *quota.Ledger {
	uses := make([]quota.Use, 0, len(takes))
	for i := range takes {
		t := &takes[i]
		for _, id := range ids {
			if t.Under(id) && t.Covered(id) {
				uses = append(uses, use(t, id))
			}
		}
	}
	return quota.NewLedger(uses, names)
}

// balances counts every number of an authority in the window of the day.
func (o *Office) balances(a permits.Authority, l *quota.Ledger, takes []catalogue.Take, day permits.Date) []Balance {
	var out []Balance
	for i := range a.Quotas {
		q := &a.Quotas[i]
		taxa := []string{""}
		if q.Per == "taxon" {
			taxa = o.taxaOf(q, takes, a.ID)
		}
		for _, taxon := range taxa {
			s := l.Standing(&a, q, taxon, day)
			b := Balance{Quota: q.ID, Name: o.countsWhat(q, taxon), Limit: q.Limit, Unlimited: q.Unlimited, Window: windowText(q, day), Used: s.Used, Over: s.Excess}
			if !q.Unlimited {
				b.Used = min(s.Used, q.Limit)
				if o.Lent != nil {
					b.Lent = min(o.Lent(a.ID, q.ID, taxon), q.Limit-b.Used)
				}
				b.Free = q.Limit - b.Used - b.Lent
			}
			b.OverWho = rowsOf(s.Over, takes)
			out = append(out, b)
		}
	}
	return out
}

// windowText says for which time a number holds.
func windowText(q *permits.Quota, day permits.Date) string {
	switch q.Window {
	case "calendar_year":
		return "in " + strconv.Itoa(day.Year())
	case "permit_year":
		return "in the year of the permit"
	case "permit_life":
		return "as long as the permit runs"
	}
	return ""
}

// rowsOf returns the animals of some uses, in their order.
func rowsOf(uses []quota.Use, takes []catalogue.Take) []catalogue.Row {
	if len(uses) == 0 {
		return nil
	}
	at := make(map[string]int, len(uses))
	for i, u := range uses {
		at[u.Animal] = i
	}
	out := make([]catalogue.Row, len(uses))
	for i := range takes {
		if n, ok := at[takes[i].ID]; ok {
			out[n] = takes[i].Row
		}
	}
	return out
}

// taxaOf is the species that a number per species is shown for: those it
// names, or those that were taken.
func (o *Office) taxaOf(q *permits.Quota, takes []catalogue.Take, authority string) []string {
	if len(q.Taxa) > 0 && (o.Names == nil || o.Names.Taxon(q.Taxa[0]) != nil) {
		return q.Taxa
	}
	seen := map[string]bool{}
	var out []string
	for i := range takes {
		t := &takes[i]
		if t.Taken() && t.Under(authority) && t.Taxon != "" && !seen[t.Taxon] {
			seen[t.Taxon] = true
			out = append(out, t.Taxon)
		}
	}
	slices.SortFunc(out, func(x, y string) int { return cmp.Compare(o.common(x), o.common(y)) })
	return out
}

func (o *Office) countsWhat(q *permits.Quota, taxon string) string {
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
