package printed

import (
	"strconv"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/reports"
	"wayfall/sync/record"
)

// moved is a list of hand-overs with its heading.
type moved struct {
	head string
	all  []reports.Transfer
}

func movedIn(y reports.Year) []moved {
	return []moved{{"Came to the institution", y.In}, {"Given away", y.Out}}
}

// party is who handed over or took; the institution stands as such.
func party(who string, s Setting) string {
	switch who {
	case "":
		return "not written down"
	case catalogue.Here:
		return or(s.Institution, "the institution")
	}
	return s.name(who)
}

func done(d reports.LateDuty) string {
	if d.Done == "" {
		return "! still open"
	}
	return catalogue.LocalText(d.Done)
}

// moves sets what came and what went, each with its day and its names, and
// the duties that were late.
func (s *sheet) moves(y reports.Year, set Setting) {
	for _, m := range movedIn(y) {
		if len(m.all) == 0 {
			continue
		}
		s.head(m.head+" ("+strconv.Itoa(len(m.all))+")", 30)
		var b [][]row
		for _, t := range m.all {
			b = append(b, []row{{cells: []string{or(t.Row.Tag, "no tag"), or(t.Row.Name, "not identified"), day(t.Day), party(t.From, set), party(t.To, set), t.Note}}})
		}
		s.table([]col{{"Tag", 24, false}, {"What", 28, false}, {"Day", 22, false}, {"From", 32, false}, {"To", 32, false}, {"Note", 30, false}}, b...)
	}
	if len(y.Late) == 0 {
		return
	}
	s.head("Late duties ("+strconv.Itoa(len(y.Late))+")", 30)
	var b [][]row
	for _, d := range y.Late {
		b = append(b, []row{{cells: []string{or(d.Row.Tag, "no tag"), or(d.Row.Name, "not identified"), d.Text, set.name(d.Person), catalogue.LocalText(d.Due), done(d)}}})
	}
	s.table([]col{{"Tag", 24, false}, {"What", 26, false}, {"Duty", 46, false}, {"Person", 28, false}, {"Due", 24, false}, {"Done", 24, false}}, b...)
}

// papers sets what each paper's own report comes to.
func (s *sheet) papers(i *reports.InstitutionYear) {
	s.head("The papers’ own reports", 30)
	s.small("An animal under several papers stands in each one’s report, and once in this one. In several reports: " + strconv.Itoa(i.Shared) + ".")
	n := strconv.Itoa
	var b [][]row
	for _, p := range i.Papers {
		b = append(b, []row{{cells: []string{p.Name, day(p.Due), n(p.Total), n(p.Over), n(p.Bare), n(p.Undated), n(p.All), n(p.Only)}}})
	}
	s.table([]col{{"Paper", 50, false}, {"Due", 24, false}, {"Covered", 16, true}, {"Over", 14, true}, {"Not covered", 16, true}, {"No day", 14, true}, {"All", 14, true}, {"Only here", 16, true}}, b...)
}

func (b *book) moves(y reports.Year, s Setting) {
	p := b.sheet("Transfers", []float64{24, 20, 26, 26, 12, 26}, "Section", "Tag", "Species", "Scientific name", "Day", "From", "To", "Note")
	for _, m := range movedIn(y) {
		for _, t := range m.all {
			p.add(m.head, t.Row.Tag, or(t.Row.Name, "Not identified"), t.Row.Taxon, t.Day, party(t.From, s), party(t.To, s), t.Note)
		}
	}
	p = b.sheet("Late duties", []float64{20, 26, 26, 40, 22}, "Tag", "Species", "Scientific name", "Duty", "Person", "Due", "Done", "Where it is")
	for _, d := range y.Late {
		p.add(d.Row.Tag, or(d.Row.Name, "Not identified"), d.Row.Taxon, d.Text, s.name(d.Person), timed(d.Due), timed(d.Done), catalogue.Label(record.Animal, "disposition", d.Row.Disposition))
	}
}

// timed is a day as a day, and a day with a time as it is written.
func timed(text string) any {
	if d, err := permits.ParseDate(text); err == nil {
		return d
	}
	return text
}

func (b *book) papers(i *reports.InstitutionYear) {
	p := b.sheet("Papers", []float64{40, 22, 14}, "Paper", "Id", "Due", "Covered", "Over the number", "Not covered", "Day not known", "All", "In no other report", "Recorded and not taken")
	for _, one := range i.Papers {
		p.add(one.Name, one.Authority.ID, one.Due, one.Total, one.Over, one.Bare, one.Undated, one.All, one.Only, one.Observed)
	}
	p.add("In several reports", "", "", "", "", "", "", i.Shared)
}
