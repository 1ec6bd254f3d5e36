package api

import (
	"encoding/json"
	"net/http"

	"github.com/labstack/echo/v4"

	"wayfall/server/intake"
)

type itemOut struct {
	ID      string          `json:"id"`
	Code    intake.Code     `json:"code"`
	Why     string          `json:"why"`
	Todo    string          `json:"todo"`
	Ways    []intake.Way    `json:"ways"`
	Kind    string          `json:"kind"`
	Record  string          `json:"record"`
	Name    string          `json:"name,omitempty"`
	Field   string          `json:"field,omitempty"`
	Other   string          `json:"other,omitempty"`
	Parts   []intake.Part   `json:"parts,omitempty"`
	Suggest json.RawMessage `json:"suggest,omitempty"`
	Who     string          `json:"who,omitempty"`
	AtMS    int64           `json:"at_ms,omitempty"`
	LSN     uint64          `json:"lsn"`
}

// Review lists what needs a look.
func (a *API) Review(c echo.Context) error {
	limit, err := number(c, "limit", 200, 1, 2000)
	if err != nil {
		return err
	}
	items, counts, err := a.Desk.Review(c.Request().Context(), c.QueryParam("code"), limit)
	if err != nil {
		return err
	}
	out := make([]itemOut, 0, len(items))
	for _, it := range items {
		out = append(out, itemOut{it.ID, it.Code, it.Why, it.Todo, some(it.Ways), it.Kind, it.Record, it.Name, it.Field,
			it.Other, it.Parts, json.RawMessage(it.Suggest), it.Who, it.AtMS, it.LSN})
	}
	return answer(c, http.StatusOK, map[string]any{"items": out, "counts": counts})
}

// SettleReview settles one item; what was odd stays readable.
func (a *API) SettleReview(c echo.Context) error {
	var in struct {
		How  string `json:"how"`
		Note string `json:"note,omitempty"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if err := a.Desk.Settle(c.Request().Context(), intake.Hand(a.hand(c)), c.Param("id"), in.How, in.Note); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}
