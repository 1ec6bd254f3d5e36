package web

import (
	"cmp"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
)

// lateOn reports whether a duty's day has passed.
func lateOn(due string, today permits.Date) bool {
	return len(due) >= 10 && due[0] >= '0' && due[0] <= '9' && due[:10] < today.String()
}

// owed is what one person still has to do, the most pressing first.
type owed struct {
	Person string
	Late   int
	Duties []catalogue.Duty

	Undated []catalogue.Duty // without a day
}

// first is the duty by which the person's place in the list is found.
func (o *owed) first() catalogue.Duty {
	return append(o.Duties[:len(o.Duties):len(o.Duties)], o.Undated...)[0]
}

// frozen is one animal that waits in a private freezer.
type frozen struct {
	catalogue.Duty
	Days int // left; negative is late
	Bar  template.HTML
}

type dutiesBody struct {
	Freezer    []frozen
	Owed       []owed
	Open, Late int
	Done, Void int
	Noted      []catalogue.Duty // that somebody noted as done or waived
	MayNote    bool
	MayWaive   bool
}

func (d *Desk) duties(c echo.Context) error {
	b := dutiesBody{MayNote: seated(c).May(settlers...), MayWaive: seated(c).May(officers...)}
	if d.Duties != nil {
		all, err := d.Duties(c.Request().Context())
		if err != nil {
			return err
		}
		b.fill(all, d.today())
	}
	return d.show(c, http.StatusOK, "duties", page{Title: "Duties", Here: "Permits", Body: b})
}

func (b *dutiesBody) fill(all []catalogue.Duty, today permits.Date) {
	at := map[string]int{}
	for _, x := range all {
		if len(x.History) > 0 {
			b.Noted = append(b.Noted, x)
		}
		switch {
		case strings.HasSuffix(x.Code, "_LINE"):
			continue
		case x.Done:
			b.Done++
			continue
		case x.Void != "":
			b.Void++
			continue
		}
		b.freeze(x, today)
		i, known := at[x.Who]
		if !known {
			i = len(b.Owed)
			at[x.Who], b.Owed = i, append(b.Owed, owed{Person: x.Who})
		}
		o := &b.Owed[i]
		if x.Due == "" {
			o.Undated = append(o.Undated, x)
		} else {
			o.Duties = append(o.Duties, x)
		}
		b.Open++
		if lateOn(x.Due, today) {
			o.Late++
			b.Late++
		}
	}
	for i := range b.Owed {
		slices.SortStableFunc(b.Owed[i].Duties, func(x, y catalogue.Duty) int { return compareOwed(x, y, today) })
	}
	slices.SortStableFunc(b.Owed, func(x, y owed) int {
		return cmp.Or(cmp.Compare(y.Late, x.Late), compareOwed(x.first(), y.first(), today), cmp.Compare(x.Person, y.Person))
	})
	slices.SortStableFunc(b.Freezer, func(x, y frozen) int {
		return cmp.Or(compareDue(x.Due, y.Due), cmp.Compare(x.Animal.Tag, y.Animal.Tag))
	})
}

// freeze puts the animal of a duty on the list of private freezers, once, with
// the day by which it is to be handed over, if any is known.
func (b *dutiesBody) freeze(x catalogue.Duty, today permits.Date) {
	if x.Animal.Disposition != "private_freezer" {
		return
	}
	f := frozen{Duty: x}
	f.Due = ""
	if x.Code == "DEPOSIT" || x.Code == "HAND_TO_HOLDER" {
		f = countdown(x, today)
	}
	at := slices.IndexFunc(b.Freezer, func(o frozen) bool { return o.Animal.ID == x.Animal.ID })
	switch {
	case at < 0:
		b.Freezer = append(b.Freezer, f)
	case f.Bar != "" && (b.Freezer[at].Bar == "" || f.Days < b.Freezer[at].Days):
		b.Freezer[at] = f
	}
}

func compareOwed(x, y catalogue.Duty, today permits.Date) int {
	late := func(d catalogue.Duty) int {
		if lateOn(d.Due, today) {
			return 0
		}
		return 1
	}
	return cmp.Or(cmp.Compare(x.Severity.Weight(), y.Severity.Weight()), cmp.Compare(late(x), late(y)), compareDue(x.Due, y.Due),
		cmp.Compare(x.Animal.Tag, y.Animal.Tag))
}

// longest is the longest time that a deposit is given, in days: six months.
const longest = 184

// countdown draws how much of the time to deposit is left.
func countdown(d catalogue.Duty, today permits.Date) frozen {
	f := frozen{Duty: d}
	due, err := permits.ParseDate(d.Due[:min(10, len(d.Due))])
	if err != nil {
		return f
	}
	f.Days = today.DaysUntil(due)
	left := max(0, min(f.Days, longest))
	f.Bar = template.HTML(fmt.Sprintf(`<svg class="left" viewBox="0 0 184 10" preserveAspectRatio="none" aria-hidden="true"><rect class="all" width="184" height="10"/><rect class="rest" width="%d" height="10"/></svg>`, left))
	return f
}

// Gone is how many days late it is.
func (f frozen) Gone() int { return -f.Days }

// noteDuty notes a duty as done from the list, with whom was told and under
// which reference.
func (d *Desk) noteDuty(c echo.Context) error {
	var told []string
	for _, part := range [][2]string{{"evidence", ""}, {"contact", "told: "}, {"reference", "reference: "}} {
		if text := strings.TrimSpace(c.FormValue(part[0])); text != "" {
			told = append(told, part[1]+text)
		}
	}
	report := c.FormValue("report")
	if report == "" {
		return fault.New(fault.Invalid, "the form names no find")
	}
	if err := d.Hands.NoteDone(c.Request().Context(), d.hand(c), report, c.FormValue("duty"), strings.Join(told, "; ")); err != nil {
		return err
	}
	return goTo(c, "/duties", "take", "Noted as done, with your name.")
}

// waiveDuty notes that a document lifted a duty.
func (d *Desk) waiveDuty(c echo.Context) error {
	report := c.FormValue("report")
	if report == "" {
		return fault.New(fault.Invalid, "the form names no find")
	}
	w := catalogue.Waiver{Document: c.FormValue("document"), By: c.FormValue("by"), Why: c.FormValue("why")}
	if err := d.Hands.Waive(c.Request().Context(), d.hand(c), report, c.FormValue("duty"), w); err != nil {
		return err
	}
	return goTo(c, "/duties", "take", "Noted as waived, with the document and your name.")
}
