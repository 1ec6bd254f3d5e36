package locality

import (
	"iter"
	"strings"
	"unicode"
	"unicode/utf8"
)

// token is a word, a number or a mark.
type token struct {
	Span
	text   string
	key    string // in lower case, without dots
	roles  role
	number quantity // for a number
	kind   tokenKind
	small  bool // a small word in a text that is all in capitals
}

type tokenKind uint8

const (
	isMark tokenKind = iota
	isWord
	isNumber
	isDegree
)

func (t *token) can(r role) bool { return t.kind == isWord && t.roles&r != 0 }

// capital tells whether the word begins as a name does.
func (t *token) capital() bool {
	if t.small {
		return false
	}
	r, _ := utf8.DecodeRuneInString(t.text)
	return t.kind == isNumber || unicode.IsUpper(r) || unicode.IsTitle(r) || r > 0x2E80 && unicode.IsLetter(r)
}

func lower(s string) string { return strings.ToLower(s) }

func splitWords(s string) iter.Seq[string] { return strings.FieldsSeq(s) }

// plainWord tells whether the word is written without a capital.
func (t *token) plainWord() bool { return t.small || lower(t.text) == t.text }

// smallRoles are those of words that are written small unless everything is in
// capitals.
const smallRoles = isOf | isAnd | isBy | isOn | isNear | isBetween | isIn | isDoubt | isArticle | isSide | isBank | isHedge | isStream | isPlain | isOutside

// shouted marks the small words of a text that is all in capitals.
func shouted(text string, all []token) {
	big, letters := 0, 0
	for _, r := range text {
		if unicode.IsLetter(r) {
			letters++
			if unicode.IsUpper(r) {
				big++
			}
		}
	}
	if letters < 4 || big*10 < letters*8 {
		return
	}
	for i := range all {
		all[i].small = all[i].can(smallRoles) && len(all[i].key) > 1
	}
}

// scan divides a text into tokens.
func scan(text string, lex *lexicon) []token {
	all := make([]token, 0, len(text)/4+1)
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRuneInString(text[i:])
		switch {
		case unicode.IsSpace(r):
			i += size
			continue
		case r >= '0' && r <= '9' || fractions[r] != [2]int{} || r == '.' && i+1 < len(text) && digitAt(text, i+1) && !digitAt(text, i-1):
			all = append(all, scanNumber(text, i, lex))
		case unicode.IsLetter(r):
			all = append(all, scanWord(text, i, lex))
		case r == '°' || r == 'º':
			all = append(all, token{Span: Span{i, i + size}, text: text[i : i+size], kind: isDegree})
		case r == '&':
			all = append(all, token{Span: Span{i, i + 1}, text: "&", key: "&", kind: isWord, roles: lex.roles["&"]})
		default:
			all = append(all, token{Span: Span{i, i + size}, text: text[i : i+size]})
		}
		i = all[len(all)-1].To
	}
	return all
}

func digitAt(s string, i int) bool { return i >= 0 && i < len(s) && s[i] >= '0' && s[i] <= '9' }

// scanWord reads letters with the marks that stand inside words.
func scanWord(text string, from int, lex *lexicon) token {
	i := from
	for i < len(text) {
		r, size := utf8.DecodeRuneInString(text[i:])
		next, _ := utf8.DecodeRuneInString(text[min(len(text), i+size):])
		inner := (r == '\'' || r == '’' || r == '-' || r == '–') && (unicode.IsLetter(next) || unicode.IsDigit(next))
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r) && r != '.' && !inner {
			break
		}
		if r == '.' && !unicode.IsLetter(next) { // the dot of an abbreviation belongs to it, and ends it
			i += size
			break
		}
		i += size
	}
	t := token{Span: Span{from, i}, text: text[from:i], kind: isWord}
	t.key = lower(strings.ReplaceAll(t.text, ".", ""))
	t.roles = lex.roles[t.key]
	return t
}

// scanNumber reads a number, or an ordinal such as "2nd", which is a word.
func scanNumber(text string, from int, lex *lexicon) token {
	var q quantity
	rest, err := q.readPlain(text[from:])
	to := len(text) - len(rest)
	if err != nil || to == from {
		to = from
		for to < len(text) && digitAt(text, to) {
			to++
		}
		if to == from {
			_, size := utf8.DecodeRuneInString(text[from:])
			return token{Span: Span{from, from + size}, text: text[from : from+size]}
		}
		return token{Span: Span{from, to}, text: text[from:to], kind: isNumber}
	}
	for _, tail := range [...]string{"st", "nd", "rd", "th"} {
		if len(rest) >= 2 && strings.EqualFold(rest[:2], tail) && (len(rest) == 2 || !letter(rest[2])) {
			return token{Span: Span{from, to + 2}, text: text[from : to+2], key: lower(text[from : to+2]), kind: isWord, roles: lex.roles[lower(text[from:to+2])]}
		}
	}
	q.written = strings.TrimSpace(text[from:to])
	return token{Span: Span{from, from + len(strings.TrimRight(text[from:to], " \t"))}, text: q.written, kind: isNumber, number: q}
}

// readPlain reads a number as readNumber does, and a decimal comma where it
// can be nothing else.
func (q *quantity) readPlain(s string) (rest string, err error) {
	whole := 0
	for digitAt(s, whole) {
		whole++
	}
	tail := whole + 1
	for digitAt(s, tail) {
		tail++
	}
	if whole > 0 && whole < len(s) && s[whole] == ',' && tail == whole+1 {
		_, err := q.readNumber(s[:whole])
		return s[whole:], err
	}
	if n := tail - whole - 1; whole > 0 && whole < len(s) && s[whole] == ',' && n > 0 && n != 3 && !(tail < len(s) && s[tail] == ',' && digitAt(s, tail+1)) {
		decimal := s[:whole] + "." + s[whole+1:tail]
		if _, err := q.readNumber(decimal); err != nil {
			return s, err
		}
		return s[tail:], nil
	}
	return q.readNumber(s)
}
