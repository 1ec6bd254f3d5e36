package demo

import (
	"crypto/sha256"
	"fmt"
	"time"

	"wayfall/fixtures/scenario"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/tag"
)

// RecordID returns the id of a record of the story. It follows from the key,
// so that pouring the story twice meets the same records.
func RecordID(kind, key string) op.ID {
	sum := sha256.Sum256([]byte("wayfall demo " + kind + " " + key))
	return op.ID(sum[:16])
}

// deviceOf is the id of a person's phone in the story.
func deviceOf(key string) op.DeviceID {
	sum := sha256.Sum256([]byte("wayfall demo device " + key))
	return op.DeviceID(sum[:16])
}

// draft collects the acts on one record.
type draft struct {
	kind record.Kind
	id   op.ID
	acts []op.Act
	err  error
}

// put writes a value to a field in the way the field merges.
func (d *draft) put(field string, value any) {
	v, err := op.ValueOf(value)
	if err != nil && d.err == nil {
		d.err = fmt.Errorf("%s.%s: %w", d.kind, field, err)
	}
	d.acts = append(d.acts, op.Act{Kind: record.MergeOf(d.kind, field).Act(), Field: field, Value: v})
}

func (d *draft) group() op.Group {
	return op.Group{ID: d.id, Kind: string(d.kind), Acts: d.acts}
}

// Find is one report of the story as a phone would save it.
type Find struct {
	Report  scenario.Report
	Made    time.Time
	ID      op.ID
	Animals []op.ID
	Tags    []tag.Tag
	Groups  []op.Group
}

// NewFind turns a report into the one operation a phone saves: the report and
// one animal for each carcass in it, each with a tag of its own if it was
// bagged.
func (p *Phone) NewFind(r scenario.Report, place func([]op.Act) record.Georeference) (Find, error) {
	made, err := time.Parse(time.RFC3339, r.Made)
	if err != nil {
		return Find{}, fmt.Errorf("report %s: %w", r.Key, err)
	}
	f := Find{Report: r, Made: made, ID: RecordID("report", r.Key)}
	d := &draft{kind: record.Report, id: f.ID}
	d.whenAndWhere(r)
	d.what(r)
	d.whatWasDone(r)
	if place != nil {
		if g := place(d.acts); g.Known || g.Source != "" {
			d.put("place", g)
		}
	}
	if r.Photo != nil {
		d.put("photos", photoOf(r).Claim)
	}
	groups := []op.Group{}
	for _, key := range r.Truth.Animals {
		a, t, err := p.animal(r, RecordID("animal", r.Key+" "+key))
		if err != nil {
			return Find{}, err
		}
		f.Animals, f.Tags = append(f.Animals, a.id), append(f.Tags, t)
		d.put("animals", a.id.String())
		groups = append(groups, a.group())
	}
	f.Groups = append([]op.Group{d.group()}, groups...)
	return f, d.err
}

func (p *Phone) animal(r scenario.Report, id op.ID) (*draft, tag.Tag, error) {
	a := &draft{kind: record.Animal, id: id}
	a.put("taxon", determination(r))
	where := map[string]string{scenario.Taken: "private_freezer", scenario.Left: "left",
		scenario.Vanished: "vanished", scenario.Agency: "agency"}[r.Deed]
	if where != "" {
		a.put("disposition", where)
	}
	if r.Deed != scenario.Taken {
		return a, "", a.err
	}
	p.tagged++
	t, err := tag.Make(p.Tags, p.tagged)
	if err != nil {
		return nil, "", err
	}
	a.put("tags", string(t))
	return a, t, a.err
}

func determination(r scenario.Report) record.Determination {
	sure := map[string]record.Certainty{"certain": record.Sure, "likely": record.Likely, "possible": record.Guess}
	return record.Determination{Written: r.Taxon.English, Name: r.Taxon.Scientific,
		Certainty: sure[r.Taxon.Certainty], By: r.Reporter}
}

func (d *draft) whenAndWhere(r scenario.Report) {
	d.put("found", foundAt(r.Found))
	d.put("salvager", r.Reporter)
	if f := r.Place.Fix; f != nil {
		fix := record.Fix{Lat: float64(f.Lat), Lon: float64(f.Lon), Level: f.Level, At: r.Made, Source: f.Source}
		if r.Place.Accuracy != nil {
			fix.Accuracy = float64(*r.Place.Accuracy)
		}
		d.put("fix", fix)
	}
	if r.Place.Typed != "" {
		d.put("coordinates", r.Place.Typed)
	}
	d.put("locality", r.Place.Text)
}

func foundAt(f scenario.Found) record.When {
	switch f.Precision {
	case "minute":
		at := f.Date + "T" + f.Time
		return record.When{Earliest: at, Latest: at, Precision: record.ToMinute, Zone: f.Offset}
	case "day":
		return record.When{Earliest: f.Date + "T00:00", Latest: f.Date + "T23:59", Precision: record.ToDay, Zone: f.Offset}
	}
	return record.When{Text: "not known"}
}

func (d *draft) what(r scenario.Report) {
	d.put("taxon", determination(r))
	d.put("count", max(r.Count, 1))
	d.put("material", "carcass")
	decay := r.Condition
	d.put("condition", record.Condition{Decay: &decay})
	d.put("circumstance", circumstances[r.Circumstance])
	cause := record.Cause{Cause: causes[r.Cause], Basis: r.Basis,
		Certainty: map[string]record.Certainty{"certain": record.Sure, "likely": record.Likely, "possible": record.Guess}[r.CauseCertainty]}
	d.put("cause", cause)
	d.put("signs", signs(r, cause.Cause))
	if r.Band != "" {
		d.put("band", r.Band)
	}
}

// signs are the answers the phone's questions get. The story's people met
// their animals by chance, caused no death and carry their papers; only what
// the story says otherwise differs.
func signs(r scenario.Report, cause string) record.Signs {
	s := record.Signs{Crime: "no", Caused: "no", Planned: "no", Research: "no", Keep: "no",
		PermitCopy: "yes", Danger: "no", Others: "no"}
	if cause == "shot" || cause == "poison" || cause == "trapped" {
		s.Crime = "yes"
	}
	if r.Deed == scenario.Taken {
		s.InHand = "yes"
	}
	return s
}

func (d *draft) whatWasDone(r scenario.Report) {
	d.put("land", record.Land{Permission: r.Land.Permission, Manager: managers[r.Land.Manager],
		Written: r.Land.Permission == "yes"})
	d.put("deed", r.Deed)
	if len(r.Authority) > 0 { // the field holds the one relied on first; the verdict names all
		a := r.Authority[0]
		if a == "public-donation" {
			a = "AX-21.16" // the regulation itself, which needs no paper
		}
		d.put("authority", a)
	}
	if f := r.Frozen; f != nil {
		d.put("frozen", record.Freeze{At: frozenAt(f, r.Found.Offset), Where: f.Where})
	}
	if r.Remark != "" {
		d.put("remarks", record.Remark{Text: r.Remark})
	}
}

func frozenAt(f *scenario.Frozen, zone string) record.When {
	switch f.Precision {
	case "minute":
		at := f.Date + "T" + f.Time
		return record.When{Earliest: at, Latest: at, Precision: record.ToMinute, Zone: zone}
	case "day":
		return record.When{Earliest: f.Date + "T00:00", Latest: f.Date + "T23:59", Precision: record.ToDay, Zone: zone}
	}
	first, err := time.Parse("2006-01", f.Date)
	if err != nil {
		return record.When{Text: f.Date}
	}
	last := first.AddDate(0, 1, -1)
	return record.When{Text: f.Date, Earliest: first.Format("2006-01-02") + "T00:00",
		Latest: last.Format("2006-01-02") + "T23:59", Precision: record.ToMonth}
}

// The story speaks the trade's words; these are the words of the record.
var circumstances = map[string]string{
	"under a window": "under_window", "on or beside a road": "road", "on a beach": "beach",
	"brought in by a cat": "garden", "under a power line": "under_line", "on open ground, no wound": "open",
	"died in care": "care", "under a tower or lit structure": "under_tower", "under a turbine": "under_turbine",
	"entangled in line or net": "water", "plucked remains": "open", "on open ground, wound seen": "open",
	"on open ground": "open",
}

var causes = map[string]string{
	"window/building": "window", "vehicle": "vehicle", "toxin (botulism)": "toxin", "cat": "cat",
	"power line collision": "line", "infection (other)": "infection", "infection (HPAI)": "infection",
	"infection (WNV)": "infection", "died in care": "care", "tower/guy wire/light": "tower",
	"wind turbine": "turbine", "poison (other)": "poison", "poison (lead)": "poison",
	"poison (rodenticide)": "poison", "fishing gear/entanglement": "fishing", "wild predator": "predator",
	"shot": "shot", "unknown": "unknown", "electrocution": "electrocution", "euthanised": "euthanised",
}

var managers = map[string]string{
	"private": "private", "city": "municipal", "school": "municipal", "township": "municipal",
	"county road agency": "road_authority", "state road agency": "road_authority", "state park": "state",
}
