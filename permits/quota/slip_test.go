package quota_test

import (
	"fmt"
	"slices"
	"testing"
	"wayfall/permits"
	"wayfall/permits/quota"

	"pgregory.net/rapid"
)

// TestCountsAreStandings holds the numbers counted from slips against the
// ledger of uses.
func TestCountsAreStandings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := []string{"", "Gavia immer", "Larus sp.", "nest", "carcass"}
		var uses []quota.Use
		s := quota.Slips{Words: words, Traits: []permits.Traits{{}, {Sex: "female", Cause: "window"}, {Sex: "male", Acquired: "died_in_care"}}}
		for i := range rapid.IntRange(0, 40).Draw(t, "animals") {
			u := quota.Slip{Animal: uint32(i), Taxon: quota.Word(rapid.IntRange(0, 2).Draw(t, "taxon")), Material: quota.Word(rapid.SampledFrom([]int{0, 3, 4}).Draw(t, "material")),
				Marks: quota.Marks(rapid.SampledFrom([]int{0, 2, 2, 2, 6, 3}).Draw(t, "marks"))}
			if rapid.IntRange(0, 8).Draw(t, "dated") > 0 {
				u.Found = permits.NewDate(2024, 10, 1).AddDays(rapid.IntRange(0, 600).Draw(t, "day")).At(rapid.IntRange(0, 24).Draw(t, "hour"), 0)
			}
			u.Traits = quota.Word(rapid.IntRange(0, 2).Draw(t, "traits"))
			if rapid.IntRange(0, 2).Draw(t, "received") == 0 {
				u.Received = permits.NewDate(2024, 12, 1).AddDays(rapid.IntRange(0, 500).Draw(t, "on"))
			} else if rapid.Bool().Draw(t, "away") {
				u.Marks |= quota.Away
			}
			s.All = append(s.All, u)
			if !u.Has(quota.Gone) {
				uses = append(uses, quota.Use{Animal: fmt.Sprintf("%03d", 999-i), Authority: "P", Taxon: words[u.Taxon], Material: words[u.Material], Found: u.Found,
					Provisional: u.Has(quota.Provisional), Traits: s.Traits[u.Traits], Stay: quota.Stay{Received: u.Received, Left: !u.Has(quota.Taken), Away: u.Has(quota.Away)}})
			}
		}
		s.Before = func(a, b uint32) bool { return a > b }
		q := permits.Quota{Per: rapid.SampledFrom([]string{"taxon", "all", "list"}).Draw(t, "per"), Limit: rapid.IntRange(0, 9).Draw(t, "limit"),
			Window: rapid.SampledFrom([]string{"calendar_year", "permit_year", "permit_life", "moon"}).Draw(t, "window"), Taxa: []string{"Gavia immer"},
			Unlimited: rapid.IntRange(0, 5).Draw(t, "unlimited") == 0, Units: rapid.SampledFrom([][]string{nil, {"carcass"}}).Draw(t, "units"),
			Sexes: rapid.SampledFrom([][]string{nil, {"female"}}).Draw(t, "sexes"), ExemptCauses: rapid.SampledFrom([][]string{nil, {"window"}}).Draw(t, "exempt"),
			CountsWhen: rapid.SampledFrom([]string{"", "found", "possessed", "deposited"}).Draw(t, "counts"), WarnAt: rapid.IntRange(0, 9).Draw(t, "warns")}
		taxa := []string{"Gavia immer", "Larus sp."}
		if q.Per != "taxon" {
			taxa = []string{""}
		}
		on := permits.NewDate(2025, 6, 1)
		got := s.Counts(paper, &q, taxa, on, nil, func(*quota.Slip) bool { return true })
		for i, taxon := range taxa {
			want := quota.NewLedger(uses, nil).Standing(paper, &q, taxon, on)
			var over []string
			for _, n := range got[i].Over {
				over = append(over, fmt.Sprintf("%03d", 999-n))
			}
			var wantOver []string
			for _, u := range want.Over {
				wantOver = append(wantOver, u.Animal)
			}
			if got[i].Used != want.Used || got[i].Provisional != want.Provisional || got[i].Excess != want.Excess || got[i].Near != want.Near || !slices.Equal(over, wantOver) {
				t.Fatalf("%s: counted %+v %v, the ledger says %+v", taxon, got[i], over, want)
			}
		}
	})
}
