package op

import (
	"strconv"

	"wayfall/sync/clock"
)

// Encode returns the one spelling of the operation. It refuses what Decode
// would refuse, so that nothing unreadable is ever written.
func (o Op) Encode() ([]byte, error) {
	e := encoder{buf: make([]byte, 0, o.room())}
	e.op(o)
	if _, err := Decode(e.buf); err != nil {
		return nil, err
	}
	return e.buf, nil
}

// room guesses how long the spelling becomes, rather too much.
func (o Op) room() int {
	n := 512
	for _, g := range o.On {
		n += 64
		for _, a := range g.Acts {
			n += 64 + len(a.Value) + 40*len(a.Saw)
		}
	}
	return n
}

// encoder writes members in canonical order: the known ones as they are
// handed over, the unknown ones between them.
type encoder struct {
	buf   []byte
	extra []Member
	first bool
}

func (e *encoder) open(extra []Member) (outer encoder) {
	outer = encoder{extra: e.extra, first: false}
	e.buf = append(e.buf, '{')
	e.extra, e.first = extra, true
	return outer
}

func (e *encoder) close(outer encoder) {
	for len(e.extra) > 0 {
		e.unknown()
	}
	e.buf = append(e.buf, '}')
	e.extra, e.first = outer.extra, outer.first
}

func (e *encoder) unknown() {
	m := e.extra[0]
	e.extra = e.extra[1:]
	e.name(m.Name)
	e.buf = append(e.buf, m.Value...)
}

func (e *encoder) name(name string) {
	if !e.first {
		e.buf = append(e.buf, ',')
	}
	e.first = false
	e.buf = append(appendString(e.buf, name), ':')
}

// member writes the name of a known member, after the unknown ones before it.
func (e *encoder) member(name string) {
	for len(e.extra) > 0 && compareUTF16(e.extra[0].Name, name) < 0 {
		e.unknown()
	}
	e.name(name)
}

func (e *encoder) text(name, s string) {
	e.member(name)
	e.buf = appendString(e.buf, s)
}

func (e *encoder) whole(name string, n int64) {
	e.member(name)
	e.buf = strconv.AppendInt(e.buf, n, 10)
}

func (e *encoder) id(name string, id [16]byte) {
	e.member(name)
	e.buf = append(idText.AppendEncode(append(e.buf, '"'), id[:]), '"')
}

func (e *encoder) op(o Op) {
	outer := e.open(o.Extra)
	e.text("actor", o.Actor)
	if o.Base > 0 {
		e.whole("base", int64(o.Base))
	}
	e.id("dev", o.Dev)
	e.stamp(o.HLC)
	e.member("on")
	e.buf = append(e.buf, '[')
	for i, g := range o.On {
		if i > 0 {
			e.buf = append(e.buf, ',')
		}
		e.group(g)
	}
	e.buf = append(e.buf, ']')
	e.whole("schema", int64(o.Schema))
	e.text("scope", o.Scope)
	e.whole("seq", int64(o.Seq))
	e.whole("v", Version)
	e.member("wall")
	e.wall(o.Wall)
	e.close(outer)
}

func (e *encoder) stamp(s clock.Stamp) {
	e.member("hlc")
	e.buf = append(s.Append(append(e.buf, '"')), '"')
}

func (e *encoder) wall(w Wall) {
	outer := e.open(w.Extra)
	e.whole("ms", w.Millis)
	if w.Source != "" {
		e.text("src", w.Source)
	}
	if w.Zone != "" {
		e.text("tz", w.Zone)
	}
	e.close(outer)
}

func (e *encoder) group(g Group) {
	outer := e.open(g.Extra)
	e.member("acts")
	e.buf = append(e.buf, '[')
	for i, a := range g.Acts {
		if i > 0 {
			e.buf = append(e.buf, ',')
		}
		e.act(a)
	}
	e.buf = append(e.buf, ']')
	e.id("id", g.ID)
	e.text("kind", g.Kind)
	e.close(outer)
}

func (e *encoder) act(a Act) {
	need, known := form(a.Kind)
	outer := e.open(a.Extra)
	if known&hasField != 0 {
		e.text("f", a.Field)
	}
	e.text("k", a.Kind)
	if need&hasSaw != 0 || known&hasSaw != 0 && a.Saw != nil {
		e.dots(a.Saw)
	}
	if known&hasValue != 0 {
		e.member("val")
		e.buf = append(e.buf, a.Value...)
	}
	e.close(outer)
}

func (e *encoder) dots(saw []Dot) {
	e.member("saw")
	e.buf = append(e.buf, '[')
	for i, d := range saw {
		if i > 0 {
			e.buf = append(e.buf, ',')
		}
		e.buf = append(d.append(append(e.buf, '"')), '"')
	}
	e.buf = append(e.buf, ']')
}
