package api

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/server/people"
)

// Bar enters that a person may not use permits for a time, by a document and
// for a reason.
func (a *API) Bar(c echo.Context) error {
	var in struct {
		From     permits.Date `json:"from"`
		To       permits.Date `json:"to"`
		Document string       `json:"document"`
		Why      string       `json:"why"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	ctx := c.Request().Context()
	bar := people.Bar{From: in.From, To: in.To, Document: in.Document, Why: in.Why, By: a.hand(c).Person}
	if err := a.people.Bar(ctx, c.Param("id"), bar); err != nil {
		return err
	}
	return a.met(c)
}

// EndBar ends with a day, by a document, that a person may not use permits.
func (a *API) EndBar(c echo.Context) error {
	var in struct {
		To       permits.Date `json:"to"`
		Document string       `json:"document"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if err := a.people.EndBar(c.Request().Context(), c.Param("id"), in.To, in.Document); err != nil {
		return err
	}
	return a.met(c)
}

// met answers a change of who may do what, once everybody who judges knows it.
func (a *API) met(c echo.Context) error {
	if a.Met != nil {
		if err := a.Met(c.Request().Context()); err != nil {
			return err
		}
	}
	return c.NoContent(http.StatusNoContent)
}
