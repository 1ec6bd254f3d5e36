package server

import (
	"encoding/json"
	"slices"
	"strconv"

	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/server/catalogue"
	"wayfall/server/people"
)

// soon is how many days before it a duty of a paper is shown; our own choice.
const soon = 120

// papersAsk says what papers themselves ask for today: the report of every
// year that is over, the renewal when its day comes near, and what is to be
// handed in once a paper has ended.
type papersAsk struct {
	rules   *rules.Book
	today   func() permits.Date
	officer func() string
}

func (p papersAsk) of(y catalogue.PaperYears) []catalogue.PaperDuty {
	var doc struct {
		permits.Authority
		Versions []permits.Authority `json:"versions"`
	}
	if json.Unmarshal(y.Document, &doc) != nil {
		return nil
	}
	today := p.today()
	a := permits.VersionAt(append(doc.Versions, doc.Authority), doc.ID, today)
	if a == nil || a.AnyPerson || a.Status == permits.Draft || a.Status == permits.IssuedUnsigned {
		return nil
	}
	who, name := p.officer(), a.Phrase()
	out := p.years(a, y, today)
	for _, o := range p.rules.PaperDuties(a) {
		end, due := a.End(), o.Due.At.Date
		ahead := due.Known() && due <= end
		if !due.Known() || ahead && (end < today || today.DaysUntil(due) > soon) || !ahead && end >= today {
			continue // over, not near yet, or it has not ended
		}
		out = append(out, catalogue.PaperDuty{Obligation: o, Key: end.String(), For: name + ", which ends on " + end.Long()})
	}
	for i := range out {
		out[i].Who = who
	}
	return out
}

// years are the reports of the years that are over and known here, and of this
// one as their day comes near.
func (p papersAsk) years(a *permits.Authority, y catalogue.PaperYears, today permits.Date) []catalogue.PaperDuty {
	var out []catalogue.PaperDuty
	if y.Since == 0 {
		return nil
	}
	for year := max(y.Since, a.ValidFrom.Year()); year <= today.Year(); year++ {
		if end := a.End(); end.Known() && end.Year() < year && y.Taken[year] == 0 {
			break
		}
		taken := y.Taken[year]
		if year == today.Year() {
			taken = max(taken, 1) // nobody knows yet that nothing will be
		}
		if o, due := p.rules.YearDuty(a, year, taken); due && (year < today.Year() || today.DaysUntil(o.Due.At.Date) <= soon) {
			out = append(out, catalogue.PaperDuty{Obligation: o, Key: strconv.Itoa(year), For: a.Phrase() + " in " + strconv.Itoa(year)})
		}
	}
	return out
}

// today is the day at the institution.
func (s *Server) today() permits.Date {
	y, m, d := s.cfg.Now().In(s.cfg.Zone).Date()
	return permits.NewDate(y, int(m), d)
}

// officerOf is the permit officer to whom the duties of papers are addressed:
// the first by name, nobody when there is none.
func (c *crew) officerOf() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	var all []string
	for id, p := range c.roles {
		if p.May(people.PermitOfficer) && !p.Left {
			all = append(all, id)
		}
	}
	slices.Sort(all)
	return append(all, "")[0]
}
