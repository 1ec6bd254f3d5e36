package api

import (
	"encoding/json"

	"wayfall/server/catalogue"
	"wayfall/sync/record"
)

// saidOut is one value with who said it, when, on which device, and where in
// the log it stands.
type saidOut struct {
	Value  json.RawMessage `json:"value"`
	Text   string          `json:"text,omitempty"`
	Who    string          `json:"who"`
	Device string          `json:"device"`
	AtMS   int64           `json:"at_ms"`
	Zone   string          `json:"zone,omitempty"`
	LSN    uint64          `json:"lsn"`
	Dot    string          `json:"dot"`
}

func saidOf(s catalogue.Said) saidOut {
	v := s.Value
	if len(v) == 0 {
		v = json.RawMessage("null")
	}
	return saidOut{v, s.Text, s.Who, s.Device, s.AtMS, s.Zone, s.LSN, s.Dot}
}

// factOut is one field with every value that stands.
type factOut struct {
	Field   string    `json:"field"`
	Label   string    `json:"label"`
	Merge   string    `json:"merge"`
	Differs bool      `json:"differs"`
	Said    []saidOut `json:"said"`
}

func factsOf(all []catalogue.Fact) []factOut {
	out := make([]factOut, 0, len(all))
	for _, f := range all {
		one := factOut{Field: f.Field.Name, Label: f.Field.Label, Merge: f.Field.Merge.String(), Differs: f.Differs, Said: []saidOut{}}
		for _, s := range f.Said {
			one.Said = append(one.Said, saidOf(s))
		}
		out = append(out, one)
	}
	return out
}

type rowOut struct {
	ID          string       `json:"id"`
	Tag         string       `json:"tag,omitempty"`
	Name        string       `json:"name"`
	Taxon       string       `json:"taxon,omitempty"`
	Disposition string       `json:"disposition,omitempty"`
	Freezer     string       `json:"freezer,omitempty"`
	IntakeNo    string       `json:"intake_no,omitempty"`
	Preparation string       `json:"preparation_no,omitempty"`
	Catalogue   string       `json:"catalogue_no,omitempty"`
	Arrival     string       `json:"arrival,omitempty"`
	Hazards     []string     `json:"hazards,omitempty"`
	Differs     []string     `json:"differs,omitempty"`
	Found       *record.When `json:"found,omitempty"`
	Report      string       `json:"report,omitempty"`
	Withdrawn   bool         `json:"withdrawn,omitempty"`
}

func rowOf(r catalogue.Row) rowOut {
	return rowOut{r.ID, r.Tag, r.Name, r.Taxon, r.Disposition, r.Freezer, r.IntakeNo, r.Preparation, r.Catalogue,
		r.Arrival, r.Hazards, r.Differs, whenOf(r.Found), r.Report, r.Withdrawn}
}

func rowsOf(all []catalogue.Row) []rowOut {
	out := make([]rowOut, 0, len(all))
	for _, r := range all {
		out = append(out, rowOf(r))
	}
	return out
}

func whenOf(w record.When) *record.When {
	if w == (record.When{}) {
		return nil
	}
	return &w
}

type findOut struct {
	ID        string       `json:"id"`
	Fieldno   string       `json:"fieldno,omitempty"`
	Found     *record.When `json:"found,omitempty"`
	Name      string       `json:"name"`
	Taxon     string       `json:"taxon,omitempty"`
	Place     string       `json:"place,omitempty"`
	County    string       `json:"county,omitempty"`
	State     string       `json:"state,omitempty"`
	Finder    string       `json:"finder,omitempty"`
	Deed      string       `json:"deed,omitempty"`
	Outcome   string       `json:"outcome,omitempty"`
	Animals   []rowOut     `json:"animals"`
	Joined    bool         `json:"joined"`
	Differs   bool         `json:"differs"`
	Withdrawn bool         `json:"withdrawn,omitempty"`
	LSN       uint64       `json:"lsn"`
}

func findOf(f catalogue.Find) findOut {
	return findOut{f.ID, f.FieldNo, whenOf(f.Found), f.Name, f.Taxon, f.Place, f.County, f.State, f.Finder, f.Deed,
		f.Outcome, rowsOf(f.Animals), f.Joined, f.Differs, f.Withdrawn, f.LSN}
}

type findsOut struct {
	Reports  []findOut `json:"reports"`
	Matching int       `json:"matching"`
	All      int       `json:"all"`
	Animals  int       `json:"animals"`
	LSN      uint64    `json:"lsn"`
}

type findingOut struct {
	Rule    string `json:"rule"`
	Outcome string `json:"outcome"`
	Because string `json:"because"`
	Cites   string `json:"cites"`
}

type verdictOut struct {
	Outcome   string       `json:"outcome"`
	Headline  string       `json:"headline,omitempty"`
	Findings  []findingOut `json:"findings"`
	Authority string       `json:"authority,omitempty"`
	By        saidOut      `json:"by"`
	Sample    bool         `json:"sample"`
	Inputs    string       `json:"inputs,omitempty"`
}

func verdictsOf(all []catalogue.Verdict) []verdictOut {
	out := make([]verdictOut, 0, len(all))
	for _, v := range all {
		one := verdictOut{v.Outcome, v.Headline, []findingOut{}, v.Authority, saidOf(v.By), v.Sample, v.Inputs}
		for _, f := range v.Findings {
			one.Findings = append(one.Findings, findingOut{f.Rule, f.Outcome, f.Because, f.Cites})
		}
		out = append(out, one)
	}
	return out
}

type dutyOut struct {
	Code     string `json:"code"`
	Text     string `json:"text"`
	Cites    string `json:"cites,omitempty"`
	Due      string `json:"due,omitempty"`
	Word     string `json:"word,omitempty"`
	Own      bool   `json:"own_setting,omitempty"`
	Severity string `json:"severity,omitempty"`
	Done     bool   `json:"done"`
	DoneAt   string `json:"done_at,omitempty"`
	Evidence string `json:"evidence,omitempty"`
	Void     string `json:"void,omitempty"` // why there is nothing to do
	Report   string `json:"report,omitempty"`
	Animal   string `json:"animal,omitempty"`
	Who      string `json:"who,omitempty"`
}

func dutiesOf(all []catalogue.Duty) []dutyOut {
	out := make([]dutyOut, 0, len(all))
	for _, d := range all {
		out = append(out, dutyOut{d.Code, d.Text, d.Cites, d.Due, d.Word, d.Own, string(d.Severity), d.Done, d.DoneAt, d.Evidence, d.Void, d.Report, d.Animal.ID, d.Who})
	}
	return out
}

type momentOut struct {
	When string `json:"when"`
	Head string `json:"head"`
	Text string `json:"text,omitempty"`
	Who  string `json:"who,omitempty"`
}

func lifeOf(all []catalogue.Moment) []momentOut {
	out := make([]momentOut, 0, len(all))
	for _, m := range all {
		out = append(out, momentOut{m.When, m.Head, m.Text, m.Who})
	}
	return out
}

type reportOut struct {
	findOut
	Fields    []factOut     `json:"fields"`
	Verdicts  []verdictOut  `json:"verdicts"`
	Decisions []decisionOut `json:"decisions"`
	Duties    []dutyOut     `json:"duties"`
	Life      []momentOut   `json:"life"`
}

type partOut struct {
	ID        string   `json:"id"`
	Type      string   `json:"type"`
	By        string   `json:"by,omitempty"`
	Barcodes  []string `json:"barcodes"`
	Kept      string   `json:"kept,omitempty"`
	Withdrawn bool     `json:"withdrawn,omitempty"`
}

// numberOut is a number the animal bears, with the others that bear the same.
type numberOut struct {
	Field    string   `json:"field"`
	Value    string   `json:"value"`
	Conflict []rowOut `json:"conflict"`
}

type animalOut struct {
	rowOut
	Numbers  []numberOut  `json:"numbers"`
	Tags     []string     `json:"tags"`
	Fields   []factOut    `json:"fields"`
	Reports  []findOut    `json:"reports"`
	SameAs   string       `json:"same_as,omitempty"`
	Hold     *holdOut     `json:"hold,omitempty"`
	Gaps     []string     `json:"custody_gaps,omitempty"`
	Others   []rowOut     `json:"others"`
	Parts    []partOut    `json:"parts"`
	Life     []momentOut  `json:"life"`
	Duties   []dutyOut    `json:"duties"`
	Verdicts []verdictOut `json:"verdicts"`
}

func animalOf(s catalogue.AnimalSheet) animalOut {
	out := animalOut{rowOut: rowOf(s.Row), Tags: some(s.Tags), Fields: factsOf(s.Facts), Reports: []findOut{},
		SameAs: s.SameAs, Hold: holdOf(s.Holding), Gaps: s.Gaps, Others: rowsOf(s.Others), Parts: []partOut{}, Life: lifeOf(s.Life),
		Duties: dutiesOf(s.Duties), Verdicts: verdictsOf(s.Verdicts)}
	out.Numbers = []numberOut{}
	for _, n := range s.Numbers {
		out.Numbers = append(out.Numbers, numberOut{n.Field, n.Value, rowsOf(n.Conflict)})
	}
	for _, r := range s.Reports {
		out.Reports = append(out.Reports, findOf(r))
	}
	for _, p := range s.Parts {
		out.Parts = append(out.Parts, partOut{p.ID, p.Type, p.By, some(p.Barcodes), p.Kept, p.Withdrawn})
	}
	return out
}
