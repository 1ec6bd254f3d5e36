package web

import (
	"context"

	"github.com/labstack/echo/v4"

	"wayfall/server/catalogue"
	"wayfall/server/intake"
)

// Past is what the pages read of the answers that were given.
type Past interface {
	// Answers returns every answer to a report, oldest first.
	Answers(ctx context.Context, report string) ([]intake.Answer, error)
	// Again puts the question of each stored answer once more. Nothing is
	// written.
	Again(ctx context.Context, report string) ([]intake.Again, error)
}

// answerShown is one answer on the line of all of them.
type answerShown struct {
	intake.Answer
	Shape, Headline, Says string
	Field                 bool // it changed since an answer that was given in the field
	Again                 *againShown
}

type againShown struct{ Shape, Text string }

// pastOf reads the answers to a report, and asks them again when the address
// says so.
func (d *Desk) pastOf(c echo.Context, report string) ([]answerShown, error) {
	if d.Past == nil {
		return nil, nil
	}
	ctx := c.Request().Context()
	all, err := d.Past.Answers(ctx, report)
	if err != nil {
		return nil, err
	}
	again := map[uint64]intake.Again{}
	if c.QueryParam("ask") == "again" {
		list, err := d.Past.Again(ctx, report)
		if err != nil {
			return nil, err
		}
		for _, a := range list {
			again[a.LSN] = a
		}
	}
	var out []answerShown
	for i, a := range all {
		s := answerShown{Answer: a, Shape: "note", Headline: "An answer in a form that this server does not read"}
		if a.Read {
			s.Shape, s.Headline, s.Says = catalogue.Shape(a.Verdict), catalogue.Headline(a.Verdict), a.Verdict.Deciding.Because
		}
		s.Field = i > 0 && !all[i-1].Server && a.Server && !a.Same
		if g, ok := again[a.LSN]; ok {
			s.Again = compared(g)
		}
		out = append(out, s)
	}
	return out, nil
}

// compared says how a stored answer and the same question asked again agree.
func compared(g intake.Again) *againShown {
	now := catalogue.Headline(g.Verdict) + ", by " + string(g.Verdict.Deciding.Rule)
	switch {
	case g.Same:
		return &againShown{"take", "Asked again with the rules and papers of that day: the same answer, to the last byte."}
	case !g.Packs:
		return &againShown{"note", "The rules of that day are not loaded here. By those that are: " + now + "."}
	case !g.Facts && g.Agrees:
		return &againShown{"note", "Asked again with the rules and papers of that day: the same outcome and rule. The facts it went by are not all stored, so no more can be said."}
	case !g.Facts:
		return &againShown{"ask", "The facts it went by are not all stored. By those that are: " + now + "."}
	case g.Agrees:
		return &againShown{"take", "Asked again with the rules and papers of that day: the same outcome and rule, with other particulars."}
	}
	return &againShown{"ask", "Asked again with the rules of that day and the papers and numbers known here by then: " + now + ". Whoever answered knew others."}
}
