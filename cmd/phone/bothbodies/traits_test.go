package bothbodies

import (
	"encoding/json"
	"fmt"
	"testing"

	"wayfall/fixtures/scenario"
	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/screen"
	"wayfall/permits/screen/find"
	"wayfall/server/demo"
	"wayfall/sync/record"
)

// TestNumbersOfSexAndOriginThroughBothBodies gives the state's paper numbers
// for some animals only, used up, and asks both bodies the same.
func TestNumbersOfSexAndOriginThroughBothBodies(t *testing.T) {
	story := scenario.Build(1)
	papers := demo.Papers(story, permits.NewDate(story.Season.ReportYear, 6, 30))
	for i := range papers {
		if papers[i].ID == "SW-MI-SALV" {
			papers[i].Quotas = []permits.Quota{
				{ID: "from care", Per: "all", Acquired: []string{permits.DiedInCare}, Limit: 1, Window: "calendar_year"},
				{ID: "females", Per: "all", Sexes: []string{"female"}, Limit: 2, WarnAt: 1, Window: "calendar_year"}}
		}
	}
	full := quota.Fixed{{Authority: "SW-MI-SALV", Quota: "from care", Used: 1}}
	w := world(t, papers)
	w.Tally = full
	m := nativeMap(t, product(t, "home.bin"), product(t, "field/places.bin"))
	calls := []call{kit(t, papers, full), {"region", []any{wire{product(t, "home.bin")}}}}
	at := -1
	for i := range story.Reports { // a find that the state's paper covers
		_, natively := asked(t, story.Reports[i], m.Lines)
		natively.Traits = true
		if v := judged(t, inMichigan(t, story.Reports[i]), natively, w); v.Outcome.Permits() {
			for _, r := range v.Relies {
				if r.Authority == "SW-MI-SALV" && at < 0 {
					at = i
				}
			}
		}
	}
	if at < 0 {
		t.Fatal("no find of the story is covered by the state's paper")
	}
	cases := []struct {
		name     string
		acquired string
		permits  bool
		warns    bool
	}{
		{"found dead, and the number from care is used up", permits.FoundDead, true, true},
		{"died in care, and that number is used up", permits.DiedInCare, false, false},
		{"from another institution", permits.Received, true, true},
	}
	var want []string
	for _, c := range cases {
		fields := inMichigan(t, story.Reports[at])
		fields["acquired"] = json.RawMessage(spell(t, c.acquired))
		context, natively := asked(t, story.Reports[at], m.Lines)
		calls = append(calls, call{"screen", []any{fields, context}})
		natively.Traits = w.Register.AsksTraits()
		v := judged(t, fields, natively, w)
		warns := false
		for _, f := range v.Findings {
			warns = warns || f.Rule == "R-QUOTA-NEAR"
		}
		if v.Outcome.Permits() != c.permits || warns != c.warns {
			t.Errorf("%s: got %s by %s, warned %v; want it permitted %v, warned %v", c.name, v.Outcome, v.Deciding.Rule, warns, c.permits, c.warns)
		}
		want = append(want, spell(t, v))
	}
	equal := 0
	for i, got := range phone(t, calls)[2:] {
		if same(t, cases[i].name, got, want[i]) {
			equal++
		}
	}
	fmt.Printf("SHOW numbers of sex and origin through both bodies: %d equal\n", equal)
}

// inMichigan are the fields of a report with a place that the page has worked
// out already.
func inMichigan(t *testing.T, r scenario.Report) map[string]json.RawMessage {
	t.Helper()
	fields := fieldsOf(t, r)
	fields["place"] = json.RawMessage(spell(t, record.Georeference{Known: true, Lat: 43.46, Lon: -85.9, Radius: 12, Datum: "WGS84", Source: "device"}))
	return fields
}

func judged(t *testing.T, fields map[string]json.RawMessage, a find.Asked, w *screen.World) permits.Verdict {
	t.Helper()
	var whole find.Report
	if err := json.Unmarshal([]byte(spell(t, fields)), &whole); err != nil {
		t.Fatal(err)
	}
	facts := find.Of(whole, a)
	return screen.Check(&facts, w)
}
