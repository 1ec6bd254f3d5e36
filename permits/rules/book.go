package rules

import (
	"fmt"
	"slices"
	"strings"
	"wayfall/permits"
)

// Book is a set of packs that have been joined: every rule to which a law
// refers has been found, in its own pack, in the pack of the country around it
// or in the pack for everywhere.
type Book struct {
	packs []*Pack
	by    map[string][]*Pack
	roles roles
}

// roles are the rules that the engine cites itself.
type roles struct {
	unidentified *Rule // the animal may be something stricter
	edge         *Rule // the place may be on either side of a line
	noPack       *Rule // no rules are loaded for the place
	noPlace      *Rule // the place is not known finely enough
	silent       *Rule // the loaded rules say nothing of this
	near         *Rule // a number is nearly used; nil: nothing warns
	also         *Rule // a paper asks to be told of what needs no permit; nil: none does
}

// has tells whether the rule is one of them: its sentence itself says what is
// not known.
func (r *roles) has(rule *Rule) bool {
	return rule == r.unidentified || rule == r.edge || rule == r.noPack || rule == r.noPlace || rule == r.silent
}

// roleNames are the names of the roles in packs, in the order of the members of
// roles. The last two may be left out.
var roleNames = [...]string{"unidentified", "edge", "no_pack", "no_place", "silent", "near_number", "reported_too"}

// NewBook joins packs. It lists every reference that leads nowhere.
func NewBook(packs ...*Pack) (*Book, error) {
	b := &Book{by: map[string][]*Pack{}}
	var faults BadPack
	complain := func(p *Pack, rule, path, what string) {
		faults = append(faults, Fault{p.file, rule, path, what})
	}
	ids := map[string]bool{}
	for _, p := range packs {
		if ids[p.ID] {
			complain(p, "", "id", "two packs have this id")
		}
		ids[p.ID] = true
		b.packs = append(b.packs, p)
		b.by[p.Jurisdiction] = append(b.by[p.Jurisdiction], p)
	}
	for _, p := range packs {
		for i, w := range p.Laws {
			b.link(p, w, fmt.Sprintf("laws[%d]", i), complain)
		}
		for i, r := range p.Rules {
			r.ground = r.asksGround()
			for j, id := range r.GivesWayTo {
				if !b.speaks(p, id) {
					complain(p, string(r.ID), fmt.Sprintf("rules[%d].gives_way_to[%d]", i, j), nowhere(id))
				}
			}
		}
	}
	for i, slot := range [...]**Rule{&b.roles.unidentified, &b.roles.edge, &b.roles.noPack, &b.roles.noPlace, &b.roles.silent} {
		if *slot = b.role(roleNames[i]); *slot == nil {
			faults = append(faults, Fault{"*", roleNames[i], "roles", "no pack for everywhere names a rule for this role"})
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	b.roles.near, b.roles.also = b.role("near_number"), b.role("reported_too")
	return b, nil
}

// asksGround tells whether the rule asks who looks after the ground.
func (r *Rule) asksGround() bool {
	asks := false
	r.when.facts(func(f Fact) {
		asks = asks || f == LandManager || f == LandDefault || f == LandAuthority || f == Consent
	})
	return asks
}

// Packs returns the packs of the book in the order they were given.
func (b *Book) Packs() []*Pack { return b.packs }

func (b *Book) role(name string) *Rule {
	for _, p := range b.by["*"] {
		if id := p.Roles[name]; id != "" {
			return b.find(p, id)
		}
	}
	return nil
}

func nowhere(id permits.RuleID) string {
	return fmt.Sprintf("refers to rule %s, which is nowhere defined", id)
}

// speaks tells whether a rule of the name, whatever its clause, stands in the
// pack or around it.
func (b *Book) speaks(p *Pack, id permits.RuleID) bool {
	for at := p.Jurisdiction; at != ""; at = parent(at) {
		for _, q := range b.by[at] {
			for _, r := range q.Rules {
				if r.ID == id {
					return true
				}
			}
		}
	}
	return false
}

// failureNames are the members of Failures in the order of the misses.
var failureNames = [missCount]string{"none", "before", "after", "renewal", "person", "area", "taxon", "scope",
	"purpose", "conflict", "depends", "quota", "copy"}

func (b *Book) link(p *Pack, w *Law, at string, complain func(p *Pack, rule, path, what string)) {
	for i, c := range w.Covers {
		if c.rule = b.find(p, c.Rule); c.rule == nil && c.Rule != "" {
			complain(p, w.ID, fmt.Sprintf("%s.covers[%d].rule", at, i), nowhere(c.Rule))
		}
	}
	f := &w.Failures
	for i, id := range [missCount]permits.RuleID{missNone: f.None, missBefore: f.Before, missAfter: f.After,
		missRenewal: f.Renewal, missPerson: f.Person, missArea: f.Area, missTaxon: f.Taxon, missScope: f.Scope,
		missPurpose: f.Purpose, missDepends: f.Depends, missCopy: f.Copy, missQuota: f.Quota, missConflict: f.Conflict} {
		path := at + ".failures." + failureNames[i]
		if id == "" {
			w.fails[i] = w.fails[missNone]
			continue
		}
		switch r := b.find(p, id); {
		case r == nil:
			complain(p, w.ID, path, nowhere(id))
		case !r.Effect.Blocks():
			complain(p, w.ID, path, fmt.Sprintf("rule %s does not block", id))
		default:
			w.fails[i] = r
		}
	}
}

// find looks for a rule in the pack, in the packs of the jurisdictions around
// it, and in the packs for everywhere.
func (b *Book) find(p *Pack, id permits.RuleID) *Rule {
	for at := p.Jurisdiction; at != ""; at = parent(at) {
		for _, q := range b.by[at] {
			for _, r := range q.Rules {
				if r.key == id {
					return r
				}
			}
		}
	}
	return nil
}

// parent returns the jurisdiction around one: US-CA, US, *, and then none.
func parent(code string) string {
	if code == "*" {
		return ""
	}
	if i := strings.LastIndexByte(code, '-'); i > 0 {
		return code[:i]
	}
	return "*"
}

// placeName names a place as a sentence does: as its own pack says, else as
// ISO 3166 does.
func (b *Book) placeName(code string) string {
	for _, p := range b.by[code] {
		if p.Place != "" {
			return p.Place
		}
	}
	return permits.PlaceText(code)
}

// within tells whether a code is the area or lies in it.
func within(code, area string) bool {
	return code == area || len(code) > len(area) && code[len(area)] == '-' && code[:len(area)] == area
}

// hasParts tells whether rules are loaded for parts of the jurisdiction that
// could make an answer stricter.
func (b *Book) hasParts(code string) bool {
	for _, p := range b.packs {
		if p.blocks && p.Jurisdiction != code && within(p.Jurisdiction, code) {
			return true
		}
	}
	return false
}

// Register is the authorities that may be relied on, with those that the
// regulations of a book grant to everybody.
type Register struct {
	ids    []string // in the order given
	byID   map[string][]permits.Authority
	byKind map[string][]string // ids in the order given
	bars   []permits.Bar
	traits bool // some authority asks for sex, age or how an animal was come by
}

// NewRegister indexes authorities, all versions of each, and adds those of the
// book. An authority that is given replaces one of the book with the same id.
func NewRegister(b *Book, given []permits.Authority) *Register {
	r := &Register{byID: map[string][]permits.Authority{}, byKind: map[string][]string{}}
	own := map[string]bool{}
	for i := range given {
		own[given[i].ID] = true
		r.add(given[i])
	}
	for _, p := range b.packs {
		for _, a := range p.Authorised {
			if !own[a.ID] {
				r.add(a)
			}
		}
	}
	return r
}

func (r *Register) add(a permits.Authority) {
	r.traits = r.traits || a.AsksTraits()
	editions := r.byID[a.ID]
	if editions == nil {
		r.ids = append(r.ids, a.ID)
	}
	if !slices.ContainsFunc(editions, func(e permits.Authority) bool { return e.Kind == a.Kind }) {
		r.byKind[a.Kind] = append(r.byKind[a.Kind], a.ID)
	}
	r.byID[a.ID] = append(editions, a)
}

// Authority returns the version of the authority that was in force on the day,
// or nil.
func (r *Register) Authority(id string, on permits.Date) *permits.Authority {
	return permits.VersionAt(r.byID[id], id, on)
}

// AsksTraits tells whether any authority asks for the sex or the age of an
// animal, or how it was come by.
func (r *Register) AsksTraits() bool { return r.traits }

// Bar records that a person may not use permits, ever.
func (r *Register) Bar(person string) { r.BarOn(permits.Bar{Person: person}) }

// BarOn records that a person may not use permits on some days.
func (r *Register) BarOn(b permits.Bar) { r.bars = append(r.bars, b) }

// Barred tells whether the person may not use permits on the days.
func (r *Register) Barred(person string, at permits.When) permits.Answer {
	return permits.BarredAt(r.bars, person, at)
}

// LandPermission tells whether a land permission that stands on all of the days
// lists the person and reaches one of the units or the class of manager, in the
// edition of the first day and in that of the last.
func (r *Register) LandPermission(person string, units []string, manager string, at permits.When) bool {
	for _, id := range r.byKind["land_permission"] {
		first, last := r.Authority(id, at.From.Date), r.Authority(id, at.To.Date)
		if opens(first, person, units, manager, at.From.Date) && opens(last, person, units, manager, at.To.Date) &&
			first.InForce(at.To.Date) == permits.Yes {
			return true
		}
	}
	return false
}

// opens tells whether a land permission lets the person take something away
// there on the day.
func opens(a *permits.Authority, person string, units []string, manager string, on permits.Date) bool {
	if a.InForce(on) != permits.Yes || !a.Lists(person, on) {
		return false
	}
	return manager != "" && holds(a.Area, manager) || slices.ContainsFunc(units, func(u string) bool { return holds(a.Area, u) })
}
