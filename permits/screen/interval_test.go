package screen_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

// july is a find of which only the month is known, against papers, listings,
// amendments, papers that another rests on, and rules that begin, end or change
// before, within and after it.
var july = []struct {
	name   string
	change func(fed, state *permits.Authority) []permits.Authority // returns amended editions besides
	may    bool
	rule   permits.RuleID // which decides, where it may not
}{
	{"papers that stand all month", nil, true, ""},
	{"the state paper ends on 31 July", func(_, s *permits.Authority) []permits.Authority {
		s.ValidTo = permits.NewDate(2025, 7, 31)
		return nil
	}, true, ""},
	{"the state paper ends on 30 July", func(_, s *permits.Authority) []permits.Authority {
		s.ValidTo = permits.NewDate(2025, 7, 30)
		return nil
	}, false, "R-STRICT"},
	{"the state paper begins on 1 July", func(_, s *permits.Authority) []permits.Authority {
		s.ValidFrom = permits.NewDate(2025, 7, 1)
		return nil
	}, true, ""},
	{"the state paper begins on 2 July", func(_, s *permits.Authority) []permits.Authority {
		s.ValidFrom = permits.NewDate(2025, 7, 2)
		return nil
	}, false, "R-STRICT"},
	{"the state paper ended in June", func(_, s *permits.Authority) []permits.Authority {
		s.ValidTo = permits.NewDate(2025, 6, 30)
		return nil
	}, false, "R-STRICT"},
	{"listed from 1 July", func(_, s *permits.Authority) []permits.Authority { list(s, permits.NewDate(2025, 7, 1), 0); return nil }, true, ""},
	{"listed from 15 July", func(_, s *permits.Authority) []permits.Authority {
		list(s, permits.NewDate(2025, 7, 15), 0)
		return nil
	}, false, "R-SUBPERMIT"},
	{"listed until 15 July", func(_, s *permits.Authority) []permits.Authority {
		list(s, 0, permits.NewDate(2025, 7, 15))
		return nil
	}, false, "R-SUBPERMIT"},
	{"listed only within July", func(_, s *permits.Authority) []permits.Authority {
		list(s, permits.NewDate(2025, 7, 5), permits.NewDate(2025, 7, 25))
		return nil
	}, false, "R-SUBPERMIT"},
	{"amended on 15 July to leave owls out", func(_, s *permits.Authority) []permits.Authority {
		next := *s
		next.Version, next.EffectiveFrom, next.TaxaExclude = 2, permits.NewDate(2025, 7, 15), append(slices.Clone(s.TaxaExclude), "Strigidae")
		return []permits.Authority{next}
	}, false, "R-STRICT"},
	{"amended on 15 July to take owls in", func(_, s *permits.Authority) []permits.Authority {
		next := *s
		next.Version, next.EffectiveFrom = 2, permits.NewDate(2025, 7, 15)
		s.TaxaExclude = append(slices.Clone(s.TaxaExclude), "Strigidae")
		return []permits.Authority{next}
	}, false, "R-STRICT"},
	{"amended on 15 July in nothing that matters here", func(_, s *permits.Authority) []permits.Authority {
		next := *s
		next.Version, next.EffectiveFrom, next.Issuer = 2, permits.NewDate(2025, 7, 15), "another office"
		return []permits.Authority{next}
	}, true, ""},
	{"amended on 1 August", func(_, s *permits.Authority) []permits.Authority {
		next := *s
		next.Version, next.EffectiveFrom, next.TaxaExclude = 2, permits.NewDate(2025, 8, 1), append(slices.Clone(s.TaxaExclude), "Strigidae")
		return []permits.Authority{next}
	}, true, ""},
	{"the state paper on which the federal one rests is suspended on 15 July", func(_, s *permits.Authority) []permits.Authority {
		next := *s
		next.Version, next.EffectiveFrom, next.Status = 2, permits.NewDate(2025, 7, 15), permits.Suspended
		return []permits.Authority{next}
	}, false, ""},
}

func list(a *permits.Authority, from, to permits.Date) {
	a.Persons = []permits.Grant{{Person: "cal", From: from, To: to}}
}

func TestSomeTimeInJuly(t *testing.T) {
	book := loadBook(t)
	checklist, err := permits.ReadChecklist(packs.Taxa())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range july {
		var papers []permits.Authority
		if err := json.Unmarshal(packs.DemoAuthorities(), &papers); err != nil {
			t.Fatal(err)
		}
		if c.change != nil {
			papers = append(papers, c.change(&papers[0], &papers[1])...)
		}
		w := &screen.World{Book: book, Register: rules.NewRegister(book, papers), Checklist: checklist, Tally: loons(0)}
		f := owl(func(f *screen.Facts) {
			f.Found = permits.When{From: permits.Moment{Date: permits.NewDate(2025, 7, 1)}, To: permits.Moment{Date: permits.NewDate(2025, 7, 31)}}
			f.Possessed, f.JudgedAt = f.Found, permits.Moment{Date: permits.NewDate(2025, 8, 10)}
		})
		v := screen.Check(&f, w)
		if v.Outcome.Permits() != c.may || c.rule != "" && v.Deciding.Rule != c.rule {
			t.Errorf("%s: got %s by %s (%s), want permitted %v by %s", c.name, v.Outcome, v.Deciding.Rule, v.Deciding.Because, c.may, c.rule)
		}
		if v.Outcome == permits.ReviewByPerson && !slices.ContainsFunc(v.Changes, func(x permits.Change) bool { return x.Fact == "possessed" }) {
			t.Errorf("%s: got %v for what would change the answer, want the day of the pick-up among it", c.name, v.Changes)
		}
		for _, o := range v.Obligations {
			if o.Code == "DEPOSIT" && o.Due.At.String() != "2025-12-31" {
				t.Errorf("%s: got the deposit due %s, want 31 December", c.name, o.Due.At)
			}
		}
	}
}

// TestARuleThatHeldOnSomeDaysSatisfiesNobody moves the rule by which an
// invented state asks for nothing over the month of a find.
func TestARuleThatHeldOnSomeDaysSatisfiesNobody(t *testing.T) {
	checklist, err := permits.ReadChecklist(packs.Taxa())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		dates string
		may   bool
	}{
		{`"effective_from": "2025-07-01"`, true}, {`"effective_from": "2025-07-02"`, false},
		{`"effective_to": "2025-07-31"`, true}, {`"effective_to": "2025-07-30"`, false}, {`"effective_to": "2025-06-30"`, false},
	} {
		var all []*rules.Pack
		for _, file := range packs.Rules() {
			text := string(file.Data)
			if file.Name == "us-zz.json" {
				text = strings.Replace(text, `"id": "R-ZZ-NONE",`, `"id": "R-ZZ-NONE", `+c.dates+`,`, 1)
			}
			p, err := rules.Load(file.Name, []byte(text))
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, p)
		}
		book, err := rules.NewBook(all...)
		if err != nil {
			t.Fatal(err)
		}
		w := &screen.World{Book: book, Register: rules.NewRegister(book, nil), Checklist: checklist, Tally: loons(0)}
		f := owl(func(f *screen.Facts) {
			f.Found = permits.When{From: permits.Moment{Date: permits.NewDate(2025, 7, 1)}, To: permits.Moment{Date: permits.NewDate(2025, 7, 31)}}
			f.Possessed, f.Jurisdictions, f.Person, f.Role = f.Found, []string{"US-ZZ"}, "", "public"
		})
		if v := screen.Check(&f, w); v.Outcome.Permits() != c.may {
			t.Errorf("%s: got %s by %s, want permitted %v", c.dates, v.Outcome, v.Deciding.Rule, c.may)
		}
	}
}
