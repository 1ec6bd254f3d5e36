package screen_test

import (
	"encoding/json"
	"slices"
	"testing"

	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

func asksFor(v *permits.Verdict, fact string) bool {
	return slices.ContainsFunc(v.Changes, func(c permits.Change) bool { return c.Fact == fact })
}

func TestWhoMayControlTheGroundNarrowsWhatIsAsked(t *testing.T) {
	w := loadWorld(t, packs.Authorities())
	for _, c := range []struct {
		name     string
		possible []string
		asked    bool
	}{
		{"nobody knows", nil, true},
		{"a road authority or a private owner", []string{"road_authority", "private"}, false},
		{"a road authority or a national park", []string{"road_authority", "national_park"}, true},
	} {
		f := owl(func(f *screen.Facts) { f.LandManager, f.LandManagersPossible = "", c.possible })
		v := screen.Check(&f, w)
		got := slices.ContainsFunc(v.Findings, func(f permits.Finding) bool { return f.Rule == "R-NPS" })
		if got != c.asked || asksFor(&v, "land_manager") != c.asked {
			t.Errorf("%s: got %s, R-NPS %v and the manager asked for %v, want both %v", c.name, v.Outcome, got, asksFor(&v, "land_manager"), c.asked)
		}
	}
}

func TestABundleIsTheAnimalsOfThePossiblePlaces(t *testing.T) {
	w := loadWorld(t, packs.Authorities())
	for _, c := range []struct {
		name           string
		sure, possible []string
		open           bool
	}{
		{"the place is sure", []string{"US-MI"}, nil, false},
		{"of two possible places all thrushes are known", nil, []string{"US-MI", "US-ZZ"}, false},
		{"of one of two possible places not all thrushes are known", nil, []string{"US-MI", "US-IN"}, true},
	} {
		f := owl(func(f *screen.Facts) {
			f.Taxon, f.Identified, f.Jurisdictions, f.JurisdictionsPossible = "thrush sp.", permits.No, c.sure, c.possible
		})
		v := screen.Check(&f, w)
		if got := slices.ContainsFunc(v.Findings, func(f permits.Finding) bool {
			return f.Unsure && slices.Equal(f.Missing, []string{"taxon"}) && f.Rule == "R-UNKNOWN"
		}); got != c.open {
			t.Errorf("%s: got %s, the animal open %v, want %v: %v", c.name, v.Outcome, got, c.open, v.Findings)
		}
	}
}

func TestAPermissionNeedsADayThatCanBe(t *testing.T) {
	w := loadWorld(t, packs.Authorities())
	var all []permits.Authority
	if err := json.Unmarshal(packs.Authorities(), &all); err != nil {
		t.Fatal(err)
	}
	all = append(all, permits.Authority{ID: "GROUND", Kind: "land_permission", Status: permits.Active, ValidFrom: permits.NewDate(2025, 1, 1),
		ValidTo: permits.NewDate(2025, 12, 31), AnyPerson: true, Area: []string{"national_park"}})
	w.Register = rules.NewRegister(w.Book, all)
	first, last := permits.Moment{Date: permits.NewDate(2025, 6, 11)}, permits.Moment{Date: permits.NewDate(2025, 6, 12)}
	for _, c := range []struct {
		name    string
		when    permits.When
		refused bool
	}{
		{"a day", permits.When{From: last, To: last}, false},
		{"a stretch", permits.When{From: first, To: last}, false},
		{"a stretch that ends before it begins", permits.When{From: last, To: first}, true},
		{"no day", permits.When{}, true},
	} {
		f := owl(func(f *screen.Facts) {
			f.LandManager, f.Possessed, f.InHand = "national_park", c.when, permits.Yes
		})
		v := screen.Check(&f, w)
		if got := slices.ContainsFunc(v.Findings, func(f permits.Finding) bool { return f.Rule == "R-NPS" }); got != c.refused {
			t.Errorf("%s: got %s, R-NPS %v, want %v", c.name, v.Outcome, got, c.refused)
		}
	}
}
