package web

import (
	"context"
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/sync/record"
)

func (d *Desk) hand(c echo.Context) catalogue.Hand {
	now := d.now()
	return catalogue.Hand{Person: seated(c).ID, AtMS: now.UnixMilli(), Local: now.Format("2006-01-02T15:04"), Zone: now.Format("-07:00")}
}

// typedWhen is a day, with an hour or without, as a form sends it, in the
// institution's zone as it was on that day. The Clerk refuses what is no day.
func (d *Desk) typedWhen(text string) record.When {
	if text == "" {
		return record.When{}
	}
	w := record.When{Earliest: text, Latest: text, Precision: record.ToMinute}
	if len(text) == len("2006-01-02") {
		w = record.When{Earliest: text + "T00:00", Latest: text + "T23:59", Precision: record.ToDay}
	}
	if zone := d.Zone; zone != nil {
		if at, err := time.ParseInLocation("2006-01-02T15:04", w.Earliest, zone); err == nil {
			w.Zone = at.Format("-07:00")
		}
	}
	return w
}

func animalPath(c echo.Context) string { return "/animals/" + url.PathEscape(c.Param("id")) }

func arrivalPath(id string) string { return "/arrivals/" + url.PathEscape(id) }

func (d *Desk) settleField(c echo.Context) error {
	return settled(c, d.hand(c), d.Hands.Settle, animalPath(c))
}

func (d *Desk) settleFind(c echo.Context) error {
	return settled(c, d.hand(c), d.Hands.SettleReport, "/finds/"+url.PathEscape(c.Param("id")))
}

// settled puts the chosen value of a form in the place of those that were seen.
func settled(c echo.Context, by catalogue.Hand, settle func(context.Context, catalogue.Hand, string, catalogue.Settlement) error, to string) error {
	form, err := c.FormParams()
	if err != nil {
		return fault.As(fault.Invalid, err, "the form could not be read")
	}
	value := json.RawMessage(form.Get("value"))
	if !json.Valid(value) {
		return fault.New(fault.Invalid, "the chosen value could not be read")
	}
	s := catalogue.Settlement{Field: c.Param("field"), Value: value, Saw: form["saw"]}
	if err := settle(c.Request().Context(), by, c.Param("id"), s); err != nil {
		return err
	}
	return goTo(c, to, "take", "Settled. The other value stays in the log with who said it.")
}

func (d *Desk) noteDone(c echo.Context) error {
	if err := d.Hands.NoteDone(c.Request().Context(), d.hand(c), c.Param("id"), c.FormValue("duty"), c.FormValue("evidence")); err != nil {
		return err
	}
	back := local(c.FormValue("back"))
	if !strings.HasPrefix(back, "/animals/") {
		back = "/finds/" + url.PathEscape(c.Param("id"))
	}
	return goTo(c, back, "take", "Noted as done, with your name.")
}

func (d *Desk) correct(c echo.Context) error {
	field, text := c.FormValue("field"), strings.TrimSpace(c.FormValue("text"))
	if err := d.Hands.Correct(c.Request().Context(), d.hand(c), c.Param("id"), field, text); err != nil {
		return err
	}
	return goTo(c, animalPath(c), "take", "Saved. The old value stays in the log with who said it.")
}

func (d *Desk) join(c echo.Context) error {
	into, err := d.Hands.JoinByTag(c.Request().Context(), d.hand(c), c.Param("id"), c.FormValue("tag"))
	if err != nil {
		return err
	}
	return goTo(c, "/animals/"+url.PathEscape(into), "take", "Joined. Both records are as they were; this one counts.")
}

func (d *Desk) apart(c echo.Context) error {
	form, err := c.FormParams()
	if err != nil {
		return fault.As(fault.Invalid, err, "the form could not be read")
	}
	if err := d.Hands.Apart(c.Request().Context(), d.hand(c), c.Param("id"), form["saw"]); err != nil {
		return err
	}
	return goTo(c, animalPath(c), "take", "Taken apart. This animal counts on its own again.")
}

func (d *Desk) preparation(c echo.Context) error {
	no := strings.TrimSpace(c.FormValue("no"))
	if err := d.Hands.GivePreparation(c.Request().Context(), d.hand(c), c.Param("id"), no); err != nil {
		return err
	}
	return goTo(c, animalPath(c), "take", "Preparation number "+no+" given.")
}

func (d *Desk) addPart(c echo.Context) error {
	p := catalogue.NewPart{
		Type: c.FormValue("type"), Made: d.typedWhen(c.FormValue("made")), Barcode: strings.TrimSpace(c.FormValue("barcode")),
		Preservative: strings.TrimSpace(c.FormValue("preservative")), Stored: strings.TrimSpace(c.FormValue("stored")),
	}
	if _, err := d.Hands.AddPart(c.Request().Context(), d.hand(c), c.Param("id"), p); err != nil {
		return err
	}
	return goTo(c, animalPath(c), "take", "Part added.")
}

func (d *Desk) giveCatalogue(c echo.Context) error {
	no, err := d.Hands.GiveCatalogue(c.Request().Context(), d.hand(c), c.Param("id"))
	if err != nil {
		return err
	}
	return goTo(c, animalPath(c), "take", "Catalogue number "+no+" given.")
}

func (d *Desk) beginArrival(c echo.Context) error {
	o := catalogue.Opening{From: strings.TrimSpace(c.FormValue("from")), At: d.typedWhen(c.FormValue("at"))}
	id, err := d.Hands.BeginArrival(c.Request().Context(), d.hand(c), o)
	if err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, arrivalPath(id))
}

func (d *Desk) addLines(c echo.Context) error {
	lines := c.FormValue("lines")
	err := d.Hands.AddLines(c.Request().Context(), d.hand(c), c.Param("id"), lines)
	if fault.Is(err, fault.Invalid) {
		return d.table(c, http.StatusUnprocessableEntity, arrivalBody{Lines: lines, Wrong: sentence(err)})
	}
	if err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, arrivalPath(c.Param("id")))
}

func (d *Desk) addBag(c echo.Context) error {
	typed := catalogue.Typed{
		Tag: c.FormValue("tag"), Written: strings.TrimSpace(c.FormValue("written")),
		Taxon: strings.TrimSpace(c.FormValue("taxon")), Untagged: c.FormValue("untagged") == "yes",
	}
	_, err := d.Hands.AddBag(c.Request().Context(), d.hand(c), c.Param("id"), typed)
	if fault.Is(err, fault.Invalid) {
		return d.table(c, http.StatusUnprocessableEntity, arrivalBody{Typed: typed.Tag, Written: typed.Written, Wrong: sentence(err)})
	}
	if err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, arrivalPath(c.Param("id")))
}

// freezerCookie remembers the last freezer place, so that thirty bags for one
// shelf are thirty presses and no typing.
const freezerCookie = "wayfall_freezer"

func (d *Desk) accept(c echo.Context) error {
	a := catalogue.Acceptance{Animal: c.FormValue("animal"), Tag: c.FormValue("tag"), Freezer: strings.TrimSpace(c.FormValue("freezer"))}
	no, err := d.Hands.Accept(c.Request().Context(), d.hand(c), c.Param("id"), a)
	if err != nil {
		return err
	}
	d.rememberFreezer(c, a.Freezer)
	return goTo(c, arrivalPath(c.Param("id")), "take", "Accepted with intake number "+no+".")
}

// acceptAll accepts every bag that agrees with the list. Each is an act of its
// own, so what was accepted before something went wrong stays accepted.
func (d *Desk) acceptAll(c echo.Context) error {
	ctx, id, freezer := c.Request().Context(), c.Param("id"), strings.TrimSpace(c.FormValue("freezer"))
	sheet, err := d.Book.Arrival(ctx, id)
	if err != nil {
		return err
	}
	n := 0
	for _, m := range agreeing(sheet) {
		a := catalogue.Acceptance{Animal: m.Owner.Animal, Tag: m.Bag.Tag, Freezer: freezer}
		_, err := d.Hands.Accept(ctx, d.hand(c), id, a)
		if fault.Is(err, fault.Conflict) { // another desk was faster
			continue
		}
		if err != nil {
			return err
		}
		n++
	}
	d.rememberFreezer(c, freezer)
	return goTo(c, arrivalPath(id), "take", "Accepted: "+countOf(n, "animal", "animals")+".")
}

func (d *Desk) rememberFreezer(c echo.Context, freezer string) {
	c.SetCookie(&http.Cookie{Name: freezerCookie, Value: queryEscape(freezer), Path: "/arrivals", MaxAge: 12 * 3600, HttpOnly: true, SameSite: http.SameSiteLaxMode})
}

func (d *Desk) closeArrival(c echo.Context) error {
	if err := d.Hands.CloseArrival(c.Request().Context(), d.hand(c), c.Param("id"), strings.TrimSpace(c.FormValue("note"))); err != nil {
		return err
	}
	return goTo(c, arrivalPath(c.Param("id")), "take", "Signed off.")
}
