package rules

import "wayfall/permits"

// also notes the papers that ask to have in their report what needs no permit.
// They are the person's own, stand on the day and reach the place; nothing else
// of them is asked, and what they say stands in nobody's way.
func (e *evaluation) also() {
	r := e.book.roles.also
	if r == nil {
		return
	}
	for _, id := range e.reg.ids {
		a := e.candidate(id)
		if a == nil || len(a.ReportsAlso) == 0 || e.relies(id) {
			continue
		}
		m := matching{c: e.c, reg: e.reg, law: &Law{pack: r.pack}, taxa: e.named(a.ReportsAlso)}
		f := fit{authority: a, cover: &Cover{Rule: r.ID, rule: r}}
		if len(m.taxa) == 0 {
			continue
		}
		m.time(&f)
		m.person(&f)
		f.note(missArea, m.area(a), "place")
		if f.misses == 0 {
			e.reports = append(e.reports, f)
			e.found = append(e.found, e.entry(r, r.Effect, false, nil, f))
		}
	}
}

// named are the plausible taxa that the selectors name: what may be one of
// them is reported too.
func (e *evaluation) named(selectors []string) []*permits.Taxon {
	var out []*permits.Taxon
	for _, t := range e.c.Plausible.Taxa {
		if rank(t, selectors) > 0 {
			out = append(out, t)
		}
	}
	return out
}

func (e *evaluation) relies(id string) bool {
	for i := range e.relied {
		if a := e.relied[i].fit.authority; a != nil && a.ID == id {
			return true
		}
	}
	return false
}
