package api

import (
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/server/fault"
	"wayfall/server/reports"
	"wayfall/server/reports/printed"
)

type transferOut struct {
	Animal rowOut `json:"animal"`
	Day    string `json:"day,omitempty"`
	From   string `json:"from,omitempty"`
	To     string `json:"to,omitempty"`
	Note   string `json:"note,omitempty"`
}

func transfersOf(all []reports.Transfer) []transferOut {
	out := make([]transferOut, 0, len(all))
	for _, t := range all {
		out = append(out, transferOut{rowOf(t.Row), t.Day.String(), t.From, t.To, t.Note})
	}
	return out
}

type lateOut struct {
	Animal rowOut `json:"animal"`
	Person string `json:"person,omitempty"`
	Code   string `json:"code"`
	Text   string `json:"text"`
	Due    string `json:"due"`
	Done   string `json:"done,omitempty"`
}

func latesOf(all []reports.LateDuty) []lateOut {
	out := make([]lateOut, 0, len(all))
	for _, d := range all {
		out = append(out, lateOut{rowOf(d.Row), d.Person, d.Code, d.Text, d.Due, d.Done})
	}
	return out
}

type paperYearOut struct {
	ID         string `json:"id"`
	Name       string `json:"name"`
	Due        string `json:"due,omitempty"`
	Total      int    `json:"total"`
	Over       int    `json:"over"`
	NotCovered int    `json:"not_covered"`
	NoDay      int    `json:"no_day"`
	All        int    `json:"all"`
	Only       int    `json:"in_no_other"`
}

type institutionYearOut struct {
	Sums   yearOut        `json:"sums"`
	Papers []paperYearOut `json:"papers"`
	Shared int            `json:"in_several"`
}

// InstitutionYear hands out the year of all papers together in any form, as it
// is known now or was known at an earlier place.
func (f Files) InstitutionYear(c echo.Context) error {
	ctx, q := c.Request().Context(), c.QueryParams()
	text, form, _ := strings.Cut(c.Param("year"), ".")
	year, err := yearNumber(text)
	if err != nil {
		return err
	}
	columns := q.Has("columns")
	if columns && form != "csv" && form != "xlsx" {
		return fault.New(fault.Invalid, "only a table has columns: ask for .csv or .xlsx").At("/columns", q.Get("columns"))
	}
	r, err := f.AsOf(ctx, q.Get("as_of"))
	if err != nil {
		return err
	}
	set, err := f.Sets.Ask(q.Get("columns"))
	if err != nil {
		return err
	}
	look, err := f.setting(ctx, q.Get("paper"))
	if err != nil {
		return err
	}
	y, err := r.Office.InstitutionYear(ctx, year)
	if err != nil {
		return err
	}
	y = y.Of(f.Institution)
	var out []byte
	kind := typeCSV
	switch {
	case form == "":
		return answer(c, http.StatusOK, institutionYearOf(y))
	case form == "csv" && columns:
		out = printed.CSV(y.Sums, set)
	case form == "csv":
		out = y.CSV()
	case form == "xlsx":
		kind = typeXLSX
		out, err = printed.InstitutionXLSX(y, set, look)
	case form == "pdf":
		kind = typePDF
		out, err = printed.InstitutionPDF(y, look)
	default:
		return problem(http.StatusNotFound, "missing", "a year comes as .csv, .xlsx or .pdf")
	}
	if err != nil {
		return err
	}
	return f.send(c, "year-"+text+"."+form, kind, out)
}

func institutionYearOf(y reports.InstitutionYear) institutionYearOut {
	out := institutionYearOut{Sums: yearOf(y.Sums), Papers: []paperYearOut{}, Shared: y.Shared}
	for _, p := range y.Papers {
		out.Papers = append(out.Papers, paperYearOut{p.Authority.ID, p.Name, p.Due.String(), p.Total, p.Over, p.Bare, p.Undated, p.All, p.Only})
	}
	return out
}

// LogHead tells the head of the log at an entry.
func (f Files) LogHead(c echo.Context) error {
	lsn, err := strconv.ParseUint(c.Param("lsn"), 10, 63)
	if err != nil {
		return problem(http.StatusNotFound, "missing", "%q is not an entry of the log", c.Param("lsn"))
	}
	at, err := f.Head(c.Request().Context(), lsn)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string]any{"lsn": at.LSN, "head": at.Head, "received": at.AtMS})
}
