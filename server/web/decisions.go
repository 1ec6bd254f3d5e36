package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/sync/record"
)

// decideForm is a decision as it was typed, and what is wrong with it by field.
type decideForm struct {
	catalogue.Deciding
	May     bool
	Choices []record.Word
	Wrong   map[string]string
}

// on completes the form for the newest answer of the rules on a find.
func (f decideForm) on(sheet catalogue.FindSheet, may bool) decideForm {
	at := slices.IndexFunc(sheet.Verdicts, func(v catalogue.Verdict) bool { return v.By.Who == "server" && v.Inputs != "" })
	f.May, f.Choices = may && at >= 0, catalogue.Decidable
	if at >= 0 {
		f.Inputs = sheet.Verdicts[at].Inputs
	}
	return f
}

func (d *Desk) decide(c echo.Context) error {
	in := catalogue.Deciding{Outcome: c.FormValue("outcome"), Reason: c.FormValue("reason"), Document: c.FormValue("document"), Inputs: c.FormValue("inputs")}
	err := d.Hands.Decide(c.Request().Context(), d.hand(c), c.Param("id"), in)
	if fault.Is(err, fault.Invalid) {
		return d.findPage(c, http.StatusUnprocessableEntity, decideForm{Deciding: in, Wrong: wrongAt(err)})
	}
	if err != nil {
		return err
	}
	return goTo(c, "/finds/"+url.PathEscape(c.Param("id")), "take", "Kept beside the answer of the rules, which stays as it is.")
}

// wrongAt is what is wrong by the name of the field, under "" what concerns
// all of the form.
func wrongAt(err error) map[string]string {
	out := map[string]string{"": sentence(err)}
	for _, p := range fault.Pointers(err) {
		out[strings.TrimPrefix(p.Pointer, "/")] = upperFirst(p.Detail) + "."
	}
	return out
}

// releaseForm is the release of a hold as it was typed.
type releaseForm struct {
	Document, Reason string
	Wrong            map[string]string
}

func (d *Desk) release(c echo.Context) error {
	f := releaseForm{Document: c.FormValue("document"), Reason: c.FormValue("reason")}
	err := d.Hands.Release(c.Request().Context(), d.hand(c), c.Param("id"), f.Document, f.Reason)
	if fault.Is(err, fault.Invalid) {
		f.Wrong = wrongAt(err)
		return d.animalPage(c, http.StatusUnprocessableEntity, f)
	}
	if err != nil {
		return err
	}
	return goTo(c, animalPath(c), "take", "Released. The hold and its release stay in the log.")
}

// notCounting says why a decision does not stand in the place of the answer.
var notCounting = map[permits.Decided]string{
	permits.OtherFacts:  "It is about earlier facts and does not count for the answer above: decide again if it still holds.",
	permits.Never:       "It does not count: safety, evidence and die-offs are not decided away.",
	permits.Incomplete:  "It does not count: a name, a reason, a document or an answer is missing.",
	catalogue.Elsewhere: "It does not count: it was not decided at the desk by the person it names.",
}
