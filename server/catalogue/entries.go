package catalogue

import (
	"encoding/json"
	"slices"

	"wayfall/permits"
	"wayfall/permits/screen/find"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// The entries are what the Book keeps of each record: little more than its
// lists and sums need. Pages read the whole record from the log again.

type reportEntry struct {
	id        op.ID
	fieldNo   string
	found     record.When
	taken     record.When
	frozen    record.When
	taxon     record.Determination
	locality  string
	place     record.Georeference
	state     string
	county    string
	finder    string
	salvager  string
	deed      string
	material  string
	traits    permits.Traits // cause, and how it was come by
	authority string
	animals   []op.ID
	outcome   string
	verdict   verdictGist
	duties    []Duty
	differs   bool
	standing  merge.Standing
	lsn       uint64 // of the first save that came in
}

// verdictGist is what sums need of the newest verdict.
type verdictGist struct {
	known   bool
	outcome permits.Outcome
	relies  []string
	near    []string // authorities that something stands in the way of
	full    []string // of them, those of which only a full number does; "" names none
	why     string
	sample  bool
}

type animalEntry struct {
	id          op.ID
	tags        []string
	spelled     string // the first tag, in its groups
	taxon       record.Determination
	sameAs      op.ID
	disposition string
	arrival     op.ID
	received    string
	traits      permits.Traits
	handed      []Handing
	freezer     string
	numbers     [numberKinds]string   // the ones shown
	allNumbers  [numberKinds][]string // every value that stands, for conflicts
	hazards     []string
	hold        string
	differs     []string
	standing    merge.Standing
	lsn         uint64
}

// The kinds of number, in the order in which an animal gets them.
const (
	intakeNo = iota
	preparationNo
	accessionNo
	catalogueNo
	numberKinds
)

var numberFields = [numberKinds]string{"intake_no", "preparation_no", "accession_no", "catalogue_no"}

type partEntry struct {
	id       op.ID
	animal   op.ID
	kind     string
	standing merge.Standing
}

type arrivalEntry struct {
	id       op.ID
	from     string
	at       record.When
	receiver string
	list     []record.Bag
	bags     []record.Bag
	closed   bool
	standing merge.Standing
	lsn      uint64
}

type paperEntry struct {
	id       op.ID
	name     string // the authority's own id
	phrase   string // as it stands in a sentence
	document json.RawMessage
	said     Said
	since    int // the year in which it was entered first, 0 if that is not known
	done     []view.Said[record.DutyDone]
	desk     op.DeviceID // where it is entered
	standing merge.Standing
}

// learn takes a record into the Book as it now stands.
func (b *Book) learn(s merge.State) {
	switch s.Kind {
	case record.Report:
		b.learnReport(s)
	case record.Animal:
		b.learnAnimal(s)
	case record.Part:
		p := view.PartOf(s)
		e := &partEntry{id: s.ID, animal: p.Animal.Shown, kind: p.Type.Shown, standing: p.Standing}
		var old []op.ID
		if was := b.parts[s.ID]; was != nil {
			old = []op.ID{was.animal}
		}
		link(b.partsOf, old, []op.ID{e.animal}, s.ID)
		b.parts[s.ID] = e
	case record.Arrival:
		a := view.ArrivalOf(s)
		b.arrivals[s.ID] = &arrivalEntry{
			id: s.ID, from: a.From.Shown, at: a.At.Shown, receiver: a.ReceivedBy.Shown, list: view.Values(a.List),
			bags: view.Values(a.Bags), closed: a.Closed.Known, standing: a.Standing, lsn: firstLSN(s),
		}
	case record.Authority:
		a := view.AuthorityOf(s)
		e := &paperEntry{id: s.ID, document: a.Document.Shown, standing: a.Standing}
		if len(a.Document.All) > 0 {
			e.said = heard(record.Field{}, a.Document.All[0])
			e.desk, e.done = a.Document.All[0].Device, a.Done
		}
		for _, said := range a.Document.All {
			if year := said.At.Year(); !said.At.IsZero() && (e.since == 0 || year < e.since) {
				e.since = year
			}
		}
		if was := b.papers[s.ID]; was != nil && was.since != 0 {
			e.since = min(e.since, was.since)
		}
		var doc permits.Authority
		if json.Unmarshal(e.document, &doc) == nil {
			e.name, e.phrase = doc.ID, doc.Phrase()
		}
		b.papers[s.ID] = e
	}
}

func (b *Book) learnReport(s merge.State) {
	r := view.ReportOf(s)
	e := &reportEntry{
		id: s.ID, fieldNo: r.FieldNo.Shown, found: r.Found.Shown, taken: r.TakenAt.Shown, frozen: r.Frozen.Shown.At,
		taxon: r.Taxon.Shown, locality: r.Locality.Shown, place: r.Place.Shown, finder: r.Finder.Shown.Name, salvager: r.Salvager.Shown,
		deed: r.Deed.Shown, material: r.Material.Shown, authority: r.Authority.Shown, differs: len(s.Differing()) > 0,
		standing: r.Standing, lsn: firstLSN(s),
	}
	if !e.place.Known && r.Fix.Known {
		fix := r.Fix.Shown
		e.place = record.Georeference{Known: true, Lat: fix.Lat, Lon: fix.Lon, Radius: fix.Accuracy, State: e.place.State, County: e.place.County, Source: "device"}
	}
	e.traits = find.Told(permits.Traits{}, find.Report{Cause: &r.Cause.Shown, Signs: &r.Signs.Shown, Where: r.Circumstance.Shown, Acquired: r.Acquired.Shown})
	e.state, e.county = b.region(e.place)
	if e.salvager == "" {
		e.salvager = author(r)
	}
	if e.material == "" {
		e.material = "carcass"
	}
	e.animals = view.Values(r.Animals)
	e.outcome, e.verdict, e.duties = judged(r)
	for i := range e.duties {
		e.duties[i].Report, e.duties[i].Who = s.ID.String(), e.salvager
	}
	var old []op.ID
	if was := b.reports[s.ID]; was != nil {
		old = was.animals
	}
	link(b.pointedBy, old, e.animals, s.ID)
	for _, list := range [...][]op.ID{old, e.animals} {
		for _, id := range list {
			b.small.dirty[id] = true
		}
	}
	b.reports[s.ID] = e
	b.stale = true
}

// values are all values that stand in a field and can be read.
func values[T any](v view.Value[T]) []T {
	if len(v.All) == 0 {
		return nil
	}
	return view.Values(v.All)
}

// author is who saved the report first, when nobody is named as salvager.
func author(r view.Report) string {
	for _, all := range [][]string{actors(r.Taxon.All), actors(r.Deed.All), actors(r.Place.All), actors(r.Found.All)} {
		if len(all) > 0 {
			return all[len(all)-1]
		}
	}
	return ""
}

func actors[T any](all []view.Said[T]) []string {
	var out []string
	for _, s := range all {
		out = append(out, s.Actor)
	}
	return out
}

// handings are the hand-overs of an animal as they stand in its record.
func handings(a view.Animal) []Handing {
	if len(a.Custody) == 0 {
		return nil
	}
	out := make([]Handing, 0, len(a.Custody))
	for _, c := range a.Custody {
		out = append(out, Handing{From: c.Value.From, To: c.Value.To, Day: dayOf(c.Value.At.Earliest), Note: c.Value.Note})
	}
	return out
}

// receivedAt is when the animal was handed to the institution.
func receivedAt(a view.Animal) string {
	for _, c := range a.Custody {
		if c.Value.To == institution {
			return c.Value.At.Earliest
		}
	}
	return ""
}

func (b *Book) learnAnimal(s merge.State) {
	a := view.AnimalOf(s)
	e := &animalEntry{
		id: s.ID, taxon: a.Taxon.Shown, sameAs: a.SameAs.Shown, disposition: a.Disposition.Shown, arrival: a.Arrival.Shown,
		received: receivedAt(a), handed: handings(a), freezer: a.Freezer.Shown, hazards: view.Values(a.Hazards), hold: heldBy(a), standing: a.Standing, lsn: firstLSN(s),
	}
	e.traits = find.Traits(values(a.Sex), values(a.Age), values(a.Cause), values(a.ConfirmedCause))
	for _, t := range view.Values(a.Tags) {
		if !slices.Contains(e.tags, t) {
			e.tags = append(e.tags, t)
		}
	}
	for kind, v := range [numberKinds]view.Value[string]{a.IntakeNo, a.PreparationNo, a.AccessionNo, a.CatalogueNo} {
		if v.Known {
			e.numbers[kind] = v.Shown
		}
		for _, said := range v.All {
			if !said.Ill && said.Value != "" {
				e.allNumbers[kind] = append(e.allNumbers[kind], said.Value)
			}
		}
	}
	for _, f := range s.Differing() {
		known, _ := record.FieldOf(record.Animal, f.Name)
		e.differs = append(e.differs, known.Label)
	}
	if len(e.tags) > 0 {
		e.spelled = spell(e.tags[0])
	}
	var old []string
	was := b.animals[s.ID]
	if was != nil {
		old = clean(was.tags)
	}
	link(b.byTag, old, clean(e.tags), s.ID)
	b.small.dirty[b.root(s.ID)] = true // as it was
	b.animals[s.ID] = e
	b.small.dirty[s.ID] = true
	if e.sameAs != (op.ID{}) || was != nil && was.sameAs != e.sameAs || was == nil && b.awaited[s.ID] != nil {
		b.rejoin = true
		b.small.dirty[b.root(s.ID)] = true
		for _, id := range b.awaited[s.ID] { // they counted for themselves
			b.small.dirty[id] = true
		}
	}
}

func clean(tags []string) []string {
	out := make([]string, len(tags))
	for i, t := range tags {
		out[i] = cleanTag(t)
	}
	return out
}

// firstLSN is the place of the first entry of which anything still stands.
func firstLSN(s merge.State) uint64 {
	var first uint64
	for _, f := range s.Fields() {
		for _, all := range [][]merge.Value{f.Values, f.Elements, f.Events} {
			for _, v := range all {
				for _, h := range v.By {
					if h.LSN > 0 && (first == 0 || h.LSN < first) {
						first = h.LSN
					}
				}
			}
		}
	}
	return first
}
