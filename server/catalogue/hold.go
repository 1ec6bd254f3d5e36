package catalogue

import (
	"context"
	"encoding/json"
	"slices"

	"wayfall/permits"
	"wayfall/server/fault"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// doing are the acts that write a field with a value; what is not here is no
// act on the body of an animal.
func doing(field, value string) string {
	switch {
	case field == "preparation_no":
		return "prepare"
	case field == "disposition" && value == "transferred":
		return "transfer"
	case field == "disposition" && value == "destroyed":
		return "destroy"
	}
	return ""
}

// free refuses an act on an animal that is held, whichever of its joined
// records says so.
func (c *Clerk) free(read Read, members []op.ID, act string) error {
	var said []string
	for _, m := range members {
		s, err := state(read, m.String(), record.Animal)
		if fault.Is(err, fault.Missing) {
			continue
		}
		if err != nil {
			return err
		}
		said = append(said, view.Values(view.AnimalOf(s).Hold.All)...)
	}
	if may, f := permits.MayAct(act, said); !may {
		return fault.New(fault.Conflict, "%s", f.Because)
	}
	return nil
}

// joined are all records of the animal of which this is one.
func (c *Clerk) joined(ctx context.Context, animal string) ([]op.ID, error) {
	root, err := c.Book.rootOf(ctx, animal)
	if err != nil {
		return nil, err
	}
	unlock, err := c.Book.lock(ctx)
	if err != nil {
		return nil, err
	}
	defer unlock()
	return slices.Clone(c.Book.members(root)), nil
}

// plainText is a value that is a text, "" if it is none.
func plainText(value json.RawMessage) string {
	var text string
	if json.Unmarshal(value, &text) != nil {
		return ""
	}
	return text
}

// guard returns what a save of a field has to ask of a hold before it writes.
func (c *Clerk) guard(ctx context.Context, kind record.Kind, id, field, value string) (func(Read) error, error) {
	act := doing(field, value)
	switch {
	case kind != record.Animal:
		return func(Read) error { return nil }, nil
	case act == "":
		return func(Read) error { return nil }, liftable(field, value)
	}
	members, err := c.joined(ctx, id)
	if err == nil {
		err = c.Book.frozen(ctx, id, act)
	}
	return func(read Read) error { return c.free(read, members, act) }, err
}

// freezes are the duties that keep an animal as long as they are open: some
// here, some also as it is, because it may be evidence.
var freezes = map[string][]string{
	"transfer": {"FREEZE_TRANSFERS", "HOLD_UNTIL_DIRECTED", "CALL_LAW_ENFORCEMENT", "PROTECT_SCENE"},
	"destroy":  {"FREEZE_TRANSFERS", "HOLD_UNTIL_DIRECTED", "CALL_LAW_ENFORCEMENT", "PROTECT_SCENE"},
	"prepare":  {"HOLD_UNTIL_DIRECTED", "CALL_LAW_ENFORCEMENT", "PROTECT_SCENE"},
}

// frozen refuses an act on an animal as long as a verdict says that something
// about it is not settled.
func (b *Book) frozen(ctx context.Context, animal, act string) error {
	unlock, err := b.lock(ctx)
	if err != nil {
		return err
	}
	defer unlock()
	at, err := parse(animal)
	if err != nil {
		return err
	}
	root := b.root(at)
	for _, d := range b.dutiesOn(root, b.row(root), b.reportsOf(root)) {
		if slices.Contains(freezes[act], d.Code) && !d.Done && d.Void == "" {
			return fault.New(fault.Conflict, "%s (%s): first note on that duty how it was settled, or the document that waives it", d.Text, d.Cites)
		}
	}
	return nil
}

// liftable refuses to take a hold away by writing nothing over it.
func liftable(field, value string) error {
	if field == "hold" && value == "" {
		return fault.New(fault.Invalid, "a hold is not taken away: release it, with the document and the reason")
	}
	if _, released := permits.ParseRelease(value); field == "hold" && released {
		return fault.New(fault.Invalid, "a release is not typed over a hold: release it, with the document and the reason")
	}
	return nil
}

// Holding is whether an animal may be prepared as far as holds go, and the one
// sentence that says why: the hold, or the document that lifted it. Said is
// false where nobody ever spoke of a hold.
type Holding struct {
	Held, Said bool
	Because    string
	Released   permits.Release // the last one said, zero while held
}

func (b *Book) holding(ctx context.Context, members []op.ID) (Holding, error) {
	var said []string
	for _, m := range members {
		s, err := b.log.State(ctx, m)
		if err != nil {
			return Holding{}, err
		}
		said = append(said, view.Values(view.AnimalOf(s).Hold.All)...)
	}
	free, f := permits.MayAct("prepare", said)
	out := Holding{Held: !free, Said: len(said) > 0, Because: f.Because}
	for _, v := range said {
		if r, released := permits.ParseRelease(v); released && free {
			out.Released = r
		}
	}
	return out, nil
}

// Release lifts the hold on an animal: a named person, on a document, for a
// reason. What was said before stays to be read.
func (c *Clerk) Release(ctx context.Context, by Hand, animal, document, reason string) error {
	r := permits.Release{By: by.Person, Document: document, Reason: reason}
	if err := lacking("a hold is lifted on a document and for a reason: write down both", need{"/document", document, "name the document that releases the animal: a letter, an e-mail, a number"},
		need{"/reason", reason, "say why it is released"}); err != nil {
		return err
	}
	members, err := c.joined(ctx, animal)
	if err != nil {
		return err
	}
	return c.write(ctx, by, func(read Read) ([]op.Group, error) {
		var out []op.Group
		for _, m := range members {
			s, err := state(read, m.String(), record.Animal)
			if err != nil {
				return nil, err
			}
			if _, held := permits.Held(view.Values(view.AnimalOf(s).Hold.All)); !held {
				continue
			}
			g, err := done(on(s.ID, record.Animal).set("hold", r.Text(), saw(s, "hold")...))
			if err != nil {
				return nil, err
			}
			out = append(out, g...)
		}
		if len(out) == 0 {
			return nil, fault.New(fault.Conflict, "nothing holds this animal")
		}
		return out, nil
	})
}

// heldBy is the hold that stands on an animal's record, "" once it is released.
func heldBy(a view.Animal) string {
	reason, _ := permits.Held(view.Values(a.Hold.All))
	return reason
}
