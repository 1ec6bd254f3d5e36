package rules_test

import (
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/permits/rules"
)

const withNear = `"silent":"SILENT","near_number":"NEAR"},`

// warned is the packs for everywhere with a rule for numbers that warn.
func warned(t *testing.T) *rules.Book {
	t.Helper()
	text := strings.Replace(everywhere, `"silent":"SILENT"},`, withNear, 1)
	text = strings.Replace(text, `"rules":[`, `"rules":[
 {"id":"NEAR","layer":"quota","effect":"note","referred":true,"because":"{used} for {number} on {authority}, which {allows}","citation":"design","source_status":"practice"},`, 1)
	return book(t, text, island)
}

func TestNumbersOfSexAgeCauseAndOriginInAVerdict(t *testing.T) {
	hens := permits.Quota{ID: "hens", Per: "all", Sexes: []string{"female"}, Limit: 2, Window: "calendar_year"}
	drakes := permits.Quota{ID: "drakes", Per: "all", Sexes: []string{"male"}, Limit: 2, Window: "calendar_year"}
	adults := permits.Quota{ID: "adult hens", Per: "all", Sexes: []string{"female"}, Ages: []string{"adult"}, Limit: 2, Window: "calendar_year"}
	care := permits.Quota{ID: "from care", Per: "all", Acquired: []string{permits.DiedInCare}, Limit: 2, Window: "calendar_year"}
	windows := permits.Quota{ID: "windows", Per: "all", Causes: []string{"window"}, Limit: 2, Window: "calendar_year"}
	carcass := permits.Quota{ID: "carcasses", Per: "all", Units: []string{"carcass"}, Limit: 2, Window: "calendar_year"}
	full := counted{"hens": 2, "adult hens": 2, "from care": 2, "windows": 2, "carcasses": 2}
	is := func(t permits.Traits) func(*rules.Case) { return func(c *rules.Case) { c.Traits = t } }
	for _, c := range []struct {
		name    string
		quotas  []permits.Quota
		used    counted
		change  func(*rules.Case)
		want    permits.Outcome
		missing string // a fact that the answer asks for
	}{
		{"a hen, and the number of hens is full", []permits.Quota{hens}, full, is(permits.Traits{Sex: "female"}), permits.RefusePickup, ""},
		{"a drake, and the number of hens is full", []permits.Quota{hens}, full, is(permits.Traits{Sex: "male"}), permits.AllowWithObligations, ""},
		{"its sex is not known, and the number of hens is full", []permits.Quota{hens}, full, nil, permits.ReviewByPerson, "sex"},
		{"its sex is not known, and both numbers are full", []permits.Quota{hens, drakes}, counted{"hens": 2, "drakes": 2}, nil, permits.RefusePickup, ""},
		{"its sex is not known, and both numbers are free", []permits.Quota{hens, drakes}, counted{}, nil, permits.AllowWithObligations, ""},
		{"a hen of unknown age, and the number of adult hens is full", []permits.Quota{adults}, full, is(permits.Traits{Sex: "female"}), permits.ReviewByPerson, "age"},
		{"a young hen, and the number of adult hens is full", []permits.Quota{adults}, full, is(permits.Traits{Sex: "female", Age: "juvenile"}), permits.AllowWithObligations, ""},
		{"it died in care, and that number is full", []permits.Quota{care}, full, is(permits.Traits{Acquired: permits.DiedInCare}), permits.RefusePickup, ""},
		{"found dead, and the number from care is full", []permits.Quota{care}, full, is(permits.Traits{Acquired: permits.FoundDead}), permits.AllowWithObligations, ""},
		{"nobody said how it was come by", []permits.Quota{care}, full, nil, permits.ReviewByPerson, "acquired"},
		{"a window, and that number is full", []permits.Quota{windows}, full, func(c *rules.Case) { c.Cause = "window" }, permits.RefusePickup, ""},
		{"a cause that cannot be told may be a window", []permits.Quota{windows}, full, func(c *rules.Case) { c.Cause = "unknown" }, permits.ReviewByPerson, "cause"},
		{"a car, and the number for windows is full", []permits.Quota{windows}, full, func(c *rules.Case) { c.Cause = "vehicle" }, permits.AllowWithObligations, ""},
		{"nobody said what of it is taken", []permits.Quota{carcass}, full, func(c *rules.Case) { c.Material = "" }, permits.ReviewByPerson, "material"},
		{"a kind that the number leaves out", []permits.Quota{{ID: "n", Per: "all", ExemptTaxa: []string{"heron"}, Limit: 2, Window: "calendar_year"}}, counted{"n": 2}, nil, permits.AllowWithObligations, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := heronPermit()
			a.Quotas, a.Materials = c.quotas, nil
			one := find(c.change)
			one.Tally = c.used
			b := warned(t)
			v := b.Evaluate(one, rules.NewRegister(b, []permits.Authority{a}))
			if v.Outcome != c.want {
				t.Fatalf("got %s by %s (%s), want %s", v.Outcome, v.Deciding.Rule, v.Deciding.Because, c.want)
			}
			if got := strings.Join(v.Deciding.Missing, " "); c.missing != "" && got != c.missing {
				t.Errorf("got %q asked for, want %q", got, c.missing)
			}
		})
	}
}

func TestANumberWarnsInTheVerdictAndStopsNobody(t *testing.T) {
	for _, c := range []struct {
		name  string
		quota permits.Quota
		used  int
		want  string // "" is no warning
	}{
		{"far from it", permits.Quota{Limit: 10, WarnPercent: 80}, 6, ""},
		{"this one is the eighth of ten", permits.Quota{Limit: 10, WarnPercent: 80}, 7, "8 for n on the heron permit, which allows 10"},
		{"this one is the last", permits.Quota{Limit: 10, WarnPercent: 80}, 9, "10 for n on the heron permit, which allows 10"},
		{"it states no warning", permits.Quota{Limit: 10}, 9, ""},
		{"a warning without a ceiling", permits.Quota{Unlimited: true, WarnAt: 5}, 4, "5 for n on the heron permit, which sets no ceiling"},
		{"of hens, and this may be one", permits.Quota{Limit: 10, WarnAt: 5, Sexes: []string{"female"}}, 4, "5 for n (females) on the heron permit, which allows 10"},
	} {
		t.Run(c.name, func(t *testing.T) {
			q := c.quota
			q.ID, q.Per, q.Window = "n", "all", "calendar_year"
			a := heronPermit()
			a.Name, a.Quotas = "Heron permit", []permits.Quota{q}
			one := find(nil)
			one.Tally = counted{"n": c.used}
			b := warned(t)
			v := b.Evaluate(one, rules.NewRegister(b, []permits.Authority{a}))
			if v.Outcome != permits.AllowWithObligations || v.Deciding.Rule != "PERMIT" {
				t.Fatalf("got %s by %s, want it allowed by PERMIT", v.Outcome, v.Deciding.Rule)
			}
			got := ""
			for _, f := range v.Findings {
				if f.Rule == "NEAR" {
					got = f.Because
				}
			}
			if got != c.want {
				t.Errorf("got the warning %q, want %q", got, c.want)
			}
		})
	}
}

func TestAWarningWithoutACeilingNeedsNoTally(t *testing.T) {
	a := heronPermit()
	a.Quotas = []permits.Quota{{ID: "n", Per: "all", Unlimited: true, WarnAt: 5, Window: "calendar_year"}}
	b := warned(t)
	if v := b.Evaluate(find(nil), rules.NewRegister(b, []permits.Authority{a})); v.Outcome != permits.AllowWithObligations {
		t.Errorf("got %s by %s, want it allowed: nothing is limited", v.Outcome, v.Deciding.Rule)
	}
}

func TestAPaperMayLimitHowAnAnimalIsComeBy(t *testing.T) {
	for _, c := range []struct {
		name  string
		paper func(*permits.Authority)
		how   string
		want  permits.Outcome
	}{
		{"found dead, and the paper covers that", func(a *permits.Authority) { a.Acquired = []string{permits.FoundDead} }, permits.FoundDead, permits.AllowWithObligations},
		{"died in care, and the paper covers what is found dead", func(a *permits.Authority) { a.Acquired = []string{permits.FoundDead} }, permits.DiedInCare, permits.RefusePickup},
		{"nobody said, and the paper covers what is found dead", func(a *permits.Authority) { a.Acquired = []string{permits.FoundDead} }, "", permits.ReviewByPerson},
		{"died in care, and the paper says it does not cover that", func(a *permits.Authority) { a.CoverCare = permits.No }, permits.DiedInCare, permits.RefusePickup},
		{"died in care, and the paper says it covers that", func(a *permits.Authority) { a.CoverCare = permits.Yes }, permits.DiedInCare, permits.AllowWithObligations},
		{"died in care, and the paper says nothing of it", nil, permits.DiedInCare, permits.AllowWithObligations},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := heronPermit()
			if c.paper != nil {
				c.paper(&a)
			}
			b := warned(t)
			v := b.Evaluate(find(func(one *rules.Case) { one.Traits.Acquired = c.how }), rules.NewRegister(b, []permits.Authority{a}))
			if v.Outcome != c.want {
				t.Errorf("got %s by %s (%s), want %s", v.Outcome, v.Deciding.Rule, v.Deciding.Because, c.want)
			}
		})
	}
}

func TestWhatANumberCannotMean(t *testing.T) {
	season := &permits.Season{}
	for _, c := range []struct {
		name, path string
		quota      permits.Quota
	}{
		{"a sex that there is not", "quotas[0].sexes", permits.Quota{Sexes: []string{"hen"}}},
		{"an age that there is not", "quotas[0].ages", permits.Quota{Ages: []string{"old"}}},
		{"a way of coming by it that there is not", "quotas[0].acquired", permits.Quota{Acquired: []string{"stolen"}}},
		{"a cause that is counted and left out", "quotas[0].exempt_causes", permits.Quota{Causes: []string{"window"}, ExemptCauses: []string{"window"}}},
		{"a stage that there is not", "quotas[0].counts_when", permits.Quota{CountsWhen: "mounted"}},
		{"a warning beyond the number", "quotas[0].warn_at", permits.Quota{Limit: 5, WarnAt: 6}},
		{"a negative warning", "quotas[0].warn_at", permits.Quota{Limit: 5, WarnAt: -1}},
		{"a share of no ceiling", "quotas[0].warn_percent", permits.Quota{Unlimited: true, WarnPercent: 50}},
		{"a season without days", "quotas[0].season", permits.Quota{Window: "season", Season: season}},
		{"a season that does not count", "quotas[0].season", permits.Quota{Window: "calendar_year", Season: season}},
		{"a number of several permits", "quotas[0].shared", permits.Quota{Shared: "institution"}},
		{"a number for each person", "quotas[0].shared", permits.Quota{Shared: "person"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			q := c.quota
			q.ID, q.Per = "n", "all"
			if q.Window == "" {
				q.Window = "calendar_year"
			}
			if q.Limit == 0 && !q.Unlimited {
				q.Limit = 9
			}
			a := heronPermit()
			a.Holder, a.Quotas = "H", []permits.Quota{q}
			found := rules.Check(&a, rules.Known{})
			if len(found) != 1 || found[0].Path != c.path || found[0].What == "" {
				t.Errorf("got %v, want one fault at %s with a sentence", found, c.path)
			}
		})
	}
}
