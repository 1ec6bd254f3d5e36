package rules

import (
	"fmt"
	"slices"
	"strings"
	"wayfall/permits"
)

// Known is what the words of an authority are held to. A nil member is not
// looked at.
type Known struct {
	Checklist *permits.Checklist
	Person    func(id string) bool // whether the institution knows the person
}

// Check lists what is wrong with an authority: each fault with the path of the
// member and one sentence. An authority without faults can be kept; whether it
// says what the paper says only a person can tell.
func Check(a *permits.Authority, known Known) []Fault {
	p := paper{authority: a, known: known}
	p.head()
	p.dates()
	p.people()
	p.reach()
	for i := range a.Quotas {
		p.number(&a.Quotas[i], fmt.Sprintf("quotas[%d]", i))
	}
	if a.DepositRule != nil {
		p.clock(a.DepositRule, "deposit_rule")
	}
	return p.faults
}

// Pointer returns the path as a JSON pointer: quotas[0].limit is
// /quotas/0/limit.
func (f Fault) Pointer() string {
	return "/" + strings.NewReplacer("[", "/", "].", "/", "]", "", ".", "/").Replace(f.Path)
}

// Sentence says what is wrong and where, without the file and the rule.
func (f Fault) Sentence() string { return f.Path + ": " + f.What }

type paper struct {
	authority *permits.Authority
	known     Known
	faults    []Fault
}

func (p *paper) complain(path, format string, args ...any) {
	p.faults = append(p.faults, Fault{Rule: p.authority.ID, Path: path, What: fmt.Sprintf(format, args...)})
}

func (p *paper) need(ok bool, path, what string) {
	if !ok {
		p.complain(path, "%s", what)
	}
}

var (
	statuses = []permits.Status{permits.Draft, permits.IssuedUnsigned, permits.Active, permits.Continued,
		permits.Suspended, permits.Revoked, permits.Expired, permits.Surrendered}
	forbidden = []string{"scientific_research", "systematic_collecting", "keep", "sell"}
	counted   = []string{"taxon", "list", "all"}
	windows   = []string{"calendar_year", "permit_year", "permit_life", "season", "event"}
)

func (p *paper) head() {
	a := p.authority
	p.need(a.ID != "", "id", "an authority has an id")
	p.need(a.Kind != "", "kind", "say what kind of paper it is")
	p.need(a.Holder != "", "holder", "say who holds it")
	p.need(a.Status != "", "status", "say how it stands")
	if a.Status != "" && !slices.Contains(statuses, a.Status) {
		p.complain("status", "%q is not how an authority can stand", string(a.Status))
	}
	p.need(len(a.Activities) > 0, "activities", "say what it allows")
	for i, f := range a.Forbids {
		if !holds(forbidden, f) {
			p.complain(fmt.Sprintf("forbids[%d]", i), "%q is not something a paper can forbid here", f)
		}
	}
	p.need(!holds(a.DependsOn, a.ID) || a.ID == "", "depends_on", "it depends on itself")
}

func (p *paper) dates() {
	a := p.authority
	p.need(!reversed(a.ValidFrom, a.ValidTo), "valid_to", "it ends before it begins")
	p.need(!reversed(a.EffectiveFrom, a.ValidTo), "effective_from", "this edition begins after the authority has ended")
	p.need(!reversed(a.ValidFrom, a.Ended), "ended", "it was ended before it began")
	p.need(!a.Ended.Known() || a.Status != permits.Active && a.Status != permits.Continued, "ended", "it was ended, yet it is said to stand")
	p.need(a.ValidFrom.Known() || a.Status == permits.Draft || a.AnyPerson, "valid_from", "say from which day it holds")
}

func reversed(from, to permits.Date) bool { return from.Known() && to.Known() && to < from }

func (p *paper) people() {
	for i := range p.authority.Persons {
		g, path := &p.authority.Persons[i], fmt.Sprintf("persons[%d]", i)
		switch {
		case g.Person == "":
			p.complain(path+".id", "a person on the list has an id")
		case p.known.Person != nil && !p.known.Person(g.Person):
			p.complain(path+".id", "nobody here is known as %q", g.Person)
		}
		p.need(!reversed(g.From, g.To), path+".to", "the listing ends before it begins")
		for j, area := range g.Area {
			if !isArea(area) {
				p.complain(fmt.Sprintf("%s.area[%d]", path, j), "%q is neither a code such as US-MI, with or without words after it, nor the word for a manager", area)
			}
		}
		p.selectors(g.Taxa, path+".taxa")
	}
}

func (p *paper) reach() {
	a := p.authority
	p.need(len(a.Area) > 0, "area", "say where it reaches")
	for i, area := range a.Area {
		if !isArea(area) {
			p.complain(fmt.Sprintf("area[%d]", i), "%q is neither a code such as US-MI, with or without words after it, nor the word for a manager", area)
		}
	}
	if a.Jurisdiction != "" && !isCode(a.Jurisdiction) {
		p.complain("jurisdiction", "%q is not a code such as US or US-MI", a.Jurisdiction)
	}
	p.need(len(a.TaxaInclude) > 0, "taxa_include", "say which animals it reaches")
	p.selectors(a.TaxaInclude, "taxa_include")
	p.selectors(a.TaxaExclude, "taxa_exclude")
	p.selectors(a.ReportsAlso, "reports_also")
	for i, w := range a.Acquired {
		if !holds(permits.Acquisitions, w) {
			p.complain(fmt.Sprintf("acquired[%d]", i), "%q is none of %s", w, strings.Join(permits.Acquisitions, ", "))
		}
	}
}

func (p *paper) selectors(list []string, path string) {
	if p.known.Checklist == nil {
		return
	}
	for i, s := range list {
		if !selects(p.known.Checklist, s) {
			p.complain(fmt.Sprintf("%s[%d]", path, i), "%q names no animal, group or list of the checklist", s)
		}
	}
}

func selects(list *permits.Checklist, selector string) bool {
	for i := range list.Taxa {
		if list.Taxa[i].Is(selector) {
			return true
		}
	}
	return false
}

func (p *paper) number(q *permits.Quota, path string) {
	p.need(q.ID != "", path+".id", "a number has a name")
	for i := range p.authority.Quotas {
		if o := &p.authority.Quotas[i]; o == q {
			break
		} else if o.ID == q.ID && q.ID != "" {
			p.complain(path+".id", "two numbers are called %q", q.ID)
			break
		}
	}
	p.need(q.Limit >= 0, path+".limit", "a number is not negative")
	p.need(!q.Unlimited || q.Limit == 0, path+".unlimited", "it has a ceiling and none")
	p.need(holds(counted, q.Per), path+".per", "say whether each taxon, a list or all are counted")
	p.need(holds(windows, q.Window), path+".window", "say in which window it counts: "+strings.Join(windows, ", "))
	p.need(q.Per != "list" || len(q.Taxa) > 0, path+".taxa", "a number for a list names the animals")
	p.selectors(q.Taxa, path+".taxa")
	p.selectors(q.ExemptTaxa, path+".exempt_taxa")
	for _, w := range q.Faults() {
		p.complain(path+"."+w.Path, "%s", w.What)
	}
}

func (p *paper) clock(r *permits.DueRule, path string) {
	if n := r.Clocks(); n != 1 {
		p.complain(path, "has %d clocks; one is wanted", n)
	}
	p.need(!r.Negative(), path, "a number in it is negative")
	p.need(r.Anchor == "" || holds(permits.Anchors, r.Anchor), path+".anchor", "say from what it is counted: "+strings.Join(permits.Anchors, ", "))
	p.need(r.Authority == "", path, "the paper cannot refer to itself")
	for i := range r.Min {
		p.clock(&r.Min[i], fmt.Sprintf("%s.min[%d]", path, i))
	}
	for i := range r.Max {
		p.clock(&r.Max[i], fmt.Sprintf("%s.max[%d]", path, i))
	}
}

// isCode tells whether the text is written as ISO 3166 writes a country or a
// part of one.
func isCode(s string) bool {
	country, part, split := strings.Cut(s, "-")
	if len(country) != 2 || !every(country, isUpper) {
		return false
	}
	return !split || len(part) >= 1 && len(part) <= 3 && every(part, func(c byte) bool { return isUpper(c) || '0' <= c && c <= '9' })
}

// isArea tells whether the text is a code, a code with words after it for a
// unit of ground, or the word for a kind of manager, which is written small.
func isArea(s string) bool {
	code, words, _ := strings.Cut(s, " ")
	if isCode(code) {
		return words != "" || code == s
	}
	return len(s) > 2 && every(s, func(c byte) bool { return 'a' <= c && c <= 'z' || c == '_' || c == ' ' })
}

func isUpper(c byte) bool { return 'A' <= c && c <= 'Z' }

func every(s string, is func(byte) bool) bool {
	for i := range len(s) {
		if !is(s[i]) {
			return false
		}
	}
	return true
}
