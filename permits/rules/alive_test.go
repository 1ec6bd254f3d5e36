package rules_test

import (
	"slices"
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/permits/rules"
)

// islandWith is the invented country with some of its text replaced.
func islandWith(t *testing.T, pairs ...string) *rules.Book {
	t.Helper()
	text := island
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(text, pairs[i]) {
			t.Fatalf("the pack does not say %s", pairs[i])
		}
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return book(t, everywhere, text)
}

const (
	lastRule = `"source_status":"sample"}]}`
	itsLaw   = `"applies":{"fact":"groups","has":"heron"}`
	freeFor  = `{"not":{"fact":"groups","has":"heron"}}`
	anyFind  = `{"fact":"activity","is":"salvage"}`
)

// oneMore adds a rule at the end of the pack.
func oneMore(rule string) []string {
	return []string{lastRule, `"source_status":"sample"},` + rule + `]}`}
}

func stretched(c *rules.Case) {
	c.Possessed = permits.When{From: permits.Moment{Date: permits.NewDate(2025, 5, 31)}, To: permits.Moment{Date: permits.NewDate(2025, 6, 2)}}
}

func twoHerons() permits.Plausible {
	shrike := &permits.Taxon{Name: "Lanius insularis", English: "Island Shrike", Class: "Aves", Genus: "Lanius", Groups: []string{"heron", "listed"}}
	return permits.Plausible{Taxa: []*permits.Taxon{heron, shrike}, Complete: true}
}

func TestOneWordFromAnotherAnswer(t *testing.T) {
	for _, c := range []struct {
		name   string
		pack   []string
		paper  func(*permits.Authority)
		change func(*rules.Case)
		want   permits.Outcome
		rule   permits.RuleID
	}{
		{"a suspended paper is not too young on its first day", nil, func(a *permits.Authority) { a.Status = permits.Suspended },
			func(c *rules.Case) { c.Possessed = permits.On(permits.NewDate(2025, 1, 1)) }, permits.RefusePickup, "ENDED"},
		{"a group does not name a species", []string{itsLaw, `"named":true,` + itsLaw}, nil, nil, permits.RefusePickup, "NEEDS"},
		{"its name does", []string{itsLaw, `"named":true,` + itsLaw}, func(a *permits.Authority) { a.TaxaInclude = []string{heron.Name} }, nil,
			permits.AllowWithObligations, "PERMIT"},
		{"one of two possible animals is listed", oneMore(`{"id":"LISTED","layer":"taxon","effect":"hold","when":{"fact":"groups","has":"listed"},"because":"listed","citation":"act 12","source_status":"sample"}`),
			nil, func(c *rules.Case) { c.Plausible = twoHerons() }, permits.ReviewByPerson, "LISTED"},
		{"nobody named it, and no law is asked", []string{`"activities":["salvage"]`, `"activities":["transfer"]`, freeFor, anyFind}, nil,
			func(c *rules.Case) { c.Plausible = permits.Plausible{} }, permits.ReviewByPerson, "OPEN"},
		{"a law that may apply is asked", []string{itsLaw, `"applies":{"fact":"sale","is":true}`, freeFor, anyFind}, nil,
			func(c *rules.Case) { c.Person = "moa" }, permits.ReviewByPerson, "WHO"},
		{"a law that may apply to two possible animals is asked", []string{itsLaw, `"applies":{"fact":"sale","is":true}`, freeFor, anyFind}, nil,
			func(c *rules.Case) { c.Person, c.Plausible = "moa", twoHerons() }, permits.ReviewByPerson, "WHO"},
		{"an oiled pair in the hand is still called in", nil, nil, func(c *rules.Case) {
			c.Cause, c.InHand, c.In[rules.EventCount] = "oil", permits.Yes, rules.Number(2)
		}, permits.HoldCallFirst, "OIL"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := heronPermit()
			if c.paper != nil {
				c.paper(&a)
			}
			b := islandWith(t, c.pack...)
			v := b.Evaluate(find(c.change), rules.NewRegister(b, []permits.Authority{a}))
			if v.Outcome != c.want || v.Deciding.Rule != c.rule {
				t.Errorf("got %s by %s (%s), want %s by %s", v.Outcome, v.Deciding.Rule, v.Deciding.Because, c.want, c.rule)
			}
		})
	}
}

func TestAPaperMustReachEveryPlace(t *testing.T) {
	for _, c := range []struct {
		name           string
		sure, possible []string
		covered        bool
	}{
		{"the place alone", []string{"XA"}, nil, true},
		{"it lies in two countries, and the paper holds in one", []string{"XA", "XB"}, nil, false},
		{"it may lie in a second one, where the paper does not hold", []string{"XA"}, []string{"XB"}, false},
	} {
		b := islandWith(t)
		v := b.Evaluate(find(func(f *rules.Case) { f.Jurisdictions, f.Possible = c.sure, c.possible }),
			rules.NewRegister(b, []permits.Authority{heronPermit()}))
		if got := len(v.Relies) > 0; got != c.covered {
			t.Errorf("%s: got %s relying on %v, want covered %v", c.name, v.Outcome, v.Relies, c.covered)
		}
	}
}

func TestBothEditionsOfAStretchAreAsked(t *testing.T) {
	first, second := heronPermit(), heronPermit()
	first.Version, second.Version, second.EffectiveFrom = 1, 2, permits.NewDate(2025, 6, 1)
	first.Persons = nil // the amendment added the person
	b := islandWith(t)
	v := b.Evaluate(find(stretched), rules.NewRegister(b, []permits.Authority{first, second}))
	if v.Outcome != permits.ReviewByPerson || v.Deciding.Rule != "WHO" {
		t.Errorf("got %s by %s, want review by WHO", v.Outcome, v.Deciding.Rule)
	}
}

func TestADutyCountsFromItsAnchor(t *testing.T) {
	sixMonths := &permits.DueRule{Months: 6}
	for _, c := range []struct {
		name, due string
		deposit   *permits.DueRule
		want      string
	}{
		{"from the first day of a stretch", `{"days":10}`, nil, "2025-06-10"},
		{"from the find", `{"days":10,"anchor":"found"}`, nil, "2025-05-30"},
		{"from the day of asking", `{"days":10,"anchor":"judged"}`, nil, "2025-06-30"},
		{"as the paper says", `{"authority":"deposit","else":{"days":90}}`, sixMonths, "2025-11-30"},
		{"as the law says where the paper says nothing", `{"authority":"deposit","else":{"days":90}}`, nil, "2025-08-29"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := heronPermit()
			a.DepositRule = c.deposit
			b := islandWith(t, `{"code":"TAG"}`, `{"code":"TAG","due":`+c.due+`}`)
			v := b.Evaluate(find(func(c *rules.Case) {
				stretched(c)
				c.Found = permits.On(permits.NewDate(2025, 5, 20))
				c.Judged = permits.Moment{Date: permits.NewDate(2025, 6, 20)}
			}), rules.NewRegister(b, []permits.Authority{a}))
			if len(v.Obligations) != 1 || v.Obligations[0].Due.At.String() != c.want {
				t.Errorf("got %+v, want one duty due on %s", v.Obligations, c.want)
			}
		})
	}
}

func changes(v *permits.Verdict, fact string) bool {
	return slices.ContainsFunc(v.Changes, func(c permits.Change) bool { return c.Fact == fact })
}

func TestWhatIsNotKnownIsNamed(t *testing.T) {
	const note = `{"id":"NOTE","layer":"condition","effect":"note","when":{"fact":"sale","is":true},%"because":"sold","citation":"act 12","source_status":"sample"}`
	for apply, found := range map[string]bool{"": false, `"if_unknown":"apply",`: true} {
		b := islandWith(t, oneMore(strings.Replace(note, "%", apply, 1))...)
		v := b.Evaluate(find(nil), rules.NewRegister(b, []permits.Authority{heronPermit()}))
		got := slices.ContainsFunc(v.Findings, func(f permits.Finding) bool { return f.Rule == "NOTE" && !f.Unsure })
		if got != found || changes(&v, "sale") == found {
			t.Errorf("a note with %q: got it %v and the fact asked for %v, want %v and %v", apply, got, changes(&v, "sale"), found, !found)
		}
	}
	a := heronPermit()
	a.DependsOn = []string{"ROOT"}
	b := islandWith(t)
	v := b.Evaluate(find(func(c *rules.Case) { c.Possessed, c.InHand = permits.When{}, permits.Yes }), rules.NewRegister(b, []permits.Authority{a}))
	if v.Outcome != permits.ReviewByPerson || !changes(&v, "possessed") || !changes(&v, "depends_on") {
		t.Errorf("without a day: got %s, asking for %v, want review, asking for the day and the other paper", v.Outcome, v.Changes)
	}
}

func TestASamplePaperMakesTheAnswerASample(t *testing.T) {
	signed := func(text string) string {
		return strings.Replace(text, `"sample":true,"notice":"sample"`, `"sample":false`, 1)
	}
	b := book(t, signed(everywhere), signed(island))
	for _, sample := range []bool{false, true} {
		a := heronPermit()
		a.Sample = sample
		v := b.Evaluate(find(nil), rules.NewRegister(b, []permits.Authority{a}))
		if len(v.Relies) != 1 || v.Sample != sample {
			t.Errorf("got sample %v relying on %v, want %v", v.Sample, v.Relies, sample)
		}
	}
}
