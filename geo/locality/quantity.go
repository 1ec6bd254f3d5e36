package locality

import (
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"wayfall/geo"
)

type unit struct {
	name   string
	metres geo.Metres
}

var units = map[string]unit{
	"MI": {"mi", geo.Mile}, "MILE": {"mi", geo.Mile}, "MILES": {"mi", geo.Mile},
	"KM": {"km", geo.Kilometre}, "KMS": {"km", geo.Kilometre},
	"KILOMETER": {"km", geo.Kilometre}, "KILOMETERS": {"km", geo.Kilometre},
	"KILOMETRE": {"km", geo.Kilometre}, "KILOMETRES": {"km", geo.Kilometre},
	"M": {"m", geo.Metre}, "METER": {"m", geo.Metre}, "METERS": {"m", geo.Metre},
	"METRE": {"m", geo.Metre}, "METRES": {"m", geo.Metre},
	"FT": {"ft", geo.Foot}, "FOOT": {"ft", geo.Foot}, "FEET": {"ft", geo.Foot},
	"YD": {"yd", geo.Yard}, "YDS": {"yd", geo.Yard}, "YARD": {"yd", geo.Yard}, "YARDS": {"yd", geo.Yard},
}

// quantity is a distance as written.
type quantity struct {
	written   string
	value     float64
	precision float64 // in the unit
	unit      unit
}

func (q *quantity) metres() geo.Metres { return geo.Metres(q.value) * q.unit.metres }

// half is half of the precision: Chapman & Wieczorek (2020), 3.4.6.
func (q *quantity) half() geo.Metres { return geo.Metres(q.precision) / 2 * q.unit.metres }

// readQuantity reads a number with its unit from the front of a text.
func readQuantity(s string) (quantity, string, error) {
	var q quantity
	rest, err := q.readNumber(s)
	if err != nil {
		return q, s, err
	}
	q.written = strings.TrimSpace(s[:len(s)-len(rest)])
	rest = strings.TrimSpace(rest)
	end := 0
	for end < len(rest) && letter(rest[end]) {
		end++
	}
	u, ok := units[strings.ToUpper(rest[:end])]
	if !ok {
		return q, s, geo.Errorf(geo.NotUnderstood, "after %q a unit of length is expected (mi, km, m, ft, yd), not %q", q.written, clip(rest))
	}
	q.unit = u
	rest = strings.TrimPrefix(rest[end:], ".")
	return q, strings.TrimSpace(rest), nil
}

// readNumber reads a whole number, a decimal, a fraction, or a whole number
// with a fraction.
func (q *quantity) readNumber(s string) (rest string, err error) {
	if n, d, rest, ok := fraction(s); ok {
		return rest, q.set(float64(n)/float64(d), 1/float64(d))
	}
	whole, rest := digits(s)
	if whole == "" && !strings.HasPrefix(rest, ".") {
		return s, geo.Errorf(geo.NotUnderstood, "a distance such as %q is expected at the beginning, not %q", "3 mi", clip(s))
	}
	if strings.HasPrefix(rest, ",") {
		return s, geo.Errorf(geo.NotUnderstood, "the comma in %q may be a decimal comma or a slip; write a point", clip(s))
	}
	if decimals, after, ok := decimals(rest); ok {
		v, err := strconv.ParseFloat("0"+whole+"."+decimals, 64)
		if err != nil {
			return s, geo.Errorf(geo.NotUnderstood, "%q is no distance", clip(s))
		}
		return after, q.set(v, decimalPrecision(decimals))
	}
	v, err := strconv.ParseFloat(whole, 64)
	if err != nil {
		return s, geo.Errorf(geo.NotUnderstood, "%q is no distance", clip(s))
	}
	if n, d, after, ok := fraction(strings.TrimLeft(rest, " \t-")); ok {
		return after, q.set(v+float64(n)/float64(d), 1/float64(d))
	}
	return rest, q.set(v, wholePrecision(whole))
}

func (q *quantity) set(value, precision float64) error {
	if !(value > 0 && value < 1e6) {
		return geo.Errorf(geo.NotUnderstood, "a distance of %g is no offset", value)
	}
	q.value, q.precision = value, precision
	return nil
}

// digits reads a whole number; commas may set off thousands.
func digits(s string) (whole, rest string) {
	i := 0
	for i < len(s) && (s[i] >= '0' && s[i] <= '9' || thousands(s, i)) {
		i++
	}
	return strings.ReplaceAll(s[:i], ",", ""), s[i:]
}

// thousands reports whether a comma at i has one to three digits before it
// and exactly three behind it.
func thousands(s string, i int) bool {
	if s[i] != ',' || i == 0 {
		return false
	}
	lead := strings.IndexByte(s, ',')
	if lead > 3 || lead != i && (i-lead)%4 != 0 {
		return false
	}
	n := 0
	for n < len(s)-i-1 && s[i+1+n] >= '0' && s[i+1+n] <= '9' {
		n++
	}
	return n == 3
}

func decimals(s string) (decimals, rest string, ok bool) {
	if !strings.HasPrefix(s, ".") {
		return "", s, false
	}
	i := 1
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	return s[1:i], s[i:], i > 1
}

var fractions = map[rune][2]int{
	'½': {1, 2}, '¼': {1, 4}, '¾': {3, 4}, '⅓': {1, 3}, '⅔': {2, 3},
	'⅛': {1, 8}, '⅜': {3, 8}, '⅝': {5, 8}, '⅞': {7, 8},
}

// fraction reads "1/2" or a fraction in one character.
func fraction(s string) (n, d int, rest string, ok bool) {
	r, size := utf8.DecodeRuneInString(s)
	if f, ok := fractions[r]; ok {
		return f[0], f[1], s[size:], true
	}
	top, rest := digits(s)
	below, found := strings.CutPrefix(strings.Replace(rest, "⁄", "/", 1), "/")
	if top == "" || !found {
		return 0, 0, s, false
	}
	bottom, rest := digits(below)
	n, err1 := strconv.Atoi(top)
	d, err2 := strconv.Atoi(bottom)
	if err1 != nil || err2 != nil || n < 1 || d <= n || d > 100 {
		return 0, 0, s, false
	}
	return n, d, rest, true
}

// decimalPrecision: decimals that are a simple fraction are as precise as
// the fraction, others as their last place. Halves and quarters are in the
// source's table; thirds and eighths are common practice.
func decimalPrecision(decimals string) float64 {
	short := strings.TrimRight(decimals, "0")
	switch short {
	case "5":
		return 1. / 2
	case "25", "75":
		return 1. / 4
	case "33", "333", "67", "667":
		return 1. / 3
	case "125", "375", "625", "875":
		return 1. / 8
	}
	return math.Pow10(-len(decimals))
}

// wholePrecision: a whole number is as precise as its last digit that is not
// zero, but a single digit with zeros is one place finer: 15 and 30 are
// precise to 1, 140 and 200 to 10, 2000 to 100.
func wholePrecision(whole string) float64 {
	whole = strings.TrimLeft(whole, "0")
	significant := strings.TrimRight(whole, "0")
	zeros := len(whole) - len(significant)
	if len(significant) == 1 && zeros > 0 {
		zeros--
	}
	return math.Pow10(zeros)
}
