package duties_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/permits/duties"

	"pgregory.net/rapid"
)

func one(t testing.TB, code, subject, person, by string) duties.Duty {
	t.Helper()
	d := duties.Duty{Obligation: permits.Obligation{Code: code, Rule: "R"}, Subject: subject, Person: person}
	if by != "" {
		if err := d.By.UnmarshalText([]byte(by)); err != nil {
			t.Fatal(err)
		}
		d.Due.At = d.By
	}
	return d
}

func severe(d duties.Duty, s permits.Severity) duties.Duty {
	d.Severity = s
	return d
}

// lines writes heaps as a person would read them down a list.
func lines(heaps []duties.Heap) string {
	var out []string
	for _, h := range heaps {
		line := fmt.Sprintf("%s %d %s by %s", h.State, len(h.Duties), h.Code, h.By)
		for _, p := range h.Persons {
			line += fmt.Sprintf(" %s:%d", p.Person, p.Count)
		}
		out = append(out, line)
	}
	return strings.Join(out, "\n")
}

func TestEqualDutiesStandInOneHeap(t *testing.T) {
	now := moment(t, "2026-02-10T12:00")
	other := one(t, "IDENTIFY", "a9", "ana", "2026-01-31")
	other.To = "the state"
	done := one(t, "IDENTIFY", "a8", "ana", "2026-01-31")
	done.Evidence = &duties.Evidence{Proof: "named", At: now}
	waived := one(t, "IDENTIFY", "a7", "ana", "2026-01-31")
	waived.Evidence = &duties.Evidence{Proof: "letter", Waives: true}
	for _, c := range []struct {
		name string
		list []duties.Duty
		want string
	}{
		{"nothing", nil, ""},
		{"two of one kind and day", []duties.Duty{one(t, "IDENTIFY", "a2", "jun", "2026-01-31"), one(t, "IDENTIFY", "a1", "ana", "2026-01-31")},
			"late 2 IDENTIFY by 2026-01-31 ana:1 jun:1"},
		{"two days are two heaps, the earlier first", []duties.Duty{one(t, "IDENTIFY", "a1", "", "2027-01-31"), one(t, "IDENTIFY", "a2", "", "2026-01-31")},
			"late 1 IDENTIFY by 2026-01-31\nopen 1 IDENTIFY by 2027-01-31"},
		{"another office is another letter", []duties.Duty{one(t, "IDENTIFY", "a1", "ana", "2026-01-31"), other},
			"late 1 IDENTIFY by 2026-01-31 ana:1\nlate 1 IDENTIFY by 2026-01-31 ana:1"},
		{"what is done or waived is in none", []duties.Duty{done, waived}, ""},
		{"without a day it stands last", []duties.Duty{one(t, "NOTE", "a1", "", ""), one(t, "DEPOSIT", "a2", "", "2026-12-31")},
			"open 1 DEPOSIT by 2026-12-31\nopen 1 NOTE by "},
		{"of one day the larger heap stands first", []duties.Duty{one(t, "DEPOSIT", "a1", "", "2026-01-31"), one(t, "IDENTIFY", "a2", "", "2026-01-31"), one(t, "IDENTIFY", "a3", "", "2026-01-31")},
			"late 2 IDENTIFY by 2026-01-31\nlate 1 DEPOSIT by 2026-01-31"},
		{"who has most to do stands first", []duties.Duty{one(t, "DEPOSIT", "a1", "ana", "2026-01-31"), one(t, "DEPOSIT", "a2", "jun", "2026-01-31"), one(t, "DEPOSIT", "a3", "jun", "2026-01-31")},
			"late 3 DEPOSIT by 2026-01-31 jun:2 ana:1"},
		{"what a law asks for stands before a paper's condition, and advice last", []duties.Duty{severe(one(t, "ADVICE", "a1", "", "2026-03-01"), permits.OfAdvice), one(t, "PAPER", "a2", "", "2026-03-02"), severe(one(t, "LAW", "a3", "", "2026-03-03"), permits.OfLaw)},
			"open 1 LAW by 2026-03-03\nopen 1 PAPER by 2026-03-02\nopen 1 ADVICE by 2026-03-01"},
		{"what a law asks for stands before late advice", []duties.Duty{severe(one(t, "LAW", "a1", "", "2026-03-03"), permits.OfLaw), severe(one(t, "ADVICE", "a2", "", "2026-01-01"), permits.OfAdvice)},
			"open 1 LAW by 2026-03-03\nlate 1 ADVICE by 2026-01-01"},
		{"an hour of a day is before its end", []duties.Duty{one(t, "CALL", "a1", "", "2026-02-10"), one(t, "CALL", "a2", "", "2026-02-10T11:00")},
			"late 1 CALL by 2026-02-10T11:00\nopen 1 CALL by 2026-02-10"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := lines(duties.Group(c.list, now)); got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
		})
	}
}

// TestGroupingLosesNothingAndHasOneOrder groups random lists in two orders.
func TestGroupingLosesNothingAndHasOneOrder(t *testing.T) {
	now := moment(t, "2026-02-10T12:00")
	rapid.Check(t, func(rt *rapid.T) {
		var list []duties.Duty
		for i := range rapid.IntRange(0, 30).Draw(rt, "duties") {
			d := one(t, rapid.SampledFrom([]string{"A", "B"}).Draw(rt, "code"), fmt.Sprintf("s%02d", i), rapid.SampledFrom([]string{"", "ana", "jun"}).Draw(rt, "who"),
				rapid.SampledFrom([]string{"", "2026-01-31", "2026-02-10T11:00", "2027-01-31"}).Draw(rt, "by"))
			d.To = rapid.SampledFrom([]string{"", "office"}).Draw(rt, "to")
			if rapid.IntRange(0, 5).Draw(rt, "settled") == 0 {
				d.Evidence = &duties.Evidence{Proof: "x", At: now}
			}
			list = append(list, d)
		}
		turned := slices.Clone(list)
		slices.Reverse(turned)
		heaps := duties.Group(list, now)
		if a, b := lines(heaps), lines(duties.Group(turned, now)); a != b {
			rt.Fatalf("got\n%s\nand in another order\n%s", a, b)
		}
		var in []string
		for _, h := range heaps {
			for i := range h.Duties {
				d := &h.Duties[i]
				if d.Code != h.Code || d.To != h.To || d.By != h.By || d.State(now) != h.State {
					rt.Fatalf("got %+v in the heap %+v", d, h)
				}
				in = append(in, d.Subject)
			}
		}
		var want []string
		for _, d := range duties.Agenda(list, now) {
			want = append(want, d.Subject)
		}
		slices.Sort(in)
		slices.Sort(want)
		if !slices.Equal(in, want) {
			rt.Fatalf("got %v in heaps, want what is open: %v", in, want)
		}
	})
}

func ExampleGroup() {
	by := permits.Moment{Date: permits.NewDate(2026, 1, 31)}
	var list []duties.Duty
	for i := range 57 {
		list = append(list, duties.Duty{Obligation: permits.Obligation{Code: "IDENTIFY_BEFORE_REPORT"}, Subject: fmt.Sprint(i), By: by})
	}
	for _, h := range duties.Group(list, permits.Moment{Date: permits.NewDate(2026, 2, 1)}) {
		fmt.Println(len(h.Duties), h.Code, "by", h.By, h.State)
	}
	// Output: 57 IDENTIFY_BEFORE_REPORT by 2026-01-31 late
}
