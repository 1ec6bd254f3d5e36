package proof

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/sync/record"
)

// said is one value with who wrote it, when and on which device.
type said struct {
	Value  json.RawMessage `json:"value"`
	Text   string          `json:"text"`
	Who    string          `json:"who"`
	Person string          `json:"person"`
	When   string          `json:"when"`
	Device string          `json:"device"`
	On     string          `json:"device_name,omitempty"`
	LSN    uint64          `json:"log_entry"`
	Dot    string          `json:"act"`
}

type fact struct {
	Field   string `json:"field"`
	Label   string `json:"label"`
	Differs bool   `json:"differs"`
	Said    []said `json:"said"`
}

type finding struct {
	Rule    string `json:"rule"`
	Outcome string `json:"outcome"`
	Because string `json:"because"`
	Cites   string `json:"cites"`
}

type verdict struct {
	Headline string    `json:"headline"`
	Outcome  string    `json:"outcome"`
	Sample   bool      `json:"sample_rules"`
	Findings []finding `json:"findings"`
	By       said      `json:"by"`
}

type duty struct {
	Text     string `json:"text"`
	Cites    string `json:"cites,omitempty"`
	Due      string `json:"due,omitempty"`
	State    string `json:"state"`
	Evidence string `json:"evidence,omitempty"`
}

type report struct {
	ID       string    `json:"id"`
	FieldNo  string    `json:"field_number,omitempty"`
	Facts    []fact    `json:"values"`
	Verdicts []verdict `json:"verdicts"`
	Consent  []fact    `json:"-"`
}

type inForce struct {
	ID      string             `json:"id"`
	Name    string             `json:"name"`
	Covers  bool               `json:"covers"`
	Listed  bool               `json:"person_listed_that_day"`
	InForce string             `json:"in_force_that_day"`
	Edition *permits.Authority `json:"edition,omitempty"`
}

type photo struct {
	SHA256  string `json:"sha256"`
	Caption string `json:"caption,omitempty"`
	File    string `json:"file,omitempty"` // "" has not come
}

// dossier is everything of one animal.
type dossier struct {
	Institution string    `json:"institution"`
	LSN         uint64    `json:"as_of_log_entry"`
	Head        string    `json:"log_head"`
	ID          string    `json:"id"`
	Tag         string    `json:"tag,omitempty"`
	Name        string    `json:"name"`
	Taxon       string    `json:"scientific_name,omitempty"`
	Day         string    `json:"day,omitempty"`
	Person      string    `json:"person"`
	Deed        string    `json:"deed"`
	Where       string    `json:"where_it_is"`
	Numbers     []string  `json:"numbers,omitempty"`
	Authorities []inForce `json:"authorities"`
	Custody     []said    `json:"custody"`
	Facts       []fact    `json:"values"`
	Reports     []report  `json:"reports"`
	Joined      [][]fact  `json:"joined_records,omitempty"`
	Parts       [][]fact  `json:"parts,omitempty"`
	Duties      []duty    `json:"duties"`
	Photos      []photo   `json:"photos"`
	Decisions   []said    `json:"decisions_by_people,omitempty"`
	Sample      bool      `json:"sample"`
}

// animal writes the folder of one animal and returns its line on the front.
func (b *Bundle) animal(ctx context.Context, a *archive, p *papers, n int) (line, error) {
	t := &b.takes[n]
	sheet, err := b.Book.Animal(ctx, t.ID)
	if err != nil {
		return line{}, err
	}
	d := b.dossier(t, sheet)
	if d.Authorities, err = b.authorities(ctx, p, t); err != nil {
		return line{}, err
	}
	for _, f := range sheet.Reports {
		find, err := b.Book.Find(ctx, f.ID)
		if err != nil {
			return line{}, err
		}
		r := report{ID: f.ID, FieldNo: f.FieldNo, Facts: b.facts(find.Facts), Verdicts: b.verdicts(find.Verdicts)}
		r.Consent = only(r.Facts, "land")
		d.Reports = append(d.Reports, r)
		d.Decisions = append(d.Decisions, decisions(r.Facts)...)
	}
	folder := fmt.Sprintf("animals/%04d-%s/", n+1, safe(or(t.Tag, t.ID)))
	if err := b.photos(ctx, a, d, folder, sheet.Photos); err != nil {
		return line{}, err
	}
	if err := a.json(folder+"record.json", d); err != nil {
		return line{}, err
	}
	page, err := render("animal", d)
	if err != nil {
		return line{}, err
	}
	return b.line(t, d, folder+"index.html"), a.add(folder+"index.html", page)
}

func (b *Bundle) dossier(t *catalogue.Take, sheet catalogue.AnimalSheet) *dossier {
	d := &dossier{Institution: b.Institution, LSN: b.place.LSN, Head: b.place.Head, ID: t.ID, Tag: t.Tag, Name: or(t.Name, "Not identified"), Taxon: t.Taxon,
		Day: day(t.Day), Person: b.person(t.Person), Deed: catalogue.Label(record.Report, "deed", t.Deed),
		Where: catalogue.Label(record.Animal, "disposition", t.Disposition), Facts: b.facts(sheet.Facts), Sample: t.Sample, Custody: []said{}, Photos: []photo{}}
	for _, no := range sheet.Numbers {
		d.Numbers = append(d.Numbers, no.Label+" "+no.Value)
	}
	for _, f := range only(d.Facts, "custody") {
		d.Custody = append(d.Custody, f.Said...)
	}
	for _, other := range sheet.Theirs {
		d.Joined = append(d.Joined, b.facts(other))
	}
	for _, p := range sheet.Parts {
		d.Parts = append(d.Parts, b.facts(p.Facts))
	}
	for _, x := range sheet.Duties {
		d.Duties = append(d.Duties, dutyOf(x, b.Day))
	}
	d.Decisions = decisions(d.Facts)
	return d
}

func dutyOf(x catalogue.Duty, today permits.Date) duty {
	out := duty{Text: x.Text, Cites: x.Cites, Due: catalogue.LocalText(x.Due), Evidence: x.Evidence, State: "open"}
	switch {
	case x.Done:
		out.State = "done"
		if x.DoneAt != "" {
			out.State = "done " + catalogue.LocalText(x.DoneAt)
		}
	case x.Void != "":
		out.State = "nothing to do: " + x.Void
	case len(x.Due) >= 10 && x.Due[:10] < today.String():
		out.State = "late"
	}
	return out
}

// authorities are the papers that concern the animal, in the edition in force
// on its day.
func (b *Bundle) authorities(ctx context.Context, p *papers, t *catalogue.Take) ([]inForce, error) {
	ids := []string{b.Authority}
	for _, more := range [][]string{t.Relies, t.Near, {t.Named}} {
		for _, id := range more {
			if id != "" && !slices.Contains(ids, id) {
				ids = append(ids, id)
			}
		}
	}
	var out []inForce
	for _, id := range ids {
		one := inForce{ID: id, Name: id, Covers: t.Covered(id), InForce: "not a paper kept here"}
		sheet, kept, err := p.of(ctx, id)
		if err != nil {
			return nil, err
		}
		if kept {
			var all []permits.Authority
			for _, v := range sheet.Versions {
				all = append(all, v.Authority)
			}
			if e := permits.VersionAt(all, id, t.Day); e != nil {
				one.Edition, one.Listed = e, e.Lists(t.Person, t.Day)
				one.InForce = map[permits.Answer]string{permits.Yes: "yes", permits.No: "no"}[e.InForce(t.Day)]
				one.InForce = or(one.InForce, "the day is not known")
			}
			one.Name = sheet.Name
		}
		out = append(out, one)
	}
	return out, nil
}

// photos writes the pictures that have come and names those that have not.
func (b *Bundle) photos(ctx context.Context, a *archive, d *dossier, folder string, all []record.Photo) error {
	seen := map[string]bool{}
	for _, p := range all {
		if seen[p.SHA256] {
			continue
		}
		seen[p.SHA256] = true
		one := photo{SHA256: p.SHA256, Caption: p.Caption}
		if b.Photo != nil {
			bytes, kind, err := b.Photo(ctx, p.SHA256)
			if err != nil {
				return err
			}
			if bytes != nil {
				one.File = "photos/" + safe(p.SHA256) + map[string]string{"image/jpeg": ".jpg", "image/png": ".png"}[kind]
				if err := a.add(folder+one.File, bytes); err != nil {
					return err
				}
			}
		}
		d.Photos = append(d.Photos, one)
	}
	return nil
}

func (b *Bundle) facts(all []catalogue.Fact) []fact {
	out := make([]fact, 0, len(all))
	for _, f := range all {
		if f.Field.Name == "verdicts" { // written out on their own
			continue
		}
		one := fact{Field: f.Field.Name, Label: f.Field.Label, Differs: f.Differs}
		for _, s := range f.Said {
			v := b.said(s)
			if f.Field.Personal && f.Field.Shape == record.Text {
				v.Text = b.person(s.Text)
			}
			one.Said = append(one.Said, v)
		}
		out = append(out, one)
	}
	return out
}

func (b *Bundle) said(s catalogue.Said) said {
	out := said{Value: s.Value, Text: s.Text, Who: s.Who, Person: b.person(s.Who), Device: s.Device, LSN: s.LSN, Dot: s.Dot}
	if len(out.Value) == 0 {
		out.Value = json.RawMessage("null")
	}
	if b.Device != nil {
		out.On = b.Device(s.Device)
	}
	if s.AtMS != 0 {
		at := time.UnixMilli(s.AtMS).In(b.Zone)
		if t, err := time.Parse("-07:00", s.Zone); err == nil {
			if _, seconds := t.Zone(); seconds != 0 {
				at = at.In(time.FixedZone(s.Zone, seconds))
			}
		}
		out.When = at.Format(time.RFC3339)
	}
	return out
}

func (b *Bundle) person(id string) string {
	switch {
	case id == "":
		return "not named"
	case b.Name == nil:
		return id
	}
	return b.Name(id)
}

func (b *Bundle) persons(all []permits.Grant) []listed {
	var out []listed
	for _, g := range all {
		out = append(out, listed{Name: b.person(g.Person), Role: g.Role, From: day(g.From), To: day(g.To)})
	}
	return out
}

func (b *Bundle) verdicts(all []catalogue.Verdict) []verdict {
	out := []verdict{}
	for _, v := range all {
		one := verdict{Headline: v.Headline, Outcome: v.Outcome, Sample: v.Sample, By: b.said(v.By)}
		one.By.Text, one.By.Value = "", v.By.Value
		for _, f := range v.Findings {
			one.Findings = append(one.Findings, finding(f))
		}
		out = append(out, one)
	}
	return out
}

func only(all []fact, field string) []fact {
	return slices.DeleteFunc(slices.Clone(all), func(f fact) bool { return f.Field != field })
}

// decisions are the remarks by which a person settled something.
func decisions(all []fact) []said {
	var out []said
	for _, f := range only(all, "remarks") {
		for _, s := range f.Said {
			var r record.Remark
			if json.Unmarshal(s.Value, &r) == nil && r.Settles != "" {
				out = append(out, s)
			}
		}
	}
	return out
}
