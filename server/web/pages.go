package web

import (
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"unicode"

	"github.com/labstack/echo/v4"

	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/people"
	"wayfall/server/reports"
	"wayfall/sync/record"
)

const pageLength = 50

func seated(c echo.Context) people.Person {
	who, _ := c.Get(whoKey).(people.Person)
	return who
}

type findsBody struct {
	Finds          catalogue.Finds
	Filter         catalogue.Filter
	Narrowed       bool
	First, Last    int
	Earlier, Later string
}

func (d *Desk) finds(c echo.Context) error {
	from, _ := strconv.Atoi(c.QueryParam("from"))
	f := catalogue.Filter{
		Text: c.QueryParam("q"), Taxon: c.QueryParam("taxon"), County: c.QueryParam("county"),
		State: c.QueryParam("state"), Outcome: c.QueryParam("outcome"), From: max(0, from), Limit: pageLength,
	}
	list, err := d.Book.Finds(c.Request().Context(), f)
	if err != nil {
		return err
	}
	b := findsBody{Finds: list, Filter: f, First: list.From + 1, Last: list.From + len(list.Rows)}
	b.Narrowed = f.Text+f.Taxon+f.County+f.State+f.Outcome != ""
	if list.From > 0 {
		b.Earlier = at(c.QueryParams(), max(0, list.From-pageLength))
	}
	if b.Last < list.Matching {
		b.Later = at(c.QueryParams(), b.Last)
	}
	return d.show(c, http.StatusOK, "finds", page{Title: "Finds", Here: "Finds", Body: b})
}

func at(query url.Values, from int) string {
	q := url.Values{}
	for k, v := range query {
		q[k] = v
	}
	q.Set("from", strconv.Itoa(from))
	return "/?" + q.Encode()
}

type findBody struct {
	Find      catalogue.FindSheet
	Facts     []catalogue.Fact
	Newest    *catalogue.Verdict
	Answers   []answerShown
	Asked     bool // the stored answers were asked again
	Older     []catalogue.Verdict
	MaySettle bool
	Decide    decideForm
	Action    string
}

// hiddenFacts are told elsewhere on the page, in a better form.
var hiddenFacts = map[string]bool{"verdicts": true, "decisions": true, "animals": true, "photos": true, "withdrawn": false}

func plainFacts(all []catalogue.Fact) []catalogue.Fact {
	var out []catalogue.Fact
	for _, f := range all {
		if !hiddenFacts[f.Field.Name] {
			out = append(out, f)
		}
	}
	return out
}

func (d *Desk) find(c echo.Context) error { return d.findPage(c, http.StatusOK, decideForm{}) }

// findPage shows a find with what was typed of a decision and why it was
// refused.
func (d *Desk) findPage(c echo.Context, status int, form decideForm) error {
	sheet, err := d.Book.Find(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	for i := range sheet.Duties {
		if len(sheet.Animals) == 1 {
			sheet.Duties[i].Animal = catalogue.Row{} // it stands on this page
		}
	}
	b := findBody{Find: sheet, Facts: plainFacts(sheet.Facts), Action: "/finds/" + sheet.ID, MaySettle: seated(c).May(settlers...)}
	if b.Answers, err = d.pastOf(c, sheet.ID); err != nil {
		return err
	}
	b.Asked = c.QueryParam("ask") == "again"
	if n := len(sheet.Verdicts); n > 0 {
		b.Newest, b.Older = &sheet.Verdicts[0], sheet.Verdicts[1:]
	}
	b.Decide = form.on(sheet, seated(c).May(officers...))
	title := sheet.Name
	if title == "" {
		title = "Find"
	}
	return d.show(c, status, "find", page{Title: title, Here: "Finds", Body: b})
}

type animalBody struct {
	Animal                              catalogue.AnimalSheet
	Facts                               []catalogue.Fact
	Action                              string
	MaySettle, MayPrepare, MayCatalogue bool
	Correctable                         []record.Field
	Release                             releaseForm
}

func (d *Desk) animal(c echo.Context) error { return d.animalPage(c, http.StatusOK, releaseForm{}) }

// animalPage shows an animal with what was typed of a release and why it was
// refused.
func (d *Desk) animalPage(c echo.Context, status int, form releaseForm) error {
	sheet, err := d.Book.Animal(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	who := seated(c)
	for i := range sheet.Duties {
		sheet.Duties[i].Animal = catalogue.Row{} // it is this page
	}
	b := animalBody{
		Animal: sheet, Facts: plainFacts(sheet.Facts), Action: "/animals/" + sheet.ID,
		MaySettle: who.May(settlers...), MayPrepare: who.May(preparers...), Correctable: catalogue.Correctable(), Release: form,
	}
	b.MayCatalogue = who.May(registrars...) && sheet.Catalogue == "" && sheet.SameAs == ""
	return d.show(c, status, "animal", page{Title: strings.TrimSpace(sheet.Name + " " + sheet.Tag), Here: "Finds", Body: b})
}

type yearBody struct {
	Year reports.Year
	Foot template.URL             // the query of the style sheet that puts the foot on every sheet
	All  *reports.InstitutionYear // nil: of one paper
}

func (d *Desk) year(c echo.Context) error {
	if d.Office == nil {
		return noOffice
	}
	text, table := strings.CutSuffix(c.Param("year"), ".csv")
	year, err := strconv.Atoi(text)
	if err != nil || year < 1 || year > 9999 {
		return fault.New(fault.Missing, "a report is of a calendar year, such as 2025")
	}
	y, err := d.Office.Year(c.Request().Context(), c.Param("id"), year)
	if err != nil {
		return err
	}
	if table {
		c.Response().Header().Set("Content-Disposition", `attachment; filename="`+fileName(y)+`"`)
		return c.Blob(http.StatusOK, "text/csv; charset=utf-8; header=present", y.CSV())
	}
	return d.show(c, http.StatusOK, "year", page{Title: "Yearly report " + text, Here: "Permits", Body: yearBody{y, footQuery(y), nil}})
}

// institutionYear shows the year of all papers together.
func (d *Desk) institutionYear(c echo.Context) error {
	if d.Office == nil {
		return noOffice
	}
	text, table := strings.CutSuffix(c.Param("year"), ".csv")
	year, err := strconv.Atoi(text)
	if err != nil || year < 1 || year > 9999 {
		return fault.New(fault.Missing, "a report is of a calendar year, such as 2025")
	}
	y, err := d.Office.InstitutionYear(c.Request().Context(), year)
	if err != nil {
		return err
	}
	y = y.Of(d.Institution)
	if table {
		c.Response().Header().Set("Content-Disposition", `attachment; filename="year-`+text+`.csv"`)
		return c.Blob(http.StatusOK, "text/csv; charset=utf-8; header=present", y.CSV())
	}
	return d.show(c, http.StatusOK, "year", page{Title: "Year " + text, Here: "Permits", Body: yearBody{y.Sums, footQuery(y.Sums), &y}})
}

// footQuery says what stands at the foot of every printed sheet.
func footQuery(y reports.Year) template.URL {
	text := y.Name + ", " + strconv.Itoa(y.Year) + " · entry " + strconv.FormatUint(y.AsOf.LSN, 10) + " of the log"
	if y.AsOf.Head != "" {
		text += " · " + y.AsOf.Head
	}
	return template.URL(url.Values{"text": {text}}.Encode())
}

// foot is a style sheet of one rule: it prints a text at the foot of each
// sheet. Every character but plain letters and digits is written as an
// escape of CSS, so the text cannot end the string it stands in.
func (d *Desk) foot(c echo.Context) error {
	var s strings.Builder
	for _, r := range c.QueryParam("text") {
		if r < 128 && (unicode.IsLetter(r) || unicode.IsDigit(r)) {
			s.WriteRune(r)
		} else {
			fmt.Fprintf(&s, `\%06x`, r)
		}
	}
	sheet := `@page { @bottom-left { content: "` + s.String() + `"; font: 7pt system-ui, "DejaVu Sans", sans-serif; } }`
	return c.Blob(http.StatusOK, "text/css; charset=utf-8", []byte(sheet))
}

func fileName(y reports.Year) string {
	clean := func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
			return r
		}
		return '-'
	}
	return strings.Map(clean, y.Authority.ID) + "-" + strconv.Itoa(y.Year) + ".csv"
}

type arrivalsBody struct {
	Rows       []catalogue.ArrivalRow
	MayReceive bool
}

func (d *Desk) arrivals(c echo.Context) error {
	rows, err := d.Book.Arrivals(c.Request().Context())
	if err != nil {
		return err
	}
	return d.show(c, http.StatusOK, "arrivals", page{Title: "Arrivals", Here: "Arrivals", Body: arrivalsBody{rows, seated(c).May(registrars...)}})
}

type arrivalBody struct {
	Sheet          catalogue.ArrivalSheet
	MayReceive     bool
	Typed, Written string // kept when a tag was refused
	Wrong, LastTag string
	Lines          string
	Freezer        string
	Agree          []catalogue.Match // what one press may accept
}

// agreeing are the bags that the list names, of one kind and with nothing that
// asks for a second look, which are not accepted yet.
func agreeing(s catalogue.ArrivalSheet) []catalogue.Match {
	var out []catalogue.Match
	for _, m := range s.Tally.Matched {
		if m.Known && len(m.Differs) == 0 && m.Owner.Plain() && !m.Owner.Accepted && !s.Received[m.Owner.Animal] {
			out = append(out, m)
		}
	}
	return out
}

func (d *Desk) arrival(c echo.Context) error { return d.table(c, http.StatusOK, arrivalBody{}) }

// table shows an arrival with what was typed and why it was refused.
func (d *Desk) table(c echo.Context, status int, b arrivalBody) error {
	sheet, err := d.Book.Arrival(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	b.Agree = agreeing(sheet)
	b.Sheet, b.MayReceive = sheet, seated(c).May(registrars...)
	if n := len(sheet.Table); n > 0 {
		b.LastTag = showTag(sheet.Table[n-1].Tag)
	}
	if cookie, err := c.Cookie(freezerCookie); err == nil {
		b.Freezer, _ = url.QueryUnescape(cookie.Value)
	}
	return d.show(c, status, "arrival", page{Title: "Arrival", Here: "Arrivals", Body: b})
}

type benchBody struct{ Bench catalogue.BenchSheet }

func (d *Desk) bench(c echo.Context) error {
	sheet, err := d.Book.Bench(c.Request().Context())
	if err != nil {
		return err
	}
	return d.show(c, http.StatusOK, "bench", page{Title: "Bench", Here: "Bench", Body: benchBody{sheet}})
}

type drawerBody struct {
	Drawer       catalogue.Drawer
	Text         string
	MayCatalogue bool
}

func (d *Desk) drawer(c echo.Context) error {
	text := c.QueryParam("q")
	sheet, err := d.Book.Drawer(c.Request().Context(), text)
	if err != nil {
		return err
	}
	return d.show(c, http.StatusOK, "catalogue", page{Title: "Catalogue", Here: "Catalogue", Body: drawerBody{sheet, text, seated(c).May(registrars...)}})
}

func (d *Desk) about(c echo.Context) error {
	return d.show(c, http.StatusOK, "about", page{Title: "Cautions, sources, credits"})
}

func (d *Desk) photo(c echo.Context) error {
	missing := fault.New(fault.Missing, "this photo has not come in yet")
	if d.Photo == nil {
		return missing
	}
	data, kind, err := d.Photo(c.Request().Context(), c.Param("sha256"))
	if err != nil {
		return err
	}
	if kind != "image/jpeg" && kind != "image/png" {
		return missing
	}
	c.Response().Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	return c.Blob(http.StatusOK, kind, data)
}
