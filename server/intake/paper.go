package intake

import (
	"context"

	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/server/fault"
)

// meant returns a fault that points at everything in an authority that cannot
// be meant, so that none of it is kept. Whoever is listed must be known here:
// a name that nobody is called by would let nobody act, and nobody would see.
func (in *Intake) meant(ctx context.Context, a permits.Authority) error {
	var broken error
	known := rules.Known{Checklist: in.rules.Checklist}
	if in.needs.Knows != nil {
		known.Person = func(id string) bool {
			yes, err := in.needs.Knows(ctx, id)
			if err != nil {
				broken = err
			}
			return yes
		}
	}
	found := rules.Check(&a, known)
	if broken != nil {
		return broken
	}
	if len(found) == 0 {
		return nil
	}
	wrong := fault.New(fault.Invalid, "%s", found[0].Sentence())
	if len(found) > 1 {
		wrong = fault.New(fault.Invalid, "%d members of the authority cannot be meant as they are; each is named", len(found))
	}
	for _, f := range found {
		wrong = wrong.At(f.Pointer(), f.What)
	}
	return wrong
}
