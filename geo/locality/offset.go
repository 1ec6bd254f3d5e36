package locality

import "wayfall/geo"

// readOffset reads everything that begins with a distance.
func (p *parser) readOffset(ts []token) ([]token, string, bool) {
	first, manner, n, why := p.legAt(ts)
	if n == 0 {
		return nil, why, why != ""
	}
	rest := ts[n:]
	if len(rest) > 0 && (rest[0].can(isAnd) || rest[0].text == ",") {
		if second, m, k, _ := p.legAt(rest[1:]); k > 0 {
			return p.twoLegs(ts, first, second, max(manner, m), rest[1+k:])
		}
	}
	if len(rest) > 0 && rest[0].can(isOutside) && first.Toward == "" {
		rest = rest[1:]
		if len(rest) > 0 && rest[0].can(isOf) {
			rest = rest[1:]
		}
		return p.offsetFrom(ts, first, manner, rest)
	}
	switch {
	case len(rest) == 0 && (p.wayAlone() || p.featureAlone() >= 0 || first.Toward != ""):
		c := Clause{Form: DistanceOnly, Legs: []Leg{first}, Manner: manner}
		c.Span = Span{ts[0].From, ts[len(ts)-1].To}
		p.loose = append(p.loose, c)
		return nil, "", true
	case len(rest) == 0:
		return nil, "the feature that the distance is measured from is missing", true
	case rest[0].can(isOf):
		return p.offsetFrom(ts, first, manner, rest[1:])
	case first.Toward != "" && p.partOfName(rest[0]):
		return p.offsetFrom(ts, first, manner, rest)
	case rest[0].can(isOn) || rest[0].can(isBy):
		return p.offsetOnWay(ts, first, rest)
	}
	if first.Toward == "" {
		return nil, "", false // "5 Mile Creek" is a name
	}
	return nil, "after the distance and heading a feature is expected", true
}

// offsetOnWay: "3 mi N on US 127 from Lansing", "2 km along River Road from X".
func (p *parser) offsetOnWay(ts []token, l Leg, rest []token) ([]token, string, bool) {
	way, k := p.nameAt(rest[1:], true)
	if k == 0 {
		return nil, "the road or river that is followed is not named", true
	}
	rest = rest[1+k:]
	if len(rest) == 0 || !rest[0].can(isOf) {
		return nil, "the feature that the distance is measured from is missing", true
	}
	from, k := p.nameAt(rest[1:], false)
	if k == 0 {
		return nil, "the feature that the distance is measured from is missing", true
	}
	rest = rest[1+k:]
	p.add(Clause{Form: AlongWay, Legs: []Leg{l}, Names: []Name{from}, Manner: ByWay, Way: way}, ts, rest)
	return rest, "", true
}

// offsetFrom reads the feature that a distance is measured from, and the way.
func (p *parser) offsetFrom(ts []token, l Leg, manner Manner, rest []token) ([]token, string, bool) {
	rest = p.skipArticle(rest)
	if _, _, k, _ := p.legAt(rest); k > 0 && k < len(rest) && rest[k].can(isOf) {
		return nil, "one offset starts from another", true
	}
	if c, left, ok := p.junctionAt(rest); ok {
		out := Clause{Form: formOf(l, manner, c.Way), Legs: []Leg{l}, Names: c.Names, Manner: manner}
		return p.finishOffset(ts, out, left)
	}
	from, k := p.nameAt(rest, false)
	if k == 0 {
		return nil, "the feature that the distance is measured from is missing", true
	}
	rest = rest[k:]
	if len(rest) > 0 && rest[0].can(isAnd) {
		if second, m, k, _ := p.legAt(rest[1:]); k > 0 {
			return p.fromTwo(ts, []Leg{l, second}, max(manner, m), from, rest[1+k:])
		}
		return nil, "two features are named for one distance", true
	}
	return p.finishOffset(ts, Clause{Legs: []Leg{l}, Names: []Name{from}, Manner: manner}, rest)
}

func (p *parser) finishOffset(ts []token, c Clause, rest []token) ([]token, string, bool) {
	if k, m := p.mannerAt(rest); k > 0 {
		c.Manner, rest = m, rest[k:]
	}
	if len(rest) > 1 && (rest[0].can(isOn) || rest[0].can(isBy)) {
		if way, k := p.nameAt(p.skipArticle(rest[1:]), true); k > 0 {
			c.Way, c.Manner = way, ByWay
			rest = p.skipArticle(rest[1:])[k:]
		}
	}
	c.Form = formOf(c.Legs[0], c.Manner, c.Way)
	p.add(c, ts, rest)
	return rest, "", true
}

func formOf(l Leg, m Manner, way Name) Form {
	stream := l.Toward == "upstream" || l.Toward == "downstream"
	switch {
	case m == ByWay || way.Text != "" || stream:
		return AlongWay
	case l.Toward == "":
		return DistanceOnly
	}
	return DistanceAtHeading
}

// twoLegs: "2 mi E and 3 mi N of X", or the two from different features.
func (p *parser) twoLegs(ts []token, a, b Leg, m Manner, rest []token) ([]token, string, bool) {
	if len(rest) == 0 {
		c := Clause{Form: Orthogonal, Legs: []Leg{a, b}, Manner: m, Span: Span{ts[0].From, ts[len(ts)-1].To}}
		if why := crossed(a, b); why != "" {
			return nil, why, true
		}
		p.loose = append(p.loose, c)
		return nil, "", true
	}
	if why := crossed(a, b); why != "" {
		return nil, why, true
	}
	if rest[0].can(isOf) {
		rest = rest[1:]
	} else if !p.partOfName(rest[0]) {
		return nil, "the feature that the distances are measured from is missing", true
	}
	rest = p.skipArticle(rest)
	from, k := p.nameAt(rest, false)
	if k == 0 {
		return nil, "the feature that the distances are measured from is missing", true
	}
	rest = rest[k:]
	c := Clause{Form: Orthogonal, Legs: []Leg{a, b}, Names: []Name{from}, Manner: m}
	if k, m := p.mannerAt(rest); k > 0 {
		c.Manner, rest = m, rest[k:]
	}
	p.add(c, ts, rest)
	return rest, "", true
}

// crossed says why two legs are not at right angles along the compass.
func crossed(a, b Leg) string {
	northing := func(l Leg) bool { return l.Toward == "N" || l.Toward == "S" }
	easting := func(l Leg) bool { return l.Toward == "E" || l.Toward == "W" }
	if northing(a) && easting(b) || easting(a) && northing(b) {
		return ""
	}
	return "two distances from one feature must be one north or south and one east or west"
}

// fromTwo: "1.5 mi E of A and 2 mi S of B".
func (p *parser) fromTwo(ts []token, legs []Leg, m Manner, a Name, rest []token) ([]token, string, bool) {
	if len(rest) == 0 || !rest[0].can(isOf) {
		return nil, "the second distance has no feature", true
	}
	rest = p.skipArticle(rest[1:])
	b, k := p.nameAt(rest, false)
	if k == 0 {
		return nil, "the second distance has no feature", true
	}
	rest = rest[k:]
	p.add(Clause{Form: FromTwo, Legs: legs, Names: []Name{a, b}, Manner: m}, ts, rest)
	return rest, "", true
}

func (p *parser) skipArticle(ts []token) []token {
	if len(ts) > 1 && ts[0].key == "the" && ts[0].plainWord() {
		return ts[1:]
	}
	return ts
}

// settle gives loose offsets their feature: "Lansing, 3 mi N".
func (p *parser) settle() {
	r := p.reading
	for _, c := range p.loose {
		at, whole := p.featureAlone(), Span{}
		if at < 0 {
			r.Left = append(r.Left, Left{r.Verbatim[c.Span.From:c.Span.To], c.Span, "the feature that the distance is measured from is missing"})
			continue
		}
		f := r.Clauses[at]
		whole = Span{min(f.Span.From, c.Span.From), max(f.Span.To, c.Span.To)}
		c.Names, c.Span = f.Names, whole
		if c.Form != Orthogonal {
			c.Form = formOf(c.Legs[0], c.Manner, c.Way)
		}
		r.Clauses[at] = c
	}
	p.standPosts()
	p.doubtManner()
	for i := range r.Clauses {
		p.apply(&r.Clauses[i])
	}
	if len(r.Clauses) == 0 && len(r.Left) == 0 {
		r.Left = []Left{{"", Span{0, len(r.Verbatim)}, "there are no words"}}
	}
}

// doubtManner takes back distances that a part which was left may have changed:
// "3 km W of X, by raod".
func (p *parser) doubtManner() {
	r, doubt := p.reading, false
	for _, l := range r.Left {
		first := scan(l.Text, p.lex)
		doubt = doubt || len(first) > 0 && (first[0].can(isBy) || first[0].can(isOn))
	}
	if !doubt {
		return
	}
	kept := r.Clauses[:0]
	for _, c := range r.Clauses {
		if (c.Form == DistanceAtHeading || c.Form == DistanceOnly) && c.Manner == Unsaid {
			r.Left = append(r.Left, Left{r.Verbatim[c.Span.From:c.Span.To], c.Span, "what was not understood beside it may say how the distance runs"})
			continue
		}
		kept = append(kept, c)
	}
	r.Clauses = kept
}

// standPosts gives a post the one way that the text names beside it: "US 50,
// milepost 12.4".
func (p *parser) standPosts() {
	r := p.reading
	for i := range r.Clauses {
		c := &r.Clauses[i]
		if c.Form != Post || c.Way.Text != "" {
			continue
		}
		for j := range r.Clauses {
			o := r.Clauses[j]
			if o.Form != OnWay && !(o.Form == FeatureOnly && wayLike(o.Names[0].Text, p.lex)) {
				continue
			}
			c.Way, c.Span = o.Names[0], Span{min(c.Span.From, o.Span.From), max(c.Span.To, o.Span.To)}
			r.Clauses = append(r.Clauses[:j], r.Clauses[j+1:]...)
			p.standPosts()
			return
		}
		r.Left = append(r.Left, Left{r.Verbatim[c.Span.From:c.Span.To], c.Span, "the road that the post stands on is not named"})
		r.Clauses = append(r.Clauses[:i], r.Clauses[i+1:]...)
		p.standPosts()
		return
	}
}

// wayLike tells whether a name has a word for a way in it.
func wayLike(name string, lex *lexicon) bool {
	for _, t := range scan(name, lex) {
		if t.can(isWayName) || numberedWay(t.key) {
			return true
		}
	}
	return false
}

// apply lets "by air", "by road" and "on US 12" in a part of their own speak
// for an offset that did not say.
func (p *parser) apply(c *Clause) {
	switch c.Form {
	case DistanceAtHeading, DistanceOnly, AlongWay, Orthogonal:
	default:
		return
	}
	if c.Manner == Unsaid {
		c.Manner = p.manner
	}
	if c.Form != Orthogonal {
		c.Form = formOf(c.Legs[0], c.Manner, c.Way)
	}
}

func (p *parser) wayAlone() bool { return len(p.ways) > 0 }

// featureAlone is the first clause that is only a name, or -1.
func (p *parser) featureAlone() int {
	for i, c := range p.reading.Clauses {
		if c.Form == FeatureOnly {
			return i
		}
	}
	return -1
}

// tens is half the precision of an elevation: that of its last digit that is
// not zero, as Zermoglio et al. (2020), 2.1.3.3, read heights: 2600 ft is
// precise to 100 ft.
func (q *quantity) tens() geo.Metres {
	precision := q.precision
	if v := q.value; v >= 10 && v == float64(int64(v)) {
		precision = 1
		for n := int64(v); n%10 == 0; n /= 10 {
			precision *= 10
		}
	}
	return geo.Metres(precision) / 2 * q.unit.metres
}
