package api

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/sync/record"
)

type decisionOut struct {
	permits.Decision
	Why    permits.Decided `json:"why"`    // whether it counts
	Stands bool            `json:"stands"` // it is the newest that counts
	Said   saidOut         `json:"said"`
}

func decisionsOf(all []catalogue.Decision) []decisionOut {
	out := make([]decisionOut, 0, len(all))
	for _, d := range all {
		out = append(out, decisionOut{d.Decision, d.Why, d.Stands, saidOf(d.Said)})
	}
	return out
}

type holdOut struct {
	Held    bool   `json:"held"`
	Because string `json:"because"`
}

// holdOf is what was said of a hold, nothing where nobody spoke of one.
func holdOf(h catalogue.Holding) *holdOut {
	if !h.Said {
		return nil
	}
	return &holdOut{h.Held, h.Because}
}

// Decide keeps what a person decided beside the newest answer of the rules,
// which stays as it is.
func (a *API) Decide(c echo.Context) error {
	var in struct {
		Outcome  string `json:"outcome"`
		Reason   string `json:"reason"`
		Document string `json:"document"`
		Inputs   string `json:"inputs"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if err := a.Hands.Decide(c.Request().Context(), a.hand(c), c.Param("id"), catalogue.Deciding(in)); err != nil {
		return err
	}
	return a.oneReport(c, http.StatusCreated)
}

// HandOver writes down that an animal passed from one hand to another.
func (a *API) HandOver(c echo.Context) error {
	var in struct {
		record.Custody
		Agency bool `json:"agency"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if err := a.Hands.HandOver(c.Request().Context(), a.hand(c), c.Param("id"), catalogue.Handover{Custody: in.Custody, Agency: in.Agency}); err != nil {
		return err
	}
	return a.Animal(c)
}

// Release lifts the hold on an animal, on a document and for a reason.
func (a *API) Release(c echo.Context) error {
	var in struct {
		Document string `json:"document"`
		Reason   string `json:"reason"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if err := a.Hands.Release(c.Request().Context(), a.hand(c), c.Param("id"), in.Document, in.Reason); err != nil {
		return err
	}
	return a.Animal(c)
}
