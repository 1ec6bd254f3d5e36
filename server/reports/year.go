package reports

import (
	"cmp"
	"context"
	"slices"
	"time"

	"wayfall/permits"
	"wayfall/permits/compliance"
	"wayfall/permits/quota"
	"wayfall/server/catalogue"
)

// Year returns the report of one authority for one calendar year, as of the
// place up to which the Book is read.
func (o *Office) Year(ctx context.Context, id string, year int) (Year, error) {
	e, err := o.paper(ctx, id)
	if err != nil {
		return Year{}, err
	}
	a := e.in(year)
	var d draft
	var numbers balances
	p, err := o.count(ctx, func(t *catalogue.Census, p *picks) error {
		numbers = o.balances(a, t, permits.NewDate(year, 12, 31))
		sc := scopeOf(t, id)
		sc.beyond(&numbers)
		d = o.draw(t, sc, a, year)
		d.entered = entered(t, &sc, year)
		d.pick(p)
		numbers.pick(p)
		return nil
	})
	if err != nil {
		return Year{}, err
	}
	y := d.year(o, p)
	y.Name, y.Balances = nameOf(a), numbers.shown(p)
	y.check("The report and the permit’s ledger", d.sums, d.entered)
	return y, nil
}

// draft is a year before its animals are read.
type draft struct {
	y       Year
	sums    compliance.Sums
	over    map[uint32]string
	seen    []bool // by place in sums.Seen: covered
	entered int    // by the ledger
	handed  []uint32
	parts   [6]span
}

// The parts of a draft.
const (
	inTable = iota
	isOver
	isBare
	noDay
	notTaken
	wasHanded
)

// draw counts a year.
func (o *Office) draw(t *catalogue.Census, sc scope, a permits.Authority, year int) draft {
	first, last := permits.NewDate(year, 1, 1), permits.NewDate(year, 12, 31)
	d := draft{y: Year{Authority: a, Year: year, Sample: a.Sample, AsOf: Stamp{t.Place.LSN, t.Place.AtMS, t.Place.Head}}, over: sc.over}
	carcass := func(s *quota.Slip) bool { m := t.Words[s.Material]; return m == "" || m == "carcass" }
	for i := range t.All {
		s := &t.All[i]
		if s.Has(quota.Gone) || !sc.concerns(s) {
			continue
		}
		if early := s.Day.Known() && s.Day < first; early || s.Day > last {
			if early && s.Has(quota.Taken) && here(compliance.FateOf(s)) && carcass(s) {
				d.y.HeldBefore++
			}
			if s.Has(quota.Taken) && s.Handed[0] <= last && s.Handed[1] >= first {
				d.handed = append(d.handed, s.Animal)
			}
			continue
		}
		d.y.Sample = d.y.Sample || s.Has(quota.Sample)
	}
	common := func(s *quota.Slip) string {
		taxon := t.Words[s.Taxon]
		if name := o.common(taxon); taxon == "" || name != "" && name != taxon {
			return name
		}
		return t.Words[s.Name]
	}
	d.sums = compliance.Sum(compliance.Summed{Request: compliance.Request{Authority: &a, From: first, To: last, HeldBefore: d.y.HeldBefore},
		Slips: &t.Slips, Effect: sc.effect, Common: common})
	for _, animal := range d.sums.Seen {
		d.seen = append(d.seen, sc.covers(&t.All[animal]))
	}
	return d
}

func here(f compliance.Fate) bool { return f == compliance.Kept || f == compliance.Pending }

// entered counts the animals of the year that the papers answer for.
func entered(t *catalogue.Census, sc *scope, year int) int {
	whole := permits.Quota{ID: "every animal", Per: "all", Window: "calendar_year", Unlimited: true}
	return t.Counts(&permits.Authority{}, &whole, []string{""}, permits.NewDate(year, 12, 31), nil, sc.covers)[0].Used
}

// pick asks for the animals of the year.
func (d *draft) pick(p *picks) {
	for i, list := range [...][]uint32{d.sums.Table, d.sums.Over, d.sums.Bare, d.sums.NoDay, d.sums.Seen, d.handed} {
		d.parts[i] = p.add(list)
	}
}

// year reads the numbers and the animals into what is printed.
func (d *draft) year(o *Office, p *picks) Year {
	y := d.y
	r := &d.sums.Report
	y.Due, y.ToIdentify, y.Total = r.Due, r.ToIdentify, r.Individuals+r.Other
	for _, s := range r.Species {
		y.Species = append(y.Species, speciesOf(s))
	}
	slices.SortStableFunc(y.Species, func(p, q Species) int {
		return cmp.Or(cmp.Compare(p.Name, q.Name), cmp.Compare(p.Material, q.Material))
	})
	y.Entries = make([]Entry, 0, d.parts[noDay].to-d.parts[inTable].from)
	for part, into := range [...]*[]Entry{inTable: nil, isOver: &y.Over, isBare: &y.Bare, noDay: &y.Undated} {
		takes := p.of(d.parts[part])
		for i := range takes {
			y.Entries = append(y.Entries, d.entry(o, part, p.want[d.parts[part].from+i], &takes[i]))
		}
		if n := len(takes); into != nil && n > 0 {
			*into = slices.Clone(y.Entries[len(y.Entries)-n:])
		}
	}
	for i, t := range p.of(d.parts[notTaken]) {
		e := d.entry(o, notTaken, 0, &t)
		if d.seen[i] && !t.Day.Known() {
			e.Why = noDayText
		}
		y.Observed = append(y.Observed, e)
	}
	y.HeldAfter = r.Balance.HeldAfter
	y.places()
	y.people(*r)
	y.transfers(p, d.parts)
	y.late(p.takes[d.parts[inTable].from:d.parts[noDay].to], o.Zone)
	return y
}

const noDayText = "the day of pick-up is not known"

func (d *draft) entry(o *Office, part int, animal uint32, t *catalogue.Take) Entry {
	e := Entry{Row: t.Row, Day: t.Day, Person: t.Person, Kind: string(t.Fate()), Why: t.Why}
	if name := o.common(t.Taxon); name != "" && name != t.Taxon {
		e.Row.Name = name
	}
	switch part {
	case isOver:
		e.Over, e.Quota = true, d.over[animal]
		e.Why = "beyond the number for " + e.Quota
	case isBare:
		e.Bare, e.Quota = true, d.over[animal]
	case noDay:
		e.Why = noDayText
	}
	return e
}

// transfers lists what came and what was given away in the year.
func (y *Year) transfers(p *picks, parts [6]span) {
	for part, s := range parts {
		takes := p.of(s)
		for i := range takes {
			t := &takes[i]
			if part == notTaken {
				continue
			}
			out := false
			for _, h := range t.Handed {
				out = out || h.To != catalogue.Here
				if h.Day.Known() && h.Day.Year() != y.Year || !h.Day.Known() && part == wasHanded {
					continue
				}
				one := Transfer{Row: t.Row, Day: h.Day, From: h.From, To: h.To, Note: h.Note}
				if h.To == catalogue.Here {
					y.In = append(y.In, one)
				} else {
					y.Out = append(y.Out, one)
				}
			}
			if !out && t.Fate() == compliance.Transferred && part != wasHanded {
				y.Out = append(y.Out, Transfer{Row: t.Row})
			}
		}
	}
	for _, list := range [...][]Transfer{y.In, y.Out} {
		slices.SortStableFunc(list, func(a, b Transfer) int {
			return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.To, b.To), cmp.Compare(a.From, b.From), cmp.Compare(a.Row.ID, b.Row.ID))
		})
	}
}

// late lists the duties on animals of the year that were done late, or are
// open and were due before the day on which the year is drawn up.
func (y *Year) late(takes []catalogue.Take, zone *time.Location) {
	if zone == nil {
		zone = time.UTC
	}
	today := time.UnixMilli(y.AsOf.AtMS).In(zone).Format(time.DateOnly)
	for i := range takes {
		t := &takes[i]
		for _, d := range t.Dated {
			if d.Done || y.AsOf.AtMS != 0 && d.Due[:10] < today {
				y.Late = append(y.Late, LateDuty{Row: t.Row, Person: d.Who, Code: d.Code, Text: d.Text, Due: d.Due, Done: d.DoneAt})
			}
		}
	}
	slices.SortStableFunc(y.Late, func(a, b LateDuty) int {
		return cmp.Or(cmp.Compare(a.Due, b.Due), cmp.Compare(a.Row.ID, b.Row.ID), cmp.Compare(a.Code, b.Code))
	})
}

// places counts where the animals are.
func (y *Year) places() {
	for i := range y.Entries {
		e := &y.Entries[i]
		y.All++
		if e.Row.Disposition == "agency" {
			y.Agencies++
		}
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

// check lays the sums beside the ledger and beside themselves. entered is how
// many animals the ledger has.
func (y *Year) check(name string, r compliance.Sums, entered int) {
	months, dated := 0, 0
	for _, p := range y.Persons {
		months += p.Count
	}
	different := make(map[string]bool, len(y.Entries))
	for i := range y.Entries {
		e := &y.Entries[i]
		different[e.Row.ID] = true
		if e.Day.Known() && e.Person != "" {
			dated++
		}
	}
	b := r.Balance
	y.Checks = []Check{
		{name, y.Total + len(y.Over) + len(y.Undated), entered, "lines, over, without a day", "ledger"},
		{"Every animal once", y.All, len(different), "animals", "different animals"},
		{"Where they are", y.Kept + y.Transferred + y.Destroyed + y.Lost + y.Pending, y.All, "by place", "all"},
		{"Who took them", months, dated, "by person and month", "all with a day and a person"},
		{"Held", y.HeldBefore + b.Acquired - b.Transferred - b.Destroyed - b.Lost, y.HeldAfter, "held before, and what came and went", "held at the end"},
	}
}
