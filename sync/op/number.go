package op

import (
	"errors"
	"math"
	"strconv"
)

// numberEnd returns where the run of characters of a number ends.
func numberEnd(text string, at int) int {
	for at < len(text) {
		switch c := text[at]; {
		case '0' <= c && c <= '9', c == '-', c == '+', c == '.', c == 'e', c == 'E':
			at++
		default:
			return at
		}
	}
	return at
}

// plainInteger reports whether text is a whole number that a double holds
// exactly, as canonical form writes it.
func plainInteger(text string) bool {
	digits := text
	if digits != "" && digits[0] == '-' {
		digits = digits[1:]
		if digits == "0" {
			return false
		}
	}
	if digits == "" || len(digits) > 15 || digits[0] == '0' && len(digits) > 1 {
		return false
	}
	for i := range len(digits) {
		if digits[i] < '0' || digits[i] > '9' {
			return false
		}
	}
	return true
}

var (
	errNumber   = errors.New("not a number")
	errInfinite = errors.New("a number outside the range of a double")
)

// parseNumber reads a number as RFC 8259 section 6 spells it.
func parseNumber(text string) (float64, error) {
	if !jsonNumber(text) {
		return 0, errNumber
	}
	f, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(f, 0) {
		return 0, errInfinite
	}
	return f, nil
}

func jsonNumber(t string) bool {
	i := 0
	digits := func() bool {
		start := i
		for i < len(t) && '0' <= t[i] && t[i] <= '9' {
			i++
		}
		return i > start
	}
	if i < len(t) && t[i] == '-' {
		i++
	}
	whole := i
	if !digits() || t[whole] == '0' && i-whole > 1 {
		return false
	}
	if i < len(t) && t[i] == '.' {
		i++
		if !digits() {
			return false
		}
	}
	if i < len(t) && (t[i] == 'e' || t[i] == 'E') {
		i++
		if i < len(t) && (t[i] == '+' || t[i] == '-') {
			i++
		}
		if !digits() {
			return false
		}
	}
	return i == len(t)
}

// appendNumber appends f in the shortest form of ECMAScript's Number::toString
// (ECMA-262), which RFC 8785 section 3.2.2.3 adopts. f is finite.
func appendNumber(b []byte, f float64) []byte {
	if f == 0 { // -0 too
		return append(b, '0')
	}
	if a := math.Abs(f); 1e-6 <= a && a < 1e21 {
		return strconv.AppendFloat(b, f, 'f', -1, 64)
	}
	start := len(b)
	b = strconv.AppendFloat(b, f, 'e', -1, 64)
	// strconv pads the exponent to two digits, ECMAScript does not.
	if n := len(b); n-start >= 4 && b[n-2] == '0' && (b[n-3] == '+' || b[n-3] == '-') {
		b = append(b[:n-2], b[n-1])
	}
	return b
}

// appendString appends s as RFC 8785 section 3.2.2.2 writes it.
func appendString(b []byte, s string) []byte {
	b = append(b, '"')
	start := 0
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c >= 0x20 && c != '"' && c != '\\' {
			continue
		}
		b = append(b, s[start:i]...)
		start = i + 1
		if short := shortEscape(c); short != 0 {
			b = append(b, '\\', short)
		} else {
			b = append(b, '\\', 'u', '0', '0', "0123456789abcdef"[c>>4], "0123456789abcdef"[c&15])
		}
	}
	return append(append(b, s[start:]...), '"')
}

func shortEscape(c byte) byte {
	switch c {
	case '"', '\\':
		return c
	case '\b':
		return 'b'
	case '\t':
		return 't'
	case '\n':
		return 'n'
	case '\f':
		return 'f'
	case '\r':
		return 'r'
	}
	return 0
}
