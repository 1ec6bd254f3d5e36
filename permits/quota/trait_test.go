package quota_test

import (
	"fmt"
	"testing"

	"wayfall/permits"
	"wayfall/permits/quota"
)

// oneDay is an ordinary day of the tests.
var oneDay = permits.NewDate(2025, 6, 1)

func duck(id string, d int, t permits.Traits) quota.Use {
	return quota.Use{Animal: id, Authority: "P", Taxon: "Anas platyrhynchos", Material: "carcass", Found: day(6, d), Traits: t}
}

func TestWhatANumberAsksBesideTheKind(t *testing.T) {
	uses := []quota.Use{
		duck("a hen", 1, permits.Traits{Sex: "female", Age: "adult", Cause: "vehicle", Acquired: permits.FoundDead}),
		duck("a drake", 2, permits.Traits{Sex: "male", Age: "adult", Cause: "window", Acquired: permits.FoundDead}),
		duck("a young hen that died in care", 3, permits.Traits{Sex: "female", Age: "juvenile", Cause: "care", Acquired: permits.DiedInCare}),
		duck("a drake from an agency", 4, permits.Traits{Sex: "male", Age: "adult", Cause: "unknown", Acquired: permits.Received}),
		duck("one of which nothing is known", 5, permits.Traits{}),
	}
	for _, c := range []struct {
		name       string
		quota      permits.Quota
		used, open int
	}{
		{"it asks nothing", permits.Quota{}, 5, 0},
		{"females: hens and what may be one", permits.Quota{Sexes: []string{"female"}}, 3, 1},
		{"males", permits.Quota{Sexes: []string{"male"}}, 3, 1},
		{"adult females", permits.Quota{Sexes: []string{"female"}, Ages: []string{"adult"}}, 2, 1},
		{"killed by a vehicle: an unknown cause may be one", permits.Quota{Causes: []string{"vehicle"}}, 3, 2},
		{"all but windows: an unknown cause is not exempt", permits.Quota{ExemptCauses: []string{"window"}}, 4, 2},
		{"found dead", permits.Quota{Acquired: []string{permits.FoundDead}}, 3, 1},
		{"died in care or from an agency", permits.Quota{Acquired: []string{permits.DiedInCare, permits.Received}}, 3, 1},
		{"feathers only", permits.Quota{Units: []string{"feather"}}, 0, 0},
		{"a kind that is left out", permits.Quota{ExemptTaxa: []string{"Anas platyrhynchos"}}, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			q := c.quota
			q.ID, q.Per, q.Limit, q.Window = "n", "all", 9, "calendar_year"
			got := quota.NewLedger(uses, nil).Standing(paper, &q, "", oneDay)
			if got.Used != c.used || got.Provisional != c.open {
				t.Errorf("got %d used, %d of them provisional, want %d and %d animals", got.Used, got.Provisional, c.used, c.open)
			}
		})
	}
}

func TestWhenTheSexBecomesKnownTheOtherNumberIsFreeAgain(t *testing.T) {
	hens := permits.Quota{ID: "hens", Per: "all", Sexes: []string{"female"}, Limit: 2, Window: "calendar_year"}
	drakes := permits.Quota{ID: "drakes", Per: "all", Sexes: []string{"male"}, Limit: 2, Window: "calendar_year"}
	for _, c := range []struct {
		name         string
		said         []permits.Traits // by several hands, in any order
		hens, drakes int
	}{
		{"nobody has said", []permits.Traits{{}}, 1, 1},
		{"a hen", []permits.Traits{{Sex: "female"}}, 1, 0},
		{"two hands differ", []permits.Traits{{Sex: "female"}, {Sex: "male"}}, 1, 1},
		{"one hand did not say", []permits.Traits{{Sex: "female"}, {}}, 1, 1},
	} {
		for _, turned := range []bool{false, true} {
			said := c.said
			if turned && len(said) == 2 {
				said = []permits.Traits{said[1], said[0]}
			}
			l := quota.NewLedger([]quota.Use{duck("it", 1, permits.TraitsOf(said...))}, nil)
			h, d := l.Standing(paper, &hens, "", oneDay).Used, l.Standing(paper, &drakes, "", oneDay).Used
			if h != c.hens || d != c.drakes {
				t.Errorf("%s: got %d of hens and %d of drakes, want %d and %d", c.name, h, d, c.hens, c.drakes)
			}
		}
	}
}

func TestWhenAnAnimalBeginsToCount(t *testing.T) {
	found := quota.Use{Animal: "it", Authority: "P", Found: permits.Moment{Date: permits.NewDate(2025, 12, 30)}}
	with := func(s quota.Stay) quota.Use { u := found; u.Stay = s; return u }
	jan := permits.NewDate(2026, 1, 3)
	for _, c := range []struct {
		name, when string
		use        quota.Use
		this, next int // what counts in 2025 and in 2026
		open       int // of them in 2026, not settled
	}{
		{"nothing is said: what was picked up counts by the day of the find", "", with(quota.Stay{PickedUp: permits.Moment{Date: jan}}), 1, 0, 0},
		{"left where it lay it does not count", "", with(quota.Stay{Left: true}), 0, 0, 0},
		{"at the find it counts though it was left", permits.AtFind, with(quota.Stay{Left: true}), 1, 0, 0},
		{"at the pick-up it counts in the year of that", permits.AtPickUp, with(quota.Stay{PickedUp: permits.Moment{Date: jan}}), 0, 1, 0},
		{"at the receipt it counts in the year of that", permits.AtDeposit, with(quota.Stay{Received: jan}), 0, 1, 0},
		{"not received yet it may count in either", permits.AtDeposit, with(quota.Stay{}), 1, 1, 1},
		{"given to an agency it never counts", permits.AtDeposit, with(quota.Stay{Away: true}), 0, 0, 0},
		{"received and given away later it counted", permits.AtDeposit, with(quota.Stay{Received: jan, Away: true}), 0, 1, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			q := permits.Quota{ID: "n", Per: "all", Limit: 1, Window: "calendar_year", CountsWhen: c.when}
			l := quota.NewLedger([]quota.Use{c.use}, nil)
			this, next := l.Standing(paper, &q, "", found.Found.Date), l.Standing(paper, &q, "", jan)
			if this.Used != c.this || next.Used != c.next || next.Provisional != c.open {
				t.Errorf("got %d in 2025, %d in 2026, %d of them open; want %d, %d, %d", this.Used, next.Used, next.Provisional, c.this, c.next, c.open)
			}
			if before := l.Standing(paper, &q, "", permits.NewDate(2024, 6, 1)); before.Used != 0 {
				t.Errorf("got %d in the year before the find, want 0", before.Used)
			}
		})
	}
}

func TestASeasonMayRunOverTheEndOfAYear(t *testing.T) {
	winter := &permits.Season{}
	winter.From, _ = permits.ParseMonthDay("11-15")
	winter.To, _ = permits.ParseMonthDay("02-10")
	q := permits.Quota{Window: "season", Season: winter}
	for _, c := range []struct{ name, on, from, to string }{
		{"before it begins", "2025-11-14", "", ""},
		{"the first day", "2025-11-15", "2025-11-15", "2026-02-10"},
		{"after the year's end", "2026-01-02", "2025-11-15", "2026-02-10"},
		{"the last day", "2026-02-10", "2025-11-15", "2026-02-10"},
		{"the day after", "2026-02-11", "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			on, _ := permits.ParseDate(c.on)
			if from, to := quota.Window(paper, &q, on); from.String() != c.from || to.String() != c.to {
				t.Errorf("got %q to %q, want %q to %q", from, to, c.from, c.to)
			}
			if _, _, known := quota.NewLedger(nil, nil).Used(paper, &q, "", on); known != (c.from != "") {
				t.Errorf("got a number that is known: %v, want it known only in the season", known)
			}
		})
	}
}

func TestANumberWarnsBeforeItIsFull(t *testing.T) {
	for _, c := range []struct {
		name  string
		quota permits.Quota
		from  int
	}{
		{"it states no warning", permits.Quota{Limit: 12}, 0},
		{"80 in a hundred of 12 is the tenth", permits.Quota{Limit: 12, WarnPercent: 80}, 10},
		{"75 in a hundred of 12 is the ninth", permits.Quota{Limit: 12, WarnPercent: 75}, 9},
		{"a count of its own", permits.Quota{Limit: 12, WarnAt: 5}, 5},
		{"of both the earlier", permits.Quota{Limit: 12, WarnAt: 11, WarnPercent: 50}, 6},
		{"without a ceiling it warns at its count", permits.Quota{Unlimited: true, WarnAt: 5}, 5},
		{"1 in a hundred of a small number is the first", permits.Quota{Limit: 3, WarnPercent: 1}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			q := c.quota
			if got := q.WarnsFrom(); got != c.from {
				t.Fatalf("got a warning from %d, want %d animals", got, c.from)
			}
			q.ID, q.Per, q.Window = "n", "all", "calendar_year"
			for n := range 13 {
				got := quota.NewLedger(loons(n), nil).Standing(paper, &q, "", permits.NewDate(2025, 10, 1)).Near
				if want := c.from > 0 && n >= c.from; got != want {
					t.Errorf("%d used: got a warning %v, want %v", n, got, want)
				}
			}
		})
	}
}

func ExampleLedger_Standing_females() {
	females := &permits.Quota{ID: "Mallard hens", Per: "all", Sexes: []string{"female"}, Limit: 5, Window: "calendar_year"}
	l := quota.NewLedger([]quota.Use{duck("a", 1, permits.Traits{Sex: "female"}), duck("b", 2, permits.Traits{Sex: "male"}), duck("c", 3, permits.Traits{})}, nil)
	s := l.Standing(paper, females, "", oneDay)
	fmt.Println(s.Used, "count,", s.Provisional, "of them because it may be one")
	// Output: 2 count, 1 of them because it may be one
}
