package catalogue

import (
	"slices"
	"strings"
	"time"

	"wayfall/sync/merge"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// reportLife is what a report adds to the line of what happened.
func (b *Book) reportLife(r view.Report) []Moment {
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
	for _, v := range b.verdictsOf(r) {
		head := answers[v.Outcome]
		if v.Gist != "" && !strings.HasPrefix(v.Gist, "under ") {
			head += "."
		}
		out = append(out, Moment{When: v.By.local(b.out.Zone), Head: head, Text: v.Gist, Shape: lifeShapes[v.Outcome], Who: v.By.Who, judge: true})
	}
	out = append(out, decidedLife(r, b.out.Zone)...)
	for _, d := range r.Done {
		head, shape := "duty done", "done"
		if d.Value.Waives {
			head, shape = "duty waived", "note"
		}
		out = append(out, Moment{When: d.Value.At.Earliest, Head: head, Text: join(", ", lowerFirst(DutyText(d.Value.Code)), noteText(d.Value)), Shape: shape, Who: d.Actor})
	}
	return out
}

// answers are the answers of the rules as they stand on a line of life.
var answers = map[string]string{
	"take": "the rules: may be taken", "ask": "the rules: ask first", "stop": "the rules: leave it", "breach": "the rules: taken without cover", "note": "the rules: a duty is due",
}

var lifeShapes = map[string]string{"take": "done", "ask": "ask", "stop": "stop", "breach": "stop", "note": "note"}

// animalLife is what the animal's own record adds.
// What it was prepared into tells its preparation number too.
func animalLife(s merge.State, a view.Animal, prepared bool, zone *time.Location) []Moment {
	var out []Moment
	withCustody := map[uint64]string{} // the intake number is given with the arrival
	for _, said := range a.IntakeNo.All {
		withCustody[said.LSN] = "intake number " + said.Value
	}
	for _, c := range a.Custody {
		text := join(", ", fromWhom(c.Value), c.Value.Place, called("seal", c.Value.Seal), called("signed by", c.Value.Signed), c.Value.Condition, c.Value.Note, withCustody[c.LSN])
		out = append(out, Moment{When: c.Value.At.Earliest, Head: "handed to " + c.Value.To, Text: text, Shape: "done", Who: c.Actor})
	}
	if prepared {
		a.PreparationNo.All = nil
	}
	a.IntakeNo.All = slices.DeleteFunc(slices.Clone(a.IntakeNo.All), func(n view.Said[string]) bool {
		return slices.ContainsFunc(a.Custody, func(c view.Said[record.Custody]) bool { return c.LSN == n.LSN })
	})
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
		head, text := remarkText(r.Value)
		out = append(out, Moment{When: heard(record.Field{}, r).local(zone), Head: head, Text: text, Shape: "note", Who: r.Actor})
	}
	if a.Standing == merge.Hidden {
		out = append(out, Moment{Head: "withdrawn", Shape: "note"})
	}
	return out
}

// remarkText is a remark on the line of life. What settled something is told
// by its end, the decision; all of it stands among the remarks.
func remarkText(r record.Remark) (head, text string) {
	if _, decided, ok := strings.Cut(r.Text, " Decided: "); ok && r.Settles != "" {
		return "decided", lowerFirst(decided)
	}
	return "remark", r.Text
}

func partLife(p view.Part, zone *time.Location) Moment {
	m := Moment{When: p.Made.Shown.Earliest, Head: "prepared", Text: strings.ToLower(labelIn(record.PartTypes, p.Type.Shown)), Shape: "done", Who: p.MadeBy.Shown}
	if p.Made.Shown.Precision == record.ToDay && len(m.When) > 10 {
		m.When = m.When[:10]
	}
	if m.When == "" && len(p.Type.All) > 0 {
		m.When = heard(record.Field{}, p.Type.All[0]).local(zone)
	}
	return m
}

// oneLine tells the parts that one person made on one day in one line, with
// the preparation number of the animal.
func oneLine(made []Moment, number string) []Moment {
	type key struct{ day, who string }
	var order []key
	texts := map[key][]string{}
	for _, m := range made {
		k := key{m.When[:min(10, len(m.When))], m.Who}
		if texts[k] == nil {
			order = append(order, k)
		}
		texts[k] = append(texts[k], m.Text)
	}
	var out []Moment
	for _, k := range order {
		m := Moment{When: k.day, Head: "prepared", Text: counted(texts[k]), Shape: "done", Who: k.who}
		if number != "" {
			m.Text += ", preparation number " + number
		}
		out = append(out, m)
	}
	return out
}

// counted writes a list in which the same stands several times: "skin, 2 tissue".
func counted(words []string) string {
	var parts []string
	slices.Sort(words)
	for i := 0; i < len(words); {
		n := 1
		for i+n < len(words) && words[i+n] == words[i] {
			n++
		}
		if n > 1 {
			parts = append(parts, itoa(n)+" × "+words[i])
		} else {
			parts = append(parts, words[i])
		}
		i += n
	}
	return strings.Join(parts, ", ")
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

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
