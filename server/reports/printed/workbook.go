package printed

import (
	"bytes"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/reports"
	"wayfall/sync/record"
)

// book is a workbook while it is written. Its first error stays.
type book struct {
	file             *excelize.File
	bold, day, month int
	err              error
}

// XLSX returns the year as a workbook with the sheets Lines, Subtotals,
// Sections, Persons, Transfers and Late duties. Lines has the columns of the set. Numbers are numbers
// and days are days, shown as 2025-04-18.
func XLSX(y reports.Year, set Set, s Setting) ([]byte, error) { return workbook(y, nil, set, s) }

// InstitutionXLSX returns the year of the institution as a workbook; it has
// the sheet Papers besides.
func InstitutionXLSX(i reports.InstitutionYear, set Set, s Setting) ([]byte, error) {
	return workbook(i.Sums, &i, set, s)
}

func workbook(y reports.Year, all *reports.InstitutionYear, set Set, s Setting) ([]byte, error) {
	b := &book{file: excelize.NewFile()}
	defer b.file.Close()
	b.styles()
	made := time.UnixMilli(y.AsOf.AtMS).UTC().Format(time.RFC3339)
	b.keep(b.file.SetDocProps(&excelize.DocProperties{Title: "Yearly report " + strconv.Itoa(y.Year) + ", " + y.Name,
		Creator: s.Institution, Created: made, Modified: made,
		Description: "entry " + entry(y) + " of the log, head " + y.AsOf.Head}))
	b.keep(b.file.SetSheetName("Sheet1", "Lines"))
	b.lines(y, set)
	b.subtotals(y)
	b.sections(y, s)
	b.persons(y, s)
	b.moves(y, s)
	if all != nil {
		b.papers(all)
	}
	var out bytes.Buffer
	if b.err == nil {
		b.err = b.file.Write(&out)
	}
	return out.Bytes(), b.err
}

func (b *book) keep(err error) {
	if b.err == nil {
		b.err = err
	}
}

func (b *book) styles() {
	style := func(s excelize.Style) int {
		id, err := b.file.NewStyle(&s)
		b.keep(err)
		return id
	}
	day, month := "yyyy-mm-dd", "mmm yyyy"
	b.bold = style(excelize.Style{Font: &excelize.Font{Bold: true}})
	b.day = style(excelize.Style{CustomNumFmt: &day})
	b.month = style(excelize.Style{CustomNumFmt: &month})
}

// page is one sheet, written from the top.
type page struct {
	*book
	name string
	at   int
}

// sheet opens a sheet with its heading, which stays in sight.
func (b *book) sheet(name string, wide []float64, head ...string) *page {
	_, err := b.file.NewSheet(name)
	b.keep(err)
	p := &page{book: b, name: name}
	cells := make([]any, len(head))
	for i, h := range head {
		cells[i] = h
		col, err := excelize.ColumnNumberToName(i + 1)
		b.keep(err)
		b.keep(b.file.SetColWidth(name, col, col, wide[min(i, len(wide)-1)]))
	}
	p.add(cells...)
	last, err := excelize.CoordinatesToCellName(len(head), 1)
	b.keep(err)
	b.keep(b.file.SetCellStyle(name, "A1", last, b.bold))
	b.keep(b.file.SetPanes(name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}))
	return p
}

// whole is a month as a cell of a workbook: its first day.
type whole string

// add writes one row: words, numbers, days and months.
func (p *page) add(cells ...any) {
	p.at++
	for i, v := range cells {
		at, err := excelize.CoordinatesToCellName(i+1, p.at)
		p.keep(err)
		style := 0
		switch x := v.(type) {
		case permits.Date:
			if !x.Known() {
				continue
			}
			v, style = time.Date(x.Year(), time.Month(x.Month()), x.Day(), 0, 0, 0, 0, time.UTC), p.day
		case whole:
			t, err := time.Parse("2006-01", string(x))
			if err != nil {
				continue
			}
			v, style = t, p.month
		}
		p.keep(p.file.SetCellValue(p.name, at, v))
		if style != 0 {
			p.keep(p.file.SetCellStyle(p.name, at, at, style))
		}
	}
}

func (b *book) lines(y reports.Year, set Set) {
	var head []string
	for _, c := range set.Columns {
		head = append(head, c.Heading)
	}
	p := b.sheet("Lines", []float64{26, 26, 18}, head...)
	kinds, rows := set.rowsOf(y)
	for _, r := range rows {
		cells := make([]any, len(r))
		for i, c := range r {
			switch kinds[i] {
			case count:
				cells[i] = c.n
			case dateKind:
				cells[i] = c.day
			case monthKind:
				cells[i] = whole(c.text)
			default:
				cells[i] = c.text
			}
		}
		p.add(cells...)
	}
}

func (b *book) subtotals(y reports.Year) {
	p := b.sheet("Subtotals", []float64{26, 26, 18}, "Species", "Scientific name", "Material", "State", "Number")
	for _, sp := range y.Species {
		for _, st := range sp.States {
			p.add(sp.Name, sp.Taxon, catalogue.Label(record.Report, "material", sp.Material), st.Name, st.Count)
		}
	}
	p.add("Together", "", "", "", y.Total)
	for _, one := range []struct {
		name string
		n    int
	}{{"Over the number", len(y.Over)}, {"Not covered", len(y.Bare)}, {"Day not known", len(y.Undated)}, {"All", y.All},
		{"Recorded and not taken", len(y.Observed)}, {"Kept", y.Kept}, {"Transferred", y.Transferred}, {"Of these, to an agency or laboratory", y.Agencies}, {"Destroyed", y.Destroyed},
		{"Lost", y.Lost}, {"Pending", y.Pending}, {"Held before", y.HeldBefore}, {"Held after", y.HeldAfter}, {"Not identified yet", y.ToIdentify}} {
		p.add(one.name, "", "", "", one.n)
	}
	for _, q := range y.Balances {
		p.add("Used: "+q.Name, "", "", q.Window, q.Used)
		if !q.Unlimited {
			p.add("Allowed: "+q.Name, "", "", q.Window, q.Limit)
		}
	}
	p.add("Entry of the log", y.AsOf.Head, "", "", int64(y.AsOf.LSN))
	if y.Sample {
		p.add("Sample. Not for filing.")
	}
}

func (b *book) sections(y reports.Year, s Setting) {
	p := b.sheet("Sections", []float64{20, 20, 26, 26, 12, 22}, "Section", "Tag", "Species", "Scientific name", "Day", "Person", "Where it is", "Why", "Number")
	for _, part := range []struct {
		name string
		all  []reports.Entry
	}{{"Over the number", y.Over}, {"Not covered", y.Bare}, {"Day not known", y.Undated}, {"Recorded and not taken", y.Observed}} {
		for _, e := range part.all {
			p.add(part.name, e.Row.Tag, or(e.Row.Name, "Not identified"), e.Row.Taxon, e.Day, s.name(e.Person),
				catalogue.Label(record.Animal, "disposition", e.Row.Disposition), e.Why, 1)
		}
	}
	for _, c := range y.Checks {
		end := "agree"
		if !c.Even() {
			end = "differ"
		}
		p.add("Check: "+end, "", c.What, c.LeftName, permits.Date(0), c.RightName, "", strconv.Itoa(c.Left)+" and "+strconv.Itoa(c.Right), c.Left-c.Right)
	}
}

func (b *book) persons(y reports.Year, s Setting) {
	p := b.sheet("Persons", []float64{26, 20, 12}, "Person", "Id", "On the list", "Animals", "Not on the list for", "No activity in")
	for _, one := range y.Persons {
		listed := "no"
		if one.Listed {
			listed = "yes"
		}
		p.add(s.name(one.Person), one.Person, listed, one.Count, one.Unlisted, strings.Join(one.Idle, " "))
	}
}
