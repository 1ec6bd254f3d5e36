package catalogue

import (
	"slices"
	"strings"
	"unicode"

	"wayfall/sync/record"
)

// Line is one line of the list that came with an arrival. N counts from 1.
type Line struct {
	N int
	record.Bag
}

// Bag is one bag on the table. N counts from 1 in the order of scanning.
type Bag struct {
	N int
	record.Bag
}

// Owner is an animal that carries a tag.
type Owner struct {
	Animal   string // the canonical animal
	Tag      string
	Name     string // what it is thought to be, for the person
	Taxon    string // the name in the checklist, "" when unidentified
	Accepted bool   // already received by the museum
	Outcome  string // what the rules answered: take, ask, stop, breach, note or ""
	Hazards  []string
	Hold     string
}

// Plain reports whether nothing about the animal asks for a second look before
// it is put into a freezer.
func (o Owner) Plain() bool {
	return len(o.Hazards) == 0 && o.Hold == "" && (o.Outcome == "take" || o.Outcome == "")
}

// Owners returns the animals that carry a tag. None: nobody has reported the
// tag. More than one: two animals share it.
type Owners func(tag string) []Owner

// Match is a bag on the table that the list names. Differs holds the kinds
// when the list, the table and the report do not agree on what it is.
type Match struct {
	Line    Line
	Bag     Bag
	Owner   Owner
	Known   bool
	Differs []string
}

// Stray is a bag without a line. Known says whether the tag has been reported;
// Same lists the animals when there is more than one.
type Stray struct {
	Bag   Bag
	Owner Owner
	Known bool
	Same  []Owner
}

// Missing is a line without a bag.
type Missing struct {
	Line  Line
	Owner Owner
	Known bool
}

// Twice is a bag that was scanned more than once, or a tag that stands on two
// bags: only the person at the table can tell.
type Twice struct {
	Tag  string
	Bags []int
}

// Tally is the list and the table laid side by side. Every line and every bag
// stands in exactly one of Matched, BagOnly and LineOnly; the second scan of a
// tag stands in Twice alone.
type Tally struct {
	Matched   []Match
	BagOnly   []Stray
	LineOnly  []Missing
	Twice     []Twice
	Unknown   []Stray // the bags of BagOnly whose tag nobody has reported
	Shared    []Stray // bags whose tag stands on two animals
	Different []Match // the matches of Matched that do not agree on the kind
}

// Even reports whether the list and the table agree in everything.
func (t Tally) Even() bool {
	return len(t.BagOnly) == 0 && len(t.LineOnly) == 0 && len(t.Twice) == 0 && len(t.Shared) == 0 && len(t.Different) == 0
}

// Reconcile lays the list beside the table. A bag and a line belong together
// when they show the same tag, or tags of the same animal. Nothing is guessed
// from the kind alone: two loons are two loons.
func Reconcile(list []Line, bags []Bag, owners Owners) Tally {
	var t Tally
	seen := map[string]*Twice{}
	var order []string
	free := slices.Clone(list)
	for _, bag := range bags {
		tag := cleanTag(bag.Tag)
		if first, again := seen[tag]; again && tag != "" {
			first.Bags = append(first.Bags, bag.N)
			continue
		}
		seen[tag] = &Twice{Tag: tag, Bags: []int{bag.N}}
		order = append(order, tag)
		free = t.place(bag, free, owners)
	}
	for _, line := range free {
		own, known := only(owners, line.Bag)
		t.LineOnly = append(t.LineOnly, Missing{Line: line, Owner: own, Known: known})
	}
	for _, tag := range order {
		if tag != "" && len(seen[tag].Bags) > 1 {
			t.Twice = append(t.Twice, *seen[tag])
		}
	}
	return t
}

// place puts one bag where it belongs and returns the lines still free.
func (t *Tally) place(bag Bag, free []Line, owners Owners) []Line {
	own, known := only(owners, bag.Bag)
	stray := Stray{Bag: bag, Owner: own, Known: known}
	if tag := cleanTag(bag.Tag); tag != "" && bag.Animal == "" {
		if all := owners(tag); len(all) > 1 {
			stray.Same = all
			t.Shared = append(t.Shared, stray)
		}
	}
	at := slices.IndexFunc(free, func(l Line) bool { return together(l, bag, own, owners) })
	if at < 0 {
		t.BagOnly = append(t.BagOnly, stray)
		if !known && len(stray.Same) == 0 {
			t.Unknown = append(t.Unknown, stray)
		}
		return free
	}
	m := Match{Line: free[at], Bag: bag, Owner: own, Known: known}
	m.Differs = kinds(own, m.Line.Taxon, bag.Taxon)
	t.Matched = append(t.Matched, m)
	if len(m.Differs) > 0 {
		t.Different = append(t.Different, m)
	}
	return slices.Delete(free, at, at+1)
}

func together(line Line, bag Bag, own Owner, owners Owners) bool {
	a, b := cleanTag(line.Tag), cleanTag(bag.Tag)
	if a != "" && a == b {
		return true
	}
	if own.Animal == "" {
		return false
	}
	if line.Animal == own.Animal {
		return true
	}
	other, known := only(owners, line.Bag)
	return known && other.Animal == own.Animal
}

// only returns the one animal behind a bag or a line.
func only(owners Owners, b record.Bag) (Owner, bool) {
	tag := cleanTag(b.Tag)
	if tag == "" || owners == nil {
		return Owner{Animal: b.Animal}, b.Animal != ""
	}
	all := owners(tag)
	if b.Animal != "" {
		for _, o := range all {
			if o.Animal == b.Animal {
				return o, true
			}
		}
		return Owner{Animal: b.Animal, Tag: tag}, true
	}
	if len(all) == 1 {
		return all[0], true
	}
	return Owner{}, false
}

// kinds returns the names that differ, each once, or nil when all that are
// known agree. The common and the scientific name of what the animal was
// reported as are one name, and a coarser word agrees with a finer one: a
// notebook that says “gull” does not differ from a Herring Gull.
func kinds(own Owner, names ...string) []string {
	var out []string
	reported := own.Name
	if reported == "" {
		reported = own.Taxon
	}
	for _, n := range append(names, reported) {
		n = strings.TrimSpace(n)
		if own.Taxon != "" && agree(n, own.Taxon) {
			n = reported
		}
		if len(bareName(n)) > 0 && !slices.ContainsFunc(out, func(o string) bool { return slices.Equal(bareName(o), bareName(n)) }) {
			out = append(out, n)
		}
	}
	for i, a := range out {
		if slices.ContainsFunc(out[i:], func(b string) bool { return !agree(a, b) }) {
			return out
		}
	}
	return nil
}

// agree reports whether two names may be of one kind: the same words, or all
// the words of the one among those of the other.
func agree(a, b string) bool {
	x, y := bareName(a), bareName(b)
	if len(x) > len(y) {
		x, y = y, x
	}
	for _, w := range x {
		if !slices.Contains(y, w) {
			return false
		}
	}
	return true
}

// vague are words of a name that name nothing.
var vague = map[string]bool{"a": true, "an": true, "the": true, "sp": true, "spp": true, "cf": true, "bird": true, "unknown": true, "unidentified": true,
	"unid": true, "probably": true, "possibly": true, "likely": true, "maybe": true, "perhaps": true, "dead": true}

// bareName is the words of a name without case, marks, plural and vague words.
func bareName(name string) []string {
	name = strings.NewReplacer("’", "", "'", "").Replace(strings.ToLower(name))
	var out []string
	for _, w := range strings.FieldsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) }) {
		if len(w) > 3 && !strings.HasSuffix(w, "ss") && !strings.HasSuffix(w, "us") && !strings.HasSuffix(w, "is") {
			w = strings.TrimSuffix(w, "s")
		}
		if w == "grey" {
			w = "gray"
		}
		if !vague[w] {
			out = append(out, w)
		}
	}
	return out
}

// cleanTag is the spelling by which tags are compared: capitals, without the
// spaces and hyphens that people put in or leave out.
func cleanTag(s string) string {
	return strings.ToUpper(gaps.Replace(s))
}

var gaps = strings.NewReplacer(" ", "", "-", "")
