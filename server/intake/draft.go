package intake

import (
	"encoding/json"

	"wayfall/permits"
	"wayfall/server/fault"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// Draft is a report that somebody hands in outside the log: its values as they
// were written, by the field's name on the wire.
type Draft struct {
	Said    []Saying
	Animals []AnimalDraft
}

// Saying is what a draft says in one field: one value for a register, any
// number for a set or a log.
type Saying struct {
	Field  string
	Values []op.Value
}

// AnimalDraft is one animal of a draft.
type AnimalDraft struct {
	Tags        []string
	Taxon       op.Value
	Disposition string
}

// Kept is what became of a draft.
type Kept struct {
	ID      string
	Animals []KeptAnimal
	Verdict permits.Verdict
	Effect  string
	Code    string
	Why     string
}

// KeptAnimal is one animal of a kept report.
type KeptAnimal struct {
	ID  string `json:"id"`
	Tag string `json:"tag,omitempty"`
}

// Say adds what a program wrote in a field of the report: a list for sets and
// logs, one value for everything else.
func (d *Draft) Say(f record.Field, raw []byte) error {
	list := []json.RawMessage{raw}
	if f.Merge.Act() != op.KindSet {
		list = nil
		if err := json.Unmarshal(raw, &list); err != nil {
			return fault.New(fault.Invalid, "%s is a list", f.Label).At("/"+f.Name, "a list is expected")
		}
	}
	s := Saying{Field: f.Name}
	for _, one := range list {
		v, err := op.Canonical(one)
		if err != nil {
			return fault.As(fault.Invalid, err, "%s cannot be kept as it is written", f.Label)
		}
		s.Values = append(s.Values, op.Value(v))
	}
	d.Said = append(d.Said, s)
	return nil
}

// Check returns a fault that points at everything in the draft that cannot be.
// Unlike an operation, a draft is still in the caller's hand, so it goes back
// whole rather than being kept with a doubt.
func (d Draft) Check(m Moment) error {
	var wrong *fault.Error
	for _, doubt := range d.Doubts(m) {
		if wrong == nil {
			wrong = fault.New(fault.Invalid, "%s", doubt.Why)
		}
		wrong = wrong.At(doubt.Pointer(), doubt.Why)
	}
	if wrong == nil {
		return nil
	}
	if n := len(wrong.Pointers); n > 1 {
		wrong.Sentence = "several values of the report cannot be kept as they are; each is named"
	}
	return wrong
}

// Doubts says everything that is odd about the values of a draft.
func (d Draft) Doubts(m Moment) []Doubt {
	var out []Doubt
	for _, s := range d.Said {
		f, known := record.FieldOf(record.Report, s.Field)
		if !known {
			out = append(out, Doubt{Code: UnknownField, Kind: record.Report, Field: s.Field, Why: s.Field + " is not a field of a report"})
			continue
		}
		for _, v := range s.Values {
			out = append(out, Shape(f, v, m)...)
		}
	}
	return out
}

// act returns the act with which an operation writes the value.
func act(kind record.Kind, field string, v op.Value) op.Act {
	return op.Act{Kind: record.MergeOf(kind, field).Act(), Field: field, Value: v}
}

// Groups returns what one operation does to keep the draft as the report of
// that id with its animals.
func (d Draft) Groups(report op.ID, animals []op.ID) []op.Group {
	g := op.Group{ID: report, Kind: string(record.Report)}
	for _, s := range d.Said {
		for _, v := range s.Values {
			g.Acts = append(g.Acts, act(record.Report, s.Field, v))
		}
	}
	out := []op.Group{g}
	for i, id := range animals {
		out[0].Acts = append(out[0].Acts, act(record.Report, "animals", op.Text(id.String())))
		a := op.Group{ID: id, Kind: string(record.Animal)}
		if i < len(d.Animals) {
			a.Acts = d.Animals[i].acts()
		}
		if len(a.Acts) > 0 {
			out = append(out, a)
		}
	}
	return out
}

func (a AnimalDraft) acts() []op.Act {
	var out []op.Act
	for _, t := range a.Tags {
		out = append(out, act(record.Animal, "tags", op.Text(t)))
	}
	if a.Taxon != "" {
		out = append(out, act(record.Animal, "taxon", a.Taxon))
	}
	if a.Disposition != "" {
		out = append(out, act(record.Animal, "disposition", op.Text(a.Disposition)))
	}
	return out
}

// value returns the first value said in the field, read into target.
func (d Draft) value(field string, target any) bool {
	for _, s := range d.Said {
		if s.Field == field && len(s.Values) > 0 {
			return s.Values[0].Into(target) == nil
		}
	}
	return false
}
