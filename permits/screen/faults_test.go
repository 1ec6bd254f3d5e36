package screen_test

import (
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/screen"
)

// TestOneStepFromAFact changes one fact of a find that may be taken, or of a
// holding, by one step.
func TestOneStepFromAFact(t *testing.T) {
	w := loadWorld(t, packs.Authorities())
	file := loadVectors(t)
	find := func(id string) screen.Facts {
		for i := range file.Cases {
			if file.Cases[i].ID == id {
				w.Tally = file.Cases[i].Tallies
				return file.facts(t, &file.Cases[i])[0]
			}
		}
		t.Fatalf("no vector %s", id)
		return screen.Facts{}
	}
	f := find("D01")
	f.Count, f.EventCount = 6, 1
	if v := screen.Check(&f, w); v.Deciding.Rule != "R-DIEOFF" {
		t.Errorf("six taken of one event said to be of one: got %s by %s, want R-DIEOFF", v.Outcome, v.Deciding.Rule)
	}
	for days, breach := range map[int]bool{59: false, 60: false, 61: true} {
		f := find("D24")
		f.JudgedAt = permits.Moment{Date: permits.NewDate(2026, 3, 31).AddDays(days)}
		if v := screen.Check(&f, w); (v.Deciding.Rule == "R-SCI-60D") != breach {
			t.Errorf("%d days after expiry: got %s by %s, want a breach of R-SCI-60D %v", days, v.Outcome, v.Deciding.Rule, breach)
		}
	}
	asked := 0
	for i := range w.Checklist.Taxa {
		f := find("D01")
		f.Taxon, f.Identified = w.Checklist.Taxa[i].Name, permits.Yes
		sure := screen.Check(&f, w)
		f.Identified = permits.No
		guess := screen.Check(&f, w)
		if !sure.Outcome.Permits() || guess.Outcome.Permits() {
			continue
		}
		asked++
		f.Identified = permits.Unknown
		if v := screen.Check(&f, w); v.Outcome.Permits() {
			t.Errorf("%s, and nobody said how surely: got %s, want no more than for a guess", f.Taxon, v.Outcome)
		}
	}
	if asked == 0 {
		t.Error("got no taxon for which it matters how surely it is named")
	}
	f = find("D01")
	f.Identified = permits.No
	base := screen.Check(&f, w)
	f.Plausible = []string{"Haliaeetus leucocephalus"}
	if v := screen.Check(&f, w); !base.Outcome.Permits() || v.Outcome.Permits() {
		t.Errorf("a guess: got %s, and with an eagle held possible %s; want it permitted, and not", base.Outcome, v.Outcome)
	}
}
