//go:build js && wasm

package main

import (
	"syscall/js"
	"time"

	"wayfall/cmd/phone/share"
	"wayfall/permits"
	"wayfall/permits/screen"
	"wayfall/permits/screen/find"
)

// asking is who asks, when, what this phone has taken that the kit's numbers do
// not hold yet, and what it holds of numbers.
type asking struct {
	NowMS  int64        `json:"now_ms"`
	Zone   string       `json:"tz"`
	Person string       `json:"person"`
	Role   string       `json:"role"`
	Own    []share.Own  `json:"own"`
	Purse  *share.Purse `json:"purse"` // null: it never asked for shares
}

// screen judges a report: screen(fields, context).
func (b *brain) screen(args []js.Value) (any, error) {
	v, _, _, err := b.check(args)
	return v, err
}

func (b *brain) check(args []js.Value) (v permits.Verdict, tally *share.Tally, a asking, err error) {
	var r find.Report
	if err = read(args, 0, &r); err != nil {
		return v, nil, a, err
	}
	if err = read(args, 1, &a); err != nil {
		return v, nil, a, err
	}
	now, err := moment(a.NowMS, a.Zone)
	if err != nil {
		return v, nil, a, err
	}
	f := find.Of(r, find.Asked{Person: a.Person, Role: a.Role, Now: now, Lines: b.lines, Land: b.land, Traits: b.register != nil && b.register.AsksTraits()})
	w, tally, err := b.world(&a, f.Count)
	if err != nil {
		return v, nil, a, err
	}
	return screen.Check(&f, w), tally, a, nil
}

// judge judges the finds of one visit from facts that are already worked out,
// each with the numbers that the earlier ones would take: judge(facts,
// context). Of the context only what this phone has taken counts; the facts
// say who asks and when.
func (b *brain) judge(args []js.Value) (any, error) {
	var finds []screen.Facts
	var a asking
	if err := read(args, 0, &finds); err != nil {
		return nil, err
	}
	if err := read(args, 1, &a); err != nil {
		return nil, err
	}
	all := 0
	for i := range finds {
		all += max(finds[i].Count, 1)
	}
	w, _, err := b.world(&a, all)
	if err != nil {
		return nil, err
	}
	return screen.Visit(finds, w), nil
}

// world is what a find of so many animals is judged in, as far as this phone
// knows it. Without numbers in the kit nobody can tell what is left.
func (b *brain) world(a *asking, need int) (*screen.World, *share.Tally, error) {
	if b.book == nil {
		return nil, nil, trouble{Kind: "unready", Sentence: "The rules are not on this phone yet. Connect once, or ask the permit officer before you take anything."}
	}
	w := &screen.World{Book: b.book, Register: b.register, Checklist: b.list, Ground: b.land.Edition()}
	t := &share.Tally{Stated: b.kit.Tallies, Own: a.Own, Names: b.list, Purse: a.Purse, Need: need}
	if t.Purse == nil && b.kit.Grants != nil {
		t.Purse = &share.Purse{} // the museum lends, and this phone holds nothing
	}
	if b.kit.Tallies != nil {
		w.Tally = t
	}
	return w, t, nil
}

// moment turns the phone's clock into the local time of its zone, "-04:00".
func moment(ms int64, zone string) (permits.Moment, error) {
	minutes, ok := offset(zone)
	if !ok {
		return permits.Moment{}, invalid("/tz", "the phone's time zone cannot be read")
	}
	at := time.UnixMilli(ms + minutes*60_000).UTC()
	year, month, day := at.Date()
	return permits.NewDate(year, int(month), day).At(at.Hour(), at.Minute()), nil
}

// offset reads a distance from UTC in minutes.
func offset(zone string) (minutes int64, ok bool) {
	if len(zone) != 6 || zone[3] != ':' || zone[0] != '+' && zone[0] != '-' {
		return 0, false
	}
	for _, i := range [...]int{1, 2, 4, 5} {
		if zone[i] < '0' || zone[i] > '9' {
			return 0, false
		}
		minutes = minutes*10 + int64(zone[i]-'0')
	}
	minutes = minutes/100*60 + minutes%100
	if zone[0] == '-' {
		minutes = -minutes
	}
	return minutes, true
}
