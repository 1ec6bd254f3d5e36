package web

import (
	"context"
	"net/http"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/permits/screen/find"
	"wayfall/server/catalogue"
	"wayfall/server/intake"
	"wayfall/sync/record"
)

// Asker answers what-if questions by the same check as everything else. It
// keeps nothing.
type Asker interface {
	// Explain answers a draft and says how each law was weighed, and answers
	// the others beside it.
	Explain(ctx context.Context, by catalogue.Hand, d intake.Draft, others []intake.Draft) (intake.Explained, error)
	// Place works out what is said of a place.
	Place(w find.Whereabouts) (record.Georeference, error)
	// County reads a state or a county as a person writes it; wrong is a
	// sentence if there is none such.
	County(text string) (state, county, wrong string)
	// Counties and Taxa are what the form suggests.
	Counties() []string
	Taxa() []permits.Taxon
}

type whatIfBody struct {
	reading
	Asks     []askShown
	Hand     askShown
	People   []record.Word
	Counties []string
	Taxa     []permits.Taxon
	Asked    bool
	Ordinary string // the same question with the rest answered as usual; "" if nothing is open
	Examples []example
	Answer   *whatIfAnswer
}

type askShown struct {
	ask
	Said, Wrong string
}

type example struct{ Path, Text string }

type whatIfAnswer struct {
	permits.Verdict
	Shape, Headline, Sentence, Where string
	Steps                            []step
	Also                             []saying
	Open, Otherwise                  []turn
	Alone                            []turn   // not known, but nothing said of it alone changes the answer
	Unasked                          []string // what the answer hangs on that the form cannot say
	Georef                           record.Georeference
}

// turn is one thing that, were it known or otherwise, would change the answer.
type turn struct {
	Key, Label, Now string
	changes         bool
	To              []turned
}

type turned struct{ Path, Text, Shape, Headline string }

// whatIf shows the form and, when something is asked, the answer with the
// reasoning drawn. It works by address alone, so that a question can be sent.
func (d *Desk) whatIf(c echo.Context) error {
	if d.Asker == nil {
		return noOffice
	}
	q, asked := readQuestion(c.QueryParams())
	who, err := d.folk(c.Request().Context())
	if err != nil {
		return err
	}
	names := map[string]string{}
	for _, w := range who {
		names[w.Code] = w.Label
	}
	b := whatIfBody{Asked: asked, People: who, Counties: d.Asker.Counties(), Taxa: d.Asker.Taxa()}
	status := http.StatusOK
	if asked {
		b.reading = d.mean(q, names)
		if len(b.Wrong) == 0 {
			if b.Answer, err = d.answer(c, &b.reading, who); err != nil && !b.wrongFrom(err) {
				return err
			}
		}
		if len(b.Wrong) > 0 {
			status = http.StatusUnprocessableEntity
		}
		if q.open() {
			b.Ordinary = q.ordinary().Path()
		}
	} else {
		b.Day, b.N = d.today().String(), "1"
		b.Examples = d.examples(who)
	}
	for _, a := range asks {
		b.Asks = append(b.Asks, askShown{a, b.Said[a.Key], b.Wrong[a.Key]})
	}
	b.Hand = askShown{handAsk, orElse(b.Said["hand"], "no"), b.Wrong["hand"]}
	return d.show(c, status, "whatif", page{Title: "May this be taken?", Here: "Permits", Body: b})
}

// folk are those who may be asked about, by name; the public comes last.
func (d *Desk) folk(ctx context.Context) ([]record.Word, error) {
	all, err := d.Door.All(ctx)
	if err != nil {
		return nil, err
	}
	out := make([]record.Word, 0, len(all)+1)
	for _, p := range all {
		out = append(out, record.Word{Code: p.ID, Label: p.Name})
	}
	slices.SortFunc(out, func(a, b record.Word) int { return strings.Compare(a.Label, b.Label) })
	return append(out, record.Word{Code: publicly, Label: "Somebody the museum does not list"}), nil
}

// examples are questions to begin with.
func (d *Desk) examples(who []record.Word) []example {
	if len(who) < 2 {
		return nil
	}
	tomorrow := d.today().AddDays(1).String()
	base := question{Who: who[0].Code, What: "Common Loon", N: "1", County: "Mason County, Michigan", Day: tomorrow, Said: map[string]string{}}
	eagle := base.with("what", "Bald Eagle").with("day", d.today().String())
	return []example{
		{base.ordinary().Path(), "May " + who[0].Label + " pick up a loon in Mason County tomorrow?"},
		{eagle.Path(), "And a Bald Eagle today, of which nothing else is known?"},
	}
}

// answer asks the rules.
func (d *Desk) answer(c echo.Context, r *reading, who []record.Word) (*whatIfAnswer, error) {
	ctx, zone := c.Request().Context(), d.zoneOn(r.day)
	draft, err := r.draft(zone)
	if err != nil {
		return nil, err
	}
	others := r.otherwise(who)
	drafts := make([]intake.Draft, len(others))
	for i := range others {
		one := *r
		one.question = others[i].question
		if drafts[i], err = one.draft(zone); err != nil {
			return nil, err
		}
	}
	got, err := d.Asker.Explain(ctx, d.askedBy(d.hand(c), r.day), draft, drafts)
	if err != nil {
		return nil, err
	}
	papers, err := d.papers(ctx)
	if err != nil {
		return nil, err
	}
	a := &whatIfAnswer{Verdict: got.Verdict, Shape: catalogue.Shape(got.Verdict), Headline: catalogue.Headline(got.Verdict), Georef: r.where}
	a.Where = r.whereText()
	a.Steps = road(&a.Verdict, got.Laws, papers)
	a.Sentence = a.sentence(got, papers)
	a.Also = alsoSaid(&a.Verdict)
	a.turns(r, others, got.Others)
	return a, nil
}

// sentence says in one sentence why.
func (a *whatIfAnswer) sentence(got intake.Explained, paper func(*permits.Authority) (string, string)) string {
	if !a.Outcome.Permits() {
		return tell(a.Deciding).Says
	}
	var by []string
	for _, l := range got.Laws {
		for _, w := range l.Ways {
			if !w.Chosen || !w.Good {
				continue
			}
			name := smallFirst(l.Title) + ", an exception"
			if w.Authority != nil {
				name, _ = paper(w.Authority)
			}
			if !slices.Contains(by, name) {
				by = append(by, name)
			}
		}
	}
	if len(by) == 0 {
		return a.Deciding.Because
	}
	return "Covered by " + strings.Join(by, " and ") + "."
}

// papers names authorities; those that are entered here have a page.
func (d *Desk) papers(ctx context.Context) (func(a *permits.Authority) (name, path string), error) {
	entered := map[string]string{}
	if d.Office != nil {
		rows, err := d.Office.Permits(ctx, d.today())
		if err != nil {
			return nil, err
		}
		for _, row := range rows {
			entered[row.ID] = row.Name
		}
	}
	return func(a *permits.Authority) (name, path string) {
		if n, here := entered[a.ID]; here {
			return orElse(n, a.ID), "/permits/" + queryPath(a.ID)
		}
		return orElse(a.Name, a.ID), ""
	}, nil
}

func (r *reading) whereText() string {
	switch g := r.where; {
	case g.Known:
		return catalogue.PlaceText(g)
	case g.County != "" && g.State != "":
		return strings.TrimSuffix(g.County, " County") + " County, " + find.NameOf(g.State)
	case g.State != "":
		return find.NameOf(g.State)
	}
	return ""
}

// variant is the question with one thing said otherwise.
type variant struct {
	question
	key, said, label string
}

// otherwise are all questions that differ in one thing.
func (r *reading) otherwise(who []record.Word) []variant {
	var out []variant
	for _, a := range append(asks, handAsk) {
		said := r.Said[a.Key]
		if a.Key == handAsk.Key {
			said = orElse(said, "no")
		}
		for _, o := range a.Options {
			if o.Code != said {
				out = append(out, variant{r.with(a.Key, o.Code), a.Key, o.Code, o.Label})
			}
		}
	}
	for _, w := range who {
		if w.Code != r.Who {
			out = append(out, variant{r.with("who", w.Code), "who", w.Code, w.Label})
		}
	}
	return out
}

// turns lists what would change the answer: first what is not known and on
// which it hangs, then what is said and would change it were it otherwise.
func (a *whatIfAnswer) turns(r *reading, others []variant, answers []permits.Verdict) {
	hangs := map[string]bool{}
	for _, c := range a.Changes {
		if one, ok := askFor(c.Fact); ok && r.Said[one.Key] == "" {
			hangs[one.Key] = true
		} else if !ok {
			a.Unasked = append(a.Unasked, factText(c.Fact))
		}
	}
	for _, one := range append(append([]ask{}, asks...), handAsk, ask{Key: "who", Label: "Who takes it"}) {
		t := turn{Key: one.Key, Label: one.Label, Now: labelIn(one.Options, r.Said[one.Key])}
		open := hangs[one.Key]
		for i, o := range others {
			if o.key != one.Key || i >= len(answers) || answers[i].Outcome == permits.OutcomeUnknown {
				continue
			}
			v := answers[i]
			other := v.Outcome != a.Outcome || v.Act != a.Act
			t.changes = t.changes || other
			if open || other {
				t.To = append(t.To, turned{o.Path(), o.label, catalogue.Shape(v), catalogue.Headline(v)})
			}
		}
		switch {
		case len(t.To) == 0:
		case open && !t.changes:
			a.Alone = append(a.Alone, t)
		case open:
			a.Open = append(a.Open, t)
		default:
			a.Otherwise = append(a.Otherwise, t)
		}
	}
}

func queryPath(id string) string { return strings.ReplaceAll(queryEscape(id), "+", "%20") }
