package catalogue

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"wayfall/server/fault"
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
