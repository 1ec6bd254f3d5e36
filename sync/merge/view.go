package merge

import (
	"cmp"
	"slices"

	"wayfall/sync/op"
	"wayfall/sync/record"
)

// Hand is who wrote something, when, and on which device.
type Hand struct {
	Dot op.Dot
	Save
}

// Value is one value and every hand that wrote it.
type Value struct {
	JSON op.Value
	By   []Hand // in the order of the list the value stands in
}

// Dots returns the dots of the value: what a writer who saw it names.
func (v Value) Dots() []op.Dot {
	dots := make([]op.Dot, len(v.By))
	for i, h := range v.By {
		dots[i] = h.Dot
	}
	return dots
}

// Field is one field as it is shown.
type Field struct {
	Name  string
	Merge record.Merge
	// Values are the values of a register, equal ones taken together. The
	// first is shown: the newest, or of a once field the first received.
	Values []Value
	// Elements are the elements of a set, oldest first.
	Elements []Value
	// Events are the facts of a log, oldest first, each on its own.
	Events []Value
}

// Shown returns the value to show, "" if there is none.
func (f Field) Shown() op.Value {
	if len(f.Values) == 0 {
		return ""
	}
	return f.Values[0].JSON
}

// Differs reports whether hands that did not see each other left different
// values for somebody to review.
func (f Field) Differs() bool { return f.Merge == record.MV && len(f.Values) > 1 }

// Names returns the names of all fields anything was ever written to.
func (s State) Names() []string {
	names := make([]string, len(s.fields))
	for i := range s.fields {
		names[i] = s.fields[i].name
	}
	return names
}

// Fields returns every field as it is shown, by name.
func (s State) Fields() []Field {
	all := make([]Field, len(s.fields))
	for i := range s.fields {
		all[i] = s.show(&s.fields[i])
	}
	return all
}

// Field returns the field of that name as it is shown, an empty one if nobody
// wrote to it.
func (s State) Field(name string) Field {
	if f := s.find(name); f != nil {
		return s.show(f)
	}
	return Field{Name: name, Merge: record.MergeOf(s.Kind, name)}
}

// Value returns the value of the field to show, "" if there is none.
func (s State) Value(name string) op.Value { return s.Field(name).Shown() }

// Differing returns the fields that somebody must review.
func (s State) Differing() []Field {
	var all []Field
	for i := range s.fields {
		if len(s.fields[i].regs) > 1 {
			if f := s.show(&s.fields[i]); f.Differs() {
				all = append(all, f)
			}
		}
	}
	return all
}

// Saw returns what a writer of the field on device self names as seen: the
// dots of every value there is now. Its own it need not name.
func (s State) Saw(name string, self op.DeviceID) []op.Dot {
	f := s.find(name)
	if f == nil {
		return nil
	}
	var saw []op.Dot
	for _, r := range f.regs {
		if !r.dead && r.dot.Dev != self {
			saw = append(saw, r.dot)
		}
	}
	return saw
}

// Last returns the last save that wrote anything to the record, by the order
// shown; false if there was none.
func (s State) Last() (Hand, bool) {
	var last Hand
	for i, n := range s.saves {
		if h := n.hand(); i == 0 || h.newer(last) < 0 {
			last = h
		}
	}
	return last, len(s.saves) > 0
}

func (n save) hand() Hand { return Hand{op.Dot{Dev: n.dev, Seq: n.seq}, n.Save} }

func (s State) find(name string) *field {
	i, ok := slices.BinarySearchFunc(s.fields, name, func(f field, n string) int { return cmp.Compare(f.name, n) })
	if !ok {
		return nil
	}
	return &s.fields[i]
}

func (s State) show(f *field) Field {
	out := Field{Name: f.name, Merge: record.MergeOf(s.Kind, f.name)}
	var live []item
	for _, r := range f.regs {
		if !r.dead {
			live = append(live, item{r.dot, r.value})
		}
	}
	out.Values = collapse(s.sorted(live, Hand.newer))
	if out.Merge == record.LWW && len(out.Values) > 1 {
		out.Values = out.Values[:1]
	}
	if out.Merge == record.Once {
		out.Values = append(collapse(s.sorted(f.items, Hand.firstReceived)), out.Values...)
	} else {
		out.Elements = collapse(s.sorted(f.items, Hand.older))
	}
	out.Events = s.sorted(f.events, Hand.older)
	return out
}

// newer orders hands by (effective stamp, device, seq), newest first.
func (h Hand) newer(o Hand) int { return o.older(h) }

func (h Hand) older(o Hand) int { return cmp.Or(h.Eff.Compare(o.Eff), h.Dot.Compare(o.Dot)) }

// firstReceived orders hands by (place in the log if known, effective stamp, dot).
func (h Hand) firstReceived(o Hand) int {
	return cmp.Or(cmp.Compare(h.LSN-1, o.LSN-1), h.older(o)) // 0 wraps to the end
}

// sorted returns the items with their hands, one value each, in order.
func (s State) sorted(items []item, order func(Hand, Hand) int) []Value {
	if len(items) == 0 {
		return nil
	}
	all := make([]Value, len(items))
	hands := make([]Hand, len(items))
	for i, it := range items {
		hands[i].Dot = it.dot
		if j, ok := s.findSave(it.dot.Dev, it.dot.Seq); ok {
			hands[i].Save = s.saves[j].Save
		}
		all[i] = Value{it.value, hands[i : i+1 : i+1]}
	}
	if len(all) > 1 {
		slices.SortFunc(all, func(a, b Value) int { return order(a.By[0], b.By[0]) })
	}
	return all
}

// collapse takes equal values together, at the place of the first.
func collapse(all []Value) []Value {
	out := all[:0]
next:
	for _, v := range all {
		for i := range out {
			if out[i].JSON == v.JSON {
				out[i].By = append(out[i].By, v.By...)
				continue next
			}
		}
		out = append(out, v)
	}
	return out
}
