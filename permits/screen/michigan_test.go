package screen_test

import (
	"slices"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/screen"
)

// owl is the ordinary find of the Michigan scenario: a screech-owl hit by a
// car, found by a listed salvager with the road authority's permission.
func owl(change func(*screen.Facts)) screen.Facts {
	day := permits.On(permits.NewDate(2025, 6, 12))
	f := screen.Facts{Person: "cal", Role: "volunteer", Found: day, Possessed: day, JudgedAt: day.From, InHand: permits.No,
		Jurisdictions: []string{"US-MI"}, LandManager: "road_authority", Consent: permits.Written,
		Taxon: "Eastern Screech-Owl", Identified: permits.Yes, Material: "carcass", Count: 1, EventCount: 1,
		Cause: "vehicle", Activity: "salvage", Band: "none", Opportunistic: permits.Yes, PermitCopy: permits.Yes}
	for _, no := range []*permits.Answer{&f.OfficialDuty, &f.Designated, &f.Barred, &f.SuspectedCrime,
		&f.SuspectedPoison, &f.CausedDeath, &f.Euthanised, &f.Research, &f.WantsToKeep, &f.Sale, &f.LawfulHunt,
		&f.OpenSeason, &f.TrafficLane, &f.OtherHazard} {
		*no = permits.No
	}
	if change != nil {
		change(&f)
	}
	return f
}

func loons(used int) quota.Fixed {
	return quota.Fixed{{Authority: "SW-MI-SALV", Quota: "LOON", Taxon: "Gavia immer", Used: used}}
}

var michigan = []struct {
	name   string
	change func(*screen.Facts)
	tally  quota.Fixed
	want   permits.Outcome
	act    permits.Act
	rule   permits.RuleID
	duties []string
}{
	{"a listed salvager takes a screech-owl hit by a car", nil, nil, permits.AllowWithObligations, permits.Take,
		"R-SALV-PERMIT", []string{"TAG", "ACCESSION_PERMIT_NO", "DEPOSIT", "ANNUAL_REPORT_LINE", "STATE_REPORT_LINE"}},
	{"the twelfth of twelve loons is taken", func(f *screen.Facts) { f.Taxon, f.Cause = "Common Loon", "toxin" }, loons(11),
		permits.AllowWithObligations, permits.Take, "R-SALV-PERMIT", []string{"DEPOSIT"}},
	{"the thirteenth loon is refused before", func(f *screen.Facts) { f.Taxon = "Common Loon" }, loons(12),
		permits.RefusePickup, permits.Leave, "R-QUOTA", []string{"OBSERVATION_ONLY", "REQUEST_AMENDMENT"}},
	{"the thirteenth loon already in the hand is a breach", func(f *screen.Facts) {
		f.Taxon, f.InHand, f.OfflineDevices = "Common Loon", permits.Yes, 3
	}, loons(12), permits.BreachToResolve, permits.Note, "R-QUOTA",
		[]string{"KEEP_BOTH_RECORDS", "ORDER_BY_FOUND_TIME", "DISCLOSE_OVERRUN", "TIGHTEN_OFFLINE_ALLOTMENT"}},
	{"a bald eagle is left and called in", func(f *screen.Facts) { f.Taxon = "Bald Eagle" }, nil,
		permits.HoldCallFirst, permits.Leave, "R-EAGLE", []string{"CALL_LAW_ENFORCEMENT"}},
	{"a bald eagle already in the hand is a breach, put down and called in", func(f *screen.Facts) {
		f.Taxon, f.InHand = "Bald Eagle", permits.Yes
	}, nil, permits.BreachToResolve, permits.Leave, "R-EAGLE", []string{"CALL_LAW_ENFORCEMENT"}},
	{"an unidentified raptor could be an eagle, so a person decides", func(f *screen.Facts) {
		f.Taxon, f.Identified = "unidentified raptor", permits.No
	}, nil, permits.ReviewByPerson, permits.Ask, "R-UNKNOWN", []string{"SEND_PHOTOGRAPHS"}},
	{"an eagle of either kind is held like an eagle", func(f *screen.Facts) {
		f.Taxon, f.Identified = "eagle sp.", permits.No
	}, nil, permits.HoldCallFirst, permits.Leave, "R-EAGLE", []string{"CALL_LAW_ENFORCEMENT"}},
	{"a piping plover is left and 48 hours run", func(f *screen.Facts) { f.Taxon = "Piping Plover" }, nil,
		permits.HoldCallFirst, permits.Leave, "R-ESA", []string{"NOTIFY_FEDERAL", "NOTIFY_STATE"}},
	{"a listing that ended on 30 September does not cover October", func(f *screen.Facts) {
		f.Person = "lena"
		f.Possessed = permits.On(permits.NewDate(2025, 10, 1))
	}, nil, permits.RefusePickup, permits.Leave, "R-SUBPERMIT", []string{"REQUEST_AMENDMENT"}},
	{"a listing that ended on 30 September covers that day", func(f *screen.Facts) {
		f.Person = "lena"
		f.Possessed = permits.On(permits.NewDate(2025, 9, 30))
	}, nil, permits.AllowWithObligations, permits.Take, "R-SALV-DEPOSIT", nil},
	{"a pick-up of 29 September to 2 October may be on either side", func(f *screen.Facts) {
		f.Person = "lena"
		f.Possessed.From, f.Possessed.To = permits.NewDate(2025, 9, 29).At(9, 0), permits.NewDate(2025, 10, 2).At(9, 0)
	}, nil, permits.ReviewByPerson, permits.Ask, "R-SUBPERMIT", nil},
	{"La Porte County in Indiana is outside the state permit", func(f *screen.Facts) {
		f.Jurisdictions = []string{"US-IN"}
	}, nil, permits.RefusePickup, permits.Leave, "R-STATE-SCOPE", []string{"APPLY_STATE_PERMIT"}},
	{"La Porte County with the bird in the hand is a breach", func(f *screen.Facts) {
		f.Jurisdictions, f.InHand = []string{"US-IN"}, permits.Yes
	}, nil, permits.BreachToResolve, permits.Note, "R-STATE-SCOPE", []string{"DISCLOSE_TO_STATE_AGENCY"}},
	{"a circle over two states makes a person decide", func(f *screen.Facts) {
		f.Jurisdictions, f.JurisdictionsPossible = nil, []string{"US-MI", "US-IN"}
	}, nil, permits.ReviewByPerson, permits.Ask, "R-PLACE-EDGE", []string{"FIX_PLACE"}},
	{"a turbine bird is pointed to the utility permit", func(f *screen.Facts) {
		f.Taxon, f.Cause = "Red-tailed Hawk", "turbine"
	}, nil, permits.HoldCallFirst, permits.Ask, "R-UTILITY", []string{"USE_UTILITY_PERMIT"}},
	{"the utility's own monitor takes the turbine bird", func(f *screen.Facts) {
		f.Person, f.Taxon, f.Cause = "rosalind", "Horned Lark", "turbine"
	}, nil, permits.AllowWithObligations, permits.Take, "R-UTILITY", []string{"UTILITY_REPORT_LINE"}},
	{"a circle that touches a park makes a person decide", func(f *screen.Facts) {
		f.LandManager, f.LandManagersPossible = "", []string{"road_authority", "national_park"}
	}, nil, permits.ReviewByPerson, permits.Ask, "R-NPS", nil},
	{"a species the checklist lacks makes a person decide", func(f *screen.Facts) { f.Taxon = "Scissor-tailed Flycatcher" }, nil,
		permits.ReviewByPerson, permits.Ask, "R-UNKNOWN", nil},
	{"a state without loaded rules makes a person decide", func(f *screen.Facts) {
		f.Jurisdictions = []string{"US-OH"}
	}, nil, permits.ReviewByPerson, permits.Ask, "R-NO-PACK", nil},
	{"a country alone is not fine enough", func(f *screen.Facts) { f.Jurisdictions = []string{"US"} }, nil,
		permits.ReviewByPerson, permits.Ask, "R-NO-PLACE", nil},
	{"a fox squirrel needs only the state permit", func(f *screen.Facts) { f.Taxon = "Fox Squirrel" }, nil,
		permits.AllowWithObligations, permits.Take, "R-MI-STATE", []string{"TAG", "STATE_REPORT_LINE"}},
}

func TestMichigan(t *testing.T) {
	w := loadWorld(t, packs.DemoAuthorities())
	for _, c := range michigan {
		t.Run(c.name, func(t *testing.T) {
			f := owl(c.change)
			w.Tally = c.tally
			v := screen.Check(&f, w)
			if v.Outcome != c.want || v.Act != c.act || v.Deciding.Rule != c.rule {
				t.Fatalf("got %s, %s by %s, want %s, %s by %s\n%s", v.Outcome, v.Act, v.Deciding.Rule, c.want, c.act, c.rule,
					show(v.Findings))
			}
			for _, code := range c.duties {
				if !slices.ContainsFunc(v.Obligations, func(o permits.Obligation) bool { return o.Code == code }) {
					t.Errorf("got duties %v, want %s among them", v.Obligations, code)
				}
			}
		})
	}
}

func TestMichiganVerdictsNameWhatTheyRestOn(t *testing.T) {
	w := loadWorld(t, packs.DemoAuthorities())
	w.Tally = loons(0)
	f := owl(nil)
	v := screen.Check(&f, w)
	if len(v.Relies) != 2 || v.Relies[0].Authority != "SW-FED-SALV" || v.Relies[1].Authority != "SW-MI-SALV" {
		t.Errorf("got reliance %v, want the federal and the state permit", v.Relies)
	}
	if len(v.Packs) != 3 || v.Packs[0].Digest == "" || v.Inputs == "" {
		t.Errorf("got packs %v and inputs %q, want three packs with digests and a digest of the facts", v.Packs, v.Inputs)
	}
	eagle := owl(func(f *screen.Facts) { f.Taxon = "Bald Eagle" })
	if v := screen.Check(&eagle, w); v.Deciding.Contact == "" {
		t.Error("an eagle's verdict names nobody to call")
	}
	turbine := owl(func(f *screen.Facts) { f.Cause = "turbine" })
	if v := screen.Check(&turbine, w); !slices.Contains(v.Proposes, "SW-UTILITY") {
		t.Errorf("got proposed %v, want SW-UTILITY", v.Proposes)
	}
	plover := owl(func(f *screen.Facts) {
		f.Taxon = "Piping Plover"
		f.Possessed.From = permits.NewDate(2025, 6, 12).At(14, 5)
		f.Possessed.To = f.Possessed.From
	})
	v = screen.Check(&plover, w)
	for _, o := range v.Obligations {
		if o.Code == "NOTIFY_STATE" && o.Due.At.String() != "2025-06-14T14:05" {
			t.Errorf("got the state told by %s, want 2025-06-14T14:05", o.Due.At)
		}
	}
}

func TestTheSameFactsGiveTheSameVerdict(t *testing.T) {
	w := loadWorld(t, packs.DemoAuthorities())
	w.Tally = loons(3)
	for _, c := range michigan {
		a, b := owl(c.change), owl(c.change)
		if got, want := show2(screen.Check(&a, w)), show2(screen.Check(&b, w)); got != want {
			t.Errorf("%s: got\n%s\nwant\n%s", c.name, got, want)
		}
	}
}

func TestAVisitSpendsTheNumberInOrder(t *testing.T) {
	w := loadWorld(t, packs.DemoAuthorities())
	w.Tally = loons(11)
	loon := owl(func(f *screen.Facts) { f.Taxon = "Common Loon" })
	duck := owl(func(f *screen.Facts) { f.Taxon = "Long-tailed Duck" })
	got := screen.Visit([]screen.Facts{duck, loon, loon, duck}, w)
	want := []permits.Outcome{permits.AllowWithObligations, permits.AllowWithObligations, permits.RefusePickup, permits.AllowWithObligations}
	for i := range want {
		if got[i].Outcome != want[i] {
			t.Errorf("find %d: got %s by %s, want %s", i+1, got[i].Outcome, got[i].Deciding.Rule, want[i])
		}
	}
}

func TestABarredPersonUsesNoPermit(t *testing.T) {
	w := loadWorld(t, packs.DemoAuthorities())
	w.Register.Bar("cal")
	f := owl(nil)
	if v := screen.Check(&f, w); v.Outcome != permits.RefusePickup || v.Deciding.Rule != "R-BARRED" {
		t.Errorf("got %s by %s, want it refused by R-BARRED", v.Outcome, v.Deciding.Rule)
	}
}

func TestCautionsDeferAndAreAlwaysThere(t *testing.T) {
	w := loadWorld(t, packs.DemoAuthorities())
	tests := []struct {
		taxon string
		want  []string
	}{
		{"Eastern Screech-Owl", []string{"LAW", "TRAFFIC", "HANDLING", "FLU"}},
		{"Fox Squirrel", []string{"LAW", "TRAFFIC", "HANDLING", "MAMMAL"}},
		{"nobody knows", []string{"LAW", "TRAFFIC", "HANDLING", "FLU", "MAMMAL"}},
	}
	for _, c := range tests {
		f := owl(func(f *screen.Facts) { f.Taxon = c.taxon })
		v := screen.Check(&f, w)
		for _, code := range c.want {
			if !slices.ContainsFunc(v.Cautions, func(x permits.Caution) bool { return x.Code == code && x.Text != "" }) {
				t.Errorf("%s: got cautions %v, want %s among them", c.taxon, v.Cautions, code)
			}
		}
		if !v.Sample || v.Notice == "" {
			t.Errorf("%s: the verdict does not say that it rests on samples", c.taxon)
		}
	}
}
