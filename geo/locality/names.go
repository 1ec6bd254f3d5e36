package locality

import (
	"strings"
	"unicode/utf8"
)

// nameAt reads a name: words that begin with a capital, numbers of roads, and
// the small words inside names. A way must hold a word for one, or a number.
func (p *parser) nameAt(ts []token, way bool) (Name, int) {
	n, capitals, road := 0, 0, false
	for n < len(ts) {
		t := ts[n]
		if n > 0 && p.ends(ts, n) {
			break
		}
		switch {
		case t.kind == isNumber:
			if n > 0 && p.legAhead(ts[n:]) {
				return Name{}, 0
			}
			road = road || n > 0
		case t.kind == isWord:
			if t.capital() {
				capitals++
			} else if capitals > 0 && !p.small(t) || n == 1 && t.key == "of" && p.headingWord(ts[0]) {
				return Name{}, 0
			}
			road = road || t.can(isWayName) && (n > 0 || len(ts) > 1) || numberedWay(t.key)
		case t.kind == isMark && t.text == "#" || t.text == "\"" || t.text == "'" || t.text == "-" || t.text == "–":
		default:
			return Name{}, 0
		}
		n++
	}
	for n > 0 && ts[n-1].kind == isMark {
		n--
	}
	if n == 0 || way && !road || !p.nameLike(ts[:n], capitals) {
		return Name{}, 0
	}
	s := Span{ts[0].From, ts[n-1].To}
	return Name{strings.Trim(p.text[s.From:s.To], " \"'#."), s}, n
}

// small tells whether a word may stand inside a name without a capital.
func (p *parser) small(t token) bool {
	return t.can(isOf) || t.can(isArticle) || p.lex.inner[t.key] || len(t.key) == 1
}

func (p *parser) headingWord(t token) bool {
	_, k := p.headingAt([]token{t})
	return k > 0
}

// nameLike: a name has a capital, or is short and made of no everyday words.
func (p *parser) nameLike(ts []token, capitals int) bool {
	letters := 0
	for _, t := range ts {
		if t.kind == isWord {
			letters += utf8.RuneCountInString(t.key)
		}
		if t.can(isPlain) && !t.capital() && t.key != "the" && t.key != "at" && t.key != "a" && t.key != "under" {
			return false
		}
	}
	if letters == 0 && !(len(ts) == 1 && ts[0].kind == isNumber) || letters == 0 {
		return false
	}
	return capitals > 0 || len(ts) <= 3
}

func numberedWay(key string) bool {
	head, tail, ok := strings.Cut(key, "-")
	if !ok || tail == "" || tail[0] < '0' || tail[0] > '9' {
		return false
	}
	return len(head) <= 4
}

// ends tells whether a name is over before a token.
func (p *parser) ends(ts []token, n int) bool {
	t := ts[n]
	if k, _ := p.mannerAt(ts[n:]); k > 0 {
		return true
	}
	if t.kind == isMark || t.kind == isNumber || t.capital() && !t.can(isBetween) {
		return false
	}
	switch {
	case t.can(isAnd), t.can(isNear), t.can(isBetween), t.can(isIn), t.key == "via", t.key == "with":
		return true
	case t.can(isOf) && t.key == "from":
		return true
	case t.can(isOn):
		return true
	case t.can(isJunction):
		return false
	case t.key == "at":
		return n+1 < len(ts)
	case t.can(isElevation):
		return n+1 < len(ts)
	}
	return false
}

// legAhead tells whether a distance with a heading follows.
func (p *parser) legAhead(ts []token) bool {
	l, _, k, _ := p.legAt(ts)
	return k > 0 && (l.Toward != "" || k < len(ts) && ts[k].can(isOf))
}

// readFeatureAlone takes all that is left of a part for a name, unless it
// looks like a clause with a slip in it.
func (p *parser) readFeatureAlone(ts []token) ([]token, string) {
	ts0 := ts
	ts = p.skipArticle(ts)
	if ts[0].key == "at" && len(ts) > 1 {
		ts = ts[1:]
	}
	if why := p.slip(ts); why != "" {
		return nil, why
	}
	for i, t := range ts {
		if i+1 < len(ts) && (t.can(isSide) || t.can(isBank)) && !t.capital() && ts[i+1].key == "of" {
			return nil, "which side is meant is not a point of the compass"
		}
	}
	if q, k := p.quantityAt(ts, false); k > 0 && q.unit.name != "" {
		for _, t := range ts[k:] {
			if t.can(isOf) && !t.capital() {
				return nil, "what stands between the distance and “" + t.text + "” is not understood"
			}
		}
	}
	if ts[0].kind == isNumber && (len(ts) < 2 || strings.ContainsAny(ts[0].text, "./,⁄") || !ts[1].capital()) {
		return nil, "a number stands where it makes no sense"
	}
	if why := township(ts); why != "" {
		return nil, why
	}
	name, n := p.nameAt(ts, false)
	if n == 0 || !ts[0].capital() {
		return nil, "this is no form of locality that is understood"
	}
	rest := ts[n:]
	if l, m, k, _ := p.legAt(rest); k > 0 && l.Toward != "" && k == len(rest) { // "Lansing 3 mi N" after an "at"
		p.add(Clause{Form: formOf(l, m, Name{}), Legs: []Leg{l}, Names: []Name{name}, Manner: m}, ts0, nil)
		return nil, ""
	}
	if len(rest) > 0 && p.joins(rest[0]) {
		if way, _ := p.nameAt(ts[:n], true); way.Text != "" {
			second := p.skipArticle(rest[1:])
			if other, k := p.nameAt(second, true); k > 0 && second[0].capital() {
				rest = second[k:]
				p.add(Clause{Form: Junction, Names: []Name{name, other}}, ts0, rest)
				return rest, ""
			}
		}
		if rest[0].can(isAnd) || rest[0].key == "at" {
			return nil, "two names are joined, and nothing says how they stand to each other"
		}
	}
	p.add(Clause{Form: FeatureOnly, Names: []Name{name}}, ts0, rest)
	return rest, ""
}

func (p *parser) joins(t token) bool { return t.can(isAnd) || t.key == "at" }

// township: the public land survey is a grid of its own and is not read here.
func township(ts []token) string {
	for i, t := range ts {
		k := t.key
		if len(k) >= 3 && (k[0] == 't' || k[0] == 'r') && k[1] >= '0' && k[1] <= '9' && i+1 < len(ts) && strings.ContainsRune("nsew", rune(k[len(k)-1])) {
			return "township and range are not read here"
		}
	}
	return ""
}

// keywords are those whose slips would turn a clause into a name.
var keywords = [...]string{"near", "north", "south", "east", "west", "between", "junction", "intersection", "confluence", "milepost", "northeast", "northwest", "southeast", "southwest", "miles", "vicinity", "upstream", "downstream", "possibly", "probably", "about", "elevation", "along", "county"}

// slip tells whether a word of a would-be name is one slip away from a word
// that would make a clause of it, or is such a word out of place.
func (p *parser) slip(ts []token) string {
	for i, t := range ts {
		if t.kind != isWord {
			continue
		}
		if t.can(isBetween) || t.can(isNear) && i == 0 || t.key == "of" && i == 1 {
			return "“" + t.text + "” stands where it makes no sense"
		}
		if i > 0 && i < len(ts)-1 || len(t.key) < 4 {
			continue
		}
		if i > 0 && t.capital() {
			continue
		}
		for _, k := range keywords {
			if oneSlip(t.key, k) && len(ts) > 1 {
				return "“" + t.text + "” may be meant for “" + k + "”"
			}
		}
	}
	return ""
}

// oneSlip: one letter more, less, other, or two neighbours swapped.
func oneSlip(a, b string) bool {
	if a == b || len(a)-len(b) > 1 || len(b)-len(a) > 1 {
		return false
	}
	i := 0
	for i < len(a) && i < len(b) && a[i] == b[i] {
		i++
	}
	switch {
	case len(a) > len(b):
		return a[i+1:] == b[i:]
	case len(a) < len(b):
		return a[i:] == b[i+1:]
	}
	return a[i+1:] == b[i+1:] || i+1 < len(a) && a[i] == b[i+1] && a[i+1] == b[i] && a[i+2:] == b[i+2:]
}
