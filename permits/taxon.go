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
	// Listings are places on legal lists that began or ended on a day, or that
	// hold in some places only.
	Listings []Listing `json:"listings,omitempty"`

	selectors []string
}

// Listing is a place on a legal list, both days included; unknown: no bound. It
// holds in the areas it names; none: everywhere.
type Listing struct {
	List  string   `json:"list"`
	From  Date     `json:"from,omitempty"`
	To    Date     `json:"to,omitempty"`
	Areas []string `json:"areas,omitempty"`
	Cites string   `json:"cites"`
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
	for i := range t.Listings { // at some time, in some place
		if t.Listings[i].List == selector {
			return 2
		}
	}
	return 0
}

// standing tells how a listing stands on a day at the places, surely or perhaps.
func (l *Listing) standing(on Date, where []string) Answer {
	if l.From.Known() && on < l.From || l.To.Known() && on > l.To {
		return No
	}
	if len(l.Areas) == 0 {
		return Yes
	}
	in := 0
	for _, w := range where {
		if lies(w, l.Areas) {
			in++
		}
	}
	switch {
	case in == 0 && len(where) > 0:
		return No
	case in == len(where) && in > 0:
		return Yes
	}
	return Unknown
}

func lies(code string, areas []string) bool {
	for _, a := range areas {
		if code == a || strings.HasPrefix(code, a+"-") {
			return true
		}
	}
	return false
}

// On returns the taxon with the legal lists on which it stood on every day of
// the stretch at the places: one, or several where that changed within it or
// where a place lies on either side. Without a day every listing may or may
// not have stood.
func (t *Taxon) On(at When, where []string) []*Taxon {
	if len(t.Listings) == 0 {
		return []*Taxon{t}
	}
	var out []*Taxon
	add := func(answers []Answer, open Answer) {
		one := *t
		one.Groups, one.Listings = append([]string(nil), t.Groups...), nil
		for i, a := range answers {
			if a == Unknown {
				a = open
			}
			if list := t.Listings[i].List; a == Yes && !contains(one.Groups, list) {
				one.Groups = append(one.Groups, list)
			}
		}
		for _, o := range out {
			if strings.Join(o.Groups, " ") == strings.Join(one.Groups, " ") {
				return
			}
		}
		out = append(out, &one)
	}
	for _, day := range t.turns(at) {
		answers, unsure := make([]Answer, len(t.Listings)), false
		for i := range t.Listings {
			if day.Known() {
				answers[i] = t.Listings[i].standing(day, where)
			}
			unsure = unsure || answers[i] == Unknown
		}
		add(answers, Yes)
		if unsure {
			add(answers, No)
		}
	}
	return out
}

// turns are the days of a stretch on which the lists may differ from the day
// before, its first among them; the unknown day alone for an unknown stretch.
func (t *Taxon) turns(at When) []Date {
	if !at.Known() {
		return []Date{0}
	}
	days := []Date{at.From.Date}
	for i := range t.Listings {
		l := &t.Listings[i]
		for _, day := range [...]Date{l.From, after(l.To)} {
			if day > at.From.Date && day <= at.To.Date {
				days = append(days, day)
			}
		}
	}
	return days
}

func after(d Date) Date {
	if !d.Known() {
		return 0
	}
	return d.AddDays(1)
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

// On returns the set with every taxon as it stood on legal lists on the days at
// the places.
func (p Plausible) On(at When, where []string) Plausible {
	dated := false
	for _, t := range p.Taxa {
		dated = dated || len(t.Listings) > 0
	}
	if !dated {
		return p
	}
	out := Plausible{Complete: p.Complete}
	for _, t := range p.Taxa {
		out.Taxa = append(out.Taxa, t.On(at, where)...)
	}
	return out
}

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
	for _, l := range t.Listings {
		if l.List == "" || l.Cites == "" || l.From.Known() && l.To.Known() && l.To < l.From {
			return errors.New("checklist: a listing of " + t.Name + " lacks its list or its citation, or ends before it begins")
		}
		if contains(t.Groups, l.List) {
			return errors.New("checklist: " + t.Name + " stands on " + l.List + " for ever and for a time")
		}
		t.selectors = append(t.selectors, l.List)
	}
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
