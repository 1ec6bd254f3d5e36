package demo_test

import (
	"context"
	"net/http"
	"testing"

	"wayfall/server/intake"
)

// TestEveryStoredAnswerCanBeAskedAgain puts the question of every answer in the
// log of the poured year once more, and nothing is written by that.
func TestEveryStoredAnswerCanBeAskedAgain(t *testing.T) {
	m := pour(t)
	var which []intake.Stored
	for _, f := range m.outcome.Finds {
		var r struct {
			Verdicts []struct{ By struct{ LSN uint64 } }
		}
		if err := m.officer.Do(context.Background(), http.MethodGet, "/v1/reports/"+f.ID.String(), nil, &r); err != nil {
			t.Fatal(err)
		}
		for _, v := range r.Verdicts {
			which = append(which, intake.Stored{Report: f.ID.String(), LSN: v.By.LSN})
		}
	}
	before := m.head(t)
	all, err := m.AskAgain(t.Context(), which)
	if err != nil {
		t.Fatal(err)
	}
	same, agrees, facts := 0, 0, 0
	for _, a := range all {
		if a.Same {
			same++
		}
		if a.Agrees {
			agrees++
		}
		if a.Facts {
			facts++
		}
		if !a.Same {
			t.Errorf("entry %d: facts %v, packs %v, now %s by %s: %s", a.LSN, a.Facts, a.Packs, a.Verdict.Outcome, a.Verdict.Deciding.Rule, a.Verdict.Deciding.Because)
		}
	}
	if after := m.head(t); after != before {
		t.Errorf("the log grew from %d to %d", before, after)
	}
	t.Logf("SHOW %d stored answers asked again: %d the same to the byte, %d of the same outcome and rule, %d of the same facts", len(all), same, agrees, facts)
	if len(all) < 200 {
		t.Errorf("got %d answers, want 200 or more", len(all))
	}
}
