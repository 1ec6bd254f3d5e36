package locality

import (
	"fmt"
	"strings"

	"wayfall/geo"
)

// Parse takes a locality apart into clauses that all hold at once. What it
// does not understand is left, each part with the reason. It knows no names of
// places: whether a name exists is for a gazetteer to say.
func Parse(text string) Reading {
	r := Reading{Verbatim: text}
	if len(text) > maxText {
		r.Left = []Left{{clip(text), Span{0, len(text)}, "the text is too long for one locality"}}
		return r
	}
	p := parser{text: text, lex: english, reading: &r}
	all := scan(text, p.lex)
	shouted(text, all)
	p.segments(all)
	p.settle()
	return r
}

type parser struct {
	text    string
	lex     *lexicon
	reading *Reading
	loose   []Clause // clauses without a feature, to be joined to one
	ways    []Name   // ways that a clause alone named
	manner  Manner
}

// segments divides the tokens at commas, semicolons, colons, line ends and
// brackets and reads each part.
func (p *parser) segments(all []token) {
	all = p.unbracket(all)
	from := 0
	for i := 0; i <= len(all); i++ {
		if i < len(all) && !p.breaks(all, i) {
			continue
		}
		if i > from {
			p.segment(all[from:i])
		}
		from = i + 1
	}
}

// unbracket takes the brackets off a manner: "13 miles east (by road) from X".
func (p *parser) unbracket(all []token) []token {
	out := all[:0:0]
	for i := 0; i < len(all); i++ {
		if all[i].text == "(" {
			if n, _ := p.mannerAt(all[i+1:]); n > 0 && i+1+n < len(all) && all[i+1+n].text == ")" {
				out = append(out, all[i+1:i+1+n]...)
				i += n + 1
				continue
			}
		}
		out = append(out, all[i])
	}
	return out
}

func (p *parser) breaks(all []token, i int) bool {
	t := all[i]
	if t.kind != isMark {
		return false
	}
	if t.text == "." {
		return true
	}
	return strings.ContainsAny(t.text, ",;:()[]|/\n")
}

// segment reads one part. Hedges in front change nothing; a word of doubt
// leaves all of it.
func (p *parser) segment(ts []token) {
	for len(ts) > 0 && (ts[0].can(isHedge) && !p.nameAhead(ts) || ts[0].text == "~" || ts[0].text == "±") {
		ts = ts[1:]
	}
	if len(ts) == 0 {
		return
	}
	for _, t := range ts {
		if t.kind == isMark && t.text == "?" || t.can(isDoubt) && t.plainWord() {
			p.leave(ts, "the writer was not sure")
			return
		}
	}
	// All of the part or nothing: what follows may change what went before.
	whole, before := ts, len(p.reading.Clauses)
	for len(ts) > 0 {
		rest, why := p.clause(ts)
		if why != "" {
			p.reading.Clauses = p.reading.Clauses[:before]
			p.leave(whole, why)
			return
		}
		ts = rest
	}
}

// nameAhead: "Just" or "Ca" as the first word of a name would be a capital
// followed by a capital; hedges are rarely written so.
func (p *parser) nameAhead(ts []token) bool {
	return ts[0].key == "c" || ts[0].key == "some" && len(ts) == 1
}

func (p *parser) leave(ts []token, why string) {
	s := Span{ts[0].From, ts[len(ts)-1].To}
	p.reading.Left = append(p.reading.Left, Left{p.text[s.From:s.To], s, why})
}

func (p *parser) add(c Clause, ts, rest []token) {
	end := ts[len(ts)-1].To
	if len(rest) > 0 {
		end = ts[len(ts)-len(rest)-1].To
	}
	c.Span = Span{ts[0].From, end}
	p.reading.Clauses = append(p.reading.Clauses, c)
}

// clause reads one clause from the front and returns what follows, or why it
// cannot be read.
func (p *parser) clause(ts []token) (rest []token, why string) {
	for _, read := range [...]func([]token) ([]token, string, bool){
		p.readManner, p.readElevation, p.readPost, p.readBetween, p.readJunction, p.readSide, p.readNear, p.readOffset, p.readHeadingOnly, p.readOn, p.readIn, p.readBounded,
	} {
		if rest, why, ok := read(ts); ok {
			return rest, why
		}
	}
	return p.readFeatureAlone(ts)
}

// readManner: "by air", "by road", "airline" as a clause of its own.
func (p *parser) readManner(ts []token) ([]token, string, bool) {
	n, m := p.mannerAt(ts)
	if n == 0 || n != len(ts) {
		return nil, "", false
	}
	p.manner = m
	return nil, "", true
}

func (p *parser) mannerAt(ts []token) (int, Manner) {
	if len(ts) >= 2 && ts[0].can(isBy) && ts[1].can(isAirWord) {
		return 2, ByAir
	}
	if len(ts) >= 2 && ts[0].can(isBy) && ts[1].can(isWayWord) && (len(ts) == 2 || !p.partOfName(ts[2])) && (ts[1].plainWord() || ts[0].small) {
		return 2, ByWay
	}
	if len(ts) >= 1 && ts[0].key == "airline" {
		return 1, ByAir
	}
	if len(ts) >= 4 && ts[0].key == "as" && ts[1].key == "the" && ts[2].key == "crow" && ts[3].key == "flies" {
		return 4, ByAir
	}
	return 0, Unsaid
}

func (p *parser) partOfName(t token) bool {
	return t.kind == isWord && t.capital() || t.kind == isNumber
}

// readElevation: "elev. 2600 ft", "2600 ft elevation", "100-200 m a.s.l.".
func (p *parser) readElevation(ts []token) ([]token, string, bool) {
	i, said := 0, false
	if ts[0].key == "at" && len(ts) > 1 {
		i = 1
	}
	if ts[i].can(isElevation) {
		said = true
		i++
		for i < len(ts) && (ts[i].kind == isMark || ts[i].can(isHedge) || ts[i].key == "of") {
			i++
		}
	}
	low, n := p.quantityAt(ts[i:], said)
	if n == 0 {
		return nil, "", false
	}
	i += n
	high := low
	if low.unit.name == "" || i < len(ts) && (ts[i].text == "-" || ts[i].text == "–" || ts[i].key == "to") {
		if i >= len(ts) || ts[i].text != "-" && ts[i].text != "–" && ts[i].key != "to" {
			return nil, "", false
		}
		if high, n = p.quantityAt(ts[i+1:], false); n == 0 {
			return nil, "", false
		}
		if i += 1 + n; low.unit.name == "" {
			low.unit = high.unit
		}
	}
	if i < len(ts) && ts[i].can(isElevation) {
		said = true
		i++
	}
	if !said || i < len(ts) && ts[i].kind != isMark {
		return nil, "", false
	}
	c := Clause{Form: Elevation, Low: low.metres() - low.tens(), High: high.metres() + high.tens()}
	if c.Low > c.High {
		return nil, "the elevations run backwards", true
	}
	p.add(c, ts, ts[i:])
	return ts[i:], "", true
}

// quantityAt reads a number and its unit; with bare a unit may be missing.
func (p *parser) quantityAt(ts []token, bare bool) (q quantity, n int) {
	if len(ts) == 0 {
		return q, 0
	}
	if n = p.countAt(ts, &q); n == 0 {
		return q, 0
	}
	if n < len(ts) && ts[n].kind == isWord {
		key := ts[n].key
		if key == "nautical" && n+1 < len(ts) {
			if _, mile := p.lex.units[ts[n+1].key]; mile {
				q.unit = unit{"nmi", 1852}
				return q, n + 2
			}
		}
		if u, ok := p.lex.units[key]; ok {
			q.unit = u
			return q, n + 1
		}
		if cut := strings.IndexByte(key, '-'); cut > 0 { // "km-NE"
			return q, 0
		}
	}
	if bare || n < len(ts) && (ts[n].text == "-" || ts[n].text == "–" || ts[n].key == "to") {
		return q, n
	}
	return q, 0
}

// countAt reads a number in digits, or in letters before a unit: "three
// miles", "half a mile", "1/4 of a mile".
func (p *parser) countAt(ts []token, q *quantity) int {
	n := 0
	switch {
	case ts[0].kind == isNumber && ts[0].number.value > 0:
		*q = ts[0].number
		n = 1
	case ts[0].can(isCount):
		c, ok := p.lex.counts[ts[0].key]
		if !ok {
			return 0
		}
		*q, n = c, 1
		if (ts[0].key == "a" || ts[0].key == "an") && len(ts) > 1 && (ts[1].key == "half" || ts[1].key == "quarter") {
			*q, n = p.lex.counts[ts[1].key], 2
		}
		q.written = ts[0].text
		if n == 2 {
			q.written += " " + ts[1].text
		}
	default:
		return 0
	}
	if q.value < 1 || ts[0].can(isCount) {
		for n < len(ts) && (ts[n].key == "of" || ts[n].key == "a" || ts[n].key == "an") {
			if n+1 < len(ts) && (ts[n+1].key == "a" || ts[n+1].key == "an" || p.lex.units[ts[n+1].key].name != "") {
				n++
				continue
			}
			break
		}
	}
	return n
}

// headingAt reads a compass point of one to four words, or degrees.
func (p *parser) headingAt(ts []token) (l Leg, n int) {
	due := 0
	if len(ts) == 0 || ts[0].kind == isWord && !strings.ContainsRune("nsewdabo", rune(ts[0].key[0])) {
		return l, 0
	}
	if len(ts) > 1 && ts[0].can(isDue) {
		due = 1
	}
	for most := min(5, len(ts)-due); most > 0; most-- {
		joined, ok := "", true
		for k, t := range ts[due : due+most] {
			if t.kind != isWord && !(t.kind == isMark && (t.text == "-" || t.text == "–") && k > 0 && k < most-1) {
				ok = false
				break
			}
			if t.key == "by" && (k == 0 || k == most-1) {
				ok = false
				break
			}
			if !evenly(t.key) {
				ok = false
				break
			}
			joined += strings.ReplaceAll(t.key, "–", "")
		}
		if !ok {
			continue
		}
		toward, ok := letters(strings.ToUpper(joined))
		if !ok {
			continue
		}
		for i, name := range points {
			if name == toward {
				return Leg{Toward: strings.ReplaceAll(name, "B", "b"), Heading: geo.Degrees(i) * 11.25, HalfAngle: sureness(i, due > 0)}, due + most
			}
		}
	}
	return p.degreesAt(ts)
}

// evenly refuses a word that mixes letters and words, such as "ssoutheast":
// one slip away from another heading.
func evenly(key string) bool {
	if len(key) < 4 {
		return true
	}
	rest := unworded.Replace(key)
	return rest == "" || rest == "by" || len(rest) == len(plainDashes.Replace(key))
}

var (
	unworded    = strings.NewReplacer("north", "", "south", "", "east", "", "west", "", "-", "", "–", "")
	plainDashes = strings.NewReplacer("-", "", "–", "")
)

// degreesAt reads "45°", "at a bearing of 45 degrees".
func (p *parser) degreesAt(ts []token) (l Leg, n int) {
	i := 0
	for i < len(ts) && (ts[i].key == "at" || ts[i].key == "a" || ts[i].key == "on" || ts[i].key == "of" || ts[i].can(isBearing)) {
		i++
	}
	if i+1 >= len(ts) || ts[i].kind != isNumber {
		return l, 0
	}
	q, mark := ts[i].number, ts[i+1]
	if mark.kind != isDegree && mark.key != "deg" && mark.key != "degrees" || q.value >= 360 {
		return l, 0
	}
	i += 2
	if i < len(ts) && (ts[i].key == "true" || ts[i].key == "t") {
		i++
	}
	return Leg{Toward: q.written + "°", Heading: geo.Degrees(q.value), HalfAngle: geo.Degrees(q.precision / 2)}, i
}

// legAt reads "3 1/2 mi NE", "NE 3 1/2 mi", "3 mi upstream" or "3 mi".
func (p *parser) legAt(ts []token) (l Leg, m Manner, n int, why string) {
	i := 0
	for i < len(ts) && (ts[i].can(isHedge) || ts[i].text == "~") {
		i++
	}
	front, k := Leg{}, 0
	if i < len(ts) && ts[i].kind == isWord && !ts[i].can(isCount) {
		if front, k = p.headingAt(ts[i:]); k > 0 {
			i += k
			for i < len(ts) && ts[i].can(isHedge) {
				i++
			}
		}
	}
	q, k := p.quantityAt(ts[i:], false)
	if k == 0 || q.unit.name == "" {
		return l, m, 0, p.brokenQuantity(ts[i:])
	}
	if q.value >= 1000 && strings.Contains(q.written, ",") && q.unit.metres >= geo.Kilometre {
		return l, m, 0, fmt.Sprintf("%s %s may be thousands or a decimal comma", q.written, q.unit.name)
	}
	i += k
	if front.Toward != "" {
		l = front
	}
	l.Number, l.Unit, l.Distance, l.Half = q.written, q.unit.name, q.metres(), q.half()
	if k, m = p.mannerAt(ts[i:]); k > 0 {
		i += k
	}
	if back, k := p.headingAt(ts[i:]); k > 0 {
		if front.Toward != "" {
			return l, m, 0, "two headings stand with one distance"
		}
		l.Toward, l.Heading, l.HalfAngle = back.Toward, back.Heading, back.HalfAngle
		i += k
	} else if i < len(ts) && ts[i].can(isStream) && l.Toward == "" {
		l.Toward = p.lex.stream[ts[i].key]
		i++
	}
	if k, again := p.mannerAt(ts[i:]); k > 0 {
		m, i = again, i+k
	}
	l.Span = Span{ts[0].From, ts[i-1].To}
	return l, m, i, ""
}

// brokenQuantity says why a number that leads to "of" or a heading is no
// distance; "" where nothing looks like one.
func (p *parser) brokenQuantity(ts []token) string {
	if len(ts) < 3 || ts[0].kind != isNumber {
		return ""
	}
	next := ts[1]
	if next.text == "-" || next.text == "–" {
		for _, t := range ts[2:] {
			if p.lex.units[t.key].name != "" {
				return "a range of distances is not one distance"
			}
		}
	}
	if next.kind == isWord && !next.capital() {
		if _, k := p.headingAt(ts[1:]); k > 0 {
			return fmt.Sprintf("after %q a unit of length is missing", ts[0].text)
		}
		for _, t := range ts[2:] {
			if t.can(isOf) {
				return fmt.Sprintf("%q is no unit of length", next.text)
			}
		}
	}
	return ""
}
