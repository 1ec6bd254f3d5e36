package server_test

import (
	"net/http"
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/permits/screen"
)

// TestABreachIsListedWithItsRuleAndTheWaysOn takes an animal that nothing
// covers and reads the list of what needs a look.
func TestABreachIsListedWithItsRuleAndTheWaysOn(t *testing.T) {
	m := vectorMuseum(t)
	m.now.Store(opening.UnixMilli())
	d := permits.NewDate(2025, 10, 1)
	f := screen.Facts{Person: "h.new", Found: permits.On(d), Possessed: permits.On(d), Jurisdictions: []string{"US-CA"}, Site: "somewhere",
		LandManager: "private", Consent: permits.Written, Taxon: "American Robin", Identified: permits.Yes, Material: "carcass", Count: 1,
		EventCount: 1, Cause: "window", Opportunistic: permits.Yes, Band: "none", SuspectedCrime: permits.No, CausedDeath: permits.No,
		Research: permits.No, WantsToKeep: permits.No, PermitCopy: permits.Yes, TrafficLane: permits.No, InHand: permits.Yes}
	r := asReport(&f)
	r["deed"] = "taken"
	var kept struct {
		Code    string
		Verdict permits.Verdict
	}
	expect(t, "the find", m.as("h.new").report("bare", r), http.StatusCreated).into(t, &kept)
	if kept.Code == "" {
		t.Fatalf("got no code for %s by %s, want a breach", kept.Verdict.Outcome, kept.Verdict.Deciding.Rule)
	}
	for _, person := range []string{"desmond", "rita"} {
		status, body := m.page(t, m.seat(t, person), "/review?code="+kept.Code)
		for _, want := range []string{"By " + string(kept.Verdict.Deciding.Rule), kept.Verdict.Deciding.Cites, "Lawful ways on", "The record stays",
			"officer on the spot prevail", "/finds/"} {
			if status != http.StatusOK || !strings.Contains(body, want) {
				t.Errorf("%s sees %d without %q", person, status, want)
			}
		}
		if may := strings.Contains(body, `name="how"`); may != (person == "desmond") {
			t.Errorf("%s: may settle is %v", person, may)
		}
	}
	t.Logf("SHOW %s by %s is listed with its section and the ways on", kept.Code, kept.Verdict.Deciding.Rule)
}
