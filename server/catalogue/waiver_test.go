package catalogue

import (
	"encoding/json"
	"testing"

	"wayfall/permits"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// A waiver counts when it was entered at the desk and names a document; one
// that a phone pushed stays in sight and lifts nothing.
func TestAWaiverCountsOnlyFromTheDesk(t *testing.T) {
	desk, phone := op.DeviceID{1}, op.DeviceID{2}
	yes := permits.Finding{Rule: "R-STATE", Layer: permits.AuthorityLayer, Effect: permits.Allows}
	verdict, err := json.Marshal(permits.Verdict{Outcome: permits.AllowWithObligations, Act: permits.Take,
		Deciding: yes, Findings: []permits.Finding{yes}, Obligations: []permits.Obligation{{Code: "DEPOSIT", Due: permits.Due{Word: "immediately"}}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name     string
		device   op.DeviceID
		document string
		waived   bool
	}{
		{"at the desk, with a document", desk, "Letter 12", true},
		{"at the desk, without one", desk, "", false},
		{"pushed by a phone, with a document", phone, "Letter 12", false},
		{"pushed by a phone, without one", phone, "", false},
	} {
		r := view.Report{
			Verdicts: []view.Said[json.RawMessage]{{Value: verdict, Actor: deskActor, Device: desk}},
			Done:     []view.Said[record.DutyDone]{{Value: record.DutyDone{Code: "DEPOSIT", Waives: true, Document: c.document, By: "the office"}, Actor: "cal", Device: c.device}},
		}
		_, _, duties := judged(r)
		if len(duties) != 1 || duties[0].Waived != c.waived || len(duties[0].History) != 1 {
			t.Errorf("%s: got %+v, want waived %v and the note in its history", c.name, duties, c.waived)
		}
	}
}
