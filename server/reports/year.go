package reports

import (
	"cmp"
	"context"
	"slices"

	"wayfall/permits"
	"wayfall/permits/compliance"
	"wayfall/server/catalogue"
)

// Year returns the report of one authority for one calendar year, as of the
// place up to which the Book is read.
func (o *Office) Year(ctx context.Context, id string, year int) (Year, error) {
	d, err := o.read(ctx, id)
	if err != nil {
		return Year{}, err
	}
	e, err := d.paper(id)
	if err != nil {
		return Year{}, err
	}
	a := e.in(year)
	first, last := permits.NewDate(year, 1, 1), permits.NewDate(year, 12, 31)
	y := Year{Authority: a, Name: nameOf(a), Year: year, Sample: a.Sample, AsOf: Stamp{d.place.LSN, d.place.AtMS, d.place.Head}}
	y.Balances = o.balances(a, d.ledger, d.takes, last)
	l := lines{office: o, authority: id, over: map[string]string{}, takes: make(map[string]*catalogue.Take, len(d.takes))}
	for _, b := range y.Balances {
		for _, r := range b.OverWho {
			l.over[r.ID] = b.Name
		}
	}
	for i := range d.takes {
		t := &d.takes[i]
		switch {
		case !t.Under(id):
		case t.Day.Known() && t.Day < first:
			if t.Taken() && t.Covered(id) && here(t) {
				y.HeldBefore++
			}
		case !t.Day.Known() || t.Day <= last:
			l.enter(t)
			y.Sample = y.Sample || t.Sample
		}
	}
	report := compliance.Build(compliance.Request{Authority: &a, From: first, To: last, HeldBefore: y.HeldBefore}, l.all)
	y.take(report, l)
	y.check(report, d)
	return y, nil
}

// lines turns animals into the lines of a permit.
type lines struct {
	office    *Office
	authority string
	over      map[string]string // animal to the number it is over
	all       []compliance.Line
	takes     map[string]*catalogue.Take
}

func (l *lines) enter(t *catalogue.Take) {
	l.takes[t.ID] = t
	one := compliance.Line{
		Animal: t.ID, Taxon: t.Taxon, English: t.Name, Material: t.Material, State: t.State, County: t.County, On: t.Day,
		Person: t.Person, Authority: l.authority, Effect: compliance.Covered, Fate: fateOf(t), Accession: t.Catalogue, Identify: t.Taxon == "",
	}
	if name := l.office.common(t.Taxon); name != "" && name != t.Taxon {
		one.English = name
	}
	if t.Taxon == "" {
		// Two people's words for something nobody has named are not two species.
		one.English = ""
	}
	switch {
	case !t.Taken():
		one.Effect = compliance.Observed
	case !t.Covered(l.authority):
		one.Effect = compliance.NotCovered
	case l.over[t.ID] != "":
		one.Effect = compliance.OverQuota
	}
	l.all = append(l.all, one)
}

// fateOf says where an animal is, as a permit asks.
func fateOf(t *catalogue.Take) compliance.Fate {
	switch t.Disposition {
	case "received":
		return compliance.Kept
	case "transferred", "agency":
		return compliance.Transferred
	case "destroyed":
		return compliance.Destroyed
	case "never_arrived", "vanished":
		return compliance.Lost
	}
	return compliance.Pending
}

func here(t *catalogue.Take) bool {
	f := fateOf(t)
	return (f == compliance.Kept || f == compliance.Pending) && (t.Material == "" || t.Material == "carcass")
}

// take reads the numbers of the report into what is printed.
func (y *Year) take(r compliance.Report, l lines) {
	y.Due, y.ToIdentify = r.Due, r.ToIdentify
	y.Total = r.Individuals + r.Other
	y.Entries = make([]Entry, 0, len(l.all))
	for _, s := range r.Species {
		y.Species = append(y.Species, speciesOf(s))
		for _, st := range s.States {
			for _, c := range st.Counties {
				for _, m := range c.Months {
					for _, id := range m.Animals {
						y.Entries = append(y.Entries, l.entry(id))
					}
				}
			}
		}
	}
	slices.SortStableFunc(y.Species, func(p, q Species) int {
		return cmp.Or(cmp.Compare(p.Name, q.Name), cmp.Compare(p.Material, q.Material))
	})
	for _, part := range []struct {
		lines []compliance.Line
		into  *[]Entry
	}{{r.OverQuota, &y.Over}, {r.NotCovered, &y.Bare}, {r.Undated, &y.Undated}} {
		for _, one := range part.lines {
			*part.into = append(*part.into, l.entry(one.Animal))
		}
		y.Entries = append(y.Entries, *part.into...)
	}
	for _, one := range r.Observed {
		e := l.entry(one.Animal)
		e.Bare, e.Over, e.Quota = false, false, ""
		y.Observed = append(y.Observed, e)
	}
	y.HeldAfter = r.Balance.HeldAfter
	y.places()
	y.people(r)
}

// places counts where the animals are.
func (y *Year) places() {
	for _, e := range y.Entries {
		y.All++
		switch compliance.Fate(e.Kind) {
		case compliance.Kept:
			y.Kept++
		case compliance.Transferred:
			y.Transferred++
		case compliance.Destroyed:
			y.Destroyed++
		case compliance.Lost:
			y.Lost++
		default:
			y.Pending++
		}
	}
}

// people lists who was on the paper or acted under it.
func (y *Year) people(r compliance.Report) {
	for _, p := range r.Persons {
		one := Acted{Person: p.Person, Role: p.Role, Listed: p.Listed, Count: p.Total}
		for _, m := range p.Months {
			if m.NoActivity {
				one.Idle = append(one.Idle, m.Month)
			}
			if m.Unlisted {
				one.Unlisted += m.Count
			}
		}
		y.Persons = append(y.Persons, one)
		if p.Total == 0 {
			y.Nil = append(y.Nil, p.Person)
		}
	}
}

func (l *lines) entry(id string) Entry {
	t := l.takes[id]
	e := Entry{Row: t.Row, Day: t.Day, Person: t.Person, Kind: string(fateOf(t)), Quota: l.over[id], Why: t.Why}
	if name := l.office.common(t.Taxon); name != "" && name != t.Taxon {
		e.Row.Name = name
	}
	switch {
	case !t.Covered(l.authority):
		e.Bare = true
	case e.Quota != "":
		e.Over, e.Why = true, "beyond the number for "+e.Quota
	case !t.Day.Known():
		e.Why = "the day of pick-up is not known"
	}
	return e
}

func speciesOf(s compliance.Species) Species {
	out := Species{Name: s.English, Taxon: s.Taxon, Material: s.Material, Count: s.Subtotal}
	if out.Name == "" {
		out.Name = s.Taxon
	}
	if out.Name == "" {
		out.Name = "Not identified"
	}
	for _, st := range s.States {
		state := State{Name: orUnknown(st.State), Count: st.Subtotal}
		for _, c := range st.Counties {
			county := County{Name: orUnknown(c.County), Count: c.Subtotal}
			for _, m := range c.Months {
				county.Months = append(county.Months, Month{m.Month, m.Count})
			}
			state.Counties = append(state.Counties, county)
		}
		out.States = append(out.States, state)
	}
	return out
}

func orUnknown(s string) string {
	if s == "" {
		return "not known"
	}
	return s
}

// check lays the sums beside the ledger of the permit and beside themselves.
func (y *Year) check(r compliance.Report, d *desk) {
	whole := permits.Quota{ID: "every animal", Per: "all", Window: "calendar_year", Unlimited: true}
	entered := d.ledger.Standing(&permits.Authority{ID: y.Authority.ID}, &whole, "", permits.NewDate(y.Year, 12, 31)).Used
	months, dated := 0, 0
	for _, p := range y.Persons {
		months += p.Count
	}
	for _, e := range y.Entries {
		if e.Day.Known() && e.Person != "" {
			dated++
		}
	}
	y.Checks = []Check{
		{"The report and the permit’s ledger", y.Total + len(y.Over) + len(y.Undated), entered, "lines, over, without a day", "ledger"},
		{"Every animal once", y.All, y.All - len(r.Repeated), "animals", "different animals"},
		{"Where they are", y.Kept + y.Transferred + y.Destroyed + y.Lost + y.Pending, y.All, "by place", "all"},
		{"Who took them", months, dated, "by person and month", "all with a day and a person"},
		{"Held", y.HeldBefore + r.Balance.Acquired - r.Balance.Transferred - r.Balance.Destroyed - r.Balance.Lost, y.HeldAfter, "held before, and what came and went", "held at the end"},
	}
}
