package notation

import (
	"math"
	"strconv"
	"strings"

	"wayfall/geo"
)

type axis uint8

const (
	latitude axis = iota + 1
	longitude
)

// angle is one coordinate as written.
type angle struct {
	parts      []string // degrees, minutes, seconds, as digits
	axis       axis     // unknown unless a letter or label says
	hemisphere byte     // N, S, E, W or 0
	signed     bool
	negative   bool
}

// halves divides the tokens between the two coordinates.
func halves(tokens []token) (first, second []token, err error) {
	if len(tokens) == 0 {
		return nil, nil, geo.Errorf(geo.NotUnderstood, "there is no coordinate in the text")
	}
	at := border(tokens)
	if at <= 0 || at >= len(tokens) {
		return nil, nil, geo.Errorf(geo.NotUnderstood, "two coordinates are needed, a latitude and a longitude")
	}
	first, second = tokens[:at], tokens[at:]
	if second[0].sort == gap {
		second = second[1:]
	}
	return first, second, nil
}

// border is the index of the first token of the second coordinate, or of the
// gap before it; or 0.
func border(tokens []token) int {
	if i := only(tokens, gap); i > 0 {
		return i
	}
	for i := 1; i < len(tokens); i++ {
		if tokens[i].sort == label {
			return i
		}
	}
	if i := letterBorder(tokens); i > 0 {
		return i
	}
	for i := 1; i < len(tokens); i++ {
		if tokens[i].sort == sign && tokens[i-1].sort != letter && tokens[i-1].sort != label {
			return i
		}
	}
	return numberBorder(tokens)
}

// only is the index of the only token of a sort, or 0.
func only(tokens []token, s sort) int {
	found := 0
	for i, t := range tokens {
		if t.sort == s {
			if found > 0 {
				return 0
			}
			found = i
		}
	}
	return found
}

// letterBorder: letters stand all before or all after their numbers.
func letterBorder(tokens []token) int {
	leading := tokens[0].sort == letter
	for i := 1; i < len(tokens); i++ {
		if tokens[i].sort != letter {
			continue
		}
		if leading {
			return i
		}
		return i + 1
	}
	return 0
}

// numberBorder: without letters, signs or gaps the numbers are shared equally.
func numberBorder(tokens []token) int {
	var at []int
	for i, t := range tokens {
		if t.sort == number {
			at = append(at, i)
		}
	}
	if len(at) < 2 || len(at)%2 != 0 || len(at) > 6 {
		return 0
	}
	return at[len(at)/2]
}

// readAngle reads one coordinate.
func readAngle(tokens []token) (angle, error) {
	var a angle
	for i, t := range tokens {
		var err error
		switch t.sort {
		case gap:
			err = geo.Errorf(geo.NotUnderstood, "there are more than two coordinates in the text")
		case label:
			err = a.setAxis(t.value)
		case letter:
			err = a.setHemisphere(t.value)
		case sign:
			err = a.setSign(t, i > 0 && tokens[i-1].sort == number || len(a.parts) > 0)
		case mark:
			err = a.setMark(t.value)
		case number:
			a.parts = append(a.parts, t.text)
		}
		if err != nil {
			return a, err
		}
	}
	return a, a.check()
}

func (a *angle) setAxis(value byte) error {
	want := longitude
	if value == 'N' || value == 'S' {
		want = latitude
	}
	if a.axis != 0 && a.axis != want {
		return geo.Invalidf("one number is called both a latitude and a longitude")
	}
	a.axis = want
	return nil
}

func (a *angle) setHemisphere(value byte) error {
	if a.hemisphere != 0 {
		return geo.Errorf(geo.NotUnderstood, "one number has two hemisphere letters")
	}
	a.hemisphere = value
	return a.setAxis(value)
}

// setSign reads a sign, or passes over a hyphen between degrees, minutes and
// seconds.
func (a *angle) setSign(t token, inside bool) error {
	if inside {
		if t.value == '-' && t.joined {
			return nil
		}
		return geo.Errorf(geo.NotUnderstood, "there is a sign in the middle of a number")
	}
	if a.signed {
		return geo.Errorf(geo.NotUnderstood, "one number has two signs")
	}
	a.signed, a.negative = true, t.value == '-'
	return nil
}

// setMark checks that a mark stands behind the number it belongs to.
func (a *angle) setMark(value byte) error {
	names := map[byte]int{'d': 1, 'm': 2, 's': 3}
	if len(a.parts) != names[value] {
		return geo.Errorf(geo.NotUnderstood, "the marks of degrees, minutes and seconds are not in their order")
	}
	return nil
}

func (a *angle) check() error {
	switch {
	case len(a.parts) == 0:
		return geo.Errorf(geo.NotUnderstood, "two coordinates are needed, a latitude and a longitude")
	case len(a.parts) > 3:
		return geo.Errorf(geo.NotUnderstood, "a coordinate has at most degrees, minutes and seconds")
	case a.signed && a.hemisphere != 0:
		return geo.Invalidf("a sign and the letter %c stand at one number; write one of them", a.hemisphere)
	}
	for i, part := range a.parts {
		if i < len(a.parts)-1 && strings.Contains(part, ".") {
			return geo.Invalidf("only the last of degrees, minutes and seconds may have decimals")
		}
		if i > 0 && value(part) >= 60 {
			return geo.Invalidf("%s %s are a degree or minute more; they run up to 60", part, [...]string{"", "minutes", "seconds"}[i])
		}
	}
	return nil
}

func value(part string) float64 {
	v, err := strconv.ParseFloat(part, 64)
	if err != nil {
		return math.Inf(1)
	}
	return v
}

// degrees is the angle with its sign.
func (a *angle) degrees() geo.Degrees {
	v := 0.0
	for i := len(a.parts) - 1; i >= 0; i-- {
		v = v/60 + value(a.parts[i])
	}
	if a.negative || a.hemisphere == 'S' || a.hemisphere == 'W' {
		v = -v
	}
	return geo.Degrees(v)
}

func (a *angle) form() Form    { return Form(len(a.parts)) }
func (a *angle) decimal() bool { return len(a.parts) == 1 }

// places counts the decimals of the last part.
func (a *angle) places() int {
	last := a.parts[len(a.parts)-1]
	if i := strings.IndexByte(last, '.'); i >= 0 {
		return len(last) - i - 1
	}
	return 0
}

// lastPlace is the worth of the last digit, in degrees.
func (a *angle) lastPlace() float64 {
	return math.Pow10(-a.places()) / math.Pow(60, float64(len(a.parts)-1))
}

// multiple reports whether the number is a whole multiple of 1/part.
func (a *angle) multiple(part float64) bool {
	v := value(a.parts[0]) * part
	return v == math.Trunc(v)
}

// wholeMinutes reports whether the decimals are those of a whole minute, cut
// off or rounded.
func (a *angle) wholeMinutes() bool {
	v := value(a.parts[0]) * 60
	return math.Abs(v-math.Round(v)) <= 60*math.Pow10(-a.places())
}
