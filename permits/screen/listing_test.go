package screen_test

import (
	"testing"

	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/screen"
)

// TestASpeciesIsListedOnTheDaysOnWhichItWas asks for the rule on federally
// listed species on the day before and on the day of a change: the red knot
// was listed from 12 January 2015 (79 FR 73706), Kirtland's warbler to
// 7 November 2019 (84 FR 54436); both from memory.
func TestASpeciesIsListedOnTheDaysOnWhichItWas(t *testing.T) {
	w := loadWorld(t, packs.DemoAuthorities())
	w.Tally = quota.Fixed{}
	day := permits.NewDate
	for _, c := range []struct {
		name, taxon    string
		from, to       permits.Date
		listed, unsure bool
	}{
		{"the knot, the day before", "Red Knot", day(2015, 1, 11), 0, false, false},
		{"the knot, on the day", "Red Knot", day(2015, 1, 12), 0, true, false},
		{"the warbler, on its last day", "Kirtland's Warbler", day(2019, 11, 7), 0, true, false},
		{"the warbler, the day after", "Kirtland's Warbler", day(2019, 11, 8), 0, false, false},
		{"the warbler, on one of both days", "Kirtland's Warbler", day(2019, 11, 7), day(2019, 11, 8), false, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := owl(func(f *screen.Facts) {
				if f.Taxon = c.taxon; c.to == 0 {
					c.to = c.from
				}
				f.Found = permits.When{From: permits.Moment{Date: c.from}, To: permits.Moment{Date: c.to}}
				f.Possessed, f.JudgedAt = f.Found, f.Found.To
			})
			v := screen.Check(&f, w)
			listed, unsure := false, false
			for _, x := range v.Findings {
				if x.Effect.Blocks() && x.Rule == "R-ESA" {
					listed = true
				}
				unsure = unsure || x.Unsure
			}
			if listed != c.listed || c.unsure && (!unsure || v.Outcome.Permits()) {
				t.Errorf("got R-ESA %v, unsure %v, %s by %s; want R-ESA %v, unsure %v", listed, unsure, v.Outcome, v.Deciding.Rule, c.listed, c.unsure)
			}
		})
	}
}
