package rules

import (
	"math/bits"
	"wayfall/permits"
)

// miss is one way in which an authority may fail to reach a case. Of several,
// the earliest decides.
type miss uint8

const (
	missNone miss = iota
	missBefore
	missAfter
	missRenewal
	missPerson
	missArea
	missTaxon
	missScope
	missPurpose
	missConflict
	missDepends
	missQuota
	missCopy
	missCount
)

// fit is how an authority reaches a case: what it misses, and what cannot be
// told because facts are missing.
type fit struct {
	authority *permits.Authority
	cover     *Cover
	misses    uint16
	unsure    uint16
	missing   []string
	used      int
	limit     int
	near      []near
	number    *near // the one that a sentence is about
}

func (f *fit) good() bool { return f.misses == 0 && f.unsure == 0 }

func (f *fit) note(m miss, a permits.Answer, fact string) {
	switch a {
	case permits.No:
		f.misses |= 1 << m
	case permits.Unknown:
		f.unsure |= 1 << m
		if !holds(f.missing, fact) {
			f.missing = append(f.missing, fact)
		}
	}
}

// first returns the first way in which the authority fails, or cannot be told.
func (f *fit) first() miss {
	if f.misses != 0 {
		return miss(bits.TrailingZeros16(f.misses))
	}
	return miss(bits.TrailingZeros16(f.unsure))
}

// Tally tells how much of a number is used.
type Tally interface {
	// Used returns how many animals of the taxon count against the quota in the
	// window that contains the day, and how many more may be taken; an animal
	// that is already counted must not be counted again. known is false if it
	// cannot be told.
	Used(a *permits.Authority, q *permits.Quota, taxon string, on permits.Date) (used, left int, known bool)
}

// matching is one law's search for an authority.
type matching struct {
	c    *Case
	reg  *Register
	law  *Law
	taxa []*permits.Taxon // the plausible taxa to which the law applies
}

// match tells how the authority reaches the case under the cover. Of a case
// that may have been before or after an amendment both editions are asked: it
// reaches the case only if both do.
func (m *matching) match(a *permits.Authority, cover *Cover) fit {
	f := m.edition(a, cover)
	at := m.c.at
	if at.From.Date == at.To.Date || !at.Known() {
		return f
	}
	later := m.reg.Authority(a.ID, at.To.Date)
	if later == nil || later == a {
		return f
	}
	g := m.edition(later, cover)
	switch {
	case f.good() && !g.good():
		f.note(g.first(), permits.Unknown, "possessed")
		f.used, f.limit = g.used, g.limit
	case !f.good() && g.good():
		why := f.first()
		f.misses, f.unsure = 0, 0
		f.note(why, permits.Unknown, "possessed")
	}
	return f
}

// edition tells how one edition of an authority reaches the case. The strict
// reading is the rule: nothing is implied that the paper does not state.
func (m *matching) edition(a *permits.Authority, cover *Cover) fit {
	f := fit{authority: a, cover: cover}
	m.time(&f)
	m.person(&f)
	f.note(missArea, m.area(a), "place")
	f.note(missTaxon, m.taxon(a), "taxon")
	m.scope(&f)
	m.purpose(&f)
	if len(cover.When) > 0 {
		switch cover.when.Eval(&m.c.In) {
		case False:
			f.misses |= 1 << missConflict
		case CannotTell:
			f.unsure |= 1 << missConflict
			f.missing = cover.when.missing(&m.c.In, f.missing)
		}
	}
	f.note(missDepends, m.depends(a, 0), "depends_on")
	if a.CarryCopy {
		f.note(missCopy, m.c.answer(PermitCopy), PermitCopy.String())
	}
	if f.misses == 0 {
		m.quota(&f)
	}
	return f
}

func (m *matching) time(f *fit) {
	at, a := m.c.at, f.authority
	if !at.Known() {
		f.note(missAfter, permits.Unknown, "possessed")
		return
	}
	from, to := a.InForce(at.From.Date), a.InForce(at.To.Date)
	switch {
	case from == permits.Yes && to == permits.Yes:
	case from != to:
		f.note(missAfter, permits.Unknown, "possessed")
	case at.To.Date < a.ValidFrom:
		f.misses |= 1 << missBefore
	case m.renewed(a):
		f.misses |= 1 << missRenewal
	default:
		f.misses |= 1 << missAfter
	}
}

// renewed tells whether the authority ended by its own date alone while a
// complete renewal had been filed.
func (m *matching) renewed(a *permits.Authority) bool {
	filed := m.c.RenewalFiled
	return (a.Status == permits.Active || a.Status == permits.Expired) && filed.Known() && m.c.RenewalComplete == permits.Yes &&
		m.law.Failures.Renewal != "" && filed.DaysUntil(a.ValidTo) >= m.law.Failures.RenewalDays
}

func (m *matching) person(f *fit) {
	a, c := f.authority, m.c
	switch {
	case a.AnyPerson:
	case c.Person == "":
		f.note(missPerson, permits.Unknown, "person")
	case f.misses&(1<<missBefore|1<<missAfter|1<<missRenewal) != 0:
		f.note(missPerson, permits.AnswerOf(a.Names(c.Person)), "person")
	case !c.at.Known():
		f.note(missPerson, permits.Unknown, "possessed")
	default:
		from, to := a.Lists(c.Person, c.at.From.Date), a.Lists(c.Person, c.at.To.Date)
		if from != to {
			f.note(missPerson, permits.Unknown, "possessed")
			return
		}
		if from && !(m.granted(a, c.at.From.Date) && m.granted(a, c.at.To.Date)) {
			from = false
		}
		f.note(missPerson, permits.AnswerOf(from), "person")
	}
}

// area asks whether the authority reaches the place. Under the law of a part
// of a country that part alone is asked; under others every place where the
// find may lie.
func (m *matching) area(a *permits.Authority) permits.Answer {
	for _, u := range m.c.Units {
		if holds(a.Area, u) {
			return permits.Yes
		}
	}
	if code := m.law.pack.Jurisdiction; parent(code) != "*" && code != "*" {
		return permits.AnswerOf(reaches(a.Area, code) || m.reachesPart(a, code))
	}
	in, out := 0, 0
	for _, codes := range [2][]string{m.c.Jurisdictions, m.c.Possible} {
		for _, code := range codes {
			if reaches(a.Area, code) {
				in++
			} else {
				out++
			}
		}
	}
	switch {
	case in > 0 && out == 0:
		return permits.Yes
	case in == 0 && out > 0:
		return permits.No
	}
	return permits.Unknown
}

func (m *matching) reachesPart(a *permits.Authority, code string) bool {
	for _, c := range m.c.Jurisdictions {
		if within(c, code) && reaches(a.Area, c) {
			return true
		}
	}
	return false
}

func reaches(areas []string, code string) bool {
	for _, a := range areas {
		if within(code, a) {
			return true
		}
	}
	return false
}

// taxon asks whether every plausible taxon to which the law applies is within
// the paper. The narrower selector wins, and excluding wins a tie.
func (m *matching) taxon(a *permits.Authority) permits.Answer {
	in, out := 0, 0
	for _, t := range m.taxa {
		include, exclude := rank(t, a.TaxaInclude), rank(t, a.TaxaExclude)
		if include > exclude && (!m.law.Named || include == 3) {
			in++
		} else {
			out++
		}
	}
	switch {
	case in > 0 && out == 0:
		return permits.Yes
	case in == 0 && out > 0:
		return permits.No
	}
	return permits.Unknown
}

func rank(t *permits.Taxon, selectors []string) int {
	best := 0
	for _, s := range selectors {
		best = max(best, t.Rank(s))
	}
	return best
}

func (m *matching) scope(f *fit) {
	a, c := f.authority, m.c
	activity := f.cover.Activity
	if activity == "" {
		activity = c.Activity
	}
	f.note(missScope, stated(a.Activities, activity), Activity.String())
	if len(a.Materials) > 0 {
		f.note(missScope, stated(a.Materials, c.Material), Material.String())
	}
	if len(a.Causes) > 0 {
		f.note(missScope, stated(a.Causes, c.Cause), Cause.String())
	}
	if len(a.Acquired) > 0 {
		f.note(missScope, stated(a.Acquired, c.Traits.Acquired), "acquired")
	}
	if a.CoverCare == permits.No && c.Traits.Acquired == permits.DiedInCare {
		f.misses |= 1 << missScope
	}
}

func stated(list []string, word string) permits.Answer {
	if word == "" {
		return permits.Unknown
	}
	return permits.AnswerOf(holds(list, word))
}

func (m *matching) purpose(f *fit) {
	for _, p := range f.authority.Forbids {
		fact, bad := Research, permits.Yes
		switch p {
		case "systematic_collecting":
			fact, bad = Opportunistic, permits.No
		case "keep":
			fact = WantsToKeep
		case "sell":
			fact = Sale
		}
		switch m.c.answer(fact) {
		case bad:
			f.note(missPurpose, permits.No, "")
		case permits.Unknown:
			f.note(missPurpose, permits.Unknown, fact.String())
		}
	}
}

// depends asks whether every authority on which this one depends stands. The
// depth is bounded so that two papers that name each other end.
func (m *matching) depends(a *permits.Authority, depth int) permits.Answer {
	if depth > 4 {
		return permits.No
	}
	for _, id := range a.DependsOn {
		if !m.c.at.Known() {
			return permits.Unknown
		}
		d := m.reg.Authority(id, m.c.at.From.Date)
		if d == nil || d.InForce(m.c.at.From.Date) != permits.Yes || d.InForce(m.c.at.To.Date) != permits.Yes {
			return permits.No
		}
		if later := m.reg.Authority(id, m.c.at.To.Date); later.InForce(m.c.at.To.Date) != permits.Yes {
			return permits.No
		}
		if got := m.depends(d, depth+1); got != permits.Yes {
			return got
		}
	}
	return permits.Yes
}
