package quota

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"wayfall/permits"
)

// TestSearchingARowCountsWhatCountingEachUseGives holds the quick count to the
// plain one over random uses: same days, days not known, one animal twice.
func TestSearchingARowCountsWhatCountingEachUseGives(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	pick := func(s ...string) string { return s[rng.IntN(len(s))] }
	day := func() permits.Date { return permits.NewDate(2024+rng.IntN(3), 1+rng.IntN(12), 1+rng.IntN(3)) }
	for range 400 {
		use := func() Use {
			u := Use{Animal: fmt.Sprint("a", rng.IntN(25)), Authority: pick("P", "Q"), Taxon: pick("Gavia immer", "Larus argentatus", "Bubo scandiacus"),
				Material: pick("", "carcass", "feather"), Count: rng.IntN(4), Exempt: rng.IntN(9) == 0,
				Traits: permits.Traits{Sex: pick("", "female", "male")}, Stay: Stay{Left: rng.IntN(9) == 0, Away: rng.IntN(5) == 0}}
			if rng.IntN(3) == 0 {
				u.Received = day()
			}
			switch rng.IntN(5) {
			case 0:
			case 1:
				u.Found = permits.Moment{Date: day()}
			default:
				u.Found = day().At(rng.IntN(24), 30)
			}
			return u
		}
		var uses []Use
		for range rng.IntN(40) {
			uses = append(uses, use())
		}
		l := NewLedger(uses, nil)
		a := &permits.Authority{ID: pick("P", "Q"), ValidFrom: permits.NewDate(2024, 4, 1), ValidTo: permits.NewDate(2026, 3, 31)}
		q := &permits.Quota{ID: "n", Limit: 5, Per: pick("all", "taxon", "list"), Window: pick("calendar_year", "permit_year", "permit_life"),
			Taxa: []string{"Gavia immer", "Larus argentatus"}}
		if rng.IntN(3) == 0 {
			q.Units = []string{"carcass"}
		}
		if rng.IntN(3) == 0 {
			q.Sexes = []string{"female"}
		}
		q.CountsWhen = pick("", "found", "possessed", "deposited")
		for range 20 {
			one, taxon, on := use(), pick("Gavia immer", "Bubo scandiacus"), day()
			if len(uses) > 0 && rng.IntN(2) == 0 {
				one = uses[rng.IntN(len(uses))]
			}
			var all, before int
			from, to := Window(a, q, on)
			for i := range l.uses {
				u := &l.uses[i]
				if u.Authority != a.ID || !plainly(u, q, taxon, from, to) {
					continue
				}
				all += u.n()
				if u.Animal != one.Animal && sooner2(u, &one, q) {
					before += u.n()
				}
			}
			if got := l.Standing(a, q, taxon, on); got.Used != all {
				t.Fatalf("a standing of %d, want %d of %+v for %+v, %s on %v", got.Used, all, l.uses, q, taxon, on)
			}
			if from, _ := Window(a, q, on); !from.Known() && q.Window != "permit_life" {
				continue // no such year of the paper
			}
			if got, _, _ := l.Used(a, q, taxon, on); got != all {
				t.Fatalf("in all: got %d, want %d of %+v for %+v, %s on %v", got, all, l.uses, q, taxon, on)
			}
			if got, _, _ := (Before{Ledger: l, Use: one}).Used(a, q, taxon, on); got != before {
				t.Fatalf("before %+v: got %d, want %d of %+v for %+v, %s on %v", one, got, before, l.uses, q, taxon, on)
			}
		}
	}
}

// plainly tells whether a use counts, written once more from the words alone.
func plainly(u *Use, q *permits.Quota, taxon string, from, to permits.Date) bool {
	kind := q.Per == "all" || q.Per == "taxon" && u.Taxon == taxon || q.Per == "list" && contains(q.Taxa, u.Taxon)
	if u.Exempt || !kind || len(q.Units) > 0 && u.Material == "feather" || len(q.Sexes) > 0 && u.Sex == "male" {
		return false
	}
	on := u.Found.Date
	switch q.CountsWhen {
	case "deposited":
		if u.Left || u.Away && !u.Received.Known() {
			return false
		}
		if on = u.Received; !on.Known() {
			return u.Found.Date <= to // it may come in on any later day
		}
	case "found":
	default:
		if u.Left {
			return false
		}
	}
	return !on.Known() || from <= on && on <= to
}

// sooner2 tells whether a use counts before another.
func sooner2(a, b *Use, q *permits.Quota) bool {
	x, y := a.Found, b.Found
	if q.CountsWhen == "deposited" {
		x, y = permits.Moment{Date: a.Received}, permits.Moment{Date: b.Received}
	}
	if n := sooner(x, y); n != 0 {
		return n < 0
	}
	return earlier(a, b) < 0
}
