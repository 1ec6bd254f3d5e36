package catalogue

import (
	"testing"

	"wayfall/permits"
)

// A paper answers for what needs it, not for what carries its name.
func TestAPaperThatIsOnlyNamedAnswersForNothingThatNeedsNone(t *testing.T) {
	for _, c := range []struct {
		name           string
		take           Take
		under, covered bool
	}{
		{"named, and not judged yet", Take{Named: "P"}, true, true},
		{"named, and no law asks for a paper", Take{Named: "P", Judged: true, Outcome: permits.AllowWithObligations}, false, false},
		{"named, and another paper covers it", Take{Named: "P", Judged: true, Outcome: permits.AllowWithObligations, Relies: []string{"Q"}}, false, false},
		{"named, and it covers it", Take{Named: "P", Judged: true, Outcome: permits.AllowWithObligations, Relies: []string{"P"}}, true, true},
		{"named, and nothing covers it", Take{Named: "P", Judged: true, Outcome: permits.BreachToResolve}, true, false},
		{"named, and only a number is full", Take{Named: "P", Judged: true, Outcome: permits.BreachToResolve, Full: []string{""}}, true, true},
		{"named, and a person decides", Take{Named: "P", Judged: true, Outcome: permits.ReviewByPerson}, true, false},
		{"not named, and it covers it", Take{Judged: true, Outcome: permits.AllowWithObligations, Relies: []string{"P"}}, true, true},
		{"not named, and it stands in the way", Take{Judged: true, Outcome: permits.BreachToResolve, Near: []string{"P"}}, true, false},
		{"another is named", Take{Named: "Q", Judged: true, Outcome: permits.BreachToResolve}, false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := c.take.Under("P"); got != c.under {
				t.Errorf("got it in the report of the paper: %v, want %v", got, c.under)
			}
			if got := c.take.Covered("P"); got != c.covered {
				t.Errorf("got it covered by the paper: %v, want %v", got, c.covered)
			}
			census := Tallied([]Take{c.take}, Place{})
			if got := census.CoverOf(&census.All[0]); got.Under("P") != c.under || got.Covered("P") != c.covered {
				t.Errorf("in small: got under %v, covered %v; want %v, %v", got.Under("P"), got.Covered("P"), c.under, c.covered)
			}
		})
	}
}
