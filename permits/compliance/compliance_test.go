package compliance_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"
	"wayfall/permits"
	"wayfall/permits/compliance"

	"pgregory.net/rapid"
)

func permit() *permits.Authority {
	return &permits.Authority{ID: "P1", Holder: "Museum", ValidFrom: permits.NewDate(2023, 4, 1), ValidTo: permits.NewDate(2026, 3, 31),
		Persons: []permits.Grant{{Person: "ana", Role: "subpermittee"}, {Person: "lena", To: permits.NewDate(2025, 9, 30)},
			{Person: "new", From: permits.NewDate(2026, 1, 1)}}}
}

func year(a *permits.Authority) compliance.Request {
	return compliance.Request{Authority: a, From: permits.NewDate(2025, 1, 1), To: permits.NewDate(2025, 12, 31)}
}

func line() *rapid.Generator[compliance.Line] {
	pick := func(list ...string) *rapid.Generator[string] { return rapid.SampledFrom(list) }
	return rapid.Custom(func(t *rapid.T) compliance.Line {
		l := compliance.Line{
			Animal: pick("a1", "a2", "a3", "a4", "a5", "a6", "a7", "a8", "a9").Draw(t, "animal"),
			Taxon:  pick("Gavia immer", "Turdus migratorius", "Larus sp.").Draw(t, "taxon"),
			State:  pick("US-MI", "US-IN", "").Draw(t, "state"), County: pick("Mason", "Oceana").Draw(t, "county"),
			Person: pick("ana", "lena", "stranger", "").Draw(t, "person"), Authority: pick("P1", "P1", "P2").Draw(t, "authority"),
			Material: pick("carcass", "", "inactive_nest").Draw(t, "material"),
			Effect:   rapid.SampledFrom([]compliance.Effect{"covered", "covered", "over_quota", "not_covered", "observed", ""}).Draw(t, "effect"),
			Fate:     rapid.SampledFrom([]compliance.Fate{"kept", "transferred", "destroyed", "lost", "pending", ""}).Draw(t, "fate"),
			Count:    rapid.IntRange(0, 3).Draw(t, "count"),
		}
		if rapid.IntRange(0, 9).Draw(t, "dated") > 0 {
			l.On = permits.NewDate(2024, 11, 1).AddDays(rapid.IntRange(0, 500).Draw(t, "day"))
		}
		return l
	})
}

// TestEveryLineIsToldOfOnceAndSubtotalsAddUp folds random ledgers and counts
// them again without the table.
func TestEveryLineIsToldOfOnceAndSubtotalsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := rapid.SliceOfN(line(), 0, 40).Draw(t, "lines")
		q := year(permit())
		r := compliance.Build(q, lines)
		told := r.Elsewhere + len(r.OverQuota) + len(r.NotCovered) + len(r.Observed) + len(r.Undated) + len(r.Repeated)
		seen := map[string]int{}
		total := 0
		for _, s := range r.Species {
			total += checkSpecies(t, s, seen)
		}
		for animal, n := range seen {
			told += n
			if n != 1 {
				t.Fatalf("animal %s stands in the table %d times, want once", animal, n)
			}
		}
		if told != len(lines) {
			t.Fatalf("told of %d lines, want %d", told, len(lines))
		}
		if total != r.Individuals+r.Other {
			t.Fatalf("subtotals give %d, want %d individuals and %d others", total, r.Individuals, r.Other)
		}
		b := r.Balance
		if b.Acquired != b.Kept+b.Transferred+b.Destroyed+b.Lost+b.Pending {
			t.Fatalf("acquired %d, but the fates give %+v", b.Acquired, b)
		}
	})
}

func checkSpecies(t *rapid.T, s compliance.Species, seen map[string]int) int {
	states := 0
	for _, st := range s.States {
		counties := 0
		for _, c := range st.Counties {
			months := 0
			for _, m := range c.Months {
				months += m.Count
				for _, a := range m.Animals {
					seen[a]++
				}
			}
			if months != c.Subtotal {
				t.Fatalf("%s %s %s: months give %d, subtotal is %d", s.Taxon, st.State, c.County, months, c.Subtotal)
			}
			counties += c.Subtotal
		}
		if counties != st.Subtotal {
			t.Fatalf("%s %s: counties give %d, subtotal is %d", s.Taxon, st.State, counties, st.Subtotal)
		}
		states += st.Subtotal
	}
	if states != s.Subtotal {
		t.Fatalf("%s: states give %d, subtotal is %d", s.Taxon, states, s.Subtotal)
	}
	return s.Subtotal
}

func TestTheOrderOfTheLinesDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := rapid.SliceOfN(line(), 0, 25).Draw(t, "lines")
		shuffled := rapid.Permutation(lines).Draw(t, "shuffled")
		got, want := text(compliance.Build(year(permit()), shuffled)), text(compliance.Build(year(permit()), lines))
		if got != want {
			t.Fatalf("got\n%s\nwant\n%s", got, want)
		}
	})
}

func text(r compliance.Report) string {
	b, err := json.Marshal(r)
	if err != nil {
		return err.Error()
	}
	return string(b)
}

func TestAMonthWithoutAnimalsIsALineOfEverybodyListed(t *testing.T) {
	june := permits.NewDate(2025, 6, 3)
	r := compliance.Build(year(permit()), []compliance.Line{
		{Animal: "a", Taxon: "Gavia immer", On: june, Person: "ana", Authority: "P1", Effect: "covered", Fate: "kept"},
		{Animal: "b", Taxon: "Gavia immer", On: permits.NewDate(2025, 10, 5), Person: "lena", Authority: "P1", Effect: "not_covered"}})
	if len(r.Persons) != 2 {
		t.Fatalf("got %d people, want ana and lena; new is listed only from 2026", len(r.Persons))
	}
	ana, lena := r.Persons[0], r.Persons[1]
	if len(ana.Months) != 12 || !ana.Months[0].NoActivity || ana.Months[5].NoActivity || ana.Total != 1 {
		t.Errorf("got ana %+v, want twelve months of which June alone has an animal", ana)
	}
	if len(lena.Months) != 10 || !lena.Months[8].NoActivity || !lena.Months[9].Unlisted || lena.Months[9].Count != 1 {
		t.Errorf("got lena %+v, want nine listed months without activity and October unlisted", lena)
	}
}

func TestAYearWithoutAnimalsIsStillAReport(t *testing.T) {
	a := permit()
	a.ReportDue, _ = permits.ParseMonthDay("01-31")
	q := year(a)
	q.AsOf = permits.NewDate(2026, 2, 1).At(8, 0)
	r := compliance.Build(q, nil)
	if !r.Nil || r.Due.String() != "2026-01-31" || !r.Late {
		t.Errorf("got nil %v, due %s, late %v, want a nil report, due 2026-01-31, late", r.Nil, r.Due, r.Late)
	}
}

func TestACountInTheHouseIsComparedWithTheBooks(t *testing.T) {
	q := year(permit())
	counted := 6
	q.HeldBefore, q.Counted = 5, &counted
	day := permits.NewDate(2025, 6, 3)
	r := compliance.Build(q, []compliance.Line{
		{Animal: "a", Taxon: "x", On: day, Authority: "P1", Effect: "covered", Fate: "kept"},
		{Animal: "b", Taxon: "x", On: day, Authority: "P1", Effect: "covered", Fate: "transferred"},
		{Animal: "c", Taxon: "x", On: day, Authority: "P1", Effect: "over_quota", Fate: "pending"}})
	if r.Balance.HeldAfter != 7 || r.Balance.Difference != -1 {
		t.Errorf("got %+v, want 7 by the books and one missing", r.Balance)
	}
}

func ExampleBuild() {
	a := permit()
	lines := []compliance.Line{
		{Animal: "a", Taxon: "Gavia immer", State: "US-MI", County: "Mason", On: permits.NewDate(2025, 10, 3), Person: "ana", Authority: "P1", Effect: "covered"},
		{Animal: "b", Taxon: "Gavia immer", State: "US-MI", County: "Mason", On: permits.NewDate(2025, 10, 9), Person: "ana", Authority: "P1", Effect: "covered"},
		{Animal: "c", Taxon: "Gavia immer", State: "US-MI", County: "Oceana", On: permits.NewDate(2025, 11, 1), Person: "ana", Authority: "P1", Effect: "over_quota"},
	}
	slices.Reverse(lines)
	r := compliance.Build(year(a), lines)
	county := r.Species[0].States[0].Counties[0]
	fmt.Println(county.County, county.Months[0].Month, county.Months[0].Count, "over:", len(r.OverQuota))
	// Output: Mason 2025-10 2 over: 1
}

func BenchmarkBuild(b *testing.B) {
	const million = 1_000_000
	lines := make([]compliance.Line, million)
	for i := range lines {
		lines[i] = compliance.Line{Animal: fmt.Sprintf("a%07d", i*7919%million), Taxon: fmt.Sprintf("Genus t%d", i%62), State: "US-MI",
			County: fmt.Sprintf("County %d", i%4), On: permits.NewDate(2015+i%20, 1+i%12, 1+i%28), Person: "ana", Authority: "P1", Effect: "covered"}
	}
	for b.Loop() {
		compliance.Build(year(permit()), lines)
	}
}
