//go:build js && wasm

package main

import (
	"syscall/js"
	"time"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
	"wayfall/permits/screen/find"
)

// asking is who asks, when, and what this phone has taken that the kit's
// numbers do not hold yet.
type asking struct {
	NowMS  int64  `json:"now_ms"`
	Zone   string `json:"tz"`
	Person string `json:"person"`
	Role   string `json:"role"`
	Own    []own  `json:"own"`
}

type own struct {
	Authority string `json:"authority"`
	Taxon     string `json:"taxon"`
	Count     int    `json:"count"`
}

// screen judges a report: screen(fields, context).
func (b *brain) screen(args []js.Value) (any, error) {
	var r find.Report
	var a asking
	if err := read(args, 0, &r); err != nil {
		return nil, err
	}
	if err := read(args, 1, &a); err != nil {
		return nil, err
	}
	w, err := b.world(a.Own)
	if err != nil {
		return nil, err
	}
	now, err := moment(a.NowMS, a.Zone)
	if err != nil {
		return nil, err
	}
	f := find.Of(r, find.Asked{Person: a.Person, Role: a.Role, Now: now, Lines: b.lines})
	return screen.Check(&f, w), nil
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
	w, err := b.world(a.Own)
	if err != nil {
		return nil, err
	}
	return screen.Visit(finds, w), nil
}

// world is what a find is judged in, as far as this phone knows it.
func (b *brain) world(taken []own) (*screen.World, error) {
	if b.book == nil {
		return nil, trouble{Kind: "unready", Sentence: "The rules are not on this phone yet. Connect once, or ask the permit officer before you take anything."}
	}
	return &screen.World{Book: b.book, Register: b.register, Checklist: b.list, Tally: b.tally(taken)}, nil
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

// tally is the kit's numbers with what this phone has taken since. Without
// numbers in the kit nobody can tell what is left.
func (b *brain) tally(taken []own) rules.Tally {
	if b.kit.Tallies == nil {
		return nil
	}
	return &since{b.kit.Tallies, b.kit.Grants, taken, b.list}
}

// grant is the share of a number that this phone may spend offline.
type grant struct {
	Authority string `json:"authority"`
	Quota     string `json:"quota"`
	Taxon     string `json:"taxon"`
	Left      int    `json:"left"`
}

type since struct {
	stated quota.Fixed
	grants []grant
	taken  []own
	list   *permits.Checklist
}

// Used adds the phone's own takings, and leaves no more than its grant where
// the kit has grants.
func (s *since) Used(a *permits.Authority, q *permits.Quota, taxon string, on permits.Date) (used, left int, known bool) {
	used, left, known = s.stated.Used(a, q, taxon, on)
	mine := 0
	for _, t := range s.taken {
		if t.Authority == a.ID && s.counts(t.Taxon, q, taxon) {
			mine += max(t.Count, 1)
		}
	}
	used, left = used+mine, left-mine
	if s.grants == nil {
		return used, left, known
	}
	granted := 0
	for _, g := range s.grants {
		if g.Authority == a.ID && g.Quota == q.ID && (q.Per != "taxon" || g.Taxon == taxon) {
			granted += g.Left
		}
	}
	return used, min(left, granted-mine), known
}

// counts tells whether one's own taking may count against the number: a vague
// name counts against everything it could be.
func (s *since) counts(name string, q *permits.Quota, taxon string) bool {
	if q.Per == "all" {
		return true
	}
	for _, t := range s.list.Resolve(name, true, nil).Taxa {
		if q.Per == "taxon" && t.Name == taxon {
			return true
		}
		for _, sel := range q.Taxa {
			if q.Per == "list" && t.Is(sel) {
				return true
			}
		}
	}
	return false
}
