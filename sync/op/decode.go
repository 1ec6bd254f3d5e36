package op

import (
	"strconv"

	"wayfall/sync/clock"
)

// maxWhole is the largest whole number that every JSON reader holds exactly.
const maxWhole = 1<<53 - 1

// Decode reads an operation. It refuses bytes in any but the canonical
// spelling, and a known member of the wrong form; it keeps every member it
// does not know. For what it accepts, Encode gives the same bytes again.
func Decode(wire []byte) (Op, error) {
	if len(wire) > MaxBytes {
		return Op{}, &FormError{ErrTooLarge, -1, "an operation of more than " + strconv.Itoa(MaxBytes) + " bytes"}
	}
	d := decoder{scanner: scanner{text: string(wire)}}
	return d.alone()
}

// alone reads one operation and nothing behind it.
func (d *decoder) alone() (Op, error) {
	o, err := d.op()
	if err == nil {
		err = d.end()
	}
	if err != nil {
		return Op{}, err
	}
	return o, nil
}

type decoder struct {
	scanner
	acts int
	slow bool // read every act member by member, for tests of usualAct
}

// members walks over one object. known reads the value of a member it knows
// and returns its bit, or 0 to have the member kept as it is. Every bit of
// need must turn up.
func (d *decoder) members(depth int, need uint, known func(name string) (uint, error)) (extra []Member, err error) {
	start := d.at
	obj, err := d.object(depth)
	var seen uint
	for err == nil && obj.more() {
		var name string
		var bit uint
		if name, err = obj.key(); err != nil {
			break
		}
		if bit, err = known(name); err != nil {
			break
		}
		seen |= bit
		if bit == 0 {
			var text string
			text, err = d.value(depth + 1)
			extra = append(extra, Member{name, Value(text)})
		}
	}
	if err == nil && seen&need != need {
		err = &FormError{ErrMalformed, start, "a member that must be there is missing"}
	}
	return extra, err
}

const (
	hasActor = 1 << iota
	hasDev
	hasHLC
	hasOn
	hasSchema
	hasScope
	hasSeq
	hasVersion
	hasWall
	hasBase
	needOp = hasBase - 1
)

func (d *decoder) op() (o Op, err error) {
	o.Extra, err = d.members(0, needOp, func(name string) (bit uint, err error) {
		switch name {
		case "actor":
			o.Actor, err = d.word()
			return hasActor, err
		case "base":
			o.Base, err = d.whole(1)
			return hasBase, err
		case "dev":
			o.Dev, err = d.device()
			return hasDev, err
		case "hlc":
			o.HLC, err = d.stamp()
			return hasHLC, err
		case "on":
			o.On, err = d.groups()
			return hasOn, err
		case "schema":
			n, err := d.whole(1)
			o.Schema = int(n)
			return hasSchema, err
		case "scope":
			o.Scope, err = d.word()
			return hasScope, err
		case "seq":
			o.Seq, err = d.whole(1)
			return hasSeq, err
		case "v":
			return hasVersion, d.version()
		case "wall":
			o.Wall, err = d.wall()
			return hasWall, err
		}
		return 0, nil
	})
	return o, err
}

func (d *decoder) version() error {
	n, err := d.whole(1)
	if err == nil && n != Version {
		err = d.fail(ErrVersion, "version "+strconv.FormatUint(n, 10))
	}
	return err
}

// word reads a text that may not be empty.
func (d *decoder) word() (string, error) {
	s, err := d.str()
	if err == nil && s == "" {
		err = d.malformed("an empty text where a word must stand")
	}
	return s, err
}

func (d *decoder) device() (DeviceID, error) {
	s, err := d.str()
	if err != nil {
		return DeviceID{}, err
	}
	id, err := ParseDevice(s)
	if err != nil {
		return id, d.malformed(err.Error())
	}
	return id, nil
}

func (d *decoder) stamp() (clock.Stamp, error) {
	s, err := d.str()
	if err != nil {
		return clock.Stamp{}, err
	}
	stamp, err := clock.Parse(s)
	if err != nil {
		return stamp, d.malformed(err.Error())
	}
	return stamp, nil
}

// whole reads a whole number of at least low.
func (d *decoder) whole(low uint64) (uint64, error) {
	n, err := d.integer()
	if err == nil && (n < 0 || uint64(n) < low) {
		err = d.malformed("a number that is too small")
	}
	return uint64(n), err
}

func (d *decoder) integer() (int64, error) {
	start := d.at
	if err := d.number(); err != nil {
		return 0, err
	}
	n, err := strconv.ParseInt(d.text[start:d.at], 10, 64)
	if err != nil || n > maxWhole || n < -maxWhole {
		return 0, &FormError{ErrMalformed, start, "expected a whole number that a double holds exactly"}
	}
	return n, nil
}

func (d *decoder) wall() (w Wall, err error) {
	w.Extra, err = d.members(1, 1, func(name string) (bit uint, err error) {
		switch name {
		case "ms":
			w.Millis, err = d.integer()
			return 1, err
		case "src":
			w.Source, err = d.word()
			return 2, err
		case "tz":
			if w.Zone, err = d.word(); err == nil && !zone(w.Zone) {
				err = d.malformed("an offset from UTC is written +hh:mm or -hh:mm")
			}
			return 4, err
		}
		return 0, nil
	})
	return w, err
}

// zone reports whether s is an offset from UTC: a sign, hours, minutes.
func zone(s string) bool {
	if len(s) != 6 || s[0] != '+' && s[0] != '-' || s[3] != ':' {
		return false
	}
	for _, i := range [...]int{1, 2, 4, 5} {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s[1:3] <= "23" && s[4:] <= "59"
}

func (d *decoder) groups() (all []Group, err error) {
	err = d.array(1, func() error {
		g, err := d.group()
		if err != nil {
			return err
		}
		for i := range all {
			if all[i].ID == g.ID && all[i].Kind == g.Kind {
				return d.malformed("one record stands twice in the operation")
			}
		}
		all = append(all, g)
		return nil
	})
	if err == nil && len(all) == 0 {
		err = d.malformed("an operation without a record")
	}
	return all, err
}

func (d *decoder) group() (g Group, err error) {
	g.Extra, err = d.members(2, 7, func(name string) (bit uint, err error) {
		switch name {
		case "acts":
			g.Acts, err = d.actList()
			return 1, err
		case "id":
			var id DeviceID
			id, err = d.device()
			g.ID = ID(id)
			return 2, err
		case "kind":
			g.Kind, err = d.word()
			return 4, err
		}
		return 0, nil
	})
	return g, err
}
