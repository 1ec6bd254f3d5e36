package intake

import (
	"context"
	"time"

	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

// Explained is the answer to a draft, and how each law that applies was
// weighed.
type Explained struct {
	Verdict permits.Verdict
	Laws    []rules.Weighed
	// Others are the answers to the other drafts, in their order: what the
	// answer would be were one fact otherwise.
	Others []permits.Verdict
}

// Explain answers a draft as Verdict does, and the others beside it by the
// same papers and numbers. It keeps nothing.
func (in *Intake) Explain(ctx context.Context, by Hand, d Draft, others []Draft) (Explained, error) {
	at := Moment{Received: time.UnixMilli(by.AtMS)}
	if err := d.Check(at); err != nil {
		return Explained{}, err
	}
	in.mu.Lock()
	defer in.mu.Unlock()
	if err := in.catchUp(ctx); err != nil {
		return Explained{}, err
	}
	w := &screen.World{Book: in.rules.Book, Register: in.register(), Checklist: in.rules.Checklist, Ground: in.rules.Land.Edition(), Tally: in.ledgerOf()}
	asked := in.facts(in.asFind(by, d))
	var out Explained
	out.Verdict, out.Laws = screen.Explain(&asked, w)
	for _, o := range others {
		if o.Check(at) != nil { // a value that cannot be is no answer to anything
			out.Others = append(out.Others, permits.Verdict{})
			continue
		}
		asked := in.facts(in.asFind(by, o))
		out.Others = append(out.Others, screen.Check(&asked, w))
	}
	return out, nil
}
