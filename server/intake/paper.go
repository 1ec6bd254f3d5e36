package intake

import (
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/server/fault"
)

// meant returns a fault that points at everything in an authority that cannot
// be meant, so that none of it is kept. Who stands on the paper is not held to
// the people who sign in here: a paper may list others.
func (in *Intake) meant(a permits.Authority) error {
	found := rules.Check(&a, rules.Known{Checklist: in.rules.Checklist})
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
