package notation

import (
	"strings"
	"unicode/utf8"

	"wayfall/geo"
)

// sort of token.
type sort uint8

const (
	number sort = iota + 1
	sign
	letter // N, S, E or W
	mark   // of degrees, minutes or seconds
	label  // lat or lon
	gap    // between the two coordinates
)

// token is one piece of the text.
type token struct {
	sort sort
	// text is the digits of a number, with a point for decimals.
	text string
	// value is the sign '-' or '+', the letter, the axis of a label ('N' or
	// 'E'), or the mark 'd', 'm' or 's'.
	value byte
	// joined is set when nothing stood between this token and the last.
	joined bool
}

var words = map[string]token{
	"N": {sort: letter, value: 'N'}, "S": {sort: letter, value: 'S'},
	"E": {sort: letter, value: 'E'}, "W": {sort: letter, value: 'W'},
	"NORTH": {sort: letter, value: 'N'}, "SOUTH": {sort: letter, value: 'S'},
	"EAST": {sort: letter, value: 'E'}, "WEST": {sort: letter, value: 'W'},
	"D": {sort: mark, value: 'd'}, "DEG": {sort: mark, value: 'd'},
	"DEGREE": {sort: mark, value: 'd'}, "DEGREES": {sort: mark, value: 'd'},
	"M": {sort: mark, value: 'm'}, "MIN": {sort: mark, value: 'm'},
	"MINUTE": {sort: mark, value: 'm'}, "MINUTES": {sort: mark, value: 'm'},
	"SEC": {sort: mark, value: 's'}, "SECOND": {sort: mark, value: 's'}, "SECONDS": {sort: mark, value: 's'},
	"LAT": {sort: label, value: 'N'}, "LATITUDE": {sort: label, value: 'N'},
	"LON": {sort: label, value: 'E'}, "LONG": {sort: label, value: 'E'},
	"LNG": {sort: label, value: 'E'}, "LONGITUDE": {sort: label, value: 'E'},
}

var signs = map[rune]token{
	'+': {sort: sign, value: '+'},
	'-': {sort: sign, value: '-'}, '−': {sort: sign, value: '-'}, '–': {sort: sign, value: '-'}, '‐': {sort: sign, value: '-'},
	'°': {sort: mark, value: 'd'}, 'º': {sort: mark, value: 'd'}, '˚': {sort: mark, value: 'd'},
	'\'': {sort: mark, value: 'm'}, '′': {sort: mark, value: 'm'}, '’': {sort: mark, value: 'm'},
	'‘': {sort: mark, value: 'm'}, 'ʹ': {sort: mark, value: 'm'}, '´': {sort: mark, value: 'm'}, '`': {sort: mark, value: 'm'},
	'"': {sort: mark, value: 's'}, '″': {sort: mark, value: 's'}, '”': {sort: mark, value: 's'},
	'“': {sort: mark, value: 's'}, 'ʺ': {sort: mark, value: 's'},
	',': {sort: gap}, ';': {sort: gap}, '/': {sort: gap}, '|': {sort: gap},
}

// split takes the text apart.
func split(text string) ([]token, error) {
	// ISO 6709 ends its form with a solidus.
	text = strings.TrimSuffix(strings.TrimSpace(text), "/")
	decimalCommas, err := commas(text)
	if err != nil {
		return nil, err
	}
	var tokens []token
	joined := false
	for len(text) > 0 {
		t, size, err := next(text, decimalCommas)
		if err != nil {
			return nil, err
		}
		if t.sort != 0 {
			t.joined = joined
			tokens = append(tokens, t)
		}
		joined = t.sort != 0
		text = text[size:]
	}
	return tidy(tokens), nil
}

// next takes one token from the front, or a space as a token of no sort.
func next(text string, decimalCommas bool) (token, int, error) {
	r, size := utf8.DecodeRuneInString(text)
	switch {
	case digit(text, 0) || r == '.' && digit(text, 1):
		end := numberEnd(text, decimalCommas)
		return token{sort: number, text: strings.Replace(text[:end], ",", ".", 1)}, end, nil
	case strings.ContainsRune(" \t\r\n\u00a0\u2009\u202f:()[]", r):
		return token{}, size, nil
	}
	t, ok := signs[r]
	if isLetter(r) {
		size = 0
		for size < len(text) && isLetter(rune(text[size])) {
			size++
		}
		t, ok = words[strings.ToUpper(text[:size])]
	}
	if !ok {
		return t, 0, geo.Errorf(geo.NotUnderstood, "%q is no part of a coordinate", text[:size])
	}
	return t, size, nil
}

// tidy makes one mark of seconds out of two of minutes, and a mark of seconds
// out of a letter S that another letter follows.
func tidy(tokens []token) []token {
	var out []token
	for i := 0; i < len(tokens); i++ {
		t := tokens[i]
		next := i + 1
		switch {
		case t.sort == mark && t.value == 'm' && next < len(tokens) && tokens[next].joined &&
			tokens[next].sort == mark && tokens[next].value == 'm':
			t.value = 's'
			i++
		case t.sort == letter && t.value == 'S' && i > 0 && tokens[i-1].sort == number &&
			next < len(tokens) && tokens[next].sort == letter:
			t = token{sort: mark, value: 's', joined: t.joined}
		}
		out = append(out, t)
	}
	return out
}

func isLetter(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' }

func digit(s string, i int) bool { return i >= 0 && i < len(s) && s[i] >= '0' && s[i] <= '9' }

// numberEnd is where the number at the front ends.
func numberEnd(s string, decimalCommas bool) int {
	i, seen := 0, false
	for i < len(s) {
		point := s[i] == '.' || s[i] == ',' && decimalCommas && digit(s, i+1)
		if point && seen || !point && !digit(s, i) {
			break
		}
		seen = seen || point
		i++
	}
	return i
}

// commas decides whether a comma between two digits is a decimal comma. With
// a point anywhere it is not; two of them are; one is if something else keeps
// the two coordinates apart.
func commas(text string) (decimal bool, err error) {
	inside, outside := 0, strings.ContainsAny(text, ";/|")
	for i := range len(text) {
		if text[i] == ',' {
			if digit(text, i-1) && digit(text, i+1) {
				inside++
			} else {
				outside = true
			}
		}
	}
	switch {
	case inside == 0 || strings.Contains(text, "."):
		return false, nil
	case inside == 1 && !outside:
		if strings.ContainsAny(strings.TrimSpace(text), " \t") {
			return false, geo.Errorf(geo.NotUnderstood, "the comma may divide the two coordinates or be a decimal comma; write a semicolon between them")
		}
		return false, nil
	case inside <= 2:
		return true, nil
	}
	return false, geo.Errorf(geo.NotUnderstood, "some commas divide the coordinates and some are decimal commas; write a semicolon between the coordinates")
}
