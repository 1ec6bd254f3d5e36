package find

import (
	"strings"
	"unicode"

	"wayfall/geo/locality"
)

// telling is a place in words, taken apart.
type telling struct {
	offset  *locality.Offset
	feature string   // where there is no offset: the only clause that may be a name
	county  string   // as written, without the word "County"
	state   string   // ISO 3166-2
	left    []string // clauses that were not understood
	way     bool     // a road, a river or the like is spoken of
	doubt   string   // why the words must stay words, as a flag
}

// maxWords is the longest text that is looked at.
const maxWords = 500

// takeApart reads a place in words clause by clause: one offset, one county,
// one state; the rest is left.
func takeApart(text string) telling {
	var t telling
	if len(text) > maxWords {
		t.left, t.doubt = []string{"the whole text"}, "text-too-long"
		return t
	}
	if strings.ContainsRune(text, '?') {
		t.doubt = "text-in-doubt"
	}
	byAir := false
	for _, c := range clauses(text) {
		byAir = byAir || strings.EqualFold(c, "by air")
		t.take(c)
	}
	for _, c := range t.left {
		t.weigh(c)
	}
	t.way = t.way && !byAir
	if t.offset == nil && len(t.left) == 1 {
		t.feature, t.left = t.left[0], nil
	}
	return t
}

// clauses splits at commas and semicolons, but not between the digits of a
// number and not inside brackets. What stands in brackets at the end of a
// clause is a clause of its own.
func clauses(text string) []string {
	var all []string
	depth, from := 0, 0
	for i := 0; i <= len(text); i++ {
		switch {
		case i == len(text) || depth == 0 && (text[i] == ';' || text[i] == '\n' || text[i] == ',' && !inNumber(text, i)):
			all = appendClause(all, text[from:i])
			from = i + 1
		case text[i] == '(':
			depth++
		case text[i] == ')' && depth > 0:
			depth--
		}
	}
	return all
}

func inNumber(s string, i int) bool {
	return i > 0 && i+1 < len(s) && digit(s[i-1]) && digit(s[i+1])
}

func digit(b byte) bool { return b >= '0' && b <= '9' }

func appendClause(all []string, s string) []string {
	s = strings.TrimSpace(s)
	open := strings.IndexByte(s, '(')
	if open >= 0 && strings.HasSuffix(s, ")") && strings.Count(s, "(") == 1 {
		all = appendClause(all, s[:open])
		s = strings.TrimSpace(s[open+1 : len(s)-1])
	}
	if s != "" {
		all = append(all, s)
	}
	return all
}

// countries are the ways to write the one country; common practice.
var countries = []string{"USA", "U.S.A.", "US", "U.S.", "United States", "United States of America"}

// take sorts a clause.
func (t *telling) take(c string) {
	for _, name := range countries {
		if strings.EqualFold(c, name) {
			return
		}
	}
	if strings.EqualFold(c, "by air") {
		return
	}
	if code := stateClause(c); code != "" {
		if t.state != "" && t.state != code {
			t.left = append(t.left, NameOf(t.state)) // a town may bear the name of a state
			if t.offset != nil {
				t.doubt = "states-several"
			}
		}
		t.state = code
		return
	}
	if county := countyClause(c); county != "" {
		if t.county != "" && !sameName(t.county, county) {
			t.doubt = "counties-several"
		}
		t.county = county
		return
	}
	if o, err := locality.Read(c); err == nil {
		if t.offset != nil {
			t.doubt = "offsets-several"
		}
		t.offset = &o
		t.cutWay()
		return
	}
	t.left = append(t.left, c)
}

// stateClause reads a clause that is a state and nothing else. Two letters
// count only as capitals: "or" and "me" are words.
func stateClause(c string) string {
	if len(c) == 2 && c != strings.ToUpper(c) {
		return ""
	}
	return codeOf(c)
}

// countyClause reads "Mason County", "Mason Co." and the like.
func countyClause(c string) string {
	lower := strings.ToLower(c)
	for _, tail := range [...]string{" county", " co.", " co", " parish", " borough"} {
		if strings.HasSuffix(lower, tail) && len(lower) == len(c) {
			return strings.TrimSpace(c[:len(c)-len(tail)])
		}
	}
	if strings.HasPrefix(lower, "county of ") && len(lower) == len(c) {
		return strings.TrimSpace(c[len("county of "):])
	}
	return ""
}

// cutWay parts "Hart on M-20" into the name and the way.
func (t *telling) cutWay() {
	for _, word := range [...]string{" on ", " along ", " via "} {
		name, rest, found := strings.Cut(t.offset.Feature, word)
		if found && isWay(wordsOf(rest)) {
			t.offset.Feature = strings.TrimSpace(name)
			t.left = append(t.left, strings.TrimSpace(word)+" "+rest)
			return
		}
	}
}

func wordsOf(c string) []string {
	words := strings.FieldsFunc(strings.ToLower(c), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune("./½¼¾", r)
	})
	for i := range words {
		words[i] = strings.Trim(words[i], ".")
	}
	return append(words, "")
}

// weigh looks into a clause that was not understood for what would change the
// meaning of one that was.
func (t *telling) weigh(c string) {
	words := wordsOf(c)
	t.way = t.way || isWay(words)
	for i, w := range words[:len(words)-1] {
		switch {
		case doubts[w]:
			t.doubt = "text-in-doubt"
		case length(w, words[i+1]):
			t.doubt = "distance-left"
		}
	}
}

func isWay(words []string) bool {
	for i, w := range words[:len(words)-1] {
		next := words[i+1]
		if ways[w] || numbered[w] && next != "" && digit(next[0]) {
			return true
		}
	}
	return false
}

func set(words string) map[string]bool {
	m := make(map[string]bool)
	for _, w := range strings.Fields(words) {
		m[w] = true
	}
	return m
}

// Words of English, hand-made lists, common practice. A word too many in ways
// makes a circle larger than it need be; one too many in doubts leaves words.
var (
	doubts   = set("between halfway midway or not then thence perhaps possibly probably maybe unsure unknown")
	ways     = set("road rd street avenue ave boulevard blvd drive lane highway hwy route rte freeway interstate trail path track tracks railroad railway rail milepost mile mp marker northbound southbound eastbound westbound shoulder verge median ramp exit bridge river creek stream brook ditch canal upstream downstream upriver downriver along via shore shoreline beach coast")
	numbered = set("m us i sr cr route hwy rte")
	lengths  = set("mi mile miles km kms kilometer kilometers kilometre kilometres m meter meters metre metres ft foot feet yd yds yard yards rod rods pace paces block blocks min minutes")
)

// length tells whether a word, or it and the next, is a distance.
func length(word, next string) bool {
	number := strings.TrimLeft(word, "0123456789./½¼¾")
	if number == word {
		return false
	}
	return number == "" && lengths[next] || lengths[number]
}
