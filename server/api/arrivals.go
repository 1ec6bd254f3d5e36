package api

import (
	"encoding/json"
	"net/http"

	"github.com/labstack/echo/v4"

	"wayfall/server/catalogue"
	"wayfall/server/intake"
	"wayfall/sync/record"
)

type arrivalOut struct {
	ID       string       `json:"id"`
	From     string       `json:"from,omitempty"`
	At       *record.When `json:"at,omitempty"`
	Receiver string       `json:"received_by,omitempty"`
	Lines    int          `json:"lines"`
	Bags     int          `json:"bags"`
	Accepted int          `json:"accepted"`
	Closed   bool         `json:"closed"`
	LSN      uint64       `json:"lsn"`
}

func arrivalOf(r catalogue.ArrivalRow) arrivalOut {
	return arrivalOut{r.ID, r.From, whenOf(r.At), r.Receiver, r.Lines, r.Bags, r.Accepted, r.Closed, r.LSN}
}

type bagOut struct {
	N int `json:"n"`
	record.Bag
	Owner string `json:"owner,omitempty"` // the animal whose tag it bears
	Known bool   `json:"known"`
}

type matchOut struct {
	Line    bagOut   `json:"line"`
	Bag     bagOut   `json:"bag"`
	Differs []string `json:"differs,omitempty"`
}

type twiceOut struct {
	Tag  string `json:"tag"`
	Bags []int  `json:"bags"`
}

// tableOut is the list and the table laid side by side.
type tableOut struct {
	arrivalOut
	Matched  []matchOut `json:"matched"`
	BagOnly  []bagOut   `json:"bags_without_line"`
	LineOnly []bagOut   `json:"lines_without_bag"`
	Twice    []twiceOut `json:"twice"`
	Unknown  []bagOut   `json:"unknown"`
	Shared   []bagOut   `json:"shared"`
	Even     bool       `json:"even"`
	NextNo   string     `json:"next_intake_no,omitempty"`
	Received []string   `json:"received"`
}

func strays(all []catalogue.Stray) []bagOut {
	out := make([]bagOut, 0, len(all))
	for _, s := range all {
		out = append(out, bagOut{s.Bag.N, s.Bag.Bag, s.Owner.Animal, s.Known})
	}
	return out
}

func tableOf(s catalogue.ArrivalSheet) tableOut {
	t := s.Tally
	out := tableOut{arrivalOut: arrivalOf(s.ArrivalRow), Matched: []matchOut{}, BagOnly: strays(t.BagOnly),
		LineOnly: []bagOut{}, Twice: []twiceOut{}, Unknown: strays(t.Unknown), Shared: strays(t.Shared),
		Even: t.Even(), NextNo: s.NextNo, Received: []string{}}
	for _, m := range t.Matched {
		out.Matched = append(out.Matched, matchOut{bagOut{m.Line.N, m.Line.Bag, m.Owner.Animal, m.Known},
			bagOut{m.Bag.N, m.Bag.Bag, m.Owner.Animal, m.Known}, m.Differs})
	}
	for _, l := range t.LineOnly {
		out.LineOnly = append(out.LineOnly, bagOut{l.Line.N, l.Line.Bag, l.Owner.Animal, l.Known})
	}
	for _, w := range t.Twice {
		out.Twice = append(out.Twice, twiceOut{w.Tag, some(w.Bags)})
	}
	for id, in := range s.Received {
		if in {
			out.Received = append(out.Received, id)
		}
	}
	return out
}

// Arrivals lists the batches that were handed over.
func (a *API) Arrivals(c echo.Context) error {
	rows, err := a.Book.Arrivals(c.Request().Context())
	if err != nil {
		return err
	}
	out := make([]arrivalOut, 0, len(rows))
	for _, r := range rows {
		out = append(out, arrivalOf(r))
	}
	return answer(c, http.StatusOK, map[string]any{"arrivals": out})
}

// Arrival shows one batch, its list and its table side by side.
func (a *API) Arrival(c echo.Context) error { return a.table(c, http.StatusOK, c.Param("id")) }

func (a *API) table(c echo.Context, status int, id string) error {
	got, err := a.Book.Arrival(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return answer(c, status, tableOf(got))
}

// BeginArrival begins a batch, with its list if there is one.
func (a *API) BeginArrival(c echo.Context) error {
	var in struct {
		From string      `json:"from"`
		At   record.When `json:"at,omitzero"`
		List string      `json:"list,omitempty"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	ctx := c.Request().Context()
	id, err := a.Hands.BeginArrival(ctx, a.hand(c), catalogue.Opening{From: in.From, At: in.At})
	if err == nil && in.List != "" {
		err = a.Hands.AddLines(ctx, a.hand(c), id, in.List)
	}
	if err != nil {
		return err
	}
	c.Response().Header().Set("Location", "/v1/arrivals/"+id)
	return a.table(c, http.StatusCreated, id)
}

// AddLines adds lines to the list of a batch.
func (a *API) AddLines(c echo.Context) error {
	var in struct {
		Text string `json:"text"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if err := a.Hands.AddLines(c.Request().Context(), a.hand(c), c.Param("id"), in.Text); err != nil {
		return err
	}
	return a.table(c, http.StatusOK, c.Param("id"))
}

// AddBag puts a bag on the table.
func (a *API) AddBag(c echo.Context) error {
	var in struct {
		Tag      string `json:"tag,omitempty"`
		Written  string `json:"written,omitempty"`
		Taxon    string `json:"taxon,omitempty"`
		Untagged bool   `json:"untagged,omitempty"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	tag, err := a.Hands.AddBag(c.Request().Context(), a.hand(c), c.Param("id"),
		catalogue.Typed{Tag: in.Tag, Written: in.Written, Taxon: in.Taxon, Untagged: in.Untagged})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string]any{"tag": tag})
}

// Accept takes one animal of a batch into the museum.
func (a *API) Accept(c echo.Context) error {
	var in struct {
		Animal  string `json:"animal"`
		Tag     string `json:"tag,omitempty"`
		Freezer string `json:"freezer,omitempty"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	no, err := a.Hands.Accept(c.Request().Context(), a.hand(c), c.Param("id"),
		catalogue.Acceptance{Animal: in.Animal, Tag: in.Tag, Freezer: in.Freezer})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string]any{"intake_no": no})
}

// CloseArrival signs a batch off.
func (a *API) CloseArrival(c echo.Context) error {
	var in struct {
		Note string `json:"note,omitempty"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if err := a.Hands.CloseArrival(c.Request().Context(), a.hand(c), c.Param("id"), in.Note); err != nil {
		return err
	}
	return a.table(c, http.StatusOK, c.Param("id"))
}

// SameAs joins two records of one animal.
func (a *API) SameAs(c echo.Context) error {
	var in struct {
		Animal string `json:"animal"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if err := a.Desk.Join(c.Request().Context(), intake.Hand(a.hand(c)), c.Param("id"), in.Animal); err != nil {
		return err
	}
	return a.Animal(c)
}

// SetField puts one value in the place of those that were seen.
func (a *API) SetField(c echo.Context) error {
	var in struct {
		Value json.RawMessage `json:"value"`
		Saw   []string        `json:"saw,omitempty"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if len(in.Value) == 0 {
		p := problem(http.StatusUnprocessableEntity, "invalid", "a value is needed")
		p.Errors = []Wrong{{"/value", p.Detail}}
		return p
	}
	err := a.Hands.Settle(c.Request().Context(), a.hand(c), c.Param("id"),
		catalogue.Settlement{Field: c.Param("field"), Value: in.Value, Saw: in.Saw})
	if err != nil {
		return err
	}
	return a.Animal(c)
}

// AddPart adds a skin, skeleton, wing, fluid or tissue.
func (a *API) AddPart(c echo.Context) error {
	var in struct {
		Type         string      `json:"type"`
		Made         record.When `json:"made,omitzero"`
		Barcode      string      `json:"barcode,omitempty"`
		Preservative string      `json:"preservative,omitempty"`
		Stored       string      `json:"stored,omitempty"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	id, err := a.Hands.AddPart(c.Request().Context(), a.hand(c), c.Param("id"), catalogue.NewPart(in))
	if err != nil {
		return err
	}
	return answer(c, http.StatusCreated, map[string]any{"id": id})
}

// Catalogue gives the next free catalogue number.
func (a *API) Catalogue(c echo.Context) error {
	var in struct{}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	no, err := a.Hands.GiveCatalogue(c.Request().Context(), a.hand(c), c.Param("id"))
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string]any{"catalogue_no": no})
}
