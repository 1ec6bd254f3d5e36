package server_test

import (
	"net/http"
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/permits/screen"
	"wayfall/sync/op"
	"wayfall/sync/record"
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

// TestAnAnswerThatChangedSinceTheFieldIsShown pushes a find with the phone's
// own answer, which allowed it, and reads the page of the find.
func TestAnAnswerThatChangedSinceTheFieldIsShown(t *testing.T) {
	m := open(t, nil)
	p := m.phone("ana", 9)
	id := op.ID{7}
	said := permits.Verdict{Outcome: permits.AllowWithObligations, Act: permits.Take, Inputs: "feed",
		Deciding: permits.Finding{Rule: "R-FIELD", Layer: permits.AuthorityLayer, Effect: permits.Allows, Because: "Covered <b>here</b>.", Cites: "a section"},
		Packs:    []permits.PackRef{{ID: "common", Version: "old", Digest: "beef"}}}
	text, err := op.ValueOf(said)
	if err != nil {
		t.Fatal(err)
	}
	taxon, err := op.ValueOf(record.Determination{Written: "Bald Eagle", Name: "Haliaeetus leucocephalus", Certainty: record.Sure})
	if err != nil {
		t.Fatal(err)
	}
	wire := p.save(op.Group{ID: id, Kind: "report", Acts: []op.Act{op.Set("taxon", taxon), op.Set("deed", op.Text("taken")), op.Event("verdicts", text)}})
	if got := p.push(wire); len(got) != 1 {
		t.Fatalf("got %d receipts, want 1", len(got))
	}
	status, body := m.page(t, m.seat(t, "rita"), "/finds/"+id.String()+"?ask=again")
	for _, want := range []string{"In the field: It may be taken", "changed since the field answer", "What changed:", "Covered &lt;b&gt;here", "beef", "feed",
		"edition", "The rules of that day are not loaded here", "the same answer, to the last byte", "officer on the spot prevail"} {
		if status != http.StatusOK || !strings.Contains(body, want) {
			t.Errorf("got %d without %q", status, want)
		}
	}
	if strings.Contains(body, "<b>here") {
		t.Error("markup of an answer went through")
	}
}
