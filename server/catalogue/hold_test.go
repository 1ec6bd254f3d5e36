package catalogue

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/server/fault"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

func TestAHeldAnimalWaitsForItsRelease(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	_, owl := b.find(1, "2025-10-04", makeTag(t, 1))
	_, also := b.find(2, "2025-10-04", makeTag(t, 2))
	b.must(b.clerk.Correct(ctx, registrar, owl.String(), "hold", "May be poisoned; evidence"))
	b.must(b.clerk.Join(ctx, registrar, owl.String(), also.String())) // the hold lies on the joined record
	refused := func(what string, err error) {
		t.Helper()
		if !fault.Is(err, fault.Conflict) || !strings.Contains(err.Error(), "May be poisoned") {
			t.Errorf("%s: got %v, want it refused with the reason of the hold", what, err)
		}
	}
	part := func() error {
		_, err := b.clerk.AddPart(ctx, registrar, also.String(), NewPart{Type: "skin", Made: day("2025-10-09")})
		return err
	}
	refused("a part", part())
	refused("a preparation number", b.clerk.GivePreparation(ctx, registrar, also.String(), "TM 7"))
	for _, where := range []string{"transferred", "destroyed"} {
		refused(where, b.clerk.Settle(ctx, registrar, also.String(), Settlement{Field: "disposition", Value: json.RawMessage(`"` + where + `"`)}))
	}
	if err := b.clerk.Settle(ctx, registrar, owl.String(), Settlement{Field: "hold", Value: json.RawMessage(`""`)}); !fault.Is(err, fault.Invalid) {
		t.Errorf("got %v for a hold that is wiped out, want it refused", err)
	}
	for _, missing := range [][2]string{{"", "no poison was found"}, {"letter 14", ""}} {
		if err := b.clerk.Release(ctx, registrar, also.String(), missing[0], missing[1]); !fault.Is(err, fault.Invalid) {
			t.Errorf("got %v for a release on %q because %q, want it refused", err, missing[0], missing[1])
		}
	}
	refused("a part after all that", part())
	inLists := func(want string) {
		t.Helper()
		sheet, err := b.clerk.Book.Animal(ctx, also.String())
		if b.must(err); sheet.Hold != want {
			t.Errorf("the lists say the hold is %q, want %q", sheet.Hold, want)
		}
	}
	inLists("May be poisoned; evidence")
	b.must(b.clerk.Release(ctx, registrar, also.String(), "letter 14 of the laboratory", "no poison was found"))
	b.must(part())
	inLists("")
	if err := b.clerk.Release(ctx, registrar, also.String(), "letter 14", "again"); !fault.Is(err, fault.Conflict) {
		t.Errorf("got %v for a second release, want that nothing holds the animal", err)
	}
}

// What a verdict leaves unsettled keeps the animal here, whether or not
// somebody wrote a hold into its record.
func TestAnAnimalThatIsNotSettledIsHandedToNobody(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	yes := permits.Finding{Rule: "R-STATE", Layer: permits.AuthorityLayer, Effect: permits.Allows}
	unsettled := permits.Verdict{Outcome: permits.BreachToResolve, Act: permits.Note, Deciding: permits.Finding{Rule: "R-QUOTA", Layer: permits.QuotaLayer, Effect: permits.Breaches}, Obligations: []permits.Obligation{{Code: "FREEZE_TRANSFERS", Rule: "R-QUOTA"}}}
	evidence := unsettled
	evidence.Deciding = permits.Finding{Rule: "R-CRIME", Layer: permits.Evidence, Effect: permits.Holds}
	evidence.Obligations = []permits.Obligation{{Code: "CALL_LAW_ENFORCEMENT", Rule: "R-CRIME"}}
	for i, c := range []struct {
		name    string
		verdict permits.Verdict
		settle  func(report string) error
		refused bool
		whole   bool // not prepared either
	}{
		{"nothing is open", permits.Verdict{Outcome: permits.AllowWithObligations, Act: permits.Take, Deciding: yes}, nil, false, false},
		{"not settled", unsettled, nil, true, false},
		{"it may be evidence", evidence, nil, true, true},
		{"it may be evidence, and the officer was called", evidence, func(report string) error {
			return b.clerk.NoteDone(ctx, registrar, report, "CALL_LAW_ENFORCEMENT", "Officer Lund, no case")
		}, false, false},
		{"settled, and noted how", unsettled, func(report string) error {
			return b.clerk.NoteDone(ctx, registrar, report, "FREEZE_TRANSFERS", "the office amended the number, letter 12")
		}, false, false},
		{"waived by a document", unsettled, func(report string) error {
			return b.clerk.Waive(ctx, registrar, report, "FREEZE_TRANSFERS", Waiver{"letter 13", "the office", "disclosed in time"})
		}, false, false},
	} {
		report, animal := b.find(1, "2025-10-04", makeTag(t, uint(i+1)))
		g := on(report, record.Report).event("verdicts", c.verdict)
		b.must(b.clerk.write(ctx, Hand{Person: deskActor}, func(Read) ([]op.Group, error) { return done(g) }))
		if c.settle != nil {
			b.must(c.settle(report.String()))
		}
		for _, where := range []string{"transferred", "destroyed"} {
			s, err := b.clerk.Book.log.State(ctx, animal)
			b.must(err)
			var seen []string
			for _, d := range saw(s, "disposition") {
				seen = append(seen, d.String())
			}
			err = b.clerk.Settle(ctx, registrar, animal.String(), Settlement{Field: "disposition", Value: json.RawMessage(`"` + where + `"`), Saw: seen})
			if got := fault.Is(err, fault.Conflict) && strings.Contains(err.Error(), string(c.verdict.Deciding.Rule)); got != c.refused || err != nil && !got {
				t.Errorf("%s, %s: got %v, want it refused with the rule: %v", c.name, where, err, c.refused)
			}
		}
		_, err := b.clerk.AddPart(ctx, registrar, animal.String(), NewPart{Type: "skin", Made: day("2025-10-09")})
		if fault.Is(err, fault.Conflict) != c.whole || err != nil && !c.whole {
			t.Errorf("%s: got %v for a part, want it refused: %v", c.name, err, c.whole)
		}
	}
}
