package catalogue

import (
	"bytes"
	"cmp"
	"slices"
	"strings"

	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// arrange makes the order of the finds and the groups of joined records again.
func (b *Book) arrange() {
	if b.rejoin || b.joined == nil {
		b.rejoin = false
		b.joined, b.awaited = map[op.ID][]op.ID{}, map[op.ID][]op.ID{}
		for id, a := range b.animals {
			if a.sameAs != (op.ID{}) {
				if b.animals[a.sameAs] == nil {
					b.awaited[a.sameAs] = append(b.awaited[a.sameAs], id)
				}
				if root := b.root(id); root != id {
					b.joined[root] = append(b.joined[root], id)
				}
			}
		}
		for _, list := range b.joined {
			slices.SortFunc(list, compareID)
		}
	}
	if !b.stale {
		return
	}
	b.stale = false
	b.order = b.order[:0]
	for _, r := range b.reports {
		b.order = append(b.order, r)
	}
	slices.SortFunc(b.order, func(x, y *reportEntry) int {
		return cmp.Or(cmp.Compare(y.found.Earliest, x.found.Earliest), cmp.Compare(y.lsn, x.lsn), compareID(x.id, y.id))
	})
}

func compareID(a, b op.ID) int { return bytes.Compare(a[:], b[:]) }

// root follows the joins of a record to the one that counts. Records joined in
// a ring count as the one with the smallest id, so that a ring that two desks
// made at once still counts once.
func (b *Book) root(id op.ID) op.ID {
	a := b.animals[id]
	if a == nil || a.sameAs == (op.ID{}) {
		return id
	}
	walked := []op.ID{id}
	for {
		a := b.animals[id]
		if a == nil || a.sameAs == (op.ID{}) || b.animals[a.sameAs] == nil {
			return id
		}
		if at := slices.Index(walked, a.sameAs); at >= 0 {
			return slices.MinFunc(walked[at:], compareID)
		}
		id = a.sameAs
		walked = append(walked, id)
	}
}

// members returns every record of one animal, the canonical one first.
func (b *Book) members(root op.ID) []op.ID { return append([]op.ID{root}, b.joined[root]...) }

// reportsOf returns the reports that point at the animal, in the order in
// which they came in; withdrawn ones last.
func (b *Book) reportsOf(root op.ID) []*reportEntry {
	var out []*reportEntry
	for _, m := range b.members(root) {
		for _, id := range b.pointedBy[m] {
			if r := b.reports[id]; r != nil && !slices.Contains(out, r) {
				out = append(out, r)
			}
		}
	}
	if len(out) < 2 {
		return out
	}
	hidden := func(r *reportEntry) int {
		if r.standing == merge.Hidden {
			return 1
		}
		return 0
	}
	slices.SortFunc(out, func(x, y *reportEntry) int {
		return cmp.Or(cmp.Compare(hidden(x), hidden(y)), cmp.Compare(x.lsn-1, y.lsn-1), compareID(x.id, y.id))
	})
	return out
}

// hides reports whether the animal is out of every list and sum: its records
// are withdrawn, or it has reports and all of them are.
func (b *Book) hides(root op.ID) bool { return b.hidden(b.members(root), b.reportsOf(root)) }

func (b *Book) hidden(members []op.ID, reports []*reportEntry) bool {
	if len(reports) > 0 && reports[0].standing == merge.Hidden {
		return true
	}
	return !slices.ContainsFunc(members, func(m op.ID) bool {
		a := b.animals[m]
		return a != nil && a.standing != merge.Hidden
	})
}

// reach orders where an animal can be by how far it came: of two joined
// records, one left in place and one received, the animal was received.
var reach = []string{"", "left", "vanished", "never_arrived", "agency", "private_freezer", "received", "transferred", "destroyed"}

// row reads an animal with all that was joined into it.
func (b *Book) row(root op.ID) Row { return b.rowWith(root, b.members(root), b.reportsOf(root)) }

func (b *Book) rowWith(root op.ID, members []op.ID, reports []*reportEntry) Row {
	out := Row{ID: root.String()}
	var shown record.Determination
	for _, m := range members {
		a := b.animals[m]
		if a == nil || (a.standing == merge.Hidden && m != root) {
			continue
		}
		b.fold(&out, a)
		if shown.Name == "" && a.taxon.Name != "" || shown == (record.Determination{}) {
			shown = a.taxon
		}
		for _, id := range b.partsOf[m] {
			if p := b.parts[id]; p != nil && p.standing != merge.Hidden {
				out.Parts = append(out.Parts, p.kind)
			}
		}
	}
	for i, r := range reports {
		if i == 0 {
			out.Report = r.id.String()
		}
		if out.Found.Earliest == "" {
			out.Found = r.found
		}
		if out.State == "" && out.County == "" {
			out.State, out.County = r.state, r.county
		}
		if shown == (record.Determination{}) {
			shown = r.taxon
		}
	}
	out.Name, out.Taxon = b.name(shown), shown.Name
	out.Withdrawn = b.hidden(members, reports)
	slices.Sort(out.Parts)
	return out
}

// fold adds to the row what one record of the animal says and an earlier one
// did not.
func (b *Book) fold(out *Row, a *animalEntry) {
	orElse := func(have *string, also string) {
		if *have == "" {
			*have = also
		}
	}
	orElse(&out.Tag, a.spelled)
	if slices.Index(reach, a.disposition) > slices.Index(reach, out.Disposition) || out.Disposition == "" {
		out.Disposition = a.disposition
	}
	orElse(&out.Freezer, a.freezer)
	orElse(&out.Received, a.received)
	out.Sure = out.Sure || a.taxon.Name != "" && a.taxon.Certainty == record.Sure
	orElse(&out.IntakeNo, a.numbers[intakeNo])
	orElse(&out.Preparation, a.numbers[preparationNo])
	orElse(&out.Catalogue, a.numbers[catalogueNo])
	orElse(&out.Hold, a.hold)
	if a.arrival != (op.ID{}) {
		orElse(&out.Arrival, a.arrival.String())
	}
	for _, h := range a.hazards {
		if !slices.Contains(out.Hazards, h) {
			out.Hazards = append(out.Hazards, h)
		}
	}
	for _, d := range a.differs {
		if !slices.Contains(out.Differs, d) {
			out.Differs = append(out.Differs, d)
		}
	}
}

// region is the state and county of a place: as a person said, else as the
// map says.
func (b *Book) region(g record.Georeference) (state, county string) {
	state, county = g.State, g.County
	if (state == "" || county == "") && g.Known && b.out.Region != nil {
		s, c := b.out.Region(g)
		if state == "" {
			state = s
		}
		if county == "" {
			county = c
		}
	}
	return StateText(state), county
}

// name is what people call the animal: its common name if one is known.
func (b *Book) name(d record.Determination) string {
	if d.Name != "" && b.out.English != nil {
		if common := b.out.English(d.Name); common != "" {
			return common
		}
	}
	if d.Written != "" {
		return d.Written
	}
	return d.Name
}

// find reads a report for the list of finds.
func (b *Book) find(r *reportEntry) Find {
	out := Find{
		ID: r.id.String(), FieldNo: r.fieldNo, Found: r.found, Name: b.name(r.taxon), Taxon: r.taxon.Name, Place: r.locality,
		Finder: r.salvager, Deed: r.deed, Outcome: r.outcome, Differs: r.differs, Withdrawn: r.standing == merge.Hidden, LSN: r.lsn,
	}
	if out.Finder == "" {
		out.Finder = r.finder
	}
	out.State, out.County = r.state, r.county
	var seen []op.ID
	for _, id := range r.animals {
		if b.animals[id] == nil {
			continue
		}
		root := b.root(id)
		if slices.Contains(seen, root) {
			continue
		}
		seen = append(seen, root)
		reports := b.reportsOf(root)
		out.Animals = append(out.Animals, b.rowWith(root, b.members(root), reports))
		out.Joined = out.Joined || len(reports) > 1
	}
	if len(out.Animals) == 1 && out.Name == "" {
		out.Name, out.Taxon = out.Animals[0].Name, out.Animals[0].Taxon
	}
	return out
}

// holds reports whether the text stands in one of the fields, whatever the case.
func holds(text string, in ...string) bool {
	for _, s := range in {
		if strings.Contains(strings.ToLower(s), text) {
			return true
		}
	}
	return false
}
