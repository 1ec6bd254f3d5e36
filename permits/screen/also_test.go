package screen_test

import (
	"encoding/json"
	"slices"
	"testing"

	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

// TestWhatNeedsNoPermitStandsInTheReportOfOneThatAsksForIt puts a starling to
// the sample papers. The bird act does not cover species that are there only
// because people brought them (70 FR 12710), so no report of a permit lists
// one unless the paper itself wants it.
func TestWhatNeedsNoPermitStandsInTheReportOfOneThatAsksForIt(t *testing.T) {
	book := loadBook(t)
	checklist, err := permits.ReadChecklist(packs.Taxa())
	if err != nil {
		t.Fatal(err)
	}
	asks := func(a *permits.Authority) { a.ReportsAlso = []string{"us-introduced"} }
	for _, c := range []struct {
		name   string
		paper  func(*permits.Authority)
		taxon  string
		change func(*screen.Facts)
		told   bool
	}{
		{"the paper that is named says nothing of it", nil, "European Starling", nil, false},
		{"the paper asks for introduced birds", asks, "European Starling", nil, true},
		{"it asks whether or not anybody names it", asks, "European Starling", func(f *screen.Facts) { f.Authority = "" }, true},
		{"somebody whom it does not list", asks, "European Starling", func(f *screen.Facts) { f.Person = "hank" }, false},
		{"after it has ended", asks, "European Starling", func(f *screen.Facts) {
			f.Found = permits.On(permits.NewDate(2030, 6, 1))
			f.Possessed, f.JudgedAt = f.Found, f.Found.From
		}, false},
		{"another state", asks, "European Starling", func(f *screen.Facts) { f.Jurisdictions = []string{"US-IN"} }, false},
		{"its number is full, which stands in nobody's way", func(a *permits.Authority) {
			asks(a)
			a.Quotas = []permits.Quota{{ID: "n", Per: "all", Window: "calendar_year"}}
		}, "European Starling", nil, true},
		{"a bird that it covers stands there once", asks, "Eastern Screech-Owl", nil, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			var papers []permits.Authority
			if err := json.Unmarshal(packs.DemoAuthorities(), &papers); err != nil {
				t.Fatal(err)
			}
			at := slices.IndexFunc(papers, func(a permits.Authority) bool { return a.ID == "SW-FED-SALV" })
			if c.paper != nil {
				c.paper(&papers[at])
			}
			w := &screen.World{Book: book, Register: rules.NewRegister(book, papers), Checklist: checklist, Tally: quota.Fixed{}}
			f := owl(func(f *screen.Facts) { f.Taxon, f.Authority = c.taxon, "SW-FED-SALV" })
			if c.change != nil {
				c.change(&f)
			}
			v := screen.Check(&f, w)
			relies, lines := 0, 0
			for _, r := range v.Relies {
				if r.Authority == "SW-FED-SALV" {
					relies++
				}
			}
			tag := false
			for _, o := range v.Obligations {
				if o.Code == "ANNUAL_REPORT_LINE" && o.Authority == "SW-FED-SALV" {
					lines++
				}
				tag = tag || o.Code == "DEPOSIT" && c.taxon == "European Starling"
			}
			want := 0
			if c.told {
				want = 1
			}
			if relies != want || lines != want || tag {
				t.Errorf("got it relied on %d times, %d lines for its report and a deposit asked: %v; want %d, %d and none", relies, lines, tag, want, want)
			}
			if f.Jurisdictions[0] == "US-MI" && v.Outcome != permits.AllowWithObligations {
				t.Errorf("got %s by %s (%s), want it allowed", v.Outcome, v.Deciding.Rule, v.Deciding.Because)
			}
		})
	}
}
