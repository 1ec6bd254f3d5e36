package catalogue

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"wayfall/server/fault"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// Find returns everything known of one report.
func (b *Book) Find(ctx context.Context, id string) (FindSheet, error) {
	key, err := parse(id)
	if err != nil {
		return FindSheet{}, err
	}
	unlock, err := b.lock(ctx)
	if err != nil {
		return FindSheet{}, err
	}
	defer unlock()
	e := b.reports[key]
	if e == nil {
		return FindSheet{}, fault.New(fault.Missing, "no report of that name is known here")
	}
	s, err := b.log.State(ctx, key)
	if err != nil {
		return FindSheet{}, err
	}
	r := view.ReportOf(s)
	out := FindSheet{Find: b.find(e), Facts: b.factsOf(s), Verdicts: b.verdictsOf(r), Georef: e.place, Photos: view.Values(r.Photos), Duties: b.dutiesIn(e)}
	out.Decisions = decisionsOf(r)
	out.Life = sorted(b.reportLife(r))
	return out, nil
}

// Animal returns everything known of one animal: asked for a record that was
// joined to another, it shows that record and says to which it was joined.
func (b *Book) Animal(ctx context.Context, id string) (AnimalSheet, error) {
	key, err := parse(id)
	if err != nil {
		return AnimalSheet{}, err
	}
	unlock, err := b.lock(ctx)
	if err != nil {
		return AnimalSheet{}, err
	}
	defer unlock()
	if b.animals[key] == nil {
		return AnimalSheet{}, fault.New(fault.Missing, "no animal of that name is known here")
	}
	root := b.root(key)
	out := AnimalSheet{Row: b.row(root)}
	members := b.members(root)
	if root != key {
		out.ID, out.SameAs, members = key.String(), root.String(), []op.ID{key}
	}
	if err := b.fillAnimal(ctx, &out, key, members); err != nil {
		return AnimalSheet{}, err
	}
	if err := b.fillOthers(ctx, &out, key, members); err != nil {
		return AnimalSheet{}, err
	}
	if out.Holding, err = b.holding(ctx, b.members(root)); err != nil {
		return AnimalSheet{}, err
	}
	if out.Gaps, err = b.gaps(ctx, b.members(root), out.Holding.Held); err != nil {
		return AnimalSheet{}, err
	}
	for _, r := range b.reportsOf(root) {
		out.Reports = append(out.Reports, b.find(r))
		if !out.Place.Known {
			out.Place = r.place
		}
	}
	out.Duties = b.dutiesOn(root, out.Row, b.reportsOf(root))
	out.Numbers = b.numbersOf(root)
	out.Life = sorted(out.Life)
	return out, nil
}

// fillOthers reads the records that were joined into the animal.
func (b *Book) fillOthers(ctx context.Context, out *AnimalSheet, key op.ID, members []op.ID) error {
	for _, m := range members {
		if m == key {
			continue
		}
		s, err := b.log.State(ctx, m)
		if err != nil {
			return err
		}
		a := b.animals[m]
		out.Others = append(out.Others, Row{ID: m.String(), Tag: a.spelled, Disposition: a.disposition, Name: b.name(a.taxon)})
		out.Theirs = append(out.Theirs, b.factsOf(s))
	}
	return nil
}

// fillAnimal reads the records of the animal itself.
func (b *Book) fillAnimal(ctx context.Context, out *AnimalSheet, key op.ID, members []op.ID) error {
	for _, m := range members {
		s, err := b.log.State(ctx, m)
		if err != nil {
			return err
		}
		a := view.AnimalOf(s)
		if m == key {
			out.Facts = b.factsOf(s)
			for _, j := range a.SameAs.All {
				f, _ := record.FieldOf(record.Animal, "same_as")
				for _, h := range j.By {
					said := heard(f, j)
					said.Dot = h.Dot.String()
					out.Joins = append(out.Joins, said)
				}
			}
		}
		for _, t := range view.Values(a.Tags) {
			if !slices.Contains(out.Tags, spell(t)) {
				out.Tags = append(out.Tags, spell(t))
			}
		}
		out.Photos = append(out.Photos, view.Values(a.Photos)...)
		out.Life = append(out.Life, animalLife(s, a, len(b.partsOf[m]) > 0, b.out.Zone)...)
		if err := b.fillParts(ctx, out, m); err != nil {
			return err
		}
		for _, id := range b.pointedBy[m] {
			s, err := b.log.State(ctx, id)
			if err != nil {
				return err
			}
			r := view.ReportOf(s)
			if r.Standing == merge.Hidden {
				continue
			}
			out.Life = append(out.Life, b.reportLife(r)...)
			if m == key {
				out.Verdicts = append(out.Verdicts, b.verdictsOf(r)...)
			}
			out.Photos = append(out.Photos, view.Values(r.Photos)...)
		}
	}
	return nil
}

func (b *Book) fillParts(ctx context.Context, out *AnimalSheet, animal op.ID) error {
	var made []Moment
	for _, id := range b.partsOf[animal] {
		s, err := b.log.State(ctx, id)
		if err != nil {
			return err
		}
		p := view.PartOf(s)
		out.Parts = append(out.Parts, PartRow{
			ID: id.String(), Type: p.Type.Shown, Made: p.Made.Shown, By: p.MadeBy.Shown, Barcodes: view.Values(p.Barcodes),
			Kept: p.Stored.Shown, Facts: b.factsOf(s), Withdrawn: p.Standing == merge.Hidden,
		})
		if p.Standing != merge.Hidden {
			made = append(made, partLife(p, b.out.Zone))
		}
	}
	out.Life = append(out.Life, oneLine(made, b.animals[animal].numbers[preparationNo])...)
	return nil
}

// numbersOf returns the numbers of an animal and who else bears them.
func (b *Book) numbersOf(root op.ID) []Number {
	var out []Number
	for kind, field := range numberFields {
		f, _ := record.FieldOf(record.Animal, field)
		seen := map[string]bool{}
		for _, m := range b.members(root) {
			for _, no := range b.animals[m].allNumbers[kind] {
				if !seen[no] {
					seen[no] = true
					out = append(out, Number{Field: field, Label: f.Label, Value: no, Conflict: b.bearers(kind, no, root)})
				}
			}
		}
	}
	return out
}

// bearers returns the other animals that bear a number.
func (b *Book) bearers(kind int, no string, but op.ID) []Row {
	roots := map[op.ID]bool{}
	for id, a := range b.animals {
		if slices.Contains(a.allNumbers[kind], no) {
			if root := b.root(id); root != but {
				roots[root] = true
			}
		}
	}
	var out []Row
	for _, id := range slices.SortedFunc(maps.Keys(roots), compareID) {
		out = append(out, b.row(id))
	}
	return out
}

// Arrival returns one arrival with its list and its table side by side.
func (b *Book) Arrival(ctx context.Context, id string) (ArrivalSheet, error) {
	key, err := parse(id)
	if err != nil {
		return ArrivalSheet{}, err
	}
	unlock, err := b.lock(ctx)
	if err != nil {
		return ArrivalSheet{}, err
	}
	defer unlock()
	e := b.arrivals[key]
	if e == nil {
		return ArrivalSheet{}, fault.New(fault.Missing, "no arrival of that name is known here")
	}
	out := ArrivalSheet{ArrivalRow: b.arrivalRow(e), NextNo: b.nextNumber(intakeNo), Received: b.receivedWith(key)}
	for i, l := range e.list {
		out.List = append(out.List, Line{N: i + 1, Bag: l})
	}
	for i, t := range e.bags {
		out.Table = append(out.Table, Bag{N: i + 1, Bag: t})
	}
	out.Tally = Reconcile(out.List, out.Table, b.owners)
	s, err := b.log.State(ctx, key)
	if err != nil {
		return ArrivalSheet{}, err
	}
	f, _ := record.FieldOf(record.Arrival, "remarks")
	for _, r := range view.ArrivalOf(s).Remarks {
		out.Remarks = append(out.Remarks, heard(f, r))
	}
	return out, nil
}

// sorted puts moments into their order. An answer of the rules that says what
// the one before it said is told once.
func sorted(all []Moment) []Moment {
	slices.SortStableFunc(all, func(x, y Moment) int { return cmp.Compare(x.When, y.When) })
	var last Moment
	return slices.DeleteFunc(all, func(m Moment) bool {
		if !m.judge {
			return false
		}
		same := m.Head == last.Head && m.Text == last.Text
		last = m
		return same
	})
}
