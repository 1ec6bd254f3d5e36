package rules

import (
	"math/bits"
	"slices"
	"strconv"
	"strings"
	"wayfall/permits"
)

// law puts one law to the case: whether it applies, to which of the plausible
// taxa, and whether anything covers them all.
func (e *evaluation) law(pack int, w *Law) {
	if !does(w.Activities, e.c.Activity) || !e.inForce(w.EffectiveFrom, w.EffectiveTo) {
		return
	}
	taxa, applies := e.subject(w)
	if applies == False {
		return
	}
	e.spoke[pack] = true
	if len(taxa) == 0 {
		e.taxonOpen()
		return
	}
	m := matching{c: e.c, reg: e.reg, law: w, taxa: taxa}
	open := len(e.skipped)
	best, covered := e.search(&m)
	if covered {
		e.skipped = e.skipped[:open] // what other covers asked does not matter
		e.relied = append(e.relied, reliance{w, best})
		out := e.entry(best.cover.rule, best.cover.rule.Effect, false, nil, best)
		out.Law = w.ID
		e.found = append(e.found, out)
		e.warn(w, best)
		return
	}
	if len(taxa) < len(e.c.Plausible.Taxa) {
		e.couldBe(taxa[0])
		return
	}
	e.uncovered(pack, w, best, applies)
}

// subject returns the plausible taxa to which the law may apply.
func (e *evaluation) subject(w *Law) ([]*permits.Taxon, Truth) {
	p := e.c.Plausible
	if len(p.Taxa) <= 1 {
		return p.Taxa, w.applies.Eval(&e.c.In)
	}
	var taxa []*permits.Taxon
	out := False
	in := e.c.In
	for _, t := range p.Taxa {
		setTaxa(&in, permits.Plausible{Taxa: []*permits.Taxon{t}, Complete: true})
		switch w.applies.Eval(&in) {
		case True:
			taxa = append(taxa, t)
			out = True
		case CannotTell:
			taxa = append(taxa, t)
			if out == False {
				out = CannotTell
			}
		}
	}
	return taxa, out
}

// search returns the first cover that holds, or else the nearest that does not.
func (e *evaluation) search(m *matching) (best fit, covered bool) {
	cost := 1 << 20
	consider := func(f fit) bool {
		if f.good() {
			best = f
			return true
		}
		if n := e.distance(&f); n < cost {
			best, cost = f, n
		}
		return false
	}
	for _, cover := range m.law.Covers {
		if len(cover.Kinds) == 0 {
			if e.byCondition(cover) {
				return fit{cover: cover}, true
			}
			continue
		}
		for _, kind := range cover.Kinds {
			for _, id := range e.reg.byKind[kind] {
				a := e.candidate(id)
				if a != nil && consider(m.match(a, cover)) {
					return best, true
				}
			}
		}
	}
	return best, false
}

func (e *evaluation) byCondition(cover *Cover) bool {
	switch cover.when.Eval(&e.c.In) {
	case True:
		return true
	case CannotTell:
		for _, f := range cover.when.missing(&e.c.In, nil) {
			e.skipped = append(e.skipped, permits.Change{Fact: f, Rule: cover.Rule})
		}
	}
	return false
}

// candidate returns the version of an authority to try, or nil if it cannot be
// this person's: a member of the public is on no institution's list.
func (e *evaluation) candidate(id string) *permits.Authority {
	on := e.c.at.From.Date
	if !on.Known() {
		on = e.c.Judged.Date
	}
	a := e.reg.Authority(id, on)
	if a != nil && e.c.Public && e.c.Person == "" && !a.AnyPerson {
		return nil
	}
	return a
}

// distance orders authorities that do not reach the case, the nearest first. A
// paper on which the person never stood is farther than one that misses in
// another way, and one that misses nothing known is nearest of all.
func (e *evaluation) distance(f *fit) int {
	n := 8 * bits.OnesCount16(f.misses)
	if f.misses&(1<<missPerson) != 0 && !f.authority.Names(e.c.Person) {
		n += 16
	}
	return n + bits.OnesCount16(f.unsure)
}

func (e *evaluation) couldBe(t *permits.Taxon) {
	r := e.book.roles.unidentified
	for i := range e.found {
		if e.found[i].rule == r && e.found[i].Unsure {
			return
		}
	}
	e.cite(r, permits.Asks, true, []string{"taxon"})
	last := &e.found[len(e.found)-1]
	last.Because += " It could be " + t.English + "."
}

// uncovered reports that nothing covers the case under the law.
func (e *evaluation) uncovered(pack int, w *Law, best fit, applies Truth) {
	why := missNone
	if best.authority != nil {
		why = best.first()
	}
	r := w.fails[why]
	if why == missConflict {
		e.propose(best.authority)
	}
	if !e.packs[pack].sure {
		e.edge(pack, r, best)
		return
	}
	effect, unsure := r.Effect, false
	var missing []string
	if applies == CannotTell {
		effect, unsure, missing = permits.Asks, true, w.applies.missing(&e.c.In, nil)
	} else if best.authority != nil && best.misses == 0 {
		effect, unsure, missing = permits.Asks, true, best.missing
	}
	out := e.entry(r, effect, unsure, missing, best)
	out.Law = w.ID
	e.found = append(e.found, out)
}

// propose names the authorities that state the cause of the case.
func (e *evaluation) propose(not *permits.Authority) {
	for _, id := range e.reg.ids {
		states := func(a permits.Authority) bool { return holds(a.Causes, e.c.Cause) }
		if id != not.ID && slices.ContainsFunc(e.reg.byID[id], states) && !holds(e.other, id) {
			e.other = append(e.other, id)
		}
	}
}

// word fills in one place of a sentence. Nothing it gives is a code: people,
// papers, places and words of the lists stand in a sentence by their names.
func (e *evaluation) word(name string, f *fit) string {
	c, a := e.c, f.authority
	if a == nil {
		a = &permits.Authority{}
	}
	switch name {
	case "taxon":
		return orElse(c.TaxonText, "an animal nobody has named")
	case "person":
		if c.Person != "" {
			return "the person who takes it"
		}
		return "the finder"
	case "authority":
		return orElse(a.Phrase(), "any loaded authority")
	case "holder":
		return orElse(called(a.Holder), "the holder")
	case "valid_from":
		return orElse(a.ValidFrom.Long(), "an unknown day")
	case "valid_to":
		return orElse(a.ValidTo.Long(), "no set day")
	case "used":
		return strconv.Itoa(f.used)
	case "limit":
		return strconv.Itoa(f.limit)
	case "number":
		return orElse(e.numberText(f.number), "what it counts")
	case "allows":
		if f.number != nil && f.number.quota.Unlimited {
			return "sets no ceiling"
		}
		return "allows " + strconv.Itoa(f.limit)
	case "place":
		return orElse(e.placeText(), "an unknown place")
	case "manager":
		return orElse(permits.ManagerText(c.Manager), "whoever controls the ground")
	case "unit":
		return orElse(c.LandName, "the unit of ground in which it may lie")
	case "count":
		if n := &c.In[EventCount]; n.kind == numberKind && n.num == n.top && n.num > 0 {
			return strconv.Itoa(int(n.num))
		}
		return "several"
	case "cause":
		return orElse(permits.CauseText(c.Cause), "something unknown")
	case "material":
		return orElse(permits.MaterialText(c.Material), "unknown material")
	case "date":
		return orElse(c.at.Long(), "an unknown day")
	case "other":
		return orElse(permits.And(e.phrases(e.other)), "a permit for that cause")
	}
	return ""
}

// called returns a name, and nothing for a short name by which a list keeps
// somebody.
func called(name string) string {
	if name == "" || !strings.Contains(name, " ") && (name[0] < 'A' || name[0] > 'Z') {
		return ""
	}
	return name
}

// placeText names where the find lies: surely, or in one of several places.
func (e *evaluation) placeText() string {
	if e.c.placeText != "" {
		return e.c.placeText
	}
	codes, last := e.c.Jurisdictions, " and "
	if len(codes) == 0 {
		codes, last = e.c.Possible, " or "
	}
	var out string
	for i, code := range codes {
		switch {
		case i == 0:
		case i == len(codes)-1:
			out += last
		default:
			out += ", "
		}
		out += e.book.placeName(code)
	}
	return out
}

// phrases returns authorities as they stand in a sentence.
func (e *evaluation) phrases(ids []string) []string {
	out := make([]string, 0, len(ids))
	for _, id := range ids {
		phrase := "another paper"
		if a := e.reg.Authority(id, e.c.Judged.Date); a != nil {
			phrase = a.Phrase()
		}
		if !holds(out, phrase) {
			out = append(out, phrase)
		}
	}
	return out
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}
