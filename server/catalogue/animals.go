package catalogue

import (
	"context"
	"slices"
	"strconv"

	"wayfall/server/fault"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

func itoa(n int) string { return strconv.Itoa(n) }

// Join says that a record is the same animal as another, which is the one that
// counts. Neither is rewritten. Joining in a ring is refused.
func (c *Clerk) Join(ctx context.Context, by Hand, animal, into string) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	self, err := c.Book.rootOf(ctx, animal)
	if err != nil {
		return err
	}
	target, err := c.Book.rootOf(ctx, into)
	if err != nil {
		return err
	}
	switch {
	case animal == into:
		return fault.New(fault.Invalid, "an animal cannot be joined to itself")
	case target == self:
		return fault.New(fault.Conflict, "these two are one animal already")
	}
	return c.Writer.WriteIf(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := state(read, animal, record.Animal)
		if err != nil {
			return nil, err
		}
		return done(on(s.ID, record.Animal).set("same_as", target.String(), saw(s, "same_as")...))
	})
}

// JoinByTag joins a record to the animal that carries the tag.
func (c *Clerk) JoinByTag(ctx context.Context, by Hand, animal, text string) (into string, err error) {
	unlock, err := c.Book.lock(ctx)
	if err != nil {
		return "", err
	}
	who := c.Book.owners(text)
	unlock()
	switch len(who) {
	case 0:
		return "", fault.New(fault.Invalid, "no animal carries the tag “%s”", text)
	case 1:
		return who[0].Animal, c.Join(ctx, by, animal, who[0].Animal)
	}
	return "", fault.New(fault.Conflict, "%d animals carry the tag “%s”; open one of them", len(who), text)
}

// Apart takes a joined record apart again.
func (c *Clerk) Apart(ctx context.Context, by Hand, animal string, seen []string) error {
	return c.write(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := state(read, animal, record.Animal)
		if err != nil {
			return nil, err
		}
		if v := view.AnimalOf(s).SameAs; !v.Known || v.Shown == (op.ID{}) {
			return nil, fault.New(fault.Conflict, "this animal is not joined to another")
		}
		live := saw(s, "same_as")
		for _, d := range live {
			if !slices.Contains(seen, d.String()) {
				return nil, fault.New(fault.Stale, "somebody has joined it anew meanwhile")
			}
		}
		return done(on(s.ID, record.Animal).set("same_as", nil, live...))
	})
}

// GivePreparation gives a preparation number. The number comes from the
// preparator's own book: two animals with one number are both kept, and shown.
func (c *Clerk) GivePreparation(ctx context.Context, by Hand, animal, no string) error {
	if no == "" {
		return fault.New(fault.Invalid, "write the preparation number")
	}
	return c.setText(ctx, by, animal, "preparation_no", no)
}

// GiveCatalogue gives the animal the next free catalogue number. Two desks
// never get the same one, and an animal gets one once.
func (c *Clerk) GiveCatalogue(ctx context.Context, by Hand, animal string) (string, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	root, err := c.Book.rootOf(ctx, animal)
	if err != nil {
		return "", err
	}
	if root.String() != animal {
		return "", fault.New(fault.Conflict, "this record was joined to another animal; give that one the number")
	}
	has, no, err := c.Book.catalogued(ctx, root)
	if err != nil {
		return "", err
	}
	if has != "" {
		return "", fault.New(fault.Conflict, "this animal already has the catalogue number %s", has)
	}
	err = c.Writer.WriteIf(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := state(read, animal, record.Animal)
		if err != nil {
			return nil, err
		}
		if has := view.AnimalOf(s).CatalogueNo; has.Known && has.Shown != "" {
			return nil, fault.New(fault.Conflict, "this animal already has the catalogue number %s", has.Shown)
		}
		return done(on(s.ID, record.Animal).set("catalogue_no", no, saw(s, "catalogue_no")...))
	})
	if err != nil {
		return "", err
	}
	return no, nil
}

// AddPart adds a part to an animal.
func (c *Clerk) AddPart(ctx context.Context, by Hand, animal string, p NewPart) (string, error) {
	if !slices.ContainsFunc(record.PartTypes, func(w record.Word) bool { return w.Code == p.Type }) {
		return "", fault.New(fault.Invalid, "choose the kind of part")
	}
	made, err := by.past(p.Made)
	if err != nil {
		return "", err
	}
	id, err := c.NewID()
	if err != nil {
		return "", err
	}
	members, err := c.joined(ctx, animal)
	if err != nil {
		return "", err
	}
	if err := c.Book.frozen(ctx, animal, "prepare"); err != nil {
		return "", err
	}
	err = c.write(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := state(read, animal, record.Animal)
		if err != nil {
			return nil, err
		}
		if err := c.free(read, members, "prepare"); err != nil {
			return nil, err
		}
		g := on(id, record.Part).set("animal", s.ID.String()).set("type", p.Type).set("made", made).set("made_by", by.Person)
		if p.Barcode != "" {
			g.element("barcode", p.Barcode)
		}
		if p.Preservative != "" {
			g.set("preservative", p.Preservative)
		}
		if p.Stored != "" {
			g.set("stored", p.Stored)
		}
		return done(g)
	})
	return id.String(), err
}
