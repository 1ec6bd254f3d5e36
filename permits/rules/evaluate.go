package rules

import (
	"wayfall/permits"
)

// entry is a finding with what the engine must remember of it.
type entry struct {
	permits.Finding
	rule   *Rule
	fit    fit
	role   bool // the engine cites the rule itself, so its duties hold though unsure
	yields bool // another rule that was found says more
	inHand bool // it became a breach because the animal was already taken
}

// evaluation is one run of a book over a case.
type evaluation struct {
	book  *Book
	reg   *Register
	c     *Case
	packs []active
	found []entry
	// skipped are facts that rules asked for without blocking.
	skipped []permits.Change
	spoke   []bool
	relied  []reliance
	reports []fit // papers that ask to be told though no law asks for one
	other   []string
}

type active struct {
	*Pack
	sure bool
}

type reliance struct {
	law *Law
	fit fit
}

// Evaluate judges a case. It changes c only by filling in the facts that
// follow from others; the same case gives the same verdict every time.
func (b *Book) Evaluate(c *Case, reg *Register) permits.Verdict {
	e := &evaluation{book: b, reg: reg, c: c, found: make([]entry, 0, 12), packs: make([]active, 0, 4)}
	c.prepare()
	e.place()
	for i := range e.packs {
		for _, r := range e.packs[i].Rules {
			if len(r.When) > 0 && !r.lateRule {
				e.ask(i, r)
			}
		}
		for _, w := range e.packs[i].Laws {
			e.law(i, w)
		}
	}
	e.silence()
	if len(c.Plausible.Taxa) == 0 || !c.Plausible.Complete {
		e.taxonOpen()
	}
	e.late()
	e.also()
	return e.verdict()
}

// place chooses the packs: those for everywhere, and those of each place and
// the places around it.
func (e *evaluation) place() {
	for _, p := range e.book.by["*"] {
		e.packs = append(e.packs, active{p, true})
	}
	if len(e.c.Jurisdictions)+len(e.c.Possible) == 0 {
		e.cite(e.book.roles.noPlace, permits.Asks, true, []string{"place"})
	}
	for _, code := range e.c.Jurisdictions {
		e.activate(code, true)
		if e.book.hasParts(code) && !e.knowsPart(code) {
			e.cite(e.book.roles.noPlace, permits.Asks, true, []string{"place"})
		}
	}
	for _, code := range e.c.Possible {
		e.activate(code, false)
	}
	if len(e.c.Possible) == 1 {
		e.cite(e.book.roles.noPlace, permits.Asks, true, []string{"place"})
	}
	e.spoke = make([]bool, len(e.packs))
}

func (e *evaluation) knowsPart(code string) bool {
	for _, list := range [2][]string{e.c.Jurisdictions, e.c.Possible} {
		for _, other := range list {
			if other != code && within(other, code) {
				return true
			}
		}
	}
	return false
}

// activate adds the packs of a place, those of the places around it first.
func (e *evaluation) activate(code string, sure bool) {
	if around := parent(code); around != "*" {
		e.activate(around, sure || e.allWithin(around))
	}
	e.activateOne(code, sure)
}

func (e *evaluation) activateOne(code string, sure bool) {
	packs := e.book.by[code]
	if len(packs) == 0 {
		e.citeAt(e.book.roles.noPack, code)
	}
	for _, p := range packs {
		e.add(p, sure)
	}
}

// allWithin tells whether every possible place lies in the jurisdiction.
func (e *evaluation) allWithin(area string) bool {
	for _, p := range e.c.Possible {
		if !within(p, area) {
			return false
		}
	}
	return true
}

func (e *evaluation) add(p *Pack, sure bool) {
	for i := range e.packs {
		if e.packs[i].Pack == p {
			e.packs[i].sure = e.packs[i].sure || sure
			return
		}
	}
	e.packs = append(e.packs, active{p, sure})
}

// throughout tells whether dated text held on every day on which the case may
// have been.
func (e *evaluation) throughout(from, to permits.Date) bool {
	at := e.c.at
	if !at.Known() {
		return true // the day of asking stands in for it
	}
	return from <= at.From.Date && (to == 0 || at.To.Date <= to)
}

// inForce tells whether dated text held at the time of the case. Where the
// time is not known, the day of asking stands in for it.
func (e *evaluation) inForce(from, to permits.Date) bool {
	first, last := e.c.at.From.Date, e.c.at.To.Date
	if !e.c.at.Known() {
		first, last = e.c.Judged.Date, e.c.Judged.Date
	}
	if !first.Known() {
		return true
	}
	return from <= last && (to == 0 || first <= to)
}

func does(activities []string, activity string) bool {
	return len(activities) == 0 || activity == "" || holds(activities, activity)
}

// ask puts one rule to the case.
func (e *evaluation) ask(pack int, r *Rule) {
	if !does(r.Activities, e.c.Activity) || !e.inForce(r.EffectiveFrom, r.EffectiveTo) {
		return
	}
	// What only held on some of the days stands in the way, but satisfies nobody.
	speaks := r.Speaks && (r.Effect.Blocks() || e.throughout(r.EffectiveFrom, r.EffectiveTo))
	switch r.when.Eval(&e.c.In) {
	case True:
		e.spoke[pack] = e.spoke[pack] || speaks
		e.report(pack, r, r.Effect, false, nil)
	case CannotTell:
		missing := r.when.missing(&e.c.In, nil)
		switch {
		case r.IfUnknown == "apply":
			e.spoke[pack] = e.spoke[pack] || speaks
			e.report(pack, r, r.Effect, false, nil)
		case r.Effect.Blocks():
			e.report(pack, r, permits.Asks, true, missing)
		default:
			for _, m := range missing {
				e.skipped = append(e.skipped, permits.Change{Fact: m, Rule: r.ID})
			}
		}
	}
}

// report adds a rule's finding. A rule that blocks on one side of a line of
// which the animal may be on the other makes a person decide.
func (e *evaluation) report(pack int, r *Rule, effect permits.Effect, unsure bool, missing []string) {
	if !e.packs[pack].sure && effect.Blocks() {
		e.edge(pack, r, fit{})
		return
	}
	e.found = append(e.found, e.entry(r, effect, unsure, missing, fit{}))
}

func (e *evaluation) entry(r *Rule, effect permits.Effect, unsure bool, missing []string, f fit) entry {
	out := entry{rule: r, fit: f}
	out.Finding = permits.Finding{Rule: r.ID, Pack: r.pack.ID, Layer: r.Layer, Effect: effect, Unsure: unsure,
		Cites: r.Cites, SourceStatus: r.SourceStatus, Missing: missing, Weight: r.Weight, Curable: r.Curable}
	if r.Contact != "" {
		out.Contact = r.pack.Contacts[r.Contact]
	}
	if r.ground && e.c.LandContact != "" {
		out.Contact = e.c.LandContact
	}
	if f.authority != nil {
		out.Authority = f.authority.ID
	}
	out.Because = r.because.fill(func(name string) string { return e.word(name, &f) })
	if unsure && len(missing) > 0 && !e.book.roles.has(r) {
		out.Because = "Not known: " + asked(missing) + ". At worst: " + out.Because
	}
	return out
}

func (e *evaluation) cite(r *Rule, effect permits.Effect, unsure bool, missing []string) {
	out := e.entry(r, effect, unsure, missing, fit{})
	out.role = true
	e.found = append(e.found, out)
}

func (e *evaluation) citeAt(r *Rule, place string) {
	was := e.c.placeText
	e.c.placeText = e.book.placeName(place)
	e.cite(r, permits.Asks, true, nil)
	e.c.placeText = was
}

func (e *evaluation) edge(pack int, r *Rule, f fit) {
	for i := range e.found {
		if e.found[i].rule == e.book.roles.edge {
			return
		}
	}
	was := e.c.placeText
	e.c.placeText = e.book.placeName(e.packs[pack].Jurisdiction)
	e.cite(e.book.roles.edge, permits.Asks, true, []string{"place"})
	e.found[len(e.found)-1].Because += " " + r.because.fill(func(name string) string { return e.word(name, &f) })
	e.c.placeText = was
}

// silence asks a person where the rules of a place say nothing at all.
func (e *evaluation) silence() {
	for i := range e.packs {
		if e.packs[i].Jurisdiction != "*" && !e.spoke[i] {
			e.citeAt(e.book.roles.silent, e.packs[i].Jurisdiction)
		}
	}
}

func (e *evaluation) taxonOpen() {
	for i := range e.found {
		if e.found[i].rule == e.book.roles.unidentified && e.found[i].Unsure {
			return
		}
	}
	e.cite(e.book.roles.unidentified, permits.Asks, true, []string{"taxon"})
}

// late asks the rules that depend on which authorities were relied on.
func (e *evaluation) late() {
	in := &e.c.In
	var kinds, rules []string
	for i := range e.relied {
		r := &e.relied[i]
		rules = append(rules, string(r.fit.cover.Rule))
		if r.fit.authority != nil {
			kinds = append(kinds, r.fit.authority.Kind)
			e.lateAuthority(r.fit.authority)
		}
	}
	in[CoveredBy], in[CoverRule] = Set(kinds, kinds), Set(rules, rules)
	if !in[ListingEnded].Known() {
		in[ListingEnded] = Bool(false)
	}
	for i := range e.packs {
		for _, r := range e.packs[i].Rules {
			if r.lateRule {
				e.ask(i, r)
			}
		}
	}
}

func (e *evaluation) lateAuthority(a *permits.Authority) {
	in, c := &e.c.In, e.c
	if a.DepositRule != nil && c.at.Known() {
		_, branch := a.DepositRule.From(c.at.From, nil)
		word := "period"
		if len(a.DepositRule.Min) > 0 && a.DepositRule.Min[branch].MonthDay != 0 {
			word = "year_end"
		}
		in[DepositBranch] = Word(word)
	}
	if c.Judged.Known() && !a.AnyPerson {
		now := e.reg.Authority(a.ID, c.Judged.Date)
		if now != nil && now.Names(c.Person) && !now.Lists(c.Person, c.Judged.Date) {
			in[ListingEnded] = Bool(true)
		}
	}
}

// asked names missing facts as a person would ask for them.
func asked(facts []string) string {
	words := make([]string, 0, len(facts))
	for _, f := range facts {
		if text := permits.FactText(f); !holds(words, text) {
			words = append(words, text)
		}
	}
	return permits.And(words)
}

func join(list []string) string {
	s := ""
	for i, l := range list {
		if i > 0 {
			s += ", "
		}
		s += l
	}
	return s
}
