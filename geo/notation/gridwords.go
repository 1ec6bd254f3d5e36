package notation

import (
	"strings"
)

// gridWords are the words that stand among eastings and northings.
var gridWords = map[string]byte{
	"UTM": 'u', "ZONE": 'z', "Z": 'z',
	"E": 'E', "EAST": 'E', "EASTING": 'E', "EASTINGS": 'E', "X": 'E', "ME": 'E',
	"N": 'N', "NORTH": 'N', "NORTHING": 'N', "NORTHINGS": 'N', "Y": 'N', "MN": 'N',
	"S": 'S', "SOUTH": 'S', "NORTHERN": 'H', "SOUTHERN": 'h',
	"M": '-', "METRES": '-', "METERS": '-', "HEMISPHERE": '-',
}

// takeApart tells zone, band, hemisphere, numbers and their labels apart. It
// is false for a text with anything else in it.
func takeApart(text string) (*gridText, bool) {
	g := &gridText{}
	upper := strings.ToUpper(text)
	for len(upper) > 0 {
		switch c := upper[0]; {
		case digit(upper, 0):
			end := groupEnd(upper)
			if !g.number(strings.ReplaceAll(upper[:end], ",", "")) {
				return nil, false
			}
			upper = upper[end:]
		case c >= 'A' && c <= 'Z':
			end := 1
			for end < len(upper) && upper[end] >= 'A' && upper[end] <= 'Z' {
				end++
			}
			if !g.word(upper[:end]) {
				return nil, false
			}
			upper = upper[end:]
		case strings.IndexByte(" \t:;,=()/", c) >= 0:
			upper = upper[1:]
		default:
			return nil, false
		}
	}
	return g, g.expected == 0
}

// groupEnd is where a number ends, with commas before groups of three digits.
func groupEnd(s string) int {
	i := 0
	for digit(s, i) {
		i++
	}
	if i <= 3 {
		for group(s[i:]) {
			i += 4
		}
	}
	if i < len(s)-1 && s[i] == '.' && digit(s, i+1) {
		i++
		for digit(s, i) {
			i++
		}
	}
	return i
}

// group: a comma, three digits and no fourth.
func group(s string) bool {
	return len(s) > 3 && s[0] == ',' && digit(s, 1) && digit(s, 2) && digit(s, 3) && !digit(s, 4)
}

// number takes a number: one or two digits are the zone, more are metres.
func (g *gridText) number(n string) bool {
	if len(n) <= 2 && g.zone == "" && g.expected == 0 {
		g.zone = n
		return n != "0" && n != "00"
	}
	if len(n) <= 2 || len(n) > 18 || len(g.numbers) == 2 {
		return false
	}
	g.numbers = append(g.numbers, n)
	g.labels = append(g.labels, g.expected)
	g.expected = 0
	return true
}

// word takes a word. A single letter right behind the zone is its band or
// hemisphere; a letter beside a number says which of the two it is.
func (g *gridText) word(w string) bool {
	if g.zone != "" && len(g.numbers) == 0 && g.band == 0 && g.side == 0 && g.expected == 0 &&
		len(w) == 1 && strings.Contains("CDEFGHJKLMNPQRSTUVWX", w) {
		g.band, g.named = w[0], true
		return true
	}
	what, known := gridWords[w]
	switch {
	case !known:
		return false
	case what == 'u' || what == 'z':
		g.named = true
	case what == 'H' || what == 'h':
		g.side = map[byte]byte{'H': 'N', 'h': 'S'}[what]
	case what == 'S' || what == 'N' && len(g.numbers) == 0 && g.zone != "" && g.band == 0 && len(w) == 5:
		g.side = what
	case what == 'E' || what == 'N':
		return g.label(what)
	}
	return true
}

// label takes the name of a number, before or behind it.
func (g *gridText) label(what byte) bool {
	last := len(g.labels) - 1
	if last >= 0 && g.labels[last] == 0 && (last == 0 || g.labels[0] != what) {
		g.labels[last] = what
		return true
	}
	if g.expected != 0 || len(g.numbers) == 2 {
		return false
	}
	g.expected = what
	return true
}
