package api

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/intake"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// reportBody is a report as a program sends it: the fields of sync/record by
// their names on the wire. What the museum decides is not among them.
type reportBody struct {
	Fieldno      string                `json:"fieldno"`
	Finder       *record.Person        `json:"finder"`
	Salvager     string                `json:"salvager"`
	Found        *record.When          `json:"found"`
	TakenAt      *record.When          `json:"taken_at"`
	Died         *record.When          `json:"died"`
	Fix          *record.Fix           `json:"fix"`
	Coordinates  string                `json:"coordinates"`
	Locality     string                `json:"locality"`
	Place        *record.Georeference  `json:"place"`
	Taxon        *record.Determination `json:"taxon"`
	Count        *float64              `json:"count"`
	Material     string                `json:"material"`
	Condition    *record.Condition     `json:"condition"`
	Circumstance string                `json:"circumstance"`
	Acquired     string                `json:"acquired"`
	Cause        *record.Cause         `json:"cause"`
	Signs        *record.Signs         `json:"signs"`
	Band         string                `json:"band"`
	Land         *record.Land          `json:"land"`
	Deed         string                `json:"deed"`
	Authority    string                `json:"authority"`
	Frozen       *record.Freeze        `json:"frozen"`
	Photos       []record.Photo        `json:"photos"`
	Remarks      []record.Remark       `json:"remarks"`
	Animals      []animalBody          `json:"animals"`
}

type animalBody struct {
	Tags        []string              `json:"tags"`
	Taxon       *record.Determination `json:"taxon"`
	Disposition string                `json:"disposition"`
}

// most animals that one report may hold here.
const mostAnimals = 200

// draft reads a report strictly and keeps each value as it was written.
func draft(c echo.Context) (d intake.Draft, body []byte, err error) {
	if body, err = read(c, limitJSON, "application/json"); err != nil {
		return d, nil, err
	}
	var whole reportBody
	if err := strict(body, &whole); err != nil {
		return d, nil, err
	}
	var raw map[string]json.RawMessage
	if err := json.Unmarshal(body, &raw); err != nil {
		return d, nil, notJSON(err)
	}
	for _, f := range record.Fields {
		text, said := raw[f.Name]
		if f.Kind != record.Report || !said || f.Name == "animals" || string(text) == "null" {
			continue
		}
		if err := d.Say(f, text); err != nil {
			return d, nil, err
		}
	}
	return d, body, animals(&d, whole.Animals)
}

func animals(d *intake.Draft, all []animalBody) error {
	if len(all) > mostAnimals {
		p := problem(http.StatusUnprocessableEntity, "invalid", "one report holds at most %d animals", mostAnimals)
		p.Errors = []Wrong{{"/animals", p.Detail}}
		return p
	}
	for _, a := range all {
		one := intake.AnimalDraft{Tags: a.Tags, Disposition: a.Disposition}
		if a.Taxon != nil {
			v, err := op.ValueOf(a.Taxon)
			if err != nil {
				return err
			}
			one.Taxon = v
		}
		d.Animals = append(d.Animals, one)
	}
	return nil
}

// Verdict answers a report and keeps nothing.
func (a *API) Verdict(c echo.Context) error {
	d, _, err := draft(c)
	if err != nil {
		return err
	}
	v, err := a.Desk.Verdict(c.Request().Context(), intake.Hand(a.hand(c)), d)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, v)
}

type keptOut struct {
	ID      string              `json:"id"`
	Animals []intake.KeptAnimal `json:"animals"`
	Verdict permits.Verdict     `json:"verdict"`
	Effect  string              `json:"effect"`
	Code    string              `json:"code,omitempty"`
	Why     string              `json:"why,omitempty"`
}

// Report keeps a report under an Idempotency-Key.
func (a *API) Report(c echo.Context) error {
	key := c.Request().Header.Get("Idempotency-Key")
	if key == "" || len(key) > 200 {
		return problem(http.StatusBadRequest, "key_needed", "an Idempotency-Key of 1 to 200 characters is needed, so that sending a report again cannot make two of it")
	}
	d, body, err := draft(c)
	if err != nil {
		return err
	}
	out, again, err := a.once(c, key, body, func() (any, error) {
		got, err := a.Desk.Report(c.Request().Context(), intake.Hand(a.hand(c)), key, d)
		return keptOut{got.ID, some(got.Animals), got.Verdict, got.Effect, got.Code, got.Why}, err
	})
	if err != nil {
		return err
	}
	var id struct {
		ID string `json:"id"`
	}
	if err := json.Unmarshal(out, &id); err != nil {
		return err
	}
	h := c.Response().Header()
	h.Set("Location", "/v1/reports/"+id.ID)
	h.Set("Cache-Control", "no-store")
	if again {
		h.Set("Idempotency-Replayed", "true")
	}
	return c.Blob(http.StatusCreated, "application/json", out)
}

// some makes an empty list of nothing, so that JSON has [] rather than null.
func some[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

// Reports lists finds.
func (a *API) Reports(c echo.Context) error {
	f := catalogue.Filter{Text: c.QueryParam("text"), Taxon: c.QueryParam("taxon"), State: c.QueryParam("state"),
		Outcome: c.QueryParam("outcome"), County: c.QueryParam("county")}
	var err error
	if f.Limit, err = number(c, "limit", 50, 1, 500); err != nil {
		return err
	}
	if f.From, err = number(c, "from", 0, 0, 1<<30); err != nil {
		return err
	}
	since, err := number(c, "since", 0, 0, 1<<53)
	if err != nil {
		return err
	}
	got, err := a.Book.Finds(c.Request().Context(), f)
	if err != nil {
		return err
	}
	out := findsOut{Reports: []findOut{}, Matching: got.Matching, All: got.Reports, Animals: got.Animals, LSN: got.LSN}
	for _, r := range got.Rows {
		if r.LSN > uint64(since) {
			out.Reports = append(out.Reports, findOf(r))
		}
	}
	return answer(c, http.StatusOK, out)
}

// number reads a whole number from the query.
func number(c echo.Context, name string, usual, low, high int) (int, error) {
	text := c.QueryParam(name)
	if text == "" {
		return usual, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < low || n > high {
		p := problem(http.StatusBadRequest, "query", "%s is a whole number from %d to %d", name, low, high)
		p.Errors = []Wrong{{"/" + name, p.Detail}}
		return 0, p
	}
	return n, nil
}

// OneReport shows everything said in one report.
func (a *API) OneReport(c echo.Context) error { return a.oneReport(c, http.StatusOK) }

func (a *API) oneReport(c echo.Context, status int) error {
	got, err := a.Book.Find(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	out := reportOut{findOut: findOf(got.Find), Fields: factsOf(got.Facts), Verdicts: verdictsOf(got.Verdicts),
		Decisions: decisionsOf(got.Decisions), Duties: dutiesOf(got.Duties), Life: lifeOf(got.Life)}
	return answer(c, status, out)
}

// Animal shows everything said of one animal, every value, who and when.
func (a *API) Animal(c echo.Context) error {
	got, err := a.Book.Animal(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, animalOf(got))
}

// digestOf is the SHA-256 of bytes in hex.
func digestOf(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// Drawer lists the catalogued animals, the newest number first.
func (a *API) Drawer(c echo.Context) error {
	d, err := a.Book.Drawer(c.Request().Context(), c.QueryParam("text"))
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string]any{"animals": rowsOf(d.Rows), "matching": d.Matching, "all": d.All, "next": d.Next})
}
