package rules_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
)

func checklist(t testing.TB) *permits.Checklist {
	t.Helper()
	list, err := permits.ReadChecklist(packs.Taxa())
	if err != nil {
		t.Fatal(err)
	}
	return list
}

func shipped() []rules.Source {
	var out []rules.Source
	for _, f := range packs.Rules() {
		out = append(out, rules.Source{Name: f.Name, Data: f.Data})
	}
	return out
}

func TestTwentyPlantedErrorsGiveTwentySentences(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("testdata", "twenty.json"))
	if err != nil {
		t.Fatal(err)
	}
	book, got := rules.Inspect(checklist(t), append(shipped(), rules.Source{Name: "twenty.json", Data: data})...)
	if book != nil {
		t.Error("a book was made of it")
	}
	want := [][3]string{
		{"law-loose", "laws[0].covers[0].rule", "NOWHERE, which is nowhere defined"},
		{"law-bare", "laws[1].covers", "names at least one rule"},
		{"AX", "authorisations[0].area[0]", `"Newaygo" is neither a code`},
		{"E01-fact", "rules[1].when", `there is no fact named "colour"`},
		{"E02-operator", "rules[2].when", `unknown field "more_than"`},
		{"E03-citation", "rules[3].citation", "every rule cites"},
		{"E04-date", "rules[4].effective_from", "not a calendar date"},
		{"E05-reversed", "rules[5].effective_to", "it ends before it begins"},
		{"E06-layer", "rules[6].layer", "weather"},
		{"NEEDS", "rules[7]", "two rules of this name"},
		{"E09-clocks", "rules[8].duties[0].due", "has 2 clocks"},
		{"E10-day", "rules[9].duties[0].due.month_day", "02-30"},
		{"E11-source", "rules[10].sources", `source "S9"`},
		{"E12-word", "rules[11].because", "{weather}"},
		{"E13-empty", "rules[12].when", "the condition is empty"},
		{"E14-type", "rules[13].weight", "a whole number"},
		{"E15-negative", "rules[14].duties[0].due", "not negative"},
		{"E16-selector", "rules[15].when", `"heron-list" names no animal`},
		{"E17-because", "rules[16].because", "sentence for the salvager is missing"},
		{"E18-member", "rules[17].colour", `no member "colour"`},
	}
	for _, w := range want {
		n := 0
		for _, f := range got {
			if f.File == "twenty.json" && f.Rule == w[0] && f.Path == w[1] && strings.Contains(f.What, w[2]) {
				n++
			}
		}
		if n != 1 {
			t.Errorf("got %d sentences for %v, want one", n, w)
		}
	}
	if len(want) != 20 || len(got) != len(want) {
		t.Errorf("got %d sentences, want exactly %d:\n%v", len(got), len(want), rules.BadPack(got))
	}
}

func TestTheShippedPacksHaveNoFaultEvenAgainstTheChecklist(t *testing.T) {
	if book, faults := rules.Inspect(checklist(t), shipped()...); book == nil || len(faults) > 0 {
		t.Errorf("got %d faults, want none:\n%v", len(faults), rules.BadPack(faults))
	}
}

// Every one of these went through the loader before it was looked for.
func TestALooserWordIsRefused(t *testing.T) {
	rule := `{"id":"R","layer":"taxon","effect":"hold","when":%s,"because":%q,"citation":"c","source_status":"read"%s}`
	plain := `{"fact":"count","at_least":3}`
	for name, c := range map[string]struct{ when, because, more, want string }{
		"two questions in one":            {`{"fact":"cause","is":"window","in":["line"]}`, "x", "", "more than one thing"},
		"a joint with a question":         {`{"fact":"count","at_least":3,"any":[` + plain + `]}`, "x", "", "more than one thing"},
		"a bound above and one below":     {`{"fact":"count","at_least":3,"at_most":5}`, "x", "", "more than one thing"},
		"an empty list of words":          {`{"fact":"cause","in":[]}`, "x", "", "the list is empty"},
		"a negative count":                {`{"fact":"count","at_least":-3}`, "x", "", "never negative"},
		"an open brace":                   {plain, "the {taxon", "", "brace"},
		"more words than can be filled":   {plain, strings.Repeat("{taxon} ", 9), "", "more than 8"},
		"an entry of null":                {plain, "x", `,"duties":[null]`, "is null"},
		"a permit's clock of no kind":     {plain, "x", `,"duties":[{"code":"A","due":{"authority":"renewal"}}]`, "not something a permit says"},
		"giving way to nobody":            {plain, "x", `,"gives_way_to":["R-NOBODY"]`, "R-NOBODY, which is nowhere defined"},
		"a weight below nothing":          {plain, "x", `,"weight":-1`, "not negative"},
		"a member that stands twice":      {plain, "x", `,"effect":"note"`, "stands twice"},
		"a clock that runs backwards":     {plain, "x", `,"duties":[{"code":"A","due":{"hours":-2}}]`, "not negative"},
		"a name of another checklist":     {`{"fact":"species","is":"Turdus merula"}`, "x", "", "names no animal"},
		"a name in a duty's condition":    {plain, "x", `,"duties":[{"code":"A","due":{"days":2},"when":{"fact":"genus","is":"Turdos"}}]`, "names no animal"},
		"an anchor that nothing drops at": {plain, "x", `,"duties":[{"code":"A","due":{"days":2,"anchor":"dawn"}}]`, "is not an anchor"},
	} {
		t.Run(name, func(t *testing.T) {
			text := `{"id":"odd","version":"1","jurisdiction":"XA","reviewer":"x","rules":[` + fmt.Sprintf(rule, c.when, c.because, c.more) + `]}`
			_, got := rules.Inspect(checklist(t), append(shipped(), rules.Source{Name: "odd", Data: []byte(text)})...)
			if len(got) != 1 || !strings.Contains(got[0].What, c.want) {
				t.Errorf("got %d faults, want one that says %q:\n%v", len(got), c.want, rules.BadPack(got))
			}
		})
	}
	for name, text := range map[string]string{
		"something follows the pack":              island + ` {}`,
		"a role only a pack for everywhere fills": strings.Replace(island, `"reviewer"`, `"roles":{"edge":"WHO"},"reviewer"`, 1),
		"a jurisdiction that is no code":          strings.Replace(island, `"jurisdiction":"XA"`, `"jurisdiction":"Xanadu"`, 1),
	} {
		if _, err := rules.Load("odd", []byte(text)); err == nil {
			t.Errorf("%s: got no fault", name)
		}
	}
}

// sound is a paper without faults.
func sound() permits.Authority {
	day := permits.NewDate
	return permits.Authority{ID: "P", Kind: "state_salvage", Basis: "invented", Jurisdiction: "US-MI", Holder: "Sablewater Museum",
		ValidFrom: day(2026, 1, 1), ValidTo: day(2026, 12, 31), Status: permits.Active, Persons: []permits.Grant{{Person: "ana"}},
		Area: []string{"US-MI", "US-CA coast", "national_park"}, TaxaInclude: []string{"Aves"}, TaxaExclude: []string{"eagle"},
		Activities: []string{"salvage"}, Quotas: []permits.Quota{{ID: "Q", Per: "all", Limit: 3, Window: "calendar_year"}},
		DepositRule: &permits.DueRule{Min: []permits.DueRule{{Months: 6}, {MonthDay: 12<<5 | 31}}}}
}

func TestAPaperWithAFaultIsTold(t *testing.T) {
	known := rules.Known{Checklist: checklist(t), Person: func(id string) bool { return id == "ana" }}
	a := sound()
	if got := rules.Check(&a, known); len(got) != 0 {
		t.Fatalf("a sound paper: got %v, want no fault", got)
	}
	for name, c := range map[string]struct {
		spoil   func(*permits.Authority)
		pointer string
	}{
		"no id":                       {func(a *permits.Authority) { a.ID = "" }, "/id"},
		"no kind":                     {func(a *permits.Authority) { a.Kind = "" }, "/kind"},
		"no holder":                   {func(a *permits.Authority) { a.Holder = "" }, "/holder"},
		"no status":                   {func(a *permits.Authority) { a.Status = "" }, "/status"},
		"a status of its own":         {func(a *permits.Authority) { a.Status = "lapsed" }, "/status"},
		"dates reversed":              {func(a *permits.Authority) { a.ValidTo = permits.NewDate(2025, 12, 31) }, "/valid_to"},
		"an edition after the end":    {func(a *permits.Authority) { a.EffectiveFrom = permits.NewDate(2027, 1, 1) }, "/effective_from"},
		"no first day":                {func(a *permits.Authority) { a.ValidFrom = 0 }, "/valid_from"},
		"no area":                     {func(a *permits.Authority) { a.Area = nil }, "/area"},
		"an area that is no code":     {func(a *permits.Authority) { a.Area = []string{"US-MI", "us-mi"} }, "/area/1"},
		"a jurisdiction that is none": {func(a *permits.Authority) { a.Jurisdiction = "Michigan" }, "/jurisdiction"},
		"no taxa":                     {func(a *permits.Authority) { a.TaxaInclude = nil }, "/taxa_include"},
		"taxa nobody lists":           {func(a *permits.Authority) { a.TaxaInclude = []string{"Aves", "Avez"} }, "/taxa_include/1"},
		"excluded taxa nobody lists":  {func(a *permits.Authority) { a.TaxaExclude = []string{"eagles"} }, "/taxa_exclude/0"},
		"no activities":               {func(a *permits.Authority) { a.Activities = nil }, "/activities"},
		"a person nobody knows":       {func(a *permits.Authority) { a.Persons[0].Person = "zoe" }, "/persons/0/id"},
		"a person without a name":     {func(a *permits.Authority) { a.Persons[0].Person = "" }, "/persons/0/id"},
		"a listing reversed": {func(a *permits.Authority) {
			a.Persons[0].From, a.Persons[0].To = permits.NewDate(2026, 3, 2), permits.NewDate(2026, 3, 1)
		}, "/persons/0/to"},
		"a negative number":           {func(a *permits.Authority) { a.Quotas[0].Limit = -1 }, "/quotas/0/limit"},
		"a number without a name":     {func(a *permits.Authority) { a.Quotas[0].ID = "" }, "/quotas/0/id"},
		"two numbers of one name":     {func(a *permits.Authority) { a.Quotas = append(a.Quotas, a.Quotas[0]) }, "/quotas/1/id"},
		"a number per moon":           {func(a *permits.Authority) { a.Quotas[0].Window = "moon" }, "/quotas/0/window"},
		"a number of no kind":         {func(a *permits.Authority) { a.Quotas[0].Per = "" }, "/quotas/0/per"},
		"a list of nothing":           {func(a *permits.Authority) { a.Quotas[0].Per = "list" }, "/quotas/0/taxa"},
		"a ceiling and none":          {func(a *permits.Authority) { a.Quotas[0].Unlimited = true }, "/quotas/0/unlimited"},
		"a number for taxa unlisted":  {func(a *permits.Authority) { a.Quotas[0].Taxa = []string{"Gavia imer"} }, "/quotas/0/taxa/0"},
		"two clocks":                  {func(a *permits.Authority) { a.DepositRule.Hours = 48 }, "/deposit_rule"},
		"a clock that runs backwards": {func(a *permits.Authority) { a.DepositRule.Min[0].Months = -6 }, "/deposit_rule/min/0"},
		"a clock that asks itself":    {func(a *permits.Authority) { a.DepositRule = &permits.DueRule{Authority: "deposit"} }, "/deposit_rule"},
		"it leans on itself":          {func(a *permits.Authority) { a.DependsOn = []string{"P"} }, "/depends_on"},
		"something nobody can forbid": {func(a *permits.Authority) { a.Forbids = []string{"resell"} }, "/forbids/0"},
	} {
		t.Run(name, func(t *testing.T) {
			a := sound()
			c.spoil(&a)
			got := rules.Check(&a, known)
			if len(got) != 1 || got[0].Pointer() != c.pointer || got[0].What == "" {
				t.Errorf("got %v, want one sentence at %s", got, c.pointer)
			}
		})
	}
}

func TestTheShippedPapersHaveNoFault(t *testing.T) {
	list := checklist(t)
	for _, text := range [][]byte{packs.Authorities(), packs.DemoAuthorities()} {
		var all []permits.Authority
		if err := json.Unmarshal(text, &all); err != nil {
			t.Fatal(err)
		}
		for i := range all {
			for _, f := range rules.Check(&all[i], rules.Known{Checklist: list}) {
				t.Errorf("%s %s", all[i].ID, f.Sentence())
			}
		}
	}
}
