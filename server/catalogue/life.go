package catalogue

import (
	"strings"
	"time"

	"wayfall/sync/merge"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// reportLife is what a report adds to the line of what happened.
func reportLife(r view.Report, zone *time.Location) []Moment {
	var out []Moment
	who := r.Salvager.Shown
	if who == "" {
		who = author(r)
	}
	if r.Died.Known && r.Died.Shown.Earliest != "" {
		out = append(out, Moment{When: r.Died.Shown.Earliest, Head: "died", Text: WhenText(r.Died.Shown), Shape: "note"})
	}
	found := Moment{When: r.Found.Shown.Earliest, Head: "found", Shape: "done", Who: who}
	found.Text = strings.ToLower(labelIn(record.Circumstances, r.Circumstance.Shown))
	if r.Place.Known && r.Place.Shown.Radius > 0 {
		found.Text = join(", ", found.Text, "within "+Metres(r.Place.Shown.Radius))
	}
	out = append(out, found)
	if r.Deed.Known && r.Deed.Shown != "" {
		when := r.TakenAt.Shown.Earliest
		if when == "" {
			when = found.When
		}
		shape := "note"
		if r.Deed.Shown == "taken" {
			shape = "done"
		}
		out = append(out, Moment{When: when, Head: strings.ToLower(labelIn(record.Deeds, r.Deed.Shown)), Shape: shape, Who: who})
	}
	if at := r.Frozen.Shown.At; at.Earliest != "" {
		out = append(out, Moment{When: at.Earliest, Head: "frozen", Text: r.Frozen.Shown.Where, Shape: "done", Who: who})
	}
	for _, v := range verdictsOf(r) {
		shape := v.Outcome
		switch shape {
		case "take":
			shape = "done"
		case "breach":
			shape = "stop"
		}
		out = append(out, Moment{When: v.By.local(zone), Head: "the rules answered", Text: lowerFirst(v.Headline), Shape: shape, Who: v.By.Who})
	}
	for _, d := range r.Done {
		out = append(out, Moment{When: d.Value.At.Earliest, Head: "duty done", Text: join(", ", lowerFirst(DutyText(d.Value.Code)), d.Value.Evidence), Shape: "done", Who: d.Actor})
	}
	return out
}

// animalLife is what the animal's own record adds.
func animalLife(s merge.State, a view.Animal, zone *time.Location) []Moment {
	var out []Moment
	for _, c := range a.Custody {
		head := "handed to " + c.Value.To
		out = append(out, Moment{When: c.Value.At.Earliest, Head: head, Text: join(", ", fromWhom(c.Value), c.Value.Note), Shape: "done", Who: c.Actor})
	}
	for _, n := range []struct {
		head string
		v    view.Value[string]
	}{{"intake number", a.IntakeNo}, {"preparation number", a.PreparationNo}, {"accession number", a.AccessionNo}, {"catalogued", a.CatalogueNo}} {
		for _, said := range n.v.All {
			if !said.Ill && said.Value != "" {
				out = append(out, Moment{When: heard(record.Field{}, said).local(zone), Head: n.head, Text: said.Value, Shape: "done", Who: said.Actor})
			}
		}
	}
	for _, f := range s.Differing() {
		known, _ := record.FieldOf(record.Animal, f.Name)
		fact, _ := factOf(s, known)
		var texts []string
		for _, said := range fact.Said {
			texts = append(texts, said.Text)
		}
		out = append(out, Moment{When: fact.Said[0].local(zone), Head: lowerFirst(known.Label) + " differs", Text: strings.Join(texts, " / "), Shape: "ask"})
	}
	for _, r := range a.Remarks {
		out = append(out, Moment{When: heard(record.Field{}, r).local(zone), Head: "remark", Text: r.Value.Text, Shape: "note", Who: r.Actor})
	}
	if a.Standing == merge.Hidden {
		out = append(out, Moment{Head: "withdrawn", Shape: "note"})
	}
	return out
}

func partLife(p view.Part, zone *time.Location) Moment {
	m := Moment{When: p.Made.Shown.Earliest, Head: "prepared", Text: strings.ToLower(labelIn(record.PartTypes, p.Type.Shown)), Shape: "done", Who: p.MadeBy.Shown}
	if m.When == "" && len(p.Type.All) > 0 {
		m.When = heard(record.Field{}, p.Type.All[0]).local(zone)
	}
	return m
}

func fromWhom(c record.Custody) string {
	if c.From == "" {
		return ""
	}
	return "from " + c.From
}

func lowerFirst(s string) string {
	if s == "" || len(s) > 1 && s[1] >= 'A' && s[1] <= 'Z' {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}
