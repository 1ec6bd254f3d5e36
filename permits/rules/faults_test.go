package rules_test

import (
	"testing"
	"wayfall/permits"
	"wayfall/permits/rules"
)

// counted is a tally that knows two numbers by their names, and by the day.
type counted map[string]int

func (c counted) Used(_ *permits.Authority, q *permits.Quota, taxon string, on permits.Date) (used, left int, known bool) {
	used = c[q.ID] + c[taxon] + c[on.String()]
	return used, q.Limit - used, true
}

// TestOneStepFromTheRule is each thing that an engine could get wrong by one
// word, with the find that tells it.
func TestOneStepFromTheRule(t *testing.T) {
	day := permits.NewDate
	shrike := &permits.Taxon{Name: "Lanius insularis", English: "Island Shrike", Class: "Aves", Genus: "Lanius", Groups: []string{"heron", "listed"}}
	two := permits.Plausible{Taxa: []*permits.Taxon{heron, shrike}, Complete: true}
	numbers := func(q ...permits.Quota) func(*permits.Authority) {
		return func(a *permits.Authority) {
			for i := range q {
				q[i].Window = "calendar_year"
			}
			a.Quotas = q
		}
	}
	stretch := permits.When{From: permits.Moment{Date: day(2025, 5, 31)}, To: permits.Moment{Date: day(2025, 6, 2)}}
	for name, c := range map[string]struct {
		paper  func(*permits.Authority)
		change func(*rules.Case)
		want   permits.Outcome
	}{
		"a sound find":                           {nil, nil, permits.AllowWithObligations},
		"the place may lie beyond the paper":     {nil, func(c *rules.Case) { c.Jurisdictions, c.Possible = nil, []string{"XA", "XB"} }, permits.ReviewByPerson},
		"one possible place is not a sure one":   {nil, func(c *rules.Case) { c.Jurisdictions, c.Possible = nil, []string{"XA"} }, permits.ReviewByPerson},
		"of two possible taxa one is covered":    {func(a *permits.Authority) { a.TaxaInclude = []string{"Ardea insularis"} }, func(c *rules.Case) { c.Plausible = two }, permits.ReviewByPerson},
		"both possible taxa are covered":         {nil, func(c *rules.Case) { c.Plausible = two }, permits.AllowWithObligations},
		"a set that may lack one":                {nil, func(c *rules.Case) { c.Plausible = permits.Plausible{Taxa: two.Taxa} }, permits.ReviewByPerson},
		"nobody has named it":                    {nil, func(c *rules.Case) { c.Plausible = permits.Plausible{} }, permits.ReviewByPerson},
		"excluding wins a tie":                   {func(a *permits.Authority) { a.TaxaExclude = []string{"heron"} }, nil, permits.RefusePickup},
		"a cause the paper does not state":       {func(a *permits.Authority) { a.Causes = []string{"oil"} }, nil, permits.RefusePickup},
		"a material nobody said":                 {nil, func(c *rules.Case) { c.Material = "" }, permits.ReviewByPerson},
		"a cause nobody said":                    {func(a *permits.Authority) { a.Causes = []string{"window"} }, func(c *rules.Case) { c.Cause = "" }, permits.ReviewByPerson},
		"keeping is forbidden":                   {func(a *permits.Authority) { a.Forbids = []string{"keep"} }, func(c *rules.Case) { c.In[rules.WantsToKeep] = rules.Bool(true) }, permits.RefusePickup},
		"nobody said whether it is kept":         {func(a *permits.Authority) { a.Forbids = []string{"keep"} }, nil, permits.ReviewByPerson},
		"planned collecting is forbidden":        {func(a *permits.Authority) { a.Forbids = []string{"systematic_collecting"} }, func(c *rules.Case) { c.In[rules.Opportunistic] = rules.Bool(false) }, permits.RefusePickup},
		"the second of two numbers is full":      {numbers(permits.Quota{ID: "free", Per: "all", Limit: 9}, permits.Quota{ID: "full", Per: "all", Limit: 2}), func(c *rules.Case) { c.Tally = counted{"full": 2} }, permits.RefusePickup},
		"the number of the second taxon is full": {numbers(permits.Quota{ID: "each", Per: "taxon", Limit: 2}), func(c *rules.Case) { c.Plausible, c.Tally = two, counted{"Lanius insularis": 2} }, permits.ReviewByPerson},
		"full on the day of the find": {numbers(permits.Quota{ID: "day", Per: "all", Limit: 2}), func(c *rules.Case) {
			c.Judged, c.Tally = permits.Moment{Date: day(2026, 1, 1)}, counted{"2025-06-01": 2}
		}, permits.RefusePickup},
		"full on the day of asking": {numbers(permits.Quota{ID: "day", Per: "all", Limit: 2}), func(c *rules.Case) {
			c.Judged, c.Tally = permits.Moment{Date: day(2026, 1, 1)}, counted{"2026-01-01": 2}
		}, permits.AllowWithObligations},
		"a number of eggs does not count a carcass": {numbers(permits.Quota{ID: "eggs", Per: "all", Limit: 2, Units: []string{"viable_egg"}}), func(c *rules.Case) { c.Tally = counted{"eggs": 2} }, permits.AllowWithObligations},
		"a member of the public, on no list":        {func(a *permits.Authority) { a.Persons = []permits.Grant{{Person: ""}} }, func(c *rules.Case) { c.Person, c.Public = "", true }, permits.RefusePickup},
		"a renewal not known to be complete":        {func(a *permits.Authority) { a.ValidTo = day(2025, 5, 31) }, func(c *rules.Case) { c.RenewalFiled = day(2025, 4, 1) }, permits.RefusePickup},
		"a renewal complete and in time":            {func(a *permits.Authority) { a.ValidTo = day(2025, 5, 31) }, func(c *rules.Case) { c.RenewalFiled, c.RenewalComplete = day(2025, 5, 1), permits.Yes }, permits.ReviewByPerson},
		"a renewal a day late":                      {func(a *permits.Authority) { a.ValidTo = day(2025, 5, 31) }, func(c *rules.Case) { c.RenewalFiled, c.RenewalComplete = day(2025, 5, 2), permits.Yes }, permits.RefusePickup},
		"a continued paper before its first day":    {func(a *permits.Authority) { a.Status, a.ValidFrom = permits.Continued, day(2025, 6, 2) }, nil, permits.RefusePickup},
		"a continued paper on its first day": {func(a *permits.Authority) {
			a.Status, a.ValidFrom, a.ValidTo = permits.Continued, day(2025, 6, 1), day(2025, 6, 1)
		}, func(c *rules.Case) { c.Possessed = permits.On(day(2026, 1, 1)) }, permits.AllowWithObligations},
		"a condition about a day, asked of a week": {func(a *permits.Authority) { a.ValidTo = day(2025, 6, 1) }, func(c *rules.Case) { c.Possessed = stretch }, permits.ReviewByPerson},
	} {
		t.Run(name, func(t *testing.T) {
			a := heronPermit()
			if c.paper != nil {
				c.paper(&a)
			}
			b := book(t, everywhere, island)
			v := b.Evaluate(find(c.change), rules.NewRegister(b, []permits.Authority{a}))
			if v.Outcome != c.want {
				t.Errorf("got %s by %s (%s), want %s", v.Outcome, v.Deciding.Rule, v.Deciding.Because, c.want)
			}
			if !v.Sample || v.Notice == "" {
				t.Errorf("got sample %v and notice %q, want both from a sample pack", v.Sample, v.Notice)
			}
		})
	}
}

// TestAPaperLeansOnAnotherForTheWholeStretch asks for every day on which the
// find may have been taken.
func TestAPaperLeansOnAnotherForTheWholeStretch(t *testing.T) {
	a, root := heronPermit(), heronPermit()
	root.ID, root.Kind = "ROOT-PAPER", "other"
	a.DependsOn = []string{root.ID}
	b := book(t, everywhere, island)
	for days, want := range map[int]bool{-1: false, 0: false, 1: true, 2: true} {
		root.ValidTo = permits.NewDate(2025, 6, 1).AddDays(days)
		c := find(func(c *rules.Case) {
			c.Possessed = permits.When{From: permits.Moment{Date: permits.NewDate(2025, 5, 31)}, To: permits.Moment{Date: permits.NewDate(2025, 6, 2)}}
		})
		v := b.Evaluate(c, rules.NewRegister(b, []permits.Authority{a, root}))
		if v.Outcome.Permits() != want {
			t.Errorf("the other paper ends on %s: got %s, want permitted %v", root.ValidTo, v.Outcome, want)
		}
	}
}

// TestTheLaterEditionOfOneDayCounts enters two editions of one day.
func TestTheLaterEditionOfOneDayCounts(t *testing.T) {
	one, two := heronPermit(), heronPermit()
	one.Version, two.Version = 1, 2
	one.Holder, two.Holder = "first", "second"
	for _, all := range [][]permits.Authority{{one, two}, {two, one}} {
		if got := permits.VersionAt(all, "H", permits.NewDate(2025, 6, 1)); got.Holder != "second" {
			t.Errorf("got the edition of the %s holder, want the second", got.Holder)
		}
	}
	if got := permits.VersionAt([]permits.Authority{one}, "X", permits.NewDate(2025, 6, 1)); got != nil {
		t.Errorf("got %v for a name nobody holds, want none", got)
	}
}
