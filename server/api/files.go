package api

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/people"
	"wayfall/server/reports/feed"
	"wayfall/server/reports/printed"
	"wayfall/server/reports/proof"
)

// Reading is the log as it stands, or as it stood at an earlier place.
type Reading struct {
	Office Office
	Book   proof.Book
	Day    permits.Date // of the reading, at the institution
}

// Files answers with papers: years, bundles and calendars.
type Files struct {
	API         *API
	Institution string // its name, for people
	Paper       printed.Paper
	Sets        printed.Sets
	Keys        feed.Keys
	// AsOf returns the reading of a place or a moment; "" is the log as it
	// grows, "now" the log as it is now.
	AsOf func(ctx context.Context, text string) (Reading, error)
	// Head is the place of an entry in the log.
	Head   func(ctx context.Context, lsn uint64) (catalogue.Place, error)
	Duties func(ctx context.Context) ([]catalogue.Duty, catalogue.Place, error)
}

const (
	typeCSV  = "text/csv; charset=utf-8"
	typePDF  = "application/pdf"
	typeXLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
	typeZIP  = "application/zip"
	typeICS  = "text/calendar; charset=utf-8"
)

// Year hands out the year of an authority in any form, as it is known now or
// was known at an earlier place.
func (f Files) Year(c echo.Context) error {
	ctx, q := c.Request().Context(), c.QueryParams()
	text, form, _ := strings.Cut(c.Param("year"), ".")
	r, err := f.AsOf(ctx, q.Get("as_of"))
	if err != nil {
		return err
	}
	columns := q.Has("columns")
	switch {
	case form == "pdf", form == "xlsx", form == "csv" && columns:
	case columns:
		return fault.New(fault.Invalid, "only a table has columns: ask for .csv or .xlsx").At("/columns", q.Get("columns"))
	default:
		return f.API.reading(r.Office).Year(c)
	}
	year, err := yearNumber(text)
	if err != nil {
		return err
	}
	set, err := f.Sets.Ask(q.Get("columns"))
	if err != nil {
		return err
	}
	y, err := r.Office.Year(ctx, c.Param("id"), year)
	if err != nil {
		return err
	}
	look, err := f.setting(ctx, q.Get("paper"))
	if err != nil {
		return err
	}
	var out []byte
	kind := typePDF
	switch form {
	case "csv":
		out, kind = printed.CSV(y, set), typeCSV
	case "xlsx":
		kind = typeXLSX
		out, err = printed.XLSX(y, set, look)
	default:
		out, err = printed.PDF(y, look)
	}
	if err != nil {
		return err
	}
	return f.send(c, c.Param("id")+"-"+text+"."+form, kind, out)
}

// yearNumber reads the year of an address.
func yearNumber(text string) (int, error) {
	year, err := strconv.Atoi(text)
	if err != nil || year < 1800 || year > 9999 {
		return 0, problem(http.StatusNotFound, "missing", "%q is not a year", text)
	}
	return year, nil
}

// send hands out a year as a file; a table alone is compressed on the way.
func (f Files) send(c echo.Context, name, kind string, out []byte) error {
	f.file(c, name)
	if kind != typeCSV {
		plainly(c)
	}
	return c.Blob(http.StatusOK, kind, out)
}

// reading is the same interface with another office.
func (a *API) reading(o Office) *API {
	n := a.Needs
	n.Office = o
	return &API{Needs: n, people: a.people, now: a.now, log: a.log, tries: a.tries}
}

func (f Files) setting(ctx context.Context, paper string) (printed.Setting, error) {
	s := printed.Setting{Institution: f.Institution, Paper: f.Paper}
	switch p := printed.Paper(paper); p {
	case "":
	case printed.A4, printed.Letter:
		s.Paper = p
	default:
		return s, fault.New(fault.Invalid, "paper is a4 or letter").At("/paper", paper)
	}
	var err error
	s.Name, err = f.names(ctx)
	return s, err
}

// names calls people by their names; whoever is not listed stays as written.
func (f Files) names(ctx context.Context) (func(string) string, error) {
	all, err := f.API.people.All(ctx)
	if err != nil {
		return nil, err
	}
	called := map[string]string{"server": "the server"}
	for _, p := range all {
		called[p.ID] = p.Name
	}
	return func(id string) string {
		if name := called[id]; name != "" {
			return name
		}
		return id
	}, nil
}

// file names the file that a browser keeps.
func (f Files) file(c echo.Context, name string) {
	h := c.Response().Header()
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Disposition", "attachment; filename*=UTF-8''"+url.PathEscape(name))
}

// plainly sends the answer as it is: it is compressed already.
func plainly(c echo.Context) {
	if w, ok := c.Response().Writer.(*squeezer); ok {
		c.Response().Writer = w.ResponseWriter
	}
}

// Bundle hands out everything that stands behind the animals of an authority.
func (f Files) Bundle(c echo.Context) error {
	ctx, q := c.Request().Context(), c.QueryParams()
	asked := proof.Asked{Authority: c.Param("id")}
	for name, into := range map[string]*permits.Date{"from": &asked.From, "to": &asked.To} {
		if text := q.Get(name); text != "" {
			d, err := permits.ParseDate(text)
			if err != nil {
				return fault.New(fault.Invalid, "a day is written 2025-04-18").At("/"+name, text)
			}
			*into = d
		}
	}
	if text := q.Get("sample"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 {
			return fault.New(fault.Invalid, "a sample is a number of animals, such as 20").At("/sample", text)
		}
		asked.Sample, asked.Seed = n, q.Get("seed")
	}
	at := q.Get("as_of")
	if at == "" {
		at = "now" // all of it is of one place
	}
	r, err := f.AsOf(ctx, at)
	if err != nil {
		return err
	}
	asked.Day = r.Day
	n := proof.Needs{Book: r.Book, Office: r.Office, Institution: f.Institution, Zone: f.API.Zone, Photo: f.API.Photos.Photo}
	if n.Name, err = f.names(ctx); err != nil {
		return err
	}
	if n.Device, err = f.devices(ctx); err != nil {
		return err
	}
	b, err := proof.Open(ctx, n, asked)
	if err != nil {
		return err
	}
	f.file(c, asked.Authority+"-inspection.zip")
	plainly(c)
	c.Response().Header().Set("Content-Type", typeZIP)
	c.Response().WriteHeader(http.StatusOK)
	if err := b.Write(ctx, c.Response()); err != nil {
		f.API.log.Error("a bundle broke off", "error", err, "path", c.Path())
		panic(http.ErrAbortHandler) // the caller must not take it for whole
	}
	return nil
}

func (f Files) devices(ctx context.Context) (func(string) string, error) {
	all, err := f.API.people.Devices(ctx)
	if err != nil {
		return nil, err
	}
	called := map[string]string{}
	for _, d := range all {
		called[d.ID] = d.Name
	}
	return func(id string) string { return called[id] }, nil
}

// wrongFeed is what is answered to a secret that opens nothing, whoever it was
// tried for.
var wrongFeed = fault.New(fault.Missing, "there is no calendar at this address; ask for a new one")

// Calendar hands a person's open duties to whoever holds the address.
func (f Files) Calendar(c echo.Context) error {
	ctx, id := c.Request().Context(), c.Param("id")
	opens, err := f.Keys.Opens(ctx, id, c.QueryParam("key"))
	if err != nil {
		return err
	}
	if !opens {
		return wrongFeed
	}
	who, err := f.API.people.Person(ctx, id)
	switch {
	case fault.Is(err, fault.Missing) || err == nil && who.Left:
		return wrongFeed
	case err != nil:
		return err
	}
	all, place, err := f.Duties(ctx)
	if err != nil {
		return err
	}
	duties := feed.Open(all, id)
	if who.May(people.PermitOfficer) {
		duties = append(duties, filing(all, id)...)
	}
	cal := feed.Calendar{Name: "Duties of " + who.Name, Domain: f.API.Institution, Stamp: time.UnixMilli(place.AtMS), Zone: f.API.Zone, Duties: duties}
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.Blob(http.StatusOK, typeICS, cal.Bytes())
}

// filing are the duties of papers that are addressed to another officer: every
// officer sees them.
func filing(all []catalogue.Duty, officer string) []catalogue.Duty {
	var out []catalogue.Duty
	for _, d := range all {
		if d.Paper && d.Who != officer {
			d.Who = officer
			out = append(out, feed.Open([]catalogue.Duty{d}, officer)...)
		}
	}
	return out
}

// OpenCalendar gives a person the address of their calendar. The one before
// ends.
func (f Files) OpenCalendar(c echo.Context) error {
	id := c.Param("id")
	if who(c).Person.ID != id {
		return fault.New(fault.Denied, "the address of a calendar is given to its owner only")
	}
	secret, err := f.Keys.Make(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return answer(c, http.StatusCreated, map[string]string{"address": "/v1/people/" + url.PathEscape(id) + "/duties.ics?key=" + secret})
}

// EndCalendar ends the address of a calendar.
func (f Files) EndCalendar(c echo.Context) error {
	id := c.Param("id")
	if p := who(c).Person; p.ID != id && !p.May(people.PermitOfficer) {
		return fault.New(fault.Denied, "a calendar is ended by its owner or by a permit officer")
	}
	if err := f.Keys.End(c.Request().Context(), id); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}
