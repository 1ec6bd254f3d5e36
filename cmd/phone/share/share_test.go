package share_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"testing"

	"wayfall/cmd/phone/share"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/escrow"
	"wayfall/permits/quota"
)

const device = "a phone"

var (
	day   = permits.NewDate(2026, 6, 3)
	paper = permits.Authority{ID: "P", ValidFrom: permits.NewDate(2026, 1, 1), ValidTo: permits.NewDate(2026, 12, 31), Status: permits.Active,
		Quotas: []permits.Quota{
			{ID: "LOON", Per: "taxon", Taxa: []string{"Gavia immer"}, Limit: 12, Window: "calendar_year"},
			{ID: "BIRDS", Per: "list", Taxa: []string{"Aves"}, Limit: 200, Window: "calendar_year"},
			{ID: "EACH", Per: "taxon", Limit: 10, Window: "calendar_year"},
			{ID: "NONE", Per: "all", Unlimited: true, Window: "calendar_year"},
		}}
)

func names(t *testing.T) *permits.Checklist {
	t.Helper()
	list, err := permits.ReadChecklist(packs.Taxa())
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// lent is a share as it comes over the wire.
func lent(id, quota, taxon string, first, last, next int) share.Lent {
	return share.Lent{Record: "the record", Holding: escrow.Holding{Next: next, Grant: escrow.Grant{ID: id, Device: device, First: first, Last: last,
		Number: escrow.Number{Authority: "P", Quota: quota, Taxon: taxon, From: permits.NewDate(2026, 1, 1), To: permits.NewDate(2026, 12, 31)}}}}
}

func holding(all ...share.Lent) *share.Purse {
	p := &share.Purse{}
	p.Hear(device, all)
	return p
}

func TestWhatAPhoneKnowsOfANumber(t *testing.T) {
	used := func(loons int) quota.Fixed {
		return quota.Fixed{{Authority: "P", Quota: "LOON", Taxon: "Gavia immer", Used: loons}}
	}
	one := func() *share.Purse { return holding(lent("g", "LOON", "Gavia immer", 1, 1, 1)) }
	own := []share.Own{{Authority: "P", Taxon: "Gavia immer", Count: 3}}
	for _, row := range []struct {
		name        string
		tally       share.Tally
		quota       int
		taxon       string
		left        int
		known, draw bool
	}{
		{"a phone that asks for no shares goes by what was stated", share.Tally{Stated: used(2)}, 0, "Gavia immer", 10, true, false},
		{"within the share it is free, and no more than the share", share.Tally{Stated: used(2), Purse: one(), Need: 1}, 0, "Gavia immer", 1, true, true},
		{"a share that is short makes it unknown, not used up", share.Tally{Stated: used(2), Purse: one(), Need: 2}, 0, "Gavia immer", 1, false, true},
		{"without any share it is unknown though it was stated to be free", share.Tally{Stated: used(0), Purse: &share.Purse{}, Need: 1}, 0, "Gavia immer", 0, false, true},
		{"used up as stated is used up", share.Tally{Stated: used(12), Purse: &share.Purse{}, Need: 1}, 0, "Gavia immer", 0, true, false},
		{"used up as stated is used up even with a share in hand", share.Tally{Stated: used(12), Purse: one(), Need: 1}, 0, "Gavia immer", 0, true, false},
		{"used up by what was stated and one's own since", share.Tally{Stated: used(9), Own: own, Purse: one(), Need: 1}, 0, "Gavia immer", 0, true, false},
		{"a share of loons is none of birds", share.Tally{Stated: used(2), Purse: one(), Need: 1}, 1, "Gavia immer", 0, false, true},
		{"a list takes any of its kinds", share.Tally{Stated: used(2), Purse: holding(lent("b", "BIRDS", "", 1, 4, 2)), Need: 1}, 1, "Corvus corax", 3, true, true},
		{"a number that cannot be divided goes by what was stated", share.Tally{Stated: used(2), Purse: &share.Purse{}, Need: 1}, 2, "Gavia immer", 10, true, false},
	} {
		t.Run(row.name, func(t *testing.T) {
			row.tally.Names = names(t)
			_, left, known := row.tally.Used(&paper, &paper.Quotas[row.quota], row.taxon, day)
			if left != row.left || known != row.known || (len(row.tally.Draws) == 1) != row.draw {
				t.Errorf("got %d left, known %v, draws %v; want %d, %v, a draw: %v", left, known, row.tally.Draws, row.left, row.known, row.draw)
			}
		})
	}
}

func TestAPastFindIsCountedInItsOwnWindow(t *testing.T) {
	tally := share.Tally{Stated: quota.Fixed{}, Names: names(t), Purse: holding(lent("g", "LOON", "Gavia immer", 1, 4, 1)), Need: 1}
	if _, _, known := tally.Used(&paper, &paper.Quotas[0], "Gavia immer", permits.NewDate(2027, 1, 1)); known {
		t.Error("a share of 2026 makes the number of 2027 known to be free")
	}
}

func verdict(outcome permits.Outcome, relies ...string) *permits.Verdict {
	v := &permits.Verdict{Outcome: outcome}
	for _, a := range relies {
		v.Relies = append(v.Relies, permits.Reliance{Authority: a})
	}
	return v
}

func TestASaveSpendsWhatTheCheckDrewOn(t *testing.T) {
	for _, row := range []struct {
		name    string
		verdict *permits.Verdict
		need    int
		want    string
	}{
		{"one loon is one of the loons and one of the birds", verdict(permits.AllowWithObligations, "P"), 1,
			`[{"authority":"P","quota":"LOON","grant":"g","serial":3},{"authority":"P","quota":"BIRDS","grant":"b","serial":7}]`},
		{"two loons are two of each", verdict(permits.AllowWithObligations, "P"), 2,
			`[{"authority":"P","quota":"LOON","grant":"g","serial":3},{"authority":"P","quota":"LOON","grant":"h","serial":9},{"authority":"P","quota":"BIRDS","grant":"b","serial":7},{"authority":"P","quota":"BIRDS","grant":"b","serial":8}]`},
		{"another paper that covers it spends nothing of this one", verdict(permits.AllowWithObligations, "Q"), 1, `[]`},
		{"what is in the hand against the answer spends nothing", verdict(permits.BreachToResolve, "P"), 1, `[]`},
		{"what a person has to decide spends nothing", verdict(permits.ReviewByPerson, "P"), 1, `[]`},
	} {
		t.Run(row.name, func(t *testing.T) {
			purse := holding(lent("g", "LOON", "Gavia immer", 1, 3, 3), lent("h", "LOON", "Gavia immer", 9, 9, 9), lent("b", "BIRDS", "", 5, 8, 7))
			before, tally := spell(t, purse), share.Tally{Stated: quota.Fixed{}, Names: names(t), Purse: purse, Need: row.need}
			for range 2 { // each law asks
				for i := range paper.Quotas[:2] {
					tally.Used(&paper, &paper.Quotas[i], "Gavia immer", day)
				}
			}
			got := spell(t, tally.Spend(row.verdict))
			if got != row.want {
				t.Errorf("got  %s\nwant %s", got, row.want)
			}
			if row.want == `[]` && spell(t, purse) != before {
				t.Errorf("the purse became %s, want it untouched", spell(t, purse))
			}
		})
	}
}

func spell(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// The purse goes through the store of the page as JSON after each step.
func TestAPurseIsKeptWhole(t *testing.T) {
	var p share.Purse
	p.Hear(device, []share.Lent{lent("g", "LOON", "Gavia immer", 1, 4, 2)})
	var again share.Purse
	if err := json.Unmarshal([]byte(spell(t, p)), &again); err != nil {
		t.Fatal(err)
	}
	if spell(t, again) != spell(t, p) || again.Left("P", "LOON", "Gavia immer", day) != 3 {
		t.Errorf("got %s, want %s with 3 left", spell(t, again), spell(t, p))
	}
}

func TestAnAnswerThatComesLateOrTwiceBringsNothingBack(t *testing.T) {
	answer := []share.Lent{lent("g", "LOON", "Gavia immer", 1, 4, 1)}
	p := holding(answer...)
	p.Spend("P", "LOON", "Gavia immer", day, 2)
	p.Hear(device, answer)
	if got := p.Left("P", "LOON", "Gavia immer", day); got != 2 {
		t.Errorf("after two spends and the old answer: got %d left, want 2", got)
	}
	p.Hear("another phone", []share.Lent{lent("x", "LOON", "Gavia immer", 20, 30, 20)})
	p.Hear(device, []share.Lent{lent("", "LOON", "Gavia immer", 20, 30, 20), lent("y", "LOON", "Gavia immer", 30, 20, 20)})
	if got := len(p.Holdings); got != 1 {
		t.Errorf("got %d holdings, want 1: the rest is another phone's, or no share at all", got)
	}
	back := p.GiveBack(0)
	if got, want := spell(t, back), `[{"record":"the record","return":{"grant":"g","from":3}}]`; got != want {
		t.Errorf("given back: got %s, want %s", got, want)
	}
	p.Hear(device, answer)
	if got := p.Left("P", "LOON", "Gavia immer", day); got != 0 {
		t.Errorf("after giving back and the old answer: got %d left, want 0", got)
	}
	if got := p.GiveBack(0); len(got) != 0 {
		t.Errorf("given back twice: got %v, want nothing", got)
	}
}

func TestAShareIsGivenBackWhenItsWindowIsOver(t *testing.T) {
	for _, row := range []struct {
		name string
		on   permits.Date
		want int
	}{
		{"on its last day it is kept", permits.NewDate(2026, 12, 31), 0},
		{"a day later it is given back", permits.NewDate(2027, 1, 1), 1},
	} {
		t.Run(row.name, func(t *testing.T) {
			if got := holding(lent("g", "LOON", "Gavia immer", 1, 4, 1)).GiveBack(row.on); len(got) != row.want {
				t.Errorf("got %d given back, want %d", len(got), row.want)
			}
		})
	}
}

func TestWhatAPurseHoldsInWords(t *testing.T) {
	p := holding(lent("g", "LOON", "Gavia immer", 1, 2, 2), lent("h", "LOON", "Gavia immer", 5, 6, 5), lent("b", "BIRDS", "", 1, 1, 2), lent("z", "GONE", "", 1, 1, 1))
	got := ""
	for _, n := range p.Numbers(day, []permits.Authority{paper}, names(t)) {
		got += fmt.Sprintf("%s %d; ", n.Of, n.Left)
	}
	if want := "Common Loon 3; Birds of any kind 0; GONE 1; "; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := p.Numbers(permits.NewDate(2027, 1, 1), nil, nil); len(got) != 0 {
		t.Errorf("in the next year: got %v, want nothing", got)
	}
}

// Two phones that cannot hear each other, whatever they do and in whatever
// order their messages come, are never told together that more is free than
// the number has.
func TestTwoPhonesWithoutSignalNeverPassANumber(t *testing.T) {
	list := names(t)
	for seed := range uint64(300) {
		rnd := rand.New(rand.NewPCG(seed, 4))
		limit := 1 + rnd.IntN(9)
		a := permits.Authority{ID: "P", ValidFrom: paper.ValidFrom, ValidTo: paper.ValidTo, Status: permits.Active,
			Quotas: []permits.Quota{{ID: "LOON", Per: "taxon", Taxa: []string{"Gavia immer"}, Limit: limit, Window: "calendar_year"}}}
		ledger := escrow.Fold([]escrow.Event{{Kind: escrow.Limited, Limit: limit, Reserve: escrow.Reserve(limit)}})
		var purses [2]share.Purse
		var untold [2][]escrow.Event
		covered, stated := 0, 0
		for step := range 40 {
			i := rnd.IntN(2)
			phone := fmt.Sprint(i)
			if rnd.IntN(4) == 0 { // contact; the answer may be lost, and it may ask before it tells
				if rnd.IntN(2) == 0 {
					tell(&ledger, &untold[i])
				}
				if e, ok := ledger.Lend(phone, fmt.Sprint(seed, step), ledger.Propose(escrow.Ask{Device: phone, Phones: 2})); ok {
					ledger.Apply(&e)
				}
				if stated = covered; rnd.IntN(3) > 0 {
					purses[i].Hear(phone, heldBy(&ledger, phone))
				}
				continue
			}
			tally := share.Tally{Stated: quota.Fixed{{Authority: "P", Quota: "LOON", Taxon: "Gavia immer", Used: stated}}, Names: list, Purse: &purses[i], Need: 1}
			if _, left, known := tally.Used(&a, &a.Quotas[0], "Gavia immer", day); known && left > 0 {
				for _, s := range tally.Spend(verdict(permits.AllowWithObligations, "P")) {
					covered++
					untold[i] = append(untold[i], escrow.Event{Kind: escrow.Spent, Device: phone, Grant: s.Grant, Serial: s.Serial, Op: fmt.Sprint(seed, step)})
				}
			}
		}
		tell(&ledger, &untold[0])
		tell(&ledger, &untold[1])
		if sums := ledger.Sums(); covered > limit || covered != sums.Spent || len(ledger.Alarms()) > 0 {
			t.Fatalf("seed %d: phones took %d of %d as covered, the ledger knows %d, alarms %v", seed, covered, limit, sums.Spent, ledger.Alarms())
		}
	}
}

func tell(l *escrow.Ledger, events *[]escrow.Event) {
	for i := range *events {
		l.Apply(&(*events)[i])
	}
	*events = nil
}

func heldBy(l *escrow.Ledger, phone string) (out []share.Lent) {
	for _, s := range l.Shares() {
		if s.Device == phone {
			one := lent(s.ID, "LOON", "Gavia immer", s.First, s.Last, s.First)
			one.Device = phone
			out = append(out, one)
		}
	}
	return out
}
