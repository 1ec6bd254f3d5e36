package web

import (
	"html/template"
	"slices"

	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/server/catalogue"
)

// step is one stretch of the way from the question to the answer: a gate, a
// layer, or a law with its alternatives side by side.
type step struct {
	Name, Asks  string
	Shape, Word string
	Decides     bool // the rule that decides stands here
	After       bool // an earlier step has decided already
	Found       []saying
	Law         *lawStep
}

// saying is one finding as the path shows it.
type saying struct {
	permits.Finding
	Shape, Says string
	Decides     bool
}

// lawStep is a law with the ways to satisfy it.
type lawStep struct {
	rules.Weighed
	Near, Far []wayCard
	Idle      int // exceptions whose condition does not hold
}

// wayCard is one alternative: which paper covers, or why it does not.
type wayCard struct {
	rules.Way
	Name, Path, Shape, Word string
	Why                     []saying
}

// layerWords names the layers of the path in the order in which they decide,
// and what each asks. The three gates and the first two layers always stand
// there; the others when a rule has something to say.
var layerWords = []struct {
	layer      permits.Layer
	name, asks string
	always     bool
}{
	{permits.Safety, "Safety", "Can anybody get there unharmed?", true},
	{permits.Evidence, "Crime", "Could it be evidence?", true},
	{permits.Health, "Disease", "Is it part of a die-off?", true},
	{permits.TaxonLayer, "The animal", "Must it be left to others?", true},
	{permits.PlaceLayer, "The ground", "May anything be taken from here?", true},
	{permits.MaterialLayer, "What is there", "May this kind of thing be taken?", false},
	{permits.Purpose, "The purpose", "What is it for?", false},
	{permits.CauseLayer, "The cause", "How did it die?", false},
	{permits.Time, "The day", "Was authority held by then?", false},
	{permits.Person, "The person", "May this person act?", false},
	{permits.Scope, "The scope", "Is the act among those that are stated?", false},
	{permits.AuthorityLayer, "The laws", "", false},
	{permits.QuotaLayer, "The number", "Is one free?", false},
	{permits.Condition, "Conditions", "Is everything at hand?", false},
	{permits.Transfer, "Handing over", "May the recipient hold it?", false},
	{permits.Transport, "Carrying it", "May it be carried?", false},
}

// effectWords are what a finding says, in one or two words.
var effectWords = map[permits.Effect]string{
	permits.Noted: "noted", permits.Allows: "covered", permits.Asks: "ask first", permits.Holds: "leave it and call", permits.Refuses: "no",
	permits.RefusesHandOff: "no hand-over", permits.Breaches: "outside authority", permits.FallsDue: "a duty is due",
}

func (t *saying) same(o *permits.Finding) bool {
	return t.Rule == o.Rule && t.Layer == o.Layer && t.Because == o.Because && t.Law == o.Law
}

// tell prepares a finding for people.
func tell(f permits.Finding) saying {
	return saying{Finding: f, Shape: catalogue.ShapeOfFinding(f), Says: f.Because}
}

// road draws the verdict as steps. Everything in it is the verdict's own
// findings and the engine's own weighing; here it is only put in order.
func road(v *permits.Verdict, laws []rules.Weighed, paper func(a *permits.Authority) (name, path string)) []step {
	ids := map[string]bool{}
	for _, l := range laws {
		ids[l.Law] = true
	}
	decides := true
	pick := func(keep func(f *permits.Finding) bool) (out []saying) {
		for i := range v.Findings {
			f := &v.Findings[i]
			if !keep(f) {
				continue
			}
			t := tell(*f)
			if decides && t.same(&v.Deciding) {
				t.Decides, decides = true, false
			}
			if !slices.ContainsFunc(out, func(o saying) bool { return o.same(f) }) {
				out = append(out, t)
			}
		}
		return out
	}
	var all []step
	for _, w := range layerWords {
		found := pick(func(f *permits.Finding) bool { return f.Layer == w.layer && !ids[f.Law] })
		if w.always || len(found) > 0 {
			all = append(all, graded(step{Name: w.name, Asks: w.asks, Found: found}))
		}
		if w.layer != permits.AuthorityLayer {
			continue
		}
		for i := range laws {
			l := &laws[i]
			found := pick(func(f *permits.Finding) bool { return f.Law == l.Law })
			all = append(all, lawRoad(l, found, paper))
		}
	}
	after := false
	for i := range all {
		all[i].After = after
		for _, f := range all[i].Found {
			all[i].Decides = all[i].Decides || f.Decides
		}
		after = after || all[i].Decides && !v.Outcome.Permits()
	}
	return all
}

// graded gives a step the shape and the word of the gravest of its findings.
func graded(s step) step {
	s.Shape, s.Word = "clear", "nothing stands in the way"
	grave := map[string]int{"clear": 0, "note": 1, "take": 2, "ask": 3, "stop": 4}
	for _, f := range s.Found {
		if grave[f.Shape] > grave[s.Shape] {
			s.Shape, s.Word = f.Shape, effectWords[f.Effect]
			if f.Unsure {
				s.Word = "not known"
			}
		}
	}
	return s
}

// nearest is how many papers of a law stand side by side.
const nearest = 3

func lawRoad(l *rules.Weighed, found []saying, paper func(a *permits.Authority) (name, path string)) step {
	law := &lawStep{Weighed: *l}
	s := graded(step{Name: l.Title, Asks: "Does a paper or an exception of this law cover it?", Found: found, Law: law})
	if s.Shape == "clear" {
		s.Shape, s.Word = "ask", "hangs on what is asked above"
	}
	var cards []wayCard
	for _, w := range l.Ways {
		c := cardOf(w, paper)
		if w.Authority == nil && !w.Good && len(w.Why) == 0 {
			law.Idle++
			continue
		}
		cards = append(cards, c)
	}
	slices.SortStableFunc(cards, func(a, b wayCard) int { return far(a) - far(b) })
	for i, c := range cards {
		if i < nearest && far(c) < 20 {
			law.Near = append(law.Near, c)
		} else {
			law.Far = append(law.Far, c)
		}
	}
	return s
}

// far orders the alternatives: the one the verdict goes by, those that are
// good, those that miss nothing known, those that miss least.
func far(c wayCard) int {
	switch {
	case c.Chosen:
		return 0
	case c.Good:
		return 1
	}
	n := 2
	for _, f := range c.Why {
		if n += 4; !f.Unsure {
			n += 4
		}
	}
	return n
}

func cardOf(w rules.Way, paper func(a *permits.Authority) (name, path string)) wayCard {
	c := wayCard{Way: w, Name: "An exception: no paper needed", Shape: "stop", Word: "does not cover"}
	if w.Authority != nil {
		c.Name, c.Path = paper(w.Authority)
	}
	for _, f := range w.Why {
		c.Why = append(c.Why, tell(f))
	}
	switch {
	case w.Good:
		c.Shape, c.Word = "take", "covers"
	case len(w.Why) == 0:
		c.Shape, c.Word = "note", "does not apply"
	case !slices.ContainsFunc(w.Why, func(f permits.Finding) bool { return !f.Unsure }):
		c.Shape, c.Word = "ask", "cannot be told"
	}
	return c
}

// Cells are the squares of a number: s taken, "" free, o over.
func cells(n rules.Room) []string {
	out := make([]string, 0, n.Limit)
	for i := range max(n.Limit, n.Used) {
		switch {
		case i >= n.Limit:
			out = append(out, "o")
		case i < n.Limit-max(n.Left, 0):
			out = append(out, "s")
		default:
			out = append(out, "")
		}
	}
	return out
}

// alsoSaid are the findings that only say what follows, once each.
func alsoSaid(v *permits.Verdict) (out []saying) {
	for _, f := range v.Findings {
		if f.Layer < permits.Deadline || slices.ContainsFunc(out, func(o saying) bool { return o.Because == f.Because }) {
			continue
		}
		out = append(out, tell(f))
	}
	return out
}

// dueIn writes when a duty falls due, in the local time of the find.
func dueIn(d permits.Due) string {
	at := ""
	if d.At.Known() {
		at = catalogue.LocalText(d.At.String())
	}
	switch {
	case at != "" && d.Word != "":
		return at + " (" + d.Word + ")"
	case at != "":
		return at
	}
	return orElse(d.Word, "no date")
}

func whatIfWords() template.FuncMap {
	return template.FuncMap{"cells": cells, "duein": dueIn, "dutytext": catalogue.DutyText, "factname": factText}
}
