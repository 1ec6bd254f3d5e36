package intake

import (
	"context"

	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

// Asked answers facts that somebody states, by the papers of this moment, and
// keeps nothing. The finds are one visit: each is judged with the numbers that
// the earlier ones would take. What is used of the numbers is what stands in
// the log, unless used states it; what used does not state is none.
func (in *Intake) Asked(ctx context.Context, finds []screen.Facts, used *quota.Fixed) ([]permits.Verdict, error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	if err := in.catchUp(ctx); err != nil {
		return nil, err
	}
	var tally rules.Tally = in.ledgerOf()
	if used != nil {
		tally = *used
	}
	w := &screen.World{Book: in.rules.Book, Register: in.register(), Checklist: in.rules.Checklist, Ground: in.rules.Land.Edition(), Tally: tally}
	return screen.Visit(finds, w), nil
}
