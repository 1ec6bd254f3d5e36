package quota_test

import (
	"fmt"
	"testing"
	"wayfall/permits"
	"wayfall/permits/quota"

	"pgregory.net/rapid"
)

var (
	paper  = &permits.Authority{ID: "P", ValidFrom: permits.NewDate(2024, 4, 1), ValidTo: permits.NewDate(2027, 3, 31)}
	twelve = &permits.Quota{ID: "LOON", Per: "taxon", Taxa: []string{"Gavia immer"}, Limit: 12, Window: "calendar_year"}
)

func day(m, d int) permits.Moment { return permits.Moment{Date: permits.NewDate(2025, m, d)} }

func TestWindows(t *testing.T) {
	tests := []struct {
		name, window, on, from, to string
	}{
		{"a calendar year", "calendar_year", "2025-07-01", "2025-01-01", "2025-12-31"},
		{"a permit year after its day", "permit_year", "2025-07-01", "2025-04-01", "2026-03-31"},
		{"a permit year before its day", "permit_year", "2026-03-31", "2025-04-01", "2026-03-31"},
		{"the life of the permit", "permit_life", "2025-07-01", "2024-04-01", "2027-03-31"},
		{"a window nobody knows", "moon", "2025-07-01", "", ""},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			on, err := permits.ParseDate(c.on)
			if err != nil {
				t.Fatal(err)
			}
			q := permits.Quota{Window: c.window}
			if from, to := quota.Window(paper, &q, on); from.String() != c.from || to.String() != c.to {
				t.Errorf("got %s to %s, want %s to %s", from, to, c.from, c.to)
			}
		})
	}
}

func loons(n int) []quota.Use {
	var out []quota.Use
	for i := range n {
		out = append(out, quota.Use{Animal: fmt.Sprintf("a%02d", i), Authority: "P", Taxon: "Gavia immer", Found: day(10, 1+i)})
	}
	return out
}

func TestTheLaterFindIsTheExcessWhoeverCameFirst(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		uses := rapid.Permutation(loons(15)).Draw(t, "arrival")
		s := quota.NewLedger(uses, nil).Standing(paper, twelve, "Gavia immer", permits.NewDate(2025, 10, 30))
		if s.Used != 15 || s.Excess != 3 || len(s.Over) != 3 || s.Over[0].Animal != "a12" || s.Over[2].Animal != "a14" {
			t.Fatalf("got %+v, want 15 used and a12 to a14 over", s)
		}
	})
}

func TestWhatCounts(t *testing.T) {
	list, err := permits.ReadChecklist([]byte(`{"taxa":[
	 {"name":"Gavia immer","english":"Common Loon","class":"Aves","genus":"Gavia","status":"m"},
	 {"name":"Gavia stellata","english":"Red-throated Loon","class":"Aves","genus":"Gavia","status":"m"}]}`))
	if err != nil {
		t.Fatal(err)
	}
	uses := []quota.Use{
		{Animal: "named", Authority: "P", Taxon: "Gavia immer", Found: day(5, 1)},
		{Animal: "not named", Authority: "P", Taxon: "Gavia sp.", Found: day(5, 2), Provisional: true},
		{Animal: "other loon", Authority: "P", Taxon: "Gavia stellata", Found: day(5, 3)},
		{Animal: "other permit", Authority: "X", Taxon: "Gavia immer", Found: day(5, 4)},
		{Animal: "other year", Authority: "P", Taxon: "Gavia immer", Found: permits.NewDate(2024, 12, 31).At(9, 0)},
		{Animal: "left", Authority: "P", Taxon: "Gavia immer", Found: day(5, 5), Exempt: true},
		{Animal: "no day", Authority: "P", Taxon: "Gavia immer"},
		{Animal: "three", Authority: "P", Taxon: "Gavia immer", Found: day(5, 6), Count: 3},
	}
	l := quota.NewLedger(uses, list)
	on := permits.NewDate(2025, 6, 1)
	if s := l.Standing(paper, twelve, "Gavia immer", on); s.Used != 6 || s.Provisional != 1 {
		t.Errorf("per taxon: got %d used, %d provisional, want 6 and 1", s.Used, s.Provisional)
	}
	all := permits.Quota{ID: "ALL", Per: "all", Limit: 6, Window: "calendar_year"}
	if s := l.Standing(paper, &all, "", on); s.Used != 7 || s.Excess != 1 || s.Over[0].Animal != "no day" {
		t.Errorf("over everything: got %+v, want 7 used and the one without a day in excess", s)
	}
	genus := permits.Quota{ID: "G", Per: "list", Taxa: []string{"Gavia"}, Limit: 9, Window: "permit_life"}
	if s := l.Standing(paper, &genus, "", on); s.Used != 8 {
		t.Errorf("over a list for the life of the permit: got %d used, want 8", s.Used)
	}
}

func TestAGrantIsAllThatADeviceHas(t *testing.T) {
	l := quota.NewLedger(loons(5), nil)
	on := permits.NewDate(2025, 10, 30)
	if used, left, known := l.Used(paper, twelve, "Gavia immer", on); used != 5 || left != 7 || !known {
		t.Errorf("got %d used, %d left, known %v, want 5, 7, true", used, left, known)
	}
	l.Grant("P", "LOON", "Gavia immer", 2)
	if _, left, _ := l.Used(paper, twelve, "Gavia immer", on); left != 2 {
		t.Errorf("got %d left, want the grant of 2", left)
	}
	other := *twelve
	other.ID = "OTHER"
	if _, left, _ := l.Used(paper, &other, "Gavia immer", on); left != 0 {
		t.Errorf("got %d left of a number without a grant, want 0", left)
	}
	if _, _, known := l.Used(paper, twelve, "Gavia immer", 0); known {
		t.Error("without a day the number was known")
	}
}

func TestAnAnimalInTheLedgerIsJudgedByWhatCameBefore(t *testing.T) {
	uses := loons(13)
	l := quota.NewLedger(uses, nil)
	for i, want := range map[int]int{0: 12, 11: 1, 12: 0} {
		b := quota.Before{Ledger: l, Use: uses[i]}
		if used, left, _ := b.Used(paper, twelve, "Gavia immer", uses[i].Found.Date); left != want || used != i {
			t.Errorf("animal %d: got %d before it, %d left, want %d, %d", i, used, left, i, want)
		}
	}
}

func ExampleLedger_Standing() {
	l := quota.NewLedger(loons(13), nil)
	s := l.Standing(paper, twelve, "Gavia immer", permits.NewDate(2025, 10, 31))
	fmt.Println(s.Used, "of", s.Limit, "over:", s.Over[0].Animal, s.Over[0].Found)
	// Output: 13 of 12 over: a12 2025-10-13
}
