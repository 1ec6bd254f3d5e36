//go:build js && wasm

package main

import (
	"syscall/js"

	"wayfall/cmd/phone/share"
	"wayfall/permits"
	"wayfall/permits/escrow"
)

// covered is a verdict with the shares it draws on: what is used if the find is
// saved as taken, and the purse after that.
type covered struct {
	Verdict permits.Verdict `json:"verdict"`
	Spent   []escrow.Spend  `json:"spent"`
	Purse   *share.Purse    `json:"purse,omitempty"`
	Draws   []draw          `json:"draws"`
}

// draw is one number of which the phone's share covers the find, or is short.
type draw struct {
	Of    string `json:"of"`
	Left  int    `json:"left"` // after the find, if it is covered
	Short bool   `json:"short,omitempty"`
}

// cover judges a report as screen does, and says what of the phone's shares it
// uses: cover(fields, context).
func (b *brain) cover(args []js.Value) (any, error) {
	v, tally, a, err := b.check(args)
	if err != nil {
		return nil, err
	}
	out := covered{Verdict: v, Spent: tally.Spend(&v), Purse: a.Purse, Draws: []draw{}}
	for _, d := range tally.Drawn(&v) {
		left := d.Held
		if !d.Short {
			left -= max(tally.Need, 1)
		}
		out.Draws = append(out.Draws, draw{d.Of, left, d.Short})
	}
	return out, nil
}

// purseOf reads the purse at i; null is an empty one.
func purseOf(args []js.Value, i int) (p share.Purse, err error) {
	err = read(args, i, &p)
	return p, err
}

// hear takes what the museum says the device holds into the purse:
// hear(purse, grants, device).
func hear(args []js.Value) (any, error) {
	p, err := purseOf(args, 0)
	if err != nil {
		return nil, err
	}
	var all []share.Lent
	if err := read(args, 1, &all); err != nil {
		return nil, err
	}
	p.Hear(text(args, 2), all)
	return p, nil
}

type given struct {
	Purse share.Purse  `json:"purse"`
	Back  []share.Back `json:"back"`
}

// giveBack gives up the rest of the shares whose window ended before the day,
// or of all if no day is named: giveBack(purse, before).
func giveBack(args []js.Value) (any, error) {
	p, err := purseOf(args, 0)
	if err != nil {
		return nil, err
	}
	var before permits.Date
	if day := text(args, 1); day != "" {
		if before, err = permits.ParseDate(day); err != nil {
			return nil, invalid("", "the day cannot be read")
		}
	}
	back := p.GiveBack(before)
	return given{p, back}, nil
}

// holds lists what the purse holds on a day: holds(purse, day).
func (b *brain) holds(args []js.Value) (any, error) {
	p, err := purseOf(args, 0)
	if err != nil {
		return nil, err
	}
	day, err := permits.ParseDate(text(args, 1))
	if err != nil {
		return nil, invalid("", "the day cannot be read")
	}
	return p.Numbers(day, b.kit.Authorities, b.list), nil
}
