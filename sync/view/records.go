package view

import (
	"encoding/json"

	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// Report is what one person said about one find.
type Report struct {
	ID           op.ID
	FieldNo      Value[string]
	Finder       Value[record.Person]
	Salvager     Value[string]
	Found        Value[record.When]
	TakenAt      Value[record.When]
	Died         Value[record.When]
	Fix          Value[record.Fix]
	Coordinates  Value[string]
	Locality     Value[string]
	Place        Value[record.Georeference]
	Taxon        Value[record.Determination]
	Count        Value[int]
	Material     Value[string]
	Condition    Value[record.Condition]
	Circumstance Value[string]
	Acquired     Value[string]
	Cause        Value[record.Cause]
	Signs        Value[record.Signs]
	Band         Value[string]
	Land         Value[record.Land]
	Deed         Value[string]
	Authority    Value[string]
	Frozen       Value[record.Freeze]
	Photos       []Said[record.Photo]
	Remarks      []Said[record.Remark]
	Animals      []Said[op.ID]
	Verdicts     []Said[json.RawMessage]
	Done         []Said[record.DutyDone]
	Decisions    []Said[json.RawMessage]
	Standing     merge.Standing
}

// ReportOf reads a report.
func ReportOf(s merge.State) Report {
	r := Report{ID: s.ID}
	r.FieldNo = Read[string](s, "fieldno")
	r.Finder = Read[record.Person](s, "finder")
	r.Salvager = Read[string](s, "salvager")
	r.Found = Read[record.When](s, "found")
	r.TakenAt = Read[record.When](s, "taken_at")
	r.Died = Read[record.When](s, "died")
	r.Fix = Read[record.Fix](s, "fix")
	r.Coordinates = Read[string](s, "coordinates")
	r.Locality = Read[string](s, "locality")
	r.Place = Read[record.Georeference](s, "place")
	r.Taxon = Read[record.Determination](s, "taxon")
	r.Count = Read[int](s, "count")
	r.Material = Read[string](s, "material")
	r.Condition = Read[record.Condition](s, "condition")
	r.Circumstance = Read[string](s, "circumstance")
	r.Acquired = Read[string](s, "acquired")
	r.Cause = Read[record.Cause](s, "cause")
	r.Signs = Read[record.Signs](s, "signs")
	r.Band = Read[string](s, "band")
	r.Land = Read[record.Land](s, "land")
	r.Deed = Read[string](s, "deed")
	r.Authority = Read[string](s, "authority")
	r.Frozen = Read[record.Freeze](s, "frozen")
	r.Photos = Elements[record.Photo](s, "photos")
	r.Remarks = Events[record.Remark](s, "remarks")
	r.Animals = Elements[op.ID](s, "animals")
	r.Verdicts = Events[json.RawMessage](s, "verdicts")
	r.Done = Events[record.DutyDone](s, "done")
	r.Decisions = Events[json.RawMessage](s, "decisions")
	r.Standing, _ = s.Standing()
	return r
}

// Animal is the individual that reports point at.
type Animal struct {
	ID             op.ID
	Tags           []Said[string]
	Taxon          Value[record.Determination]
	SameAs         Value[op.ID]
	Cause          Value[record.Cause]
	ConfirmedCause Value[record.Cause]
	Condition      Value[record.Condition]
	Sex            Value[string]
	Age            Value[string]
	Hazards        []Said[string]
	Hold           Value[string]
	Custody        []Said[record.Custody]
	Disposition    Value[string]
	Arrival        Value[op.ID]
	Freezer        Value[string]
	IntakeNo       Value[string]
	PreparationNo  Value[string]
	AccessionNo    Value[string]
	CatalogueNo    Value[string]
	OtherNos       []Said[string]
	Photos         []Said[record.Photo]
	Remarks        []Said[record.Remark]
	Standing       merge.Standing
}

// AnimalOf reads an animal.
func AnimalOf(s merge.State) Animal {
	a := Animal{ID: s.ID}
	a.Tags = Elements[string](s, "tags")
	a.Taxon = Read[record.Determination](s, "taxon")
	a.SameAs = Read[op.ID](s, "same_as")
	a.Cause = Read[record.Cause](s, "cause")
	a.ConfirmedCause = Read[record.Cause](s, "confirmed_cause")
	a.Condition = Read[record.Condition](s, "condition")
	a.Sex = Read[string](s, "sex")
	a.Age = Read[string](s, "age")
	a.Hazards = Elements[string](s, "hazards")
	a.Hold = Read[string](s, "hold")
	a.Custody = Events[record.Custody](s, "custody")
	a.Disposition = Read[string](s, "disposition")
	a.Arrival = Read[op.ID](s, "arrival")
	a.Freezer = Read[string](s, "freezer")
	a.IntakeNo = Read[string](s, "intake_no")
	a.PreparationNo = Read[string](s, "preparation_no")
	a.AccessionNo = Read[string](s, "accession_no")
	a.CatalogueNo = Read[string](s, "catalogue_no")
	a.OtherNos = Elements[string](s, "other_nos")
	a.Photos = Elements[record.Photo](s, "photos")
	a.Remarks = Events[record.Remark](s, "remarks")
	a.Standing, _ = s.Standing()
	return a
}

// Part is a skin, skeleton, wing, fluid or tissue of one animal.
type Part struct {
	ID           op.ID
	Animal       Value[op.ID]
	Type         Value[string]
	Made         Value[record.When]
	MadeBy       Value[string]
	Barcodes     []Said[string]
	Preservative Value[string]
	Stored       Value[string]
	Remarks      []Said[record.Remark]
	Standing     merge.Standing
}

// PartOf reads a part.
func PartOf(s merge.State) Part {
	p := Part{ID: s.ID}
	p.Animal = Read[op.ID](s, "animal")
	p.Type = Read[string](s, "type")
	p.Made = Read[record.When](s, "made")
	p.MadeBy = Read[string](s, "made_by")
	p.Barcodes = Elements[string](s, "barcode")
	p.Preservative = Read[string](s, "preservative")
	p.Stored = Read[string](s, "stored")
	p.Remarks = Events[record.Remark](s, "remarks")
	p.Standing, _ = s.Standing()
	return p
}

// Authority is a permit, regulation, land permission or duty; its document is
// described by package permits.
type Authority struct {
	ID       op.ID
	Document Value[json.RawMessage]
	Done     []Said[record.DutyDone]
	Remarks  []Said[record.Remark]
	Standing merge.Standing
}

// AuthorityOf reads an authority.
func AuthorityOf(s merge.State) Authority {
	a := Authority{ID: s.ID}
	a.Document = Read[json.RawMessage](s, "document")
	a.Done = Events[record.DutyDone](s, "done")
	a.Remarks = Events[record.Remark](s, "remarks")
	a.Standing, _ = s.Standing()
	return a
}

// Arrival is a batch of bags handed over with its list.
type Arrival struct {
	ID         op.ID
	From       Value[string]
	At         Value[record.When]
	ReceivedBy Value[string]
	List       []Said[record.Bag]
	Bags       []Said[record.Bag]
	Closed     Value[record.When]
	Remarks    []Said[record.Remark]
	Standing   merge.Standing
}

// ArrivalOf reads an arrival.
func ArrivalOf(s merge.State) Arrival {
	a := Arrival{ID: s.ID}
	a.From = Read[string](s, "from")
	a.At = Read[record.When](s, "at")
	a.ReceivedBy = Read[string](s, "received_by")
	a.List = Events[record.Bag](s, "list")
	a.Bags = Events[record.Bag](s, "bags")
	a.Closed = Read[record.When](s, "closed")
	a.Remarks = Events[record.Remark](s, "remarks")
	a.Standing, _ = s.Standing()
	return a
}
