package api

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/server/intake"
	"wayfall/server/reports"
)

type balanceOut struct {
	Quota     string   `json:"quota"`
	Name      string   `json:"name"`
	Limit     int      `json:"limit"`
	Unlimited bool     `json:"unlimited"`
	Used      int      `json:"used"`
	Lent      int      `json:"lent"`
	Over      int      `json:"over"`
	Free      int      `json:"free"`
	WarnsFrom int      `json:"warns_from"`
	Near      bool     `json:"near"`
	Open      int      `json:"open"`
	OverWho   []rowOut `json:"over_animals"`
}

func balancesOf(all []reports.Balance) []balanceOut {
	out := make([]balanceOut, 0, len(all))
	for _, b := range all {
		out = append(out, balanceOut{b.Quota, b.Name, b.Limit, b.Unlimited, b.Used, b.Lent, b.Over, b.Free, b.WarnsFrom, b.Near, b.Open, rowsOf(b.OverWho)})
	}
	return out
}

type permitOut struct {
	ID       string            `json:"id"`
	Name     string            `json:"name"`
	Document permits.Authority `json:"document"`
	Balances []balanceOut      `json:"balances"`
	Year     int               `json:"year"`
}

func permitOf(r reports.PermitRow) permitOut {
	return permitOut{r.ID, r.Name, r.Authority, balancesOf(r.Balances), r.Year}
}

type editionOut struct {
	Document permits.Authority `json:"document"`
	From     string            `json:"from,omitempty"`
	Until    string            `json:"until,omitempty"`
	Now      bool              `json:"now"`
}

type listedOut struct {
	Person string `json:"person"`
	Role   string `json:"role,omitempty"`
	From   string `json:"from,omitempty"`
	To     string `json:"to,omitempty"`
	Now    bool   `json:"now"`
	Year   int    `json:"year"`
}

type permitSheetOut struct {
	permitOut
	Persons  []listedOut  `json:"persons"`
	Editions []editionOut `json:"editions"`
	Years    []int        `json:"years"`
	Due      []dutyOut    `json:"due"`
	Keep     []keepOut    `json:"keep"`
}

// keepOut is one thing to be kept for a paper.
type keepOut struct {
	What  string `json:"what"`
	Until string `json:"until,omitempty"` // the last day
	Life  bool   `json:"as_long_as_the_specimen,omitempty"`
	From  string `json:"counted_from,omitempty"`
	Years int    `json:"years,omitempty"`
	Where string `json:"where,omitempty"`
	Rule  string `json:"rule"`
	Cites string `json:"cites"`
	Read  string `json:"source_status"`
}

func keepsOf(all []rules.Keeping) []keepOut {
	out := make([]keepOut, 0, len(all))
	for _, k := range all {
		one := keepOut{What: k.What, Until: k.Until.String(), Life: k.Life, Years: k.Years, Where: k.Where, Rule: string(k.Rule), Cites: k.Cites, Read: k.SourceStatus}
		if !k.Life {
			one.From = k.Anchor
		}
		out = append(out, one)
	}
	return out
}

// Permits lists the authorities with their balances.
func (a *API) Permits(c echo.Context) error {
	rows, err := a.Office.Permits(c.Request().Context(), a.today())
	if err != nil {
		return err
	}
	out := make([]permitOut, 0, len(rows))
	for _, r := range rows {
		out = append(out, permitOf(r))
	}
	return answer(c, http.StatusOK, map[string]any{"permits": out})
}

// Permit shows one authority with all its editions.
func (a *API) Permit(c echo.Context) error {
	s, err := a.Office.Permit(c.Request().Context(), c.Param("id"), a.today())
	if err != nil {
		return err
	}
	out := permitSheetOut{permitOut: permitOf(s.PermitRow), Persons: []listedOut{}, Editions: []editionOut{},
		Years: some(s.Years), Due: dutiesOf(s.Due), Keep: []keepOut{}}
	if a.Keep != nil {
		out.Keep = keepsOf(a.Keep(&s.Authority))
	}
	for _, p := range s.Persons {
		out.Persons = append(out.Persons, listedOut{p.Person, p.Role, p.From.String(), p.To.String(), p.Now, p.Year})
	}
	for _, v := range s.Versions {
		out.Editions = append(out.Editions, editionOut{v.Authority, v.From.String(), v.Until.String(), v.Now})
	}
	return answer(c, http.StatusOK, out)
}

// Balance shows how much of each number of an authority is used.
func (a *API) Balance(c echo.Context) error {
	s, err := a.Office.Permit(c.Request().Context(), c.Param("id"), a.today())
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string]any{"id": s.ID, "balances": balancesOf(s.Balances)})
}

// PutPermit keeps an authority, or a new edition of one.
func (a *API) PutPermit(c echo.Context) error {
	body, err := read(c, limitJSON, "application/json")
	if err != nil {
		return err
	}
	var doc permits.Authority
	if err := strict(body, &doc); err != nil {
		return err
	}
	if doc.ID != c.Param("id") {
		p := problem(http.StatusUnprocessableEntity, "invalid", "the document names the authority %q, the address %q", doc.ID, c.Param("id"))
		p.Errors = []Wrong{{"/id", p.Detail}}
		return p
	}
	if err := a.Desk.Authority(c.Request().Context(), intake.Hand(a.hand(c)), body); err != nil {
		return err
	}
	return a.Permit(c)
}

// Year hands out the report of an authority for a calendar year, as JSON or as
// a spreadsheet.
func (a *API) Year(c echo.Context) error {
	text, wantsCSV := strings.CutSuffix(c.Param("year"), ".csv")
	wantsCSV = wantsCSV || strings.HasPrefix(c.Request().Header.Get("Accept"), "text/csv")
	year, err := yearNumber(text)
	if err != nil {
		return err
	}
	y, err := a.Office.Year(c.Request().Context(), c.Param("id"), year)
	if err != nil {
		return err
	}
	c.Response().Header().Set("Vary", "Accept")
	if wantsCSV {
		c.Response().Header().Set("Content-Disposition", `attachment; filename="`+c.Param("id")+"-"+text+`.csv"`)
		return c.Blob(http.StatusOK, typeCSV, y.CSV())
	}
	return answer(c, http.StatusOK, yearOf(y))
}

type countOut struct {
	Name     string     `json:"name"`
	Taxon    string     `json:"taxon,omitempty"`
	Material string     `json:"material,omitempty"`
	Count    int        `json:"count"`
	Of       []countOut `json:"of,omitempty"`
}

type entryOut struct {
	Animal rowOut `json:"animal"`
	Day    string `json:"day,omitempty"`
	Person string `json:"person,omitempty"`
	Kind   string `json:"kind"`
	Over   bool   `json:"over"`
	Bare   bool   `json:"not_covered"`
	Why    string `json:"why,omitempty"`
	Quota  string `json:"quota,omitempty"`
}

type checkOut struct {
	What  string `json:"what"`
	Left  int    `json:"left"`
	Right int    `json:"right"`
	Even  bool   `json:"even"`
}

// actedOut is one person of the paper with the months on the list in which
// nothing happened, each of which the report must state.
type actedOut struct {
	Person   string   `json:"person"`
	Role     string   `json:"role,omitempty"`
	Listed   bool     `json:"listed"`
	Count    int      `json:"count"`
	Unlisted int      `json:"unlisted"`
	Idle     []string `json:"months_without_activity"`
}

type yearOut struct {
	ID          string        `json:"id"`
	Name        string        `json:"name"`
	Year        int           `json:"year"`
	Due         string        `json:"due,omitempty"`
	AsOfLSN     uint64        `json:"as_of_lsn"`
	AsOfMS      int64         `json:"as_of_ms"`
	Species     []countOut    `json:"species"`
	Entries     []entryOut    `json:"entries"`
	Total       int           `json:"total"`
	Kept        int           `json:"kept"`
	Transferred int           `json:"transferred"`
	Agencies    int           `json:"to_agencies"`
	Destroyed   int           `json:"destroyed"`
	Pending     int           `json:"pending"`
	Lost        int           `json:"lost"`
	HeldBefore  int           `json:"held_before"`
	HeldAfter   int           `json:"held_after"`
	In          []transferOut `json:"came_in"`
	Out         []transferOut `json:"given_away"`
	Late        []lateOut     `json:"late_duties"`
	Observed    []entryOut    `json:"observed"` // recorded and not taken: in no sum
	Persons     []actedOut    `json:"persons"`
	Nil         []string      `json:"without_activity"`
	Balances    []balanceOut  `json:"balances"`
	Checks      []checkOut    `json:"checks"`
	Sample      bool          `json:"sample"`
}

func yearOf(y reports.Year) yearOut {
	out := yearOut{ID: y.Authority.ID, Name: y.Name, Year: y.Year, Due: y.Due.String(), AsOfLSN: y.AsOf.LSN, AsOfMS: y.AsOf.AtMS,
		Species: []countOut{}, Total: y.Total, Kept: y.Kept, Transferred: y.Transferred,
		Destroyed: y.Destroyed, Pending: y.Pending, Nil: some(y.Nil), Balances: balancesOf(y.Balances),
		Checks: []checkOut{}, Sample: y.Sample, Lost: y.Lost, Observed: entriesOf(y.Observed), Persons: []actedOut{},
		Agencies: y.Agencies, HeldBefore: y.HeldBefore, HeldAfter: y.HeldAfter, In: transfersOf(y.In), Out: transfersOf(y.Out), Late: latesOf(y.Late)}
	out.Entries = entriesOf(y.Entries)
	for _, p := range y.Persons {
		out.Persons = append(out.Persons, actedOut{p.Person, p.Role, p.Listed, p.Count, p.Unlisted, some(p.Idle)})
	}
	for _, s := range y.Species {
		out.Species = append(out.Species, speciesOf(s))
	}
	for _, k := range y.Checks {
		out.Checks = append(out.Checks, checkOut{k.What, k.Left, k.Right, k.Even()})
	}
	return out
}

func entriesOf(all []reports.Entry) []entryOut {
	out := make([]entryOut, 0, len(all))
	for _, e := range all {
		out = append(out, entryOut{rowOf(e.Row), e.Day.String(), e.Person, e.Kind, e.Over, e.Bare, e.Why, e.Quota})
	}
	return out
}

func speciesOf(s reports.Species) countOut {
	out := countOut{Name: s.Name, Taxon: s.Taxon, Material: s.Material, Count: s.Count}
	for _, st := range s.States {
		state := countOut{Name: st.Name, Count: st.Count}
		for _, co := range st.Counties {
			county := countOut{Name: co.Name, Count: co.Count}
			for _, m := range co.Months {
				county.Of = append(county.Of, countOut{Name: m.Month, Count: m.Count})
			}
			state.Of = append(state.Of, county)
		}
		out.Of = append(out.Of, state)
	}
	return out
}
