package printed

import (
	"strconv"
	"strings"
	"time"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/reports"
	"wayfall/sync/record"
)

// Setting is how a museum prints.
type Setting struct {
	Paper       Paper
	Institution string
	// Name is what people call somebody; nil prints ids.
	Name func(person string) string
}

func (s Setting) name(person string) string {
	switch {
	case person == "":
		return "not named"
	case s.Name == nil:
		return person
	}
	return s.Name(person)
}

// PDF sets the year on paper.
func PDF(y reports.Year, s Setting) ([]byte, error) { return paged(y, nil, s) }

// InstitutionPDF sets the year of the institution on paper.
func InstitutionPDF(i reports.InstitutionYear, s Setting) ([]byte, error) {
	return paged(i.Sums, &i, s)
}

func paged(y reports.Year, all *reports.InstitutionYear, s Setting) ([]byte, error) {
	pages := 0
	for {
		out, n, err := print(y, all, s, pages)
		if err != nil || n == pages {
			return out, err
		}
		pages = n
	}
}

func print(y reports.Year, all *reports.InstitutionYear, set Setting, pages int) ([]byte, int, error) {
	made := time.UnixMilli(y.AsOf.AtMS).UTC()
	notes := [3]string{y.Name + " · " + strconv.Itoa(y.Year) + " · entry " + entry(y) + " of the log"}
	if y.AsOf.Head != "" {
		notes[1] = "log head " + y.AsOf.Head
	}
	if y.Sample {
		notes[2] = "Sample. Not for filing."
	}
	s := begin(set.Paper, made, pages, notes)
	s.pdf.SetTitle(s.clean("Yearly report "+strconv.Itoa(y.Year)+", "+y.Name), true)
	s.pdf.SetAuthor(s.clean(set.Institution), true)
	s.top(y, set)
	s.lines(y)
	s.apart(y, set)
	s.places(y)
	s.moves(y, set)
	if all != nil {
		s.papers(all)
	}
	s.numbers(y)
	s.persons(y, set)
	s.checks(y)
	s.oath()
	return s.bytes()
}

func entry(y reports.Year) string { return strconv.FormatUint(y.AsOf.LSN, 10) }

func day(d permits.Date) string {
	if !d.Known() {
		return "not known"
	}
	return catalogue.DayText(d.String())
}

func monthText(m string) string {
	if m == "" {
		return "not known"
	}
	return catalogue.DayText(m)
}

func or(text, other string) string {
	if text == "" {
		return other
	}
	return text
}

func span(from, to permits.Date) string {
	switch {
	case !from.Known() && !to.Known():
		return "not noted"
	case !to.Known():
		return "from " + day(from)
	case !from.Known():
		return "until " + day(to)
	}
	return day(from) + " to " + day(to)
}

// top sets who reports to whom about what.
func (s *sheet) top(y reports.Year, set Setting) {
	a := y.Authority
	s.face("text", "B", 16)
	s.say("Yearly report, " + strconv.Itoa(y.Year))
	s.gap(1)
	s.face("text", "", 10.5)
	s.say(y.Name + number(a))
	s.gap(3)
	if y.Sample {
		s.boxed("Sample.", "The paper, the rules and the people of this report are samples. It is not for filing. "+a.Notice)
	}
	made := time.UnixMilli(y.AsOf.AtMS).UTC()
	due := "the paper names no day"
	if y.Due.Known() {
		due = day(y.Due)
		if y.Due < permits.NewDate(made.Year(), int(made.Month()), made.Day()) {
			due += " (passed when this was drawn up)"
		}
	}
	facts := [][2]string{{"Holder", set.name(a.Holder)}, {"Issuing office", or(a.Issuer, "not noted")}, {"In force", span(a.ValidFrom, a.ValidTo)}, {"Due", due}}
	if ofAll(y) {
		facts = facts[:1]
	}
	if a.ReportTo != "" {
		facts = append(facts, [2]string{"To", a.ReportTo})
	}
	known := "entry " + entry(y) + " of the log"
	if y.AsOf.AtMS != 0 {
		known += ", received " + catalogue.LocalText(made.Format("2006-01-02T15:04")) + " UTC"
	}
	s.facts(append(facts, [2]string{"As known at", known}))
	s.gap(1)
	s.face("text", "", 9.5)
	s.say("Address and contact of the holder, and whether they changed:")
	s.gap(7)
	s.pdf.SetLineWidth(0.2)
	s.pdf.Line(left, s.pdf.GetY(), left+s.width, s.pdf.GetY())
	if y.All == 0 {
		s.gap(4)
		s.boxed("No activity.", "No animal was taken under this authority in "+strconv.Itoa(y.Year)+".")
	}
}

// ofAll reports whether the year is of all papers together: it names none.
func ofAll(y reports.Year) bool {
	a := y.Authority
	return a.Kind == "" && a.ID == "" && a.Issuer == ""
}

func number(a permits.Authority) string {
	if a.Number == "" {
		return ""
	}
	return ", number " + a.Number
}

// called is a species with its material, when that is not the whole animal.
func called(sp reports.Species) string {
	if sp.Material == "" || sp.Material == "carcass" {
		return sp.Name
	}
	return sp.Name + " (" + strings.ToLower(catalogue.Label(record.Report, "material", sp.Material)) + ")"
}

// lines sets species, state, county and month with their subtotals.
func (s *sheet) lines(y reports.Year) {
	if y.Total == 0 {
		return
	}
	under := "this authority"
	if ofAll(y) {
		under = "all papers"
	}
	s.head("Taken under "+under, 30)
	var blocks [][]row
	for _, sp := range y.Species {
		scientific := ""
		if sp.Taxon != sp.Name {
			scientific = sp.Taxon
		}
		for _, st := range sp.States {
			var b []row
			for _, c := range st.Counties {
				for _, m := range c.Months {
					one := row{cells: []string{"", "", st.Name, c.Name, monthText(m.Month), strconv.Itoa(m.Count)}}
					if len(b) == 0 {
						one.cells[0], one.cells[1] = called(sp), scientific
					}
					b = append(b, one)
				}
			}
			blocks = append(blocks, append(b, row{sum: true, cells: []string{called(sp), "", st.Name + ", together", "", "", strconv.Itoa(st.Count)}}))
		}
	}
	blocks = append(blocks, []row{{sum: true, cells: []string{"Together", "", "", "", "", strconv.Itoa(y.Total)}}})
	s.table([]col{{"Species", 30, false}, {"Scientific name", 32, false}, {"State", 34, false}, {"County", 26, false}, {"Month", 20, false}, {"Number", 14, true}}, blocks...)
	if y.ToIdentify > 0 {
		s.small("Of these, " + strconv.Itoa(y.ToIdentify) + " not identified yet.")
	}
}

// apart sets what stands in no sum of the lines.
func (s *sheet) apart(y reports.Year, set Setting) {
	for _, part := range []struct {
		head, why string
		all       []reports.Entry
	}{
		{"! Over the number", "Already in the hand when the number was full. Kept apart from the sums above.", y.Over},
		{"! Not covered", "Kept apart from the sums above: at the time of pick-up this authority did not cover them.", y.Bare},
		{"! Day not known", "In no sum of any year. Find out the day before filing.", y.Undated},
		{"Recorded and not taken", "Left in place, gone, or with an agency. In no sum of this report.", y.Observed},
	} {
		if len(part.all) == 0 {
			continue
		}
		s.head(part.head+" ("+strconv.Itoa(len(part.all))+")", 30)
		s.small(part.why)
		var b [][]row
		for _, e := range part.all {
			b = append(b, []row{{cells: []string{or(e.Row.Tag, "no tag"), or(e.Row.Name, "not identified"), day(e.Day), set.name(e.Person),
				catalogue.Label(record.Animal, "disposition", e.Row.Disposition), e.Why}}})
		}
		s.table([]col{{"Tag", 24, false}, {"What", 28, false}, {"Day", 20, false}, {"Person", 28, false}, {"Where it is", 26, false}, {"Why", 40, false}}, b...)
	}
}

func (s *sheet) places(y reports.Year) {
	s.head("Where they are", 52)
	s.small("Everything of this report: " + strconv.Itoa(y.Total) + " covered, " + strconv.Itoa(len(y.Over)) + " over, " +
		strconv.Itoa(len(y.Bare)) + " not covered, " + strconv.Itoa(len(y.Undated)) + " without a day.")
	n := strconv.Itoa
	s.table([]col{{"Where", 110, false}, {"Number", 20, true}}, []row{
		{cells: []string{"Kept", n(y.Kept)}},
		{cells: []string{"Given to another institution, agency or laboratory", n(y.Transferred)}},
		{cells: []string{"Of these, to an agency or laboratory", n(y.Agencies)}},
		{cells: []string{"Destroyed", n(y.Destroyed)}},
		{cells: []string{"Lost: never arrived", n(y.Lost)}},
		{cells: []string{"Still out: not yet at the institution", n(y.Pending)}},
		{cells: []string{"All", n(y.All)}, sum: true},
	})
	s.small("Held when the year began: " + n(y.HeldBefore) + ". Held at its end: " + n(y.HeldAfter) + ".")
}

func (s *sheet) numbers(y reports.Year) {
	if len(y.Balances) == 0 {
		return
	}
	s.head("Numbers of the paper", 8+6*float64(len(y.Balances)))
	var b [][]row
	for _, q := range y.Balances {
		limit, lent, free := strconv.Itoa(q.Limit), strconv.Itoa(q.Lent), strconv.Itoa(q.Free)
		if q.Unlimited {
			limit, lent, free = "no ceiling", "", ""
		}
		b = append(b, []row{{cells: []string{q.Name, q.Window, limit, strconv.Itoa(q.Used), lent, strconv.Itoa(q.Over), free}}})
	}
	s.table([]col{{"Counted", 38, false}, {"Time", 40, false}, {"Allowed", 20, true}, {"Used", 16, true}, {"Lent", 16, true}, {"Over", 16, true}, {"Free", 16, true}}, b...)
}

func (s *sheet) persons(y reports.Year, set Setting) {
	s.head("Persons", 8+6*float64(len(y.Persons)))
	if len(y.Persons) == 0 {
		s.say("Nobody was on the list, and nobody acted under it.")
		return
	}
	var b [][]row
	for _, p := range y.Persons {
		listed := "! no"
		switch {
		case p.Unlisted > 0:
			listed = "! not for " + strconv.Itoa(p.Unlisted) + " of them"
		case p.Listed:
			listed = "yes"
		}
		b = append(b, []row{{cells: []string{set.name(p.Person), listed, strconv.Itoa(p.Count), idle(p)}}})
	}
	s.table([]col{{"Person", 40, false}, {"On the list", 34, false}, {"Animals", 16, true}, {"No activity in", 70, false}}, b...)
}

// idle are the months that a nil line must state.
func idle(p reports.Acted) string {
	if p.Count == 0 && len(p.Idle) > 0 {
		return "the whole time on the list"
	}
	var months []string
	for _, m := range p.Idle {
		name, _, _ := strings.Cut(monthText(m), " ")
		months = append(months, name)
	}
	return strings.Join(months, ", ")
}

func (s *sheet) checks(y reports.Year) {
	s.head("Do the books agree?", 8+10*float64(len(y.Checks)))
	var b [][]row
	for _, c := range y.Checks {
		end := "agree"
		if !c.Even() {
			end = "! differ by " + strconv.Itoa(max(c.Left-c.Right, c.Right-c.Left))
		}
		b = append(b, []row{{cells: []string{c.What, c.LeftName + ": " + strconv.Itoa(c.Left), c.RightName + ": " + strconv.Itoa(c.Right), end}}})
	}
	s.table([]col{{"Check", 42, false}, {"One side", 50, false}, {"Other side", 44, false}, {"", 24, false}}, b...)
}

// oath sets the certification with its lines, on one page.
func (s *sheet) oath() {
	s.room(42)
	s.gap(8)
	s.face("text", "", 9.5)
	s.say("I certify that this report is complete and true to the best of my knowledge.")
	s.gap(16)
	y, half := s.pdf.GetY(), (s.width-10)/2
	s.pdf.SetLineWidth(0.3)
	s.pdf.Line(left, y, left+half, y)
	s.pdf.Line(left+half+10, y, left+s.width, y)
	s.face("text", "", 8.5)
	s.put(left, y+1, half, "Signature", "L")
	s.put(left+half+10, y+1, half, "Name and date", "L")
	s.pdf.SetY(y + 6)
	if s.lost {
		s.small("Letters that the type of this paper lacks are printed as their number, like [U+4E2D].")
	}
}
