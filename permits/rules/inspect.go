package rules

import (
	"fmt"
	"slices"
	"wayfall/permits"
)

// Source is the file of a pack.
type Source struct {
	Name string
	Data []byte
}

// Inspect reads packs as they will be used together and lists everything that
// is wrong with them: in each pack, between the packs, and, where a checklist
// is given, in the names of animals and groups. A pack with faults still takes
// part, so that one fault is not told twice. Without faults the book is
// returned.
func Inspect(list *permits.Checklist, files ...Source) (*Book, []Fault) {
	var all []*Pack
	var faults []Fault
	for _, f := range files {
		p, wrong := load(f.Name, f.Data)
		for _, path := range Repeated(f.Data) {
			wrong = append(wrong, Fault{f.Name, p.owner(path), path, "stands twice; only the last would count"})
		}
		faults = append(faults, wrong...)
		if p.ID != "" || len(p.Rules) > 0 {
			all = append(all, p)
		}
	}
	book, err := NewBook(all...)
	if loose, ok := err.(BadPack); ok {
		faults = append(faults, loose...)
	}
	if list != nil {
		names := namesOf(list)
		for _, p := range all {
			faults = append(faults, p.unlisted(names, list)...)
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return book, nil
}

// taxonFacts are the facts whose words are names on the checklist.
var taxonFacts = []Fact{Class, Species, Genus, Family, Order, Groups}

func namesOf(list *permits.Checklist) map[string]bool {
	names := map[string]bool{}
	for i := range list.Taxa {
		for _, s := range list.Taxa[i].Selectors() {
			names[s] = true
		}
	}
	return names
}

// unlisted lists the names in a pack that no animal of the checklist answers
// to: a rule that asks for one would never speak.
func (p *Pack) unlisted(names map[string]bool, list *permits.Checklist) []Fault {
	var faults []Fault
	look := func(rule, path string, c *Condition) {
		c.compared(func(f Fact, word string) {
			if slices.Contains(taxonFacts, f) && !names[word] {
				faults = append(faults, Fault{p.file, rule, path, fmt.Sprintf("%q names no animal, group or list of the checklist", word)})
			}
		})
	}
	for i, r := range p.Rules {
		at := fmt.Sprintf("rules[%d]", i)
		look(string(r.ID), at+".when", &r.when)
		look(string(r.ID), at+".decides_when", &r.decides)
		for j, d := range r.Duties {
			look(string(r.ID), fmt.Sprintf("%s.duties[%d].when", at, j), &d.when)
		}
		for j, d := range r.InHandDuties {
			look(string(r.ID), fmt.Sprintf("%s.duties_in_hand[%d].when", at, j), &d.when)
		}
	}
	for i, w := range p.Laws {
		at := fmt.Sprintf("laws[%d]", i)
		look(w.ID, at+".applies", &w.applies)
		for j, c := range w.Covers {
			look(w.ID, fmt.Sprintf("%s.covers[%d].when", at, j), &c.when)
		}
	}
	for i, c := range p.Cautions {
		look(c.Code, fmt.Sprintf("cautions[%d].when", i), &c.when)
	}
	for i := range p.Authorised {
		a := &p.Authorised[i]
		q := paper{authority: a, known: Known{Checklist: list}}
		q.selectors(a.TaxaInclude, "taxa_include")
		q.selectors(a.TaxaExclude, "taxa_exclude")
		for _, f := range q.faults {
			faults = append(faults, Fault{p.file, a.ID, fmt.Sprintf("authorisations[%d].%s", i, f.Path), f.What})
		}
	}
	return faults
}

// compared calls f with every word that a condition compares a fact with.
func (c *Condition) compared(f func(Fact, string)) {
	if c.kids == nil {
		for _, w := range c.words {
			f(c.fact, w)
		}
	}
	for i := range c.kids {
		c.kids[i].compared(f)
	}
}
