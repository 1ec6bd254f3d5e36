package catalogue

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"

	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/tag"
)

// spell writes a tag in its groups, or as it came when it is not one.
func spell(s string) string {
	if t, err := tag.Parse(s); err == nil {
		return t.String()
	}
	return s
}

// Finds returns one page of the reports, newest find first.
func (b *Book) Finds(ctx context.Context, f Filter) (Finds, error) {
	unlock, err := b.lock(ctx)
	if err != nil {
		return Finds{}, err
	}
	defer unlock()
	out := Finds{From: f.From, LSN: b.place.LSN}
	if f.Limit <= 0 {
		f.Limit = 50
	}
	text := strings.ToLower(strings.TrimSpace(f.Text))
	taxa, counties := map[string]bool{}, map[string]bool{}
	plain := f.Taxon+f.State+text == ""
	for _, r := range b.order {
		if r.standing == merge.Hidden {
			continue
		}
		out.Reports++
		taxa[b.name(r.taxon)], counties[r.county] = true, true
		if f.Outcome != "" && f.Outcome != r.outcome || f.County != "" && f.County != r.county {
			continue
		}
		shown := out.Matching >= f.From && len(out.Rows) < f.Limit
		if !plain || shown {
			one := b.find(r)
			if !f.admits(one, text) {
				continue
			}
			if shown {
				out.Rows = append(out.Rows, one)
			}
		}
		out.Matching++
	}
	out.Animals = b.countAnimals()
	delete(taxa, "")
	delete(counties, "")
	out.Taxa = slices.Sorted(maps.Keys(taxa))
	out.Counties = slices.Sorted(maps.Keys(counties))
	return out, nil
}

// countAnimals counts the animals that are not withdrawn, once after each
// change.
func (b *Book) countAnimals() int {
	if b.counted != b.place.LSN+1 {
		b.counted, b.count = b.place.LSN+1, 0
		for id := range b.animals {
			if b.root(id) == id && !b.hides(id) {
				b.count++
			}
		}
	}
	return b.count
}

func (f Filter) admits(one Find, text string) bool {
	if f.Taxon != "" && f.Taxon != one.Name && f.Taxon != one.Taxon ||
		f.County != "" && f.County != one.County ||
		f.Outcome != "" && f.Outcome != one.Outcome {
		return false
	}
	if f.State != "" && !slices.ContainsFunc(one.Animals, func(r Row) bool { return r.Disposition == f.State }) && f.State != one.Deed {
		return false
	}
	if text == "" || holds(text, one.FieldNo, one.Name, one.Taxon, one.Place, one.County, one.Finder) {
		return true
	}
	return slices.ContainsFunc(one.Animals, func(r Row) bool { return r.has(text) })
}

func (r Row) has(text string) bool {
	bare := strings.ToLower(cleanTag(text))
	return holds(text, r.Name, r.Taxon, r.IntakeNo, r.Preparation, r.Catalogue) || bare != "" && holds(bare, cleanTag(r.Tag))
}

// rows returns the animals that keep wants, in a fixed order.
func (b *Book) rows(keep func(Row) bool) []Row {
	var out []Row
	for id := range b.animals {
		if b.root(id) != id {
			continue
		}
		if r := b.row(id); !r.Withdrawn && keep(r) {
			out = append(out, r)
		}
	}
	slices.SortFunc(out, func(x, y Row) int {
		return cmp.Or(cmp.Compare(x.Found.Earliest, y.Found.Earliest), cmp.Compare(x.ID, y.ID))
	})
	return out
}

// Bench returns what waits for preparation and what is in preparation.
func (b *Book) Bench(ctx context.Context) (BenchSheet, error) {
	unlock, err := b.lock(ctx)
	if err != nil {
		return BenchSheet{}, err
	}
	defer unlock()
	var out BenchSheet
	for _, r := range b.rows(func(r Row) bool { return r.Disposition == "received" && r.Catalogue == "" }) {
		if r.Preparation == "" && len(r.Parts) == 0 {
			out.Waiting = append(out.Waiting, r)
		} else {
			out.Started = append(out.Started, r)
		}
	}
	out.Conflicts = b.conflicts(preparationNo)
	return out, nil
}

// conflicts returns the numbers of one kind that stand on two animals.
func (b *Book) conflicts(kind int) []Number {
	by := map[string]map[op.ID]bool{}
	for id, a := range b.animals {
		for _, no := range a.allNumbers[kind] {
			key := strings.ToUpper(strings.TrimSpace(no))
			if by[key] == nil {
				by[key] = map[op.ID]bool{}
			}
			by[key][b.root(id)] = true
		}
	}
	var out []Number
	field := numberFields[kind]
	f, _ := record.FieldOf(record.Animal, field)
	for _, no := range slices.Sorted(maps.Keys(by)) {
		if len(by[no]) > 1 {
			n := Number{Field: field, Label: f.Label, Value: no}
			for _, id := range slices.SortedFunc(maps.Keys(by[no]), compareID) {
				n.Conflict = append(n.Conflict, b.row(id))
			}
			out = append(out, n)
		}
	}
	return out
}

// Drawer returns the catalogued animals that hold the text, and those that are
// ready for a number.
func (b *Book) Drawer(ctx context.Context, text string) (Drawer, error) {
	unlock, err := b.lock(ctx)
	if err != nil {
		return Drawer{}, err
	}
	defer unlock()
	var out Drawer
	text = strings.ToLower(strings.TrimSpace(text))
	for _, r := range b.rows(func(r Row) bool { return r.Catalogue != "" || len(r.Parts) > 0 }) {
		switch {
		case r.Catalogue == "":
			out.Ready = append(out.Ready, r)
			continue
		case text == "" || r.has(text):
			out.Matching++
			out.Rows = append(out.Rows, r)
		}
		out.All++
	}
	slices.SortFunc(out.Rows, func(x, y Row) int { return -compareNumbers(x.Catalogue, y.Catalogue) })
	if len(out.Rows) > 200 {
		out.Rows = out.Rows[:200]
	}
	out.Next = b.nextNumber(catalogueNo)
	return out, nil
}

// Arrivals returns the arrivals, the newest first.
func (b *Book) Arrivals(ctx context.Context) ([]ArrivalRow, error) {
	unlock, err := b.lock(ctx)
	if err != nil {
		return nil, err
	}
	defer unlock()
	var out []ArrivalRow
	for _, a := range b.arrivals {
		if a.standing != merge.Hidden {
			out = append(out, b.arrivalRow(a))
		}
	}
	slices.SortFunc(out, func(x, y ArrivalRow) int {
		return cmp.Or(cmp.Compare(y.At.Earliest, x.At.Earliest), cmp.Compare(y.LSN, x.LSN), cmp.Compare(x.ID, y.ID))
	})
	return out, nil
}

func (b *Book) arrivalRow(a *arrivalEntry) ArrivalRow {
	out := ArrivalRow{ID: a.id.String(), From: a.from, At: a.at, Receiver: a.receiver, Lines: len(a.list), Bags: len(a.bags), Closed: a.closed, LSN: a.lsn}
	out.Accepted = len(b.receivedWith(a.id))
	return out
}

// receivedWith returns the animals that were accepted with an arrival.
func (b *Book) receivedWith(arrival op.ID) map[string]bool {
	out := map[string]bool{}
	for id, a := range b.animals {
		if a.arrival == arrival {
			out[b.root(id).String()] = true
		}
	}
	return out
}

// answerOn is what the rules answered to the report that tells of the pick-up.
func (b *Book) answerOn(root op.ID) string {
	if r := teller(b.reportsOf(root)); r != nil {
		return r.outcome
	}
	return ""
}

// owners returns who carries a tag, by canonical animal.
func (b *Book) owners(text string) []Owner {
	seen := map[op.ID]bool{}
	var out []Owner
	for _, id := range b.byTag[cleanTag(text)] {
		root := b.root(id)
		if seen[root] {
			continue
		}
		seen[root] = true
		r := b.row(root)
		if r.Withdrawn {
			continue
		}
		out = append(out, Owner{Animal: r.ID, Tag: r.Tag, Name: r.Name, Taxon: r.Taxon, Accepted: r.Disposition == "received", Outcome: b.answerOn(root), Hazards: r.Hazards, Hold: r.Hold})
	}
	return out
}
