package permits

import (
	"strings"
	"testing"
)

func TestAPersonsDecisionStandsBesideTheEnginesAnswer(t *testing.T) {
	blocked := func(l Layer, e Effect, o Outcome) Verdict {
		f := Finding{Rule: "R-X", Layer: l, Effect: e, Because: "The rule says no."}
		return Verdict{Outcome: o, Deciding: f, Findings: []Finding{f, {Rule: "R-Y", Effect: Noted}}, Inputs: "facts"}
	}
	whole := Decision{By: "G. Marsh", Reason: "the office answered", Document: "letter 7 of 3 May 2025", Outcome: AllowWithObligations, Inputs: "facts"}
	with := func(change func(*Decision)) Decision {
		d := whole
		change(&d)
		return d
	}
	review := blocked(Scope, Asks, ReviewByPerson)
	for _, c := range []struct {
		name string
		v    Verdict
		d    Decision
		why  Decided
		want Outcome
	}{
		{"a whole decision", review, whole, Counts, AllowWithObligations},
		{"a refusal by a person", review, with(func(d *Decision) { d.Outcome = RefusePickup }), Counts, RefusePickup},
		{"without a name", review, with(func(d *Decision) { d.By = " " }), Incomplete, ReviewByPerson},
		{"without a reason", review, with(func(d *Decision) { d.Reason = "" }), Incomplete, ReviewByPerson},
		{"without a document", review, with(func(d *Decision) { d.Document = "" }), Incomplete, ReviewByPerson},
		{"without an outcome", review, with(func(d *Decision) { d.Outcome = OutcomeUnknown }), Incomplete, ReviewByPerson},
		{"about other facts", review, with(func(d *Decision) { d.Inputs = "older facts" }), OtherFacts, ReviewByPerson},
		{"against a danger", blocked(Safety, Refuses, RefusePickup), whole, Never, RefusePickup},
		{"against evidence", blocked(Evidence, Holds, HoldCallFirst), whole, Never, HoldCallFirst},
		{"against a die-off", blocked(Health, Holds, HoldCallFirst), whole, Never, HoldCallFirst},
		{"stricter than evidence asks", blocked(Evidence, Holds, HoldCallFirst), with(func(d *Decision) { d.Outcome = RefusePickup }), Counts, RefusePickup},
		{"against a barred taxon, by the agency's letter", blocked(TaxonLayer, Holds, HoldCallFirst), whole, Counts, AllowWithObligations},
	} {
		s := Standing{Engine: c.v, Decisions: []Decision{c.d}}
		if got := s.Weigh(&c.d); got != c.why {
			t.Errorf("%s: got %s, want %s", c.name, got, c.why)
		}
		got, by := s.Outcome()
		if got != c.want || (by != nil) != (c.why == Counts) {
			t.Errorf("%s: got %s by %v, want %s", c.name, got, by, c.want)
		}
		if s.Engine.Outcome != c.v.Outcome || !strings.Contains(s.Sentence(), "The rule says no.") {
			t.Errorf("%s: the engine's answer is not to be seen: %s", c.name, s.Sentence())
		}
	}
	second := with(func(d *Decision) { d.By, d.Outcome = "R. Ash", RefusePickup })
	s := Standing{Engine: review, Decisions: []Decision{whole, second, with(func(d *Decision) { d.Document = "" })}}
	if got, by := s.Outcome(); got != RefusePickup || by == nil || by.By != "R. Ash" {
		t.Errorf("of two decisions and a broken one got %s by %v, want the newest that counts", got, by)
	}
}
