package catalogue

import (
	"context"
	"strings"

	"wayfall/permits"
	"wayfall/server/fault"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// Handover is one hand-over as it is written down. A zero At is now.
type Handover struct {
	record.Custody
	Agency bool // to an agency or laboratory, where it stays
}

// HandOver writes that an animal passed from one hand to another. Of one that
// is held, place, seal and signature belong to it: without them nothing is
// kept, and the form still holds what was typed.
func (c *Clerk) HandOver(ctx context.Context, by Hand, animal string, h Handover) error {
	for _, s := range [...]*string{&h.From, &h.To, &h.Place, &h.Seal, &h.Condition, &h.Signed} {
		*s = strings.TrimSpace(*s)
	}
	if h.To == "" {
		return fault.New(fault.Invalid, "write to whom it was handed").At("/to", "missing")
	}
	at, err := by.past(h.At)
	if err != nil {
		return err
	}
	h.At = at
	members, err := c.joined(ctx, animal)
	if err != nil {
		return err
	}
	return c.write(ctx, by, func(read Read) ([]op.Group, error) {
		held, err := c.heldNow(read, members)
		if err != nil {
			return nil, err
		}
		if held {
			if err := lacking("this animal is held: a hand-over of it says where, under which seal, and who signed",
				need{"/place", h.Place, "say where it was handed over"}, need{"/seal", h.Seal, "write the number of the seal or the bag"},
				need{"/signed", h.Signed, "say who signed for it"}); err != nil {
				return nil, err
			}
		}
		s, err := state(read, animal, record.Animal)
		if err != nil {
			return nil, err
		}
		g := on(s.ID, record.Animal).event("custody", h.Custody)
		if h.Agency {
			g.set("disposition", "agency", saw(s, "disposition")...)
		}
		return done(g)
	})
}

// heldNow tells whether any record of an animal holds it.
func (c *Clerk) heldNow(read Read, members []op.ID) (bool, error) {
	var said []string
	for _, m := range members {
		s, err := state(read, m.String(), record.Animal)
		if fault.Is(err, fault.Missing) {
			continue
		}
		if err != nil {
			return false, err
		}
		said = append(said, view.Values(view.AnimalOf(s).Hold.All)...)
	}
	_, held := permits.Held(said)
	return held, nil
}

// gaps says where the chain of hand-overs of an animal breaks, from every
// record of it, in the order of the log.
func (b *Book) gaps(ctx context.Context, members []op.ID, held bool) ([]string, error) {
	var chain []permits.Handover
	for _, m := range members {
		s, err := b.log.State(ctx, m)
		if err != nil {
			return nil, err
		}
		for _, c := range view.Values(view.AnimalOf(s).Custody) {
			at, err := permits.ParseMoment(c.At.Earliest)
			if err != nil {
				at = permits.Moment{}
			}
			chain = append(chain, permits.Handover{From: c.From, To: c.To, At: at, Place: c.Place, Seal: c.Seal, Condition: c.Condition, Signed: c.Signed})
		}
	}
	return permits.Gaps(chain, held), nil
}
