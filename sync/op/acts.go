package op

import (
	"strconv"
	"strings"
)

func (d *decoder) actList() (all []Act, err error) {
	all = make([]Act, 0, d.actsAhead())
	err = d.array(3, func() error {
		if d.acts++; d.acts > MaxActs {
			return d.fail(ErrTooLarge, "more than "+strconv.Itoa(MaxActs)+" acts")
		}
		a, err := d.act()
		all = append(all, a)
		return err
	})
	if err == nil && len(all) == 0 {
		err = d.malformed("a record without an act")
	}
	return all, err
}

// actsAhead guesses how many acts follow, so that they need room only once.
func (d *decoder) actsAhead() int {
	rest := d.text[d.at:]
	if len(rest) < 400 {
		return 4
	}
	return min(max(strings.Count(rest, `,"k":"`), 1), MaxActs)
}

const (
	hasField = 1 << iota
	hasKind
	hasSaw
	hasValue
)

// form says which members an act of a kind has: those it needs, and all it knows.
func form(kind string) (need, known uint) {
	switch kind {
	case KindSet:
		return hasField | hasKind | hasValue, hasField | hasKind | hasValue | hasSaw
	case KindAdd, KindEvent:
		return hasField | hasKind | hasValue, hasField | hasKind | hasValue
	case KindRem:
		return hasField | hasKind | hasSaw, hasField | hasKind | hasSaw
	}
	return hasKind, hasKind
}

// pass passes over the text if it comes next.
func (d *decoder) pass(text string) bool {
	if !strings.HasPrefix(d.text[d.at:], text) {
		return false
	}
	d.at += len(text)
	return true
}

// usualAct reads an act of the usual form: a field, a kind, what was seen, a
// value and nothing else. It reports false, having passed nothing, for all
// others, wrong ones among them.
func (d *decoder) usualAct() (a Act, ok bool) {
	start := d.at
	defer func() {
		if !ok {
			d.at = start
		}
	}()
	var err error
	if !d.pass(`{"f":`) {
		return a, false
	}
	if a.Field, err = d.word(); err != nil {
		return a, false
	}
	for _, kind := range [...]string{KindSet, KindAdd, KindEvent} {
		if strings.HasPrefix(d.text[d.at:], `,"k":"`) && strings.HasPrefix(d.text[d.at+6:], kind) && strings.HasPrefix(d.text[d.at+9:], `",`) {
			a.Kind = kind
			d.at += len(`,"k":"set"`)
			break
		}
	}
	if a.Kind == KindSet && d.pass(`,"saw":`) {
		if a.Saw, err = d.dots(); err != nil {
			return a, false
		}
	}
	if a.Kind == "" || !d.pass(`,"val":`) {
		return a, false
	}
	text, err := d.value(5)
	a.Value = Value(text)
	return a, err == nil && d.pass(`}`)
}

func (d *decoder) act() (a Act, err error) {
	if !d.slow {
		if a, ok := d.usualAct(); ok {
			return a, nil
		}
	}
	// Its kind decides what an act's members mean, and stands behind the
	// field in canonical order, so it is looked up first.
	start := d.at
	if a.Kind, err = d.kindAhead(); err != nil {
		return a, err
	}
	d.at = start
	need, known := form(a.Kind)
	a.Extra, err = d.members(4, need, func(name string) (uint, error) {
		bit := actBit(name) & known
		switch bit {
		case hasField:
			a.Field, err = d.word()
		case hasKind:
			_, err = d.word()
		case hasSaw:
			a.Saw, err = d.dots()
		case hasValue:
			var text string
			text, err = d.value(5)
			a.Value = Value(text)
		}
		return bit, err
	})
	return a, err
}

func actBit(name string) uint {
	switch name {
	case "f":
		return hasField
	case "k":
		return hasKind
	case "saw":
		return hasSaw
	case "val":
		return hasValue
	}
	return 0
}

// kindAhead passes over an act until it knows its kind.
func (d *decoder) kindAhead() (string, error) {
	obj, err := d.object(4)
	for err == nil && obj.more() {
		var name string
		if name, err = obj.key(); err != nil {
			break
		}
		if name == "k" {
			return d.word()
		}
		_, err = d.value(5)
	}
	if err == nil {
		err = d.malformed("an act without a kind")
	}
	return "", err
}

func (d *decoder) dots() ([]Dot, error) {
	all := []Dot{}
	err := d.array(5, func() error {
		s, err := d.str()
		if err != nil {
			return err
		}
		dot, err := ParseDot(s)
		if err != nil {
			return d.malformed(err.Error())
		}
		all = append(all, dot)
		return nil
	})
	return all, err
}
