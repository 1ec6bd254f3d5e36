package op

import (
	"strconv"
	"strings"
	"unicode/utf8"
)

// scanner walks over JSON text and refuses everything that RFC 8785 would have
// written otherwise. It copies nothing: what it returns is part of the text.
type scanner struct {
	text string
	at   int
}

func (s *scanner) fail(reason error, detail string) error {
	return &FormError{reason, s.at, detail}
}

func (s *scanner) malformed(detail string) error { return s.fail(ErrMalformed, detail) }

func (s *scanner) peek() byte {
	if s.at < len(s.text) {
		return s.text[s.at]
	}
	return 0
}

func (s *scanner) expect(c byte) error {
	if s.peek() == c && s.at < len(s.text) {
		s.at++
		return nil
	}
	if s.at < len(s.text) && isSpace(s.text[s.at]) {
		return s.fail(ErrNotCanonical, "white space between tokens")
	}
	return s.malformed("expected " + strconv.QuoteRune(rune(c)))
}

func isSpace(c byte) bool { return c == ' ' || c == '\t' || c == '\n' || c == '\r' }

// end refuses anything after the value.
func (s *scanner) end() error {
	if s.at == len(s.text) {
		return nil
	}
	if isSpace(s.text[s.at]) {
		return s.fail(ErrNotCanonical, "white space after the value")
	}
	return s.malformed("something follows the value")
}

// value passes over one value and returns its text.
func (s *scanner) value(depth int) (string, error) {
	start := s.at
	var err error
	switch c := s.peek(); {
	case c == '"':
		_, err = s.str()
	case c == '{':
		err = s.skipObject(depth)
	case c == '[':
		err = s.array(depth, func() error { _, err := s.value(depth + 1); return err })
	case c == '-' || '0' <= c && c <= '9':
		err = s.number()
	default:
		err = s.literal()
	}
	return s.text[start:s.at], err
}

func (s *scanner) literal() error {
	for _, w := range [...]string{"true", "false", "null"} {
		if strings.HasPrefix(s.text[s.at:], w) {
			s.at += len(w)
			return nil
		}
	}
	if isSpace(s.peek()) {
		return s.fail(ErrNotCanonical, "white space between tokens")
	}
	return s.malformed("expected a value")
}

func (s *scanner) skipObject(depth int) error {
	o, err := s.object(depth)
	for err == nil && o.more() {
		if _, err = o.key(); err == nil {
			_, err = s.value(depth + 1)
		}
	}
	return err
}

// array calls each at the start of every element.
func (s *scanner) array(depth int, each func() error) error {
	if depth >= MaxDepth {
		return s.fail(ErrTooLarge, "nested deeper than "+strconv.Itoa(MaxDepth))
	}
	if err := s.expect('['); err != nil {
		return err
	}
	if s.peek() == ']' {
		s.at++
		return nil
	}
	for {
		if err := each(); err != nil {
			return err
		}
		if s.peek() != ',' {
			return s.expect(']')
		}
		s.at++
	}
}

// object walks over the members of one object.
type object struct {
	s     *scanner
	last  string
	count int
	done  bool
}

func (s *scanner) object(depth int) (object, error) {
	if depth >= MaxDepth {
		return object{}, s.fail(ErrTooLarge, "nested deeper than "+strconv.Itoa(MaxDepth))
	}
	if err := s.expect('{'); err != nil {
		return object{}, err
	}
	o := object{s: s}
	if s.peek() == '}' {
		s.at++
		o.done = true
	}
	return o, nil
}

// more reports whether a member follows, and passes the closing brace if not.
func (o *object) more() bool {
	if !o.done && o.count > 0 && o.s.peek() == '}' {
		o.s.at++
		o.done = true
	}
	return !o.done
}

// key reads the name of the next member, up to its value.
func (o *object) key() (string, error) {
	if o.count > 0 {
		if err := o.s.expect(','); err != nil {
			return "", err
		}
	}
	name, err := o.s.str()
	if err != nil {
		return "", err
	}
	if o.count > 0 {
		switch c := compareUTF16(o.last, name); {
		case c == 0:
			return "", o.s.malformed("member " + short(name) + " stands twice")
		case c > 0:
			return "", o.s.fail(ErrNotCanonical, "member "+short(name)+" is out of order")
		}
	}
	o.count++
	o.last = name
	return name, o.s.expect(':')
}

// short quotes a name for a message, not all of it if it is long.
func short(name string) string {
	if len(name) > 40 {
		name = name[:40] + "…"
	}
	return strconv.Quote(name)
}

// str reads a string and returns what it stands for.
func (s *scanner) str() (string, error) {
	if err := s.expect('"'); err != nil {
		return "", err
	}
	start, text, i := s.at, s.text, s.at
	for ; i < len(text); i++ {
		c := text[i]
		if plainByte[c] {
			continue
		}
		s.at = i
		switch {
		case c == '"':
			if i-start > MaxText {
				return "", s.fail(ErrTooLarge, "a text of more than "+strconv.Itoa(MaxText)+" bytes")
			}
			s.at++
			return text[start:i], nil
		case c == '\\':
			return s.escaped(start)
		case c < 0x20:
			return "", s.malformed("a control character in a string")
		}
		r, n := utf8.DecodeRuneInString(text[i:])
		if r == utf8.RuneError && n == 1 {
			return "", s.malformed("not UTF-8")
		}
		i += n - 1
	}
	s.at = i
	return "", s.malformed("the string does not end")
}

// plainByte marks the bytes that stand for themselves in a string.
var plainByte = func() (plain [256]bool) {
	for c := 0x20; c < utf8.RuneSelf; c++ {
		plain[c] = c != '"' && c != '\\'
	}
	return plain
}()

// escaped reads on from the first backslash of a string that began at start.
func (s *scanner) escaped(start int) (string, error) {
	r := reader{text: s.text, at: start - 1}
	out, err := r.str()
	if err != nil {
		return "", err
	}
	if want := appendString(nil, out); string(want) != s.text[start-1:r.at] {
		return "", s.fail(ErrNotCanonical, "an escape that canonical form writes otherwise")
	}
	s.at = r.at
	return out, nil
}

// number passes over a number in its shortest ECMAScript form.
func (s *scanner) number() error {
	start := s.at
	end := numberEnd(s.text, start)
	text := s.text[start:end]
	if plainInteger(text) {
		s.at = end
		return nil
	}
	if text == "" && isSpace(s.peek()) {
		return s.fail(ErrNotCanonical, "white space between tokens")
	}
	f, err := parseNumber(text)
	if err != nil {
		return s.malformed(err.Error())
	}
	if string(appendNumber(nil, f)) != text {
		return s.fail(ErrNotCanonical, "a number that canonical form writes otherwise")
	}
	s.at = end
	return nil
}

// compareUTF16 orders two strings by their UTF-16 code units, as RFC 8785
// section 3.2.3 sorts the names of members.
func compareUTF16(a, b string) int {
	i := 0
	for i < len(a) && i < len(b) && a[i] == b[i] {
		i++
	}
	if i == len(a) || i == len(b) {
		return len(a) - len(b)
	}
	if a[i] < utf8.RuneSelf && b[i] < utf8.RuneSelf {
		return int(a[i]) - int(b[i])
	}
	for i > 0 && (!utf8.RuneStart(a[i]) || !utf8.RuneStart(b[i])) {
		i--
	}
	ra, _ := utf8.DecodeRuneInString(a[i:])
	rb, _ := utf8.DecodeRuneInString(b[i:])
	if (ra > 0xFFFF) == (rb > 0xFFFF) {
		return int(ra - rb)
	}
	return int(firstUnit(ra) - firstUnit(rb))
}

func firstUnit(r rune) rune {
	if r > 0xFFFF {
		return 0xD800 + (r-0x10000)>>10
	}
	return r
}
