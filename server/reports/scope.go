package reports

import (
	"wayfall/permits/compliance"
	"wayfall/permits/quota"
	"wayfall/server/catalogue"
)

// scope is what a report is about: one paper, or all of them. Both lists are
// by cover.
type scope struct {
	under, covered []bool
	whole          bool // what was taken under no paper belongs to it too
	over           map[uint32]string
}

// scopeOf is the scope of one paper.
func scopeOf(t *catalogue.Census, id string) scope {
	sc := scope{under: make([]bool, len(t.Covers)), covered: make([]bool, len(t.Covers))}
	for i := range t.Covers {
		sc.under[i] = t.Covers[i].Under(id)
		sc.covered[i] = t.Covers[i].Covered(id)
	}
	return sc
}

// scopeOfAll is the scope of all papers. An animal is covered when a paper
// answers for it and none that stands in the way does not: where the verdict
// lets it be taken, none stands in the way. What the rules let anybody take, or
// leave alone, needs no paper and is in order without one.
func scopeOfAll(t *catalogue.Census, papers []string) scope {
	sc := scope{under: make([]bool, len(t.Covers)), covered: make([]bool, len(t.Covers)), whole: true}
	known := map[string]bool{}
	for _, id := range papers {
		known[id] = true
	}
	for i := range t.Covers {
		c := &t.Covers[i]
		blocked := false
		for _, on := range c.On {
			blocked = blocked || on.Near && !on.Covered && !c.Permits
			if known[on.Authority] {
				sc.under[i] = true
				sc.covered[i] = sc.covered[i] || on.Covered
			}
		}
		sc.covered[i] = (sc.covered[i] || c.Judged && c.Permits) && !blocked
	}
	return sc
}

// covers reports whether the paper answers for the animal.
func (sc *scope) covers(s *quota.Slip) bool { return sc.covered[s.Cover] }

// concerns reports whether the animal belongs into the report.
func (sc *scope) concerns(s *quota.Slip) bool {
	return sc.under[s.Cover] || sc.whole && s.Has(quota.Taken)
}

// effect is how the paper stands to the animal, "" when not at all.
func (sc *scope) effect(s *quota.Slip) compliance.Effect {
	switch {
	case !sc.concerns(s):
		return ""
	case !s.Has(quota.Taken):
		return compliance.Observed
	case !sc.covered[s.Cover]:
		return compliance.NotCovered
	case len(sc.over) > 0 && sc.over[s.Animal] != "":
		return compliance.OverQuota
	}
	return compliance.Covered
}

// beyond notes who is over which number.
func (sc *scope) beyond(b *balances) {
	if sc.over == nil {
		sc.over = map[uint32]string{}
	}
	for i, over := range b.over {
		for _, animal := range over {
			sc.over[animal] = b.all[i].Name
		}
	}
}
