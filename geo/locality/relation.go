package locality

import (
	"strings"
)

// readNear: "near X", "vicinity of X", "close to X".
func (p *parser) readNear(ts []token) ([]token, string, bool) {
	if !ts[0].can(isNear) {
		return nil, "", false
	}
	rest := ts[1:]
	for len(rest) > 0 && (rest[0].key == "to" || rest[0].key == "of" || rest[0].key == "de" || rest[0].key == "the" || rest[0].text == ".") {
		rest = rest[1:]
	}
	if c, left, ok := p.junctionAt(rest); ok {
		p.add(Clause{Form: Near, Names: c.Names}, ts, left)
		return left, "", true
	}
	name, k := p.nameAt(rest, false)
	if k == 0 {
		return nil, "near what is not said", true
	}
	p.add(Clause{Form: Near, Names: []Name{name}}, ts, rest[k:])
	return rest[k:], "", true
}

// readBetween: "between A and B", "halfway between A and B".
func (p *parser) readBetween(ts []token) ([]token, string, bool) {
	i := 0
	if (ts[0].key == "halfway" || ts[0].key == "midway") && len(ts) > 1 {
		i = 1
	}
	var way Name
	if !ts[i].can(isBetween) && i == 0 { // "Hwy 12 between A and B"
		name, k := p.nameAt(ts, true)
		if ts[0].can(isOn) {
			if name, k = p.nameAt(p.skipArticle(ts[1:]), true); k > 0 {
				k = len(ts) - len(p.skipArticle(ts[1:])[k:])
			}
		}
		if k == 0 || k >= len(ts) || !ts[k].can(isBetween) {
			return nil, "", false
		}
		way, i = name, k
	}
	if !ts[i].can(isBetween) {
		return nil, "", false
	}
	rest := p.skipArticle(ts[i+1:])
	a, k := p.nameAt(rest, false)
	if k == 0 || k >= len(rest) || !rest[k].can(isAnd) {
		return nil, "between what is not said", true
	}
	rest = p.skipArticle(rest[k+1:])
	b, k := p.nameAt(rest, false)
	if k == 0 {
		return nil, "between what is not said", true
	}
	rest = rest[k:]
	c := Clause{Form: Between, Names: []Name{a, b}, Way: way}
	if way.Text == "" && len(rest) > 1 && rest[0].can(isOn) {
		if w, k := p.nameAt(p.skipArticle(rest[1:]), true); k > 0 {
			c.Way, rest = w, p.skipArticle(rest[1:])[k:]
		}
	}
	p.add(c, ts, rest)
	return rest, "", true
}

// readJunction: "junction of A and B", "corner A & B".
func (p *parser) readJunction(ts []token) ([]token, string, bool) {
	c, rest, ok := p.junctionAt(ts)
	if !ok {
		if ts[0].can(isJunction) && len(ts) > 1 && (ts[1].key == "of" || ts[1].key == "with") {
			return nil, "the two ways that meet are not both named", true
		}
		return nil, "", false
	}
	p.add(c, ts, rest)
	return rest, "", true
}

func (p *parser) junctionAt(ts []token) (Clause, []token, bool) {
	i := 0
	if len(ts) > 1 && (ts[0].key == "at" || ts[0].key == "the") {
		i = 1
		if len(ts) > 2 && ts[1].key == "the" {
			i = 2
		}
	}
	if i >= len(ts) || !ts[i].can(isJunction) {
		return Clause{}, nil, false
	}
	rest := ts[i+1:]
	if len(rest) > 0 && (rest[0].key == "of" || rest[0].key == "with") {
		rest = rest[1:]
	}
	rest = p.skipArticle(rest)
	a, k := p.nameAt(rest, false)
	if k == 0 || k >= len(rest) || !rest[k].can(isAnd) && rest[k].key != "with" {
		return Clause{}, nil, false
	}
	rest = p.skipArticle(rest[k+1:])
	b, k := p.nameAt(rest, false)
	if k == 0 {
		return Clause{}, nil, false
	}
	return Clause{Form: Junction, Names: []Name{a, b}}, rest[k:], true
}

// readPost: "milepost 12.4 on US 50", "US 50 mile marker 12.4", "km 33 of
// Route 2".
func (p *parser) readPost(ts []token) ([]token, string, bool) {
	way, i := Name{}, 0
	n, unitName := p.postAt(ts)
	if n == 0 {
		for k := 1; k < len(ts) && n == 0; k++ {
			if m, u := p.postAt(ts[k:]); m > 0 {
				if name, used := p.nameAt(trimAt(ts[:k]), true); used > 0 && used == len(trimAt(ts[:k])) {
					way, i, n, unitName = name, k, m, u
				}
			}
		}
	}
	if n == 0 {
		return nil, "", false
	}
	q := ts[i+n-1].number
	rest := ts[i+n:]
	if len(rest) > 0 && (rest[0].can(isOn) || rest[0].key == "of" || rest[0].key == "de") && way.Text == "" {
		after := p.skipArticle(rest[1:])
		name, k := p.nameAt(after, true)
		if k == 0 {
			return nil, "the road that the post stands on is not named", true
		}
		way, rest = name, after[k:]
	}
	u := units[strings.ToUpper(unitName)]
	q.unit = u
	l := Leg{Number: q.written, Unit: u.name, Distance: q.metres(), Half: q.half(), Span: ts[i+n-1].Span}
	p.add(Clause{Form: Post, Legs: []Leg{l}, Way: way}, ts, rest)
	return rest, "", true
}

func trimAt(ts []token) []token {
	if len(ts) > 1 && (ts[len(ts)-1].key == "at" || ts[len(ts)-1].kind == isMark) {
		ts = ts[:len(ts)-1]
	}
	if len(ts) > 1 && ts[0].can(isOn) && !ts[0].capital() {
		ts = ts[1:]
	}
	return ts
}

// postAt reads "milepost 12", "mile marker 12", "km post 33", "MP 12", and
// "km 33" or "mile 33" with the number behind the unit.
func (p *parser) postAt(ts []token) (n int, unitName string) {
	i := 0
	if i < len(ts) && (ts[i].key == "at") {
		i++
	}
	if i >= len(ts) || ts[i].kind != isWord {
		return 0, ""
	}
	unitName = "MI"
	if strings.HasPrefix(ts[i].key, "k") || ts[i].key == "pk" {
		unitName = "KM"
	}
	switch {
	case ts[i].can(isPost):
		i++
	case ts[i].can(isPostHalf) && i+1 < len(ts) && ts[i+1].can(isPostTail):
		i += 2
	case ts[i].can(isPostHalf):
		i++
	default:
		return 0, ""
	}
	for i < len(ts) && ts[i].kind == isMark && (ts[i].text == "#" || ts[i].text == "-") {
		i++
	}
	if i >= len(ts) || ts[i].kind != isNumber || ts[i].number.value <= 0 {
		return 0, ""
	}
	return i + 1, unitName
}

// readSide: "N side of X", "left bank of X", "east shoulder".
func (p *parser) readSide(ts []token) ([]token, string, bool) {
	i := 0
	for i < len(ts) && (ts[i].key == "on" || ts[i].key == "the" || ts[i].key == "along") {
		i++
	}
	if i >= len(ts) {
		return nil, "", false
	}
	side, k := "", 0
	if ts[i].can(isHand) {
		side, k = ts[i].key, 1
	} else if l, n := p.headingAt(ts[i:]); n > 0 && !strings.HasSuffix(l.Toward, "°") {
		side, k = l.Toward, n
	} else if strings.HasSuffix(ts[i].key, "ern") {
		if toward, ok := letters(strings.ToUpper(strings.TrimSuffix(ts[i].key, "ern"))); ok {
			side, k = toward, 1
		}
	}
	i += k
	if k == 0 || i >= len(ts) || !ts[i].can(isSide) && !ts[i].can(isBank) || ts[i].capital() {
		return nil, "", false
	}
	rest := ts[i+1:]
	if len(rest) == 0 {
		p.add(Clause{Form: SideOf, Side: side}, ts, nil)
		return nil, "", true
	}
	if rest[0].key != "of" {
		return nil, "of what this is the side is not said", true
	}
	rest = p.skipArticle(rest[1:])
	name, n := p.nameAt(rest, false)
	if n == 0 {
		return nil, "of what this is the side is not said", true
	}
	p.add(Clause{Form: SideOf, Names: []Name{name}, Side: side}, ts, rest[n:])
	return rest[n:], "", true
}

// readHeadingOnly: "N of X", "just north of X".
func (p *parser) readHeadingOnly(ts []token) ([]token, string, bool) {
	l, k := p.headingAt(ts)
	if k == 0 || k >= len(ts) || !ts[k].can(isOf) {
		return nil, "", false
	}
	rest := p.skipArticle(ts[k+1:])
	if _, _, n, _ := p.legAt(rest); n > 0 && n < len(rest) && rest[n].can(isOf) {
		return nil, "one offset starts from another", true
	}
	l.Span = Span{ts[0].From, ts[k-1].To}
	name, n := p.nameAt(rest, false)
	if n == 0 {
		return nil, "the feature that the heading starts from is missing", true
	}
	rest = rest[n:]
	if len(rest) > 0 && rest[0].can(isAnd) {
		return nil, "two features are named for one heading", true
	}
	p.add(Clause{Form: HeadingOnly, Legs: []Leg{l}, Names: []Name{name}}, ts, rest)
	return rest, "", true
}

// readOn: "on US 12", "along the Tamarack River".
func (p *parser) readOn(ts []token) ([]token, string, bool) {
	if !ts[0].can(isOn) || len(ts) < 2 {
		return nil, "", false
	}
	rest := p.skipArticle(ts[1:])
	way, k := p.nameAt(rest, true)
	if k == 0 {
		return nil, "", false
	}
	p.ways = append(p.ways, way)
	p.add(Clause{Form: OnWay, Names: []Name{way}}, ts, rest[k:])
	return rest[k:], "", true
}

// readIn: "in Ludden County", "within Elk Marsh Refuge".
func (p *parser) readIn(ts []token) ([]token, string, bool) {
	if !ts[0].can(isIn) || len(ts) < 2 {
		return nil, "", false
	}
	rest := p.skipArticle(ts[1:])
	name, k := p.nameAt(rest, false)
	if k == 0 {
		return nil, "in what is not said", true
	}
	p.add(Clause{Form: Region, Names: []Name{name}}, ts, rest[k:])
	return rest[k:], "", true
}

// readBounded: a name that ends in "County", "Park" and the like, or begins
// with "County of".
func (p *parser) readBounded(ts []token) ([]token, string, bool) {
	name, k := p.nameAt(ts, false)
	if k < 2 || !ts[0].capital() {
		return nil, "", false
	}
	last := ts[k-1]
	front := ts[0].can(isBounded) && ts[1].key == "of"
	if !last.can(isBounded) && !front || !last.capital() {
		return nil, "", false
	}
	p.add(Clause{Form: Region, Names: []Name{name}}, ts, ts[k:])
	return ts[k:], "", true
}

// MayMove tells whether a part of a text, understood or not, may say that the
// place lies somewhere else than in what is named beside it: it has a number,
// a heading or a word of a relation in it.
func MayMove(text string) bool {
	p := parser{lex: english}
	for _, t := range scan(text, p.lex) {
		if t.kind == isNumber || t.can(isOf|isNear|isBetween|isStream|isOutside|isBy|isOn) && len(t.key) > 1 || p.headingWord(t) {
			return true
		}
	}
	return false
}
