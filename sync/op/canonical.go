package op

import (
	"encoding/json"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// Value is the text of one JSON value in canonical form. Equal values have
// equal text. The empty Value is unknown, which JSON cannot say.
type Value string

// Text returns the value of a string.
func Text(s string) Value { return Value(appendString(nil, s)) }

// ValueOf returns v, as encoding/json writes it, in canonical form.
func ValueOf(v any) (Value, error) {
	b, err := json.Marshal(v)
	if err != nil {
		return "", err
	}
	c, err := Canonical(b)
	return Value(c), err
}

// Into reads the value into what v points at, as encoding/json does.
func (v Value) Into(target any) error {
	if text, ok := target.(*string); ok {
		if plain, ok := v.plain(); ok {
			*text = strings.Clone(plain) // the value may be a small part of a long operation
			return nil
		}
	}
	return json.Unmarshal([]byte(v), target)
}

// plain returns the text of a value that is one in plain ASCII, which nearly
// all texts are.
func (v Value) plain() (string, bool) {
	if len(v) < 2 || v[0] != '"' || v[len(v)-1] != '"' {
		return "", false
	}
	inner := string(v[1 : len(v)-1])
	for i := range len(inner) {
		if c := inner[i]; c < ' ' || c > '~' || c == '"' || c == '\\' {
			return "", false
		}
	}
	return inner, true
}

// MarshalJSON returns the text of the value; the unknown Value is null.
func (v Value) MarshalJSON() ([]byte, error) {
	if v == "" {
		return []byte("null"), nil
	}
	return []byte(v), nil
}

// UnmarshalJSON takes any spelling of a value and keeps the canonical one.
func (v *Value) UnmarshalJSON(b []byte) error {
	c, err := Canonical(b)
	*v = Value(c)
	return err
}

// Check reports why text is not one JSON value in canonical form.
func Check(text string) error {
	s := scanner{text: text}
	if _, err := s.value(0); err != nil {
		return err
	}
	return s.end()
}

// Canonical returns any JSON value in the canonical form of RFC 8785: names
// sorted by UTF-16 code units, numbers in their shortest form, no white space,
// no change of Unicode. It refuses a name that stands twice in one object, a
// number outside the range of a double, a lone surrogate and what is nested
// deeper than MaxDepth.
func Canonical(any []byte) ([]byte, error) {
	text := string(any)
	if Check(text) == nil {
		return slices.Clone(any), nil
	}
	r := reader{text: text}
	n, err := r.value(0)
	if err != nil {
		return nil, err
	}
	r.space()
	if r.at < len(r.text) {
		return nil, r.malformed("something follows the value")
	}
	return n.append(make([]byte, 0, len(any))), nil
}

// node is one value on its way into canonical form.
type node struct {
	plain   []byte // scalars, already written
	open    byte   // '[' or '{', or 0
	members []member
}

type member struct {
	name  string
	value node
}

func (n node) append(b []byte) []byte {
	if n.open == 0 {
		return append(b, n.plain...)
	}
	b = append(b, n.open)
	for i, m := range n.members {
		if i > 0 {
			b = append(b, ',')
		}
		if n.open == '{' {
			b = append(appendString(b, m.name), ':')
		}
		b = m.value.append(b)
	}
	return append(b, n.open+2) // ']' and '}' stand two after their opening
}

// reader reads JSON in any spelling.
type reader struct {
	text string
	at   int
}

func (r *reader) malformed(detail string) error { return &FormError{ErrMalformed, r.at, detail} }

func (r *reader) space() {
	for r.at < len(r.text) && isSpace(r.text[r.at]) {
		r.at++
	}
}

// next returns the next character after white space without passing it; 0 at the end.
func (r *reader) next() byte {
	r.space()
	if r.at < len(r.text) {
		return r.text[r.at]
	}
	return 0
}

func (r *reader) value(depth int) (node, error) {
	switch c := r.next(); {
	case c == '"':
		s, err := r.str()
		return node{plain: appendString(nil, s)}, err
	case c == '{' || c == '[':
		if depth >= MaxDepth {
			return node{}, &FormError{ErrTooLarge, r.at, "nested deeper than " + strconv.Itoa(MaxDepth)}
		}
		return r.container(c, depth)
	case c == '-' || '0' <= c && c <= '9':
		end := numberEnd(r.text, r.at)
		f, err := parseNumber(r.text[r.at:end])
		if err != nil {
			return node{}, r.malformed(err.Error())
		}
		r.at = end
		return node{plain: appendNumber(nil, f)}, nil
	}
	s := scanner{text: r.text, at: r.at}
	if err := s.literal(); err != nil {
		return node{}, err
	}
	n := node{plain: []byte(r.text[r.at:s.at])}
	r.at = s.at
	return n, nil
}

func (r *reader) container(open byte, depth int) (node, error) {
	n := node{open: open}
	r.at++
	if r.next() == open+2 {
		r.at++
		return n, nil
	}
	for {
		m, err := r.member(open, depth)
		if err != nil {
			return n, err
		}
		n.members = append(n.members, m)
		c := r.next()
		if c != ',' && c != open+2 {
			return n, r.malformed("expected a comma or " + strconv.QuoteRune(rune(open+2)))
		}
		r.at++
		if c == open+2 {
			break
		}
	}
	if open == '{' {
		return n, r.sort(n.members)
	}
	return n, nil
}

func (r *reader) member(open byte, depth int) (m member, err error) {
	if open == '{' {
		if r.next() != '"' {
			return m, r.malformed("expected the name of a member")
		}
		if m.name, err = r.str(); err != nil {
			return m, err
		}
		if r.next() != ':' {
			return m, r.malformed("expected ':'")
		}
		r.at++
	}
	m.value, err = r.value(depth + 1)
	return m, err
}

func (r *reader) sort(members []member) error {
	slices.SortFunc(members, func(a, b member) int { return compareUTF16(a.name, b.name) })
	for i := 1; i < len(members); i++ {
		if members[i].name == members[i-1].name {
			return r.malformed("member " + short(members[i].name) + " stands twice")
		}
	}
	return nil
}

// str reads a string in any spelling, from its opening quote.
func (r *reader) str() (string, error) {
	r.at++
	var out []byte
	for r.at < len(r.text) {
		c := r.text[r.at]
		switch {
		case c == '"':
			if len(out) > MaxText {
				return "", &FormError{ErrTooLarge, r.at, "a text of more than " + strconv.Itoa(MaxText) + " bytes"}
			}
			r.at++
			return string(out), nil
		case c == '\\':
			char, err := r.escape()
			if err != nil {
				return "", err
			}
			out = utf8.AppendRune(out, char)
		case c < 0x20:
			return "", r.malformed("a control character in a string")
		default:
			char, n := utf8.DecodeRuneInString(r.text[r.at:])
			if char == utf8.RuneError && n == 1 {
				return "", r.malformed("not UTF-8")
			}
			out = append(out, r.text[r.at:r.at+n]...)
			r.at += n
		}
	}
	return "", r.malformed("the string does not end")
}

// escape reads one escape, or the two that make a surrogate pair.
func (r *reader) escape() (rune, error) {
	if r.at+1 >= len(r.text) {
		return 0, r.malformed("the string does not end")
	}
	c := r.text[r.at+1]
	if c != 'u' {
		plain := plainOf(c)
		if plain == 0 {
			return 0, r.malformed("an unknown escape")
		}
		r.at += 2
		return plain, nil
	}
	u, ok := r.unit()
	if !ok {
		return 0, r.malformed("an escape without four hexadecimal digits")
	}
	if !utf16.IsSurrogate(u) {
		return u, nil
	}
	low, ok := r.unit()
	if pair := utf16.DecodeRune(u, low); ok && pair != utf8.RuneError {
		return pair, nil
	}
	return 0, r.malformed("half of a surrogate pair")
}

// plainOf returns what a backslash and c stand for, 0 if nothing.
func plainOf(c byte) rune {
	switch c {
	case '"', '\\', '/':
		return rune(c)
	case 'b':
		return '\b'
	case 'f':
		return '\f'
	case 'n':
		return '\n'
	case 'r':
		return '\r'
	case 't':
		return '\t'
	}
	return 0
}

func (r *reader) unit() (rune, bool) {
	if r.at+6 > len(r.text) || r.text[r.at] != '\\' || r.text[r.at+1] != 'u' {
		return 0, false
	}
	u, err := strconv.ParseUint(r.text[r.at+2:r.at+6], 16, 16)
	r.at += 6
	return rune(u), err == nil
}
