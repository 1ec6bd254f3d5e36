package permits

import (
	"encoding/json"
	"errors"
	"strings"
)

// Taxon is one row of a checklist: a species or a named population.
type Taxon struct {
	Name       string   `json:"name"`    // scientific name, the key
	English    string   `json:"english"` // common name
	Aliases    []string `json:"aliases,omitempty"`
	Class      string   `json:"class"`
	Order      string   `json:"order"`
	Family     string   `json:"family"`
	Genus      string   `json:"genus"`
	Groups     []string `json:"groups,omitempty"` // legal lists and plain groups such as raptor
	Lookalikes []string `json:"lookalikes,omitempty"`
	// Areas are the jurisdictions where the taxon is plausible; none: anywhere.
	Areas  []string `json:"areas,omitempty"`
	Status string   `json:"status"` // how far its names and lists were checked

	selectors []string
}

// Is tells whether the selector names the taxon or something it belongs to: a
// species, genus, family, order, class or group.
func (t *Taxon) Is(selector string) bool {
	return t.Rank(selector) > 0
}

// Rank tells how narrowly the selector names the taxon: 0 not at all, 1 by
// class, order or family, 2 by genus, group or list, 3 by species.
func (t *Taxon) Rank(selector string) int {
	switch selector {
	case t.Name:
		return 3
	case t.Genus:
		return 2
	case t.Family, t.Order, t.Class:
		return 1
	}
	for _, g := range t.Groups {
		if g == selector {
			return 2
		}
	}
	return 0
}

// Selectors returns every selector that names the taxon.
func (t *Taxon) Selectors() []string { return t.selectors }

// Bundle is a name for several taxa, such as an unidentified raptor.
type Bundle struct {
	Name    string   `json:"name"`
	Aliases []string `json:"aliases,omitempty"`
	Of      []string `json:"of"` // selectors
	// Complete lists the jurisdictions for which the checklist is held to
	// contain every member that the law there singles out.
	Complete []string `json:"complete,omitempty"`
}

// Checklist is a dated list of taxa with the legal groups they belong to.
type Checklist struct {
	ID      string   `json:"id"`
	Version string   `json:"version"`
	Sample  bool     `json:"sample"`
	Notice  string   `json:"notice"`
	Taxa    []Taxon  `json:"taxa"`
	Bundles []Bundle `json:"bundles"`

	byName  map[string]*Taxon
	bundles map[string]*Bundle
}

// Plausible is the set of taxa that a name may stand for.
type Plausible struct {
	Taxa     []*Taxon
	Complete bool // nothing that the law singles out is known to be missing from Taxa
}

// Single tells whether exactly one taxon is meant.
func (p Plausible) Single() bool { return len(p.Taxa) == 1 && p.Complete }

// ReadChecklist reads a checklist and refuses one that names a taxon twice or
// refers to one that it lacks.
func ReadChecklist(data []byte) (*Checklist, error) {
	c := new(Checklist)
	if err := json.Unmarshal(data, c); err != nil {
		return nil, err
	}
	c.byName = make(map[string]*Taxon, 3*len(c.Taxa))
	c.bundles = make(map[string]*Bundle, 3*len(c.Bundles))
	for i := range c.Taxa {
		if err := c.index(&c.Taxa[i]); err != nil {
			return nil, err
		}
	}
	for i := range c.Bundles {
		b := &c.Bundles[i]
		for _, n := range append([]string{b.Name}, b.Aliases...) {
			c.bundles[fold(n)] = b
		}
	}
	return c, c.checkLookalikes()
}

func (c *Checklist) index(t *Taxon) error {
	if t.Name == "" || t.English == "" || t.Class == "" || t.Status == "" {
		return errors.New("checklist: taxon " + t.Name + t.English + " lacks a name, a class or a status")
	}
	for _, n := range append([]string{t.Name, t.English}, t.Aliases...) {
		if other := c.byName[fold(n)]; other != nil {
			return errors.New("checklist: " + n + " names both " + other.Name + " and " + t.Name)
		}
		c.byName[fold(n)] = t
	}
	t.selectors = append([]string{t.Name, t.Genus, t.Family, t.Order, t.Class}, t.Groups...)
	return nil
}

func (c *Checklist) checkLookalikes() error {
	for i := range c.Taxa {
		for _, l := range c.Taxa[i].Lookalikes {
			if c.byName[fold(l)] == nil {
				return errors.New("checklist: " + c.Taxa[i].Name + " is said to look like " + l + ", which is not listed")
			}
		}
	}
	return nil
}

func fold(s string) string { return strings.ToLower(strings.TrimSpace(s)) }

// Taxon returns the taxon of that scientific, common or other name, or nil.
func (c *Checklist) Taxon(name string) *Taxon {
	if t := c.byName[name]; t != nil {
		return t
	}
	return c.byName[fold(name)]
}

// vagueEndings mark a name that stands for more than one species.
var vagueEndings = [...]string{" sp.", " sp", " spp.", " spp", " indet.", " indet"}

// Resolve returns what the name may stand for in the given jurisdictions. If
// sure is false, look-alikes of a species are plausible too. A name that the
// list does not know gives an empty set, which is never complete.
func (c *Checklist) Resolve(name string, sure bool, where []string) Plausible {
	if t := c.Taxon(name); t != nil {
		if sure || len(t.Lookalikes) == 0 {
			return Plausible{Taxa: []*Taxon{t}, Complete: true}
		}
		p := Plausible{Taxa: []*Taxon{t}, Complete: true}
		for _, l := range t.Lookalikes {
			p.Taxa = append(p.Taxa, c.Taxon(l))
		}
		return p
	}
	key := fold(name)
	if b := c.bundles[key]; b != nil {
		return c.members(b, where)
	}
	for _, end := range vagueEndings {
		stem, ok := strings.CutSuffix(key, end)
		if !ok {
			continue
		}
		if b := c.bundles[stem]; b != nil {
			return c.members(b, where)
		}
		return c.genus(stem, where)
	}
	return Plausible{}
}

func (c *Checklist) genus(stem string, where []string) Plausible {
	for i := range c.Taxa {
		if fold(c.Taxa[i].Genus) == stem {
			return c.members(&Bundle{Of: []string{c.Taxa[i].Genus}}, where)
		}
	}
	return Plausible{}
}

func (c *Checklist) members(b *Bundle, where []string) Plausible {
	p := Plausible{Complete: len(where) > 0}
	for i := range c.Taxa {
		t := &c.Taxa[i]
		if t.isAny(b.Of) && t.plausibleIn(where) {
			p.Taxa = append(p.Taxa, t)
		}
	}
	for _, w := range where {
		p.Complete = p.Complete && contains(b.Complete, w)
	}
	return p
}

func (t *Taxon) isAny(selectors []string) bool {
	for _, s := range selectors {
		if t.Is(s) {
			return true
		}
	}
	return false
}

func (t *Taxon) plausibleIn(where []string) bool {
	if len(t.Areas) == 0 || len(where) == 0 {
		return true
	}
	for _, w := range where {
		for _, a := range t.Areas {
			if w == a || strings.HasPrefix(w, a+"-") {
				return true
			}
		}
	}
	return false
}

func contains(list []string, s string) bool {
	for _, l := range list {
		if l == s {
			return true
		}
	}
	return false
}
