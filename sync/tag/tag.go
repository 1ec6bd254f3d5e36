// Package tag makes and reads the numbers that are written on bags with a
// marker in the rain and typed again by somebody else: letters and digits
// closed by one check character of ISO/IEC 7064, system MOD 37,36.
//
// It promises that one wrong character is always noticed. It never guesses:
// lower case, spaces and hyphens are forgiven, but a letter O is not a zero
// and no character is repaired. It does not know which tags were handed out.
package tag

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// Tag is a whole tag, check character last, without spaces or hyphens:
// "K7Q2041". The zero Tag is unknown.
type Tag string

// longest bounds a tag far above what anybody writes on a bag.
const longest = 32

// Reasons why a text is not a tag.
var (
	ErrShort = errors.New("a tag has at least one letter or digit and its check character")
	ErrLong  = fmt.Errorf("a tag has at most %d letters and digits", longest)
	ErrCheck = errors.New("the check character does not fit; one of the letters or digits is misread")
)

// CharacterError says which character does not belong in a tag.
type CharacterError struct{ Found rune }

// Error returns the sentence for the person who typed the tag.
func (e CharacterError) Error() string {
	return fmt.Sprintf("%q is not a letter A to Z or a digit", e.Found)
}

// Check returns the check character of a payload of digits and capitals, by
// the hybrid system MOD 37,36 of ISO/IEC 7064:2003.
func Check(payload string) (byte, error) {
	p := 36
	for i := range len(payload) {
		v, err := value(rune(payload[i]))
		if err != nil {
			return 0, err
		}
		if p = (p + v) % 36; p == 0 {
			p = 36
		}
		p = p * 2 % 37
	}
	return "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"[(37-p)%36], nil
}

func value(c rune) (int, error) {
	switch {
	case '0' <= c && c <= '9':
		return int(c - '0'), nil
	case 'A' <= c && c <= 'Z':
		return int(c-'A') + 10, nil
	}
	return 0, CharacterError{c}
}

// Make returns the nth tag of a book of tags: the prefix, n in at least three
// digits, and the check character.
func Make(prefix string, n uint) (Tag, error) {
	digits := strconv.FormatUint(uint64(n), 10)
	if len(digits) < 3 {
		digits = strings.Repeat("0", 3-len(digits)) + digits
	}
	payload := prefix + digits
	if len(payload)+1 > longest {
		return "", ErrLong
	}
	c, err := Check(payload)
	if err != nil {
		return "", err
	}
	return Tag(payload + string(c)), nil
}

// Parse reads a tag as somebody typed it. Small letters count as capitals;
// spaces and hyphens are dropped; everything else must be right.
func Parse(typed string) (Tag, error) {
	var b strings.Builder
	for _, c := range typed {
		if c == ' ' || c == '-' {
			continue
		}
		if 'a' <= c && c <= 'z' {
			c += 'A' - 'a'
		}
		if _, err := value(c); err != nil {
			return "", err
		}
		if b.Len() == longest {
			return "", ErrLong
		}
		b.WriteRune(c)
	}
	s := b.String()
	if len(s) < 2 {
		return "", ErrShort
	}
	if c, err := Check(s[:len(s)-1]); err != nil || c != s[len(s)-1] {
		return "", ErrCheck
	}
	return Tag(s), nil
}

// Payload returns the tag without its check character.
func (t Tag) Payload() string {
	if t == "" {
		return ""
	}
	return string(t[:len(t)-1])
}

// String returns the tag as it is printed, in groups: "K7Q-204-1". The last
// group is the check character, the one before it the last three of the rest.
func (t Tag) String() string {
	p := t.Payload()
	if p == "" {
		return string(t)
	}
	if len(p) > 3 {
		p = p[:len(p)-3] + "-" + p[len(p)-3:]
	}
	return p + "-" + string(t[len(t)-1])
}
