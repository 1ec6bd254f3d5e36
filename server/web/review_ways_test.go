package web

import (
	"strings"
	"testing"

	"wayfall/server/intake"
)

// TestEveryBreachHasLawfulWaysOn holds the table to its promise: whom to ask or
// where it is done, what it rests on, and never a word of hiding or deleting.
func TestEveryBreachHasLawfulWaysOn(t *testing.T) {
	for _, code := range []intake.Code{intake.OverQuota, intake.NotCovered, intake.StopSpecies, intake.CallFirst, intake.UnknownAuthority,
		intake.NeedsPerson, intake.LostDevice} {
		it := intake.Item{Code: code, Kind: "report", Record: "r 1", Paper: "P/1"}
		ways := waysOn(it)
		if len(ways) == 0 {
			t.Errorf("%s: there is no way on", code)
		}
		asks := false
		for _, w := range ways {
			asks = asks || w.Ask != ""
			if w.Ask == "" && w.Path == "" || w.Text == "" || w.Source == "" {
				t.Errorf("%s: %+v; want whom to ask or where it is done, and what it rests on", code, w)
			}
			for _, bad := range []string{"delete", "remove", "hide", "discard", "destroy"} {
				if strings.Contains(strings.ToLower(w.Text), bad) {
					t.Errorf("%s: %q speaks of it to %s", code, w.Text, bad)
				}
			}
		}
		if !asks {
			t.Errorf("%s: nobody is asked", code)
		}
		if a := reviews[code]; a.What == "" || a.Kept == "" {
			t.Errorf("%s: got %+v, want what happened and what is kept", code, a)
		}
	}
	for _, w := range waysOn(intake.Item{Code: intake.OverQuota, Kind: "report", Record: "r", Paper: "P/1"}) {
		if w.place == "amend" && w.Path != "/permits/P%2F1/amend" {
			t.Errorf("got %s, want /permits/P%%2F1/amend", w.Path)
		}
	}
}
