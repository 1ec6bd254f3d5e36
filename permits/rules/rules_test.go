package rules_test

import (
	"errors"
	"strings"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
)

// everywhere and island are packs of an invented country, to show that the
// engine knows no law of its own.
const everywhere = `{"id":"every","version":"1","jurisdiction":"*","reviewer":"nobody","sample":true,"notice":"sample",
 "roles":{"unidentified":"OPEN","edge":"EDGE","no_pack":"NOPACK","no_place":"NOPLACE","silent":"SILENT"},
 "rules":[
 {"id":"OPEN","layer":"taxon","effect":"review","referred":true,"because":"{taxon} is open","citation":"design","source_status":"practice"},
 {"id":"EDGE","layer":"place","effect":"review","referred":true,"because":"{place} is near","citation":"design","source_status":"practice"},
 {"id":"NOPACK","layer":"place","effect":"review","referred":true,"because":"{place} has no rules","citation":"design","source_status":"practice"},
 {"id":"NOPLACE","layer":"place","effect":"review","referred":true,"because":"where is it","citation":"design","source_status":"practice"},
 {"id":"SILENT","layer":"authority","effect":"review","referred":true,"because":"{place} says nothing","citation":"design","source_status":"practice"}]}`

const island = `{"id":"island","version":"1","jurisdiction":"XA","reviewer":"nobody","sample":true,"notice":"sample",
 "laws":[{"id":"heron-law","activities":["salvage"],"effective_from":"2000-01-01","applies":{"fact":"groups","has":"heron"},
  "covers":[{"rule":"PERMIT","authority_kinds":["heron_permit"]}],
  "failures":{"none":"NEEDS","before":"EARLY","after":"ENDED","renewal":"RENEW","renewal_days":30,"person":"WHO","depends":"ROOT","copy":"COPY","quota":"NUMBER"}}],
 "rules":[
 {"id":"FREE","layer":"taxon","effect":"note","speaks":true,"when":{"not":{"fact":"groups","has":"heron"}},"because":"free","citation":"act 1","source_status":"sample"},
 {"id":"OIL","layer":"health","effect":"hold","when":{"all":[{"fact":"cause","is":"oil"},{"fact":"event_carcass_count","at_least":2}]},"because":"{count} oiled","citation":"act 2","source_status":"sample","duties":[{"code":"CALL","due":{"hours":6}}]},
 {"id":"PERMIT","layer":"authority","effect":"allow","referred":true,"because":"{authority} covers it","citation":"act 3","source_status":"sample","duties":[{"code":"TAG"}]},
 {"id":"NEEDS","layer":"authority","effect":"refuse","referred":true,"because":"needs a permit","citation":"act 4","source_status":"sample"},
 {"id":"EARLY","layer":"time","effect":"refuse","referred":true,"because":"from {valid_from}","citation":"act 5","source_status":"sample"},
 {"id":"ENDED","layer":"time","effect":"refuse","referred":true,"because":"to {valid_to}","citation":"act 6","source_status":"sample"},
 {"id":"RENEW","layer":"time","effect":"review","referred":true,"because":"renewed","citation":"act 7","source_status":"sample"},
 {"id":"WHO","layer":"person","effect":"refuse","referred":true,"because":"{person} is not listed","citation":"act 8","source_status":"sample"},
 {"id":"ROOT","layer":"authority","effect":"refuse","referred":true,"because":"the other paper is not good","citation":"act 9","source_status":"sample"},
 {"id":"COPY","layer":"condition","effect":"hold","curable":true,"referred":true,"because":"no copy","citation":"act 10","source_status":"sample"},
 {"id":"NUMBER","layer":"quota","effect":"refuse","referred":true,"because":"{used} of {limit}","citation":"act 11","source_status":"sample"}]}`

var heron = &permits.Taxon{Name: "Ardea insularis", English: "Island Heron", Class: "Aves", Genus: "Ardea", Groups: []string{"heron"}}

func book(t *testing.T, texts ...string) *rules.Book {
	t.Helper()
	var all []*rules.Pack
	for _, text := range texts {
		p, err := rules.Load("test", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	b, err := rules.NewBook(all...)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func heronPermit() permits.Authority {
	return permits.Authority{ID: "H", Kind: "heron_permit", Status: permits.Active, ValidFrom: permits.NewDate(2025, 1, 1),
		ValidTo: permits.NewDate(2025, 12, 31), Persons: []permits.Grant{{Person: "kai"}}, Area: []string{"XA"},
		TaxaInclude: []string{"heron"}, Activities: []string{"salvage"}, Materials: []string{"carcass"}}
}

func find(change func(*rules.Case)) *rules.Case {
	c := &rules.Case{Person: "kai", Activity: "salvage", Material: "carcass", Cause: "unknown", Count: 1, InHand: permits.No,
		Possessed: permits.On(permits.NewDate(2025, 6, 1)), Jurisdictions: []string{"XA"},
		Plausible: permits.Plausible{Taxa: []*permits.Taxon{heron}, Complete: true}}
	c.In[rules.EventCount] = rules.Number(1)
	if change != nil {
		change(c)
	}
	return c
}

func TestAnInventedCountry(t *testing.T) {
	tests := []struct {
		name   string
		paper  func(*permits.Authority)
		change func(*rules.Case)
		want   permits.Outcome
		rule   permits.RuleID
	}{
		{"its permit covers", nil, nil, permits.AllowWithObligations, "PERMIT"},
		{"too early", nil, func(c *rules.Case) { c.Possessed = permits.On(permits.NewDate(2024, 12, 31)) }, permits.RefusePickup, "EARLY"},
		{"too late", nil, func(c *rules.Case) { c.Possessed = permits.On(permits.NewDate(2026, 1, 1)) }, permits.RefusePickup, "ENDED"},
		{"too late with a renewal in time", nil, func(c *rules.Case) {
			c.Possessed = permits.On(permits.NewDate(2026, 1, 1))
			c.RenewalFiled, c.RenewalComplete = permits.NewDate(2025, 12, 1), permits.Yes
		}, permits.ReviewByPerson, "RENEW"},
		{"too late with a renewal a day short", nil, func(c *rules.Case) {
			c.Possessed = permits.On(permits.NewDate(2026, 1, 1))
			c.RenewalFiled, c.RenewalComplete = permits.NewDate(2025, 12, 2), permits.Yes
		}, permits.RefusePickup, "ENDED"},
		{"suspended, and a renewal does not help", func(a *permits.Authority) { a.Status = permits.Suspended }, func(c *rules.Case) {
			c.RenewalFiled, c.RenewalComplete = permits.NewDate(2025, 1, 1), permits.Yes
		}, permits.RefusePickup, "ENDED"},
		{"issued and not signed", func(a *permits.Authority) { a.Status = permits.IssuedUnsigned }, nil, permits.RefusePickup, "ENDED"},
		{"before the law was made", nil, func(c *rules.Case) { c.Possessed = permits.On(permits.NewDate(1999, 12, 31)) },
			permits.ReviewByPerson, "SILENT"},
		{"somebody else", nil, func(c *rules.Case) { c.Person = "moa" }, permits.RefusePickup, "WHO"},
		{"somebody unknown", nil, func(c *rules.Case) { c.Person = "" }, permits.ReviewByPerson, "WHO"},
		{"a paper that hangs on another that is missing", func(a *permits.Authority) { a.DependsOn = []string{"ROOT"} }, nil, permits.RefusePickup, "ROOT"},
		{"two papers that hang on each other", func(a *permits.Authority) { a.DependsOn = []string{"H"} }, nil, permits.RefusePickup, "ROOT"},
		{"no copy at hand", func(a *permits.Authority) { a.CarryCopy = true }, func(c *rules.Case) { c.In[rules.PermitCopy] = rules.Bool(false) },
			permits.HoldCallFirst, "COPY"},
		{"nobody said whether a copy is at hand", func(a *permits.Authority) { a.CarryCopy = true }, nil, permits.ReviewByPerson, "COPY"},
		{"a material the paper does not state", nil, func(c *rules.Case) { c.Material = "feather" }, permits.RefusePickup, "NEEDS"},
		{"oil on two birds", nil, func(c *rules.Case) { c.Cause, c.In[rules.EventCount] = "oil", rules.Number(2) }, permits.HoldCallFirst, "OIL"},
		{"oil on nobody knows how many", nil, func(c *rules.Case) { c.Cause, c.In[rules.EventCount] = "oil", rules.Value{} }, permits.ReviewByPerson, "OIL"},
		{"a bird of another country", nil, func(c *rules.Case) { c.Jurisdictions = []string{"XB"} }, permits.ReviewByPerson, "NOPACK"},
		{"an animal that nobody could name", nil, func(c *rules.Case) { c.Plausible = permits.Plausible{} }, permits.ReviewByPerson, "OPEN"},
	}
	b := book(t, everywhere, island)
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			a := heronPermit()
			if c.paper != nil {
				c.paper(&a)
			}
			v := b.Evaluate(find(c.change), rules.NewRegister(b, []permits.Authority{a}))
			if v.Outcome != c.want || v.Deciding.Rule != c.rule {
				t.Errorf("got %s by %s (%s), want %s by %s", v.Outcome, v.Deciding.Rule, v.Deciding.Because, c.want, c.rule)
			}
		})
	}
}

func TestTheVersionInForceOnTheDayDecides(t *testing.T) {
	b := book(t, everywhere, island)
	first, second := heronPermit(), heronPermit()
	first.Version, second.Version, second.EffectiveFrom = 1, 2, permits.NewDate(2025, 6, 2)
	second.Persons = nil
	reg := rules.NewRegister(b, []permits.Authority{second, first})
	if v := b.Evaluate(find(nil), reg); v.Outcome != permits.AllowWithObligations || v.Relies[0].Version != 1 {
		t.Errorf("on 1 June: got %s, relying on %v, want it allowed by version 1", v.Outcome, v.Relies)
	}
	later := find(func(c *rules.Case) { c.Possessed = permits.On(permits.NewDate(2025, 6, 2)) })
	if v := b.Evaluate(later, reg); v.Deciding.Rule != "WHO" {
		t.Errorf("on 2 June: got %s, want WHO", v.Deciding.Rule)
	}
}

func TestABadPackIsRefusedWithAListOfWhatIsWrong(t *testing.T) {
	bad := `{"id":"bad","version":"1","jurisdiction":"XA","reviewer":"x","sample":true,
	 "laws":[{"id":"w","activities":["salvage"],"applies":{"fact":"listing_ended","is":true},"covers":[{"rule":"A"}],"failures":{"none":"A"}}],
	 "rules":[
	 {"id":"A","layer":"taxon","effect":"hold","when":{"all":[{"fact":"colour","is":"red"},{"any":[]}]},"if_unknown":"skip","because":"{colour}","citation":"","source_status":"heard","sources":["S9"],"contact":"police"},
	 {"id":"A","layer":"taxon","effect":"hold","because":"x","citation":"c","source_status":"read","duties":[{"code":"","due":{"hours":2,"days":1}}]},
	 {"id":"B","layer":"taxon","effect":"hold","when":{"fact":"covered_by","has":"x"},"because":"x","citation":"c","source_status":"read"}]}`
	_, err := rules.Load("bad.json", []byte(bad))
	var list rules.BadPack
	if !errors.As(err, &list) {
		t.Fatalf("got %v, want a list of faults", err)
	}
	for _, want := range []string{
		"bad.json:  notice: a sample pack must say that it is one",
		`A rules[0].when.all[0]: there is no fact named "colour"`,
		"A rules[0].when.all[1].any: the list is empty",
		"A rules[0].if_unknown: a rule that blocks may not be skipped",
		"A rules[0].because: there is nothing to fill in for {colour}",
		"A rules[0].citation: is missing",
		`A rules[0].source_status: "heard"`,
		`A rules[0].sources: the pack does not name source "S9"`,
		`A rules[0].contact: the pack has no contact for "police"`,
		"A rules[1]: the pack has two rules of this name",
		"A rules[1].when: is missing",
		"A rules[1].duties[0].code: is missing",
		"A rules[1].duties[0].due: has 2 clocks",
		"B rules[2].when: asks for a fact that is only known when",
		"w laws[0].applies: asks for a fact that is only known afterwards",
		"w laws[0].covers[0]: a cover needs a rule and",
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("the faults lack %q", want)
		}
	}
	if len(list) != 16 {
		t.Errorf("got %d faults, want 16:\n%v", len(list), err)
	}
}

func TestAQuestionThatCanNeverHoldIsRefused(t *testing.T) {
	for _, when := range []string{`{"fact":"count","is":"five"}`, `{"fact":"cause","is":true}`, `{"fact":"cause","at_least":2}`,
		`{"fact":"sale","is":"yes"}`, `{"fact":"sale","in":["yes"]}`, `{"fact":"groups","is":3}`} {
		text := strings.Replace(island, `{"not":{"fact":"groups","has":"heron"}}`, when, 1)
		if _, err := rules.Load("odd", []byte(text)); err == nil || !strings.Contains(err.Error(), "cannot be compared") {
			t.Errorf("%s: got %v, want it refused", when, err)
		}
	}
}

func TestALooseEndIsRefused(t *testing.T) {
	loose := strings.ReplaceAll(island, `"none":"NEEDS"`, `"none":"NOWHERE"`)
	p, err := rules.Load("loose", []byte(loose))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := rules.NewBook(p); err == nil || !strings.Contains(err.Error(), "NOWHERE") || !strings.Contains(err.Error(), "unidentified") {
		t.Errorf("got %v, want NOWHERE and the missing roles named", err)
	}
	allows := strings.ReplaceAll(island, `"none":"NEEDS"`, `"none":"PERMIT"`)
	if p, err = rules.Load("allows", []byte(allows)); err != nil {
		t.Fatal(err)
	}
	if _, err := rules.NewBook(p); err == nil || !strings.Contains(err.Error(), "does not block") {
		t.Errorf("got %v, want a failure that does not block to be refused", err)
	}
}

func TestTheShippedPacksAreSignedAsSamplesAndCite(t *testing.T) {
	n := 0
	for _, f := range packs.Rules() {
		p, err := rules.Load(f.Name, f.Data)
		if err != nil {
			t.Fatal(err)
		}
		if !p.Sample || !strings.Contains(p.Notice, "sign") {
			t.Errorf("%s: got sample %v, notice %q", f.Name, p.Sample, p.Notice)
		}
		for _, r := range p.Rules {
			n++
			if len(r.Sources) == 0 {
				t.Errorf("%s: rule %s names no source", f.Name, r.ID)
			}
		}
	}
	if n < 60 {
		t.Errorf("got %d rules, want the whole set", n)
	}
}

func FuzzLoad(f *testing.F) {
	f.Add([]byte(everywhere))
	f.Add([]byte(island))
	f.Add([]byte(`{"rules":[{"when":{"not":{"fact":"count","at_least":1}}}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := rules.Load("fuzz", data)
		if err != nil {
			return
		}
		base, err := rules.Load("every", []byte(everywhere))
		if err != nil {
			t.Fatal(err)
		}
		b, err := rules.NewBook(base, p)
		if err != nil {
			return
		}
		v := b.Evaluate(find(nil), rules.NewRegister(b, nil))
		if v.Outcome == permits.OutcomeUnknown || v.Deciding.Cites == "" {
			t.Errorf("got outcome %s citing %q", v.Outcome, v.Deciding.Cites)
		}
	})
}
