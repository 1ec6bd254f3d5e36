package screen_test

import (
	"encoding/json"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

// TestAPersonMayBeGivenLessThanThePaperReaches narrows one person's listing on
// the state paper; nothing similar is implied (50 CFR 13.42).
func TestAPersonMayBeGivenLessThanThePaperReaches(t *testing.T) {
	book := loadBook(t)
	checklist, err := permits.ReadChecklist(packs.Taxa())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		grants []permits.Grant
		taxon  string
		may    bool
	}{
		{"everything that the paper reaches", []permits.Grant{{Person: "cal"}}, "Eastern Screech-Owl", true},
		{"owls alone, and it is one", []permits.Grant{{Person: "cal", Taxa: []string{"Strigidae"}}}, "Eastern Screech-Owl", true},
		{"owls alone, and it is a squirrel", []permits.Grant{{Person: "cal", Taxa: []string{"Strigidae"}}}, "Fox Squirrel", false},
		{"owls alone, and nobody knows what it is", []permits.Grant{{Person: "cal", Taxa: []string{"Strigidae"}}}, "unidentified raptor", false},
		{"this state alone", []permits.Grant{{Person: "cal", Area: []string{"US-MI"}}}, "Eastern Screech-Owl", true},
		{"another state alone", []permits.Grant{{Person: "cal", Area: []string{"US-IN"}}}, "Eastern Screech-Owl", false},
		{"owls in one listing, squirrels in another", []permits.Grant{{Person: "cal", Taxa: []string{"Strigidae"}}, {Person: "cal", Taxa: []string{"Sciuridae"}}}, "Fox Squirrel", true},
		{"squirrels, but only from July", []permits.Grant{{Person: "cal", Taxa: []string{"Strigidae"}}, {Person: "cal", Taxa: []string{"Sciuridae"}, From: permits.NewDate(2025, 7, 1)}}, "Fox Squirrel", false},
		{"somebody else's listing", []permits.Grant{{Person: "cal", Taxa: []string{"Strigidae"}}, {Person: "bea"}}, "Fox Squirrel", false},
	} {
		var papers []permits.Authority
		if err := json.Unmarshal(packs.DemoAuthorities(), &papers); err != nil {
			t.Fatal(err)
		}
		papers[1].Persons = c.grants
		w := &screen.World{Book: book, Register: rules.NewRegister(book, papers), Checklist: checklist, Tally: loons(0)}
		f := owl(func(f *screen.Facts) {
			if f.Taxon = c.taxon; c.taxon == "unidentified raptor" {
				f.Identified = permits.No
			}
		})
		v := screen.Check(&f, w)
		if v.Outcome.Permits() != c.may || !c.may && c.taxon == "Fox Squirrel" && v.Deciding.Rule != "R-SUBPERMIT" {
			t.Errorf("%s: got %s by %s (%s), want permitted %v", c.name, v.Outcome, v.Deciding.Rule, v.Deciding.Because, c.may)
		}
	}
}
