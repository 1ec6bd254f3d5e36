package screen_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

// The benchmarks of growth judge the owl of the Michigan scenario, which is
// allowed, so that every rule is asked and every law is searched.

func judging(b *testing.B, w *screen.World, want permits.Outcome) {
	b.Helper()
	w.Tally = loons(0)
	judgingOf(b, owl(nil), w, want)
}

func judgingOf(b *testing.B, f screen.Facts, w *screen.World, want permits.Outcome) {
	b.Helper()
	if v := screen.Check(&f, w); v.Outcome != want {
		b.Fatalf("got %s by %s, want %s", v.Outcome, v.Deciding.Rule, want)
	}
	b.ReportAllocs()
	for b.Loop() {
		screen.Check(&f, w)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "verdicts/s")
}

// BenchmarkGrowthWithRules adds rules of four conditions each to the pack of
// the state, none of which holds, as most do not. What is shipped is the least:
// without it the verdict would be another.
func BenchmarkGrowthWithRules(b *testing.B) {
	for _, n := range []int{0, 100, 200, 400, 800} {
		name := fmt.Sprint(n)
		if n == 0 {
			name = "shipped"
		}
		b.Run(name, func(b *testing.B) {
			w := loadWorld(b, packs.DemoAuthorities())
			asked := 0
			for _, p := range w.Book.Packs() {
				if p.Jurisdiction == "*" || p.Jurisdiction == "US" || p.Jurisdiction == "US-MI" {
					asked += len(p.Rules)
				}
			}
			w.Book = moreRules(b, max(n-asked, 0))
			var given []permits.Authority
			if err := json.Unmarshal(packs.DemoAuthorities(), &given); err != nil {
				b.Fatal(err)
			}
			w.Register = rules.NewRegister(w.Book, given)
			judging(b, w, permits.AllowWithObligations)
			b.ReportMetric(float64(max(n, asked)), "rules-asked")
		})
	}
}

func moreRules(b *testing.B, n int) *rules.Book {
	b.Helper()
	type rule map[string]any
	var extra []rule
	for i := range n {
		extra = append(extra, rule{"id": fmt.Sprintf("X-%d", i), "layer": "taxon", "effect": "hold", "because": "x {taxon}", "citation": "c",
			"source_status": "sample", "when": rule{"all": []rule{
				{"fact": "class", "is": "Aves"}, {"fact": "groups", "has": "us-mbta"}, {"not": rule{"fact": "groups", "has": "eagle"}},
				{"fact": "event_carcass_count", "at_least": 5 + i}}}})
	}
	text, err := json.Marshal(rule{"id": "extra", "version": "1", "jurisdiction": "US-MI", "reviewer": "nobody", "rules": append(extra,
		rule{"id": "X-SPEAKS", "layer": "advice", "effect": "note", "speaks": true, "because": "x", "citation": "c", "source_status": "sample",
			"when": rule{"fact": "activity", "known": true}})})
	if err != nil {
		b.Fatal(err)
	}
	p, err := rules.Load("extra", text)
	if err != nil {
		b.Fatal(err)
	}
	book, err := rules.NewBook(append(loadBook(b).Packs(), p)...)
	if err != nil {
		b.Fatal(err)
	}
	return book
}

// BenchmarkGrowthWithAuthorities adds papers that look like the museum's own
// and list other people. The fox squirrel needs the state's paper alone, so
// that one is enough. First asks with that paper before the others, last after
// them.
func BenchmarkGrowthWithAuthorities(b *testing.B) {
	for _, order := range []string{"first", "last"} {
		for _, n := range []int{1, 10, 100, 1000} {
			b.Run(fmt.Sprintf("%s/%d", order, n), func(b *testing.B) {
				w := loadWorld(b, packs.DemoAuthorities())
				w.Register = rules.NewRegister(w.Book, morePapers(b, n, order))
				w.Tally = loons(0)
				judgingOf(b, owl(func(f *screen.Facts) { f.Taxon = "Fox Squirrel" }), w, permits.AllowWithObligations)
			})
		}
	}
}

func morePapers(b *testing.B, n int, order string) []permits.Authority {
	b.Helper()
	var given, more []permits.Authority
	if err := json.Unmarshal(packs.DemoAuthorities(), &given); err != nil {
		b.Fatal(err)
	}
	at := slices.IndexFunc(given, func(a permits.Authority) bool { return a.ID == "SW-MI-SALV" })
	if at < 0 {
		b.Fatal("the state's paper is gone from the demo")
	}
	for i := 1; i < n; i++ {
		a := given[at]
		a.ID = fmt.Sprintf("%s-%d", a.ID, i)
		a.Persons = []permits.Grant{{Person: fmt.Sprintf("p%d", i)}}
		more = append(more, a)
	}
	if order == "last" {
		return append(more, given[at])
	}
	return append(given[at:at+1:at+1], more...)
}

// BenchmarkGrowthWithChecklist adds birds to the checklist; the owl stands
// among the first, and an unidentified raptor is looked for among all.
func BenchmarkGrowthWithChecklist(b *testing.B) {
	for _, n := range []int{139, 379, 1000, 10000} {
		w := loadWorld(b, packs.DemoAuthorities())
		w.Checklist = moreTaxa(b, n)
		b.Run(fmt.Sprintf("owl/%d", n), func(b *testing.B) { judging(b, w, permits.AllowWithObligations) })
		b.Run(fmt.Sprintf("raptor/%d", n), func(b *testing.B) {
			f := owl(func(f *screen.Facts) { f.Taxon, f.Identified = "unidentified raptor", permits.No })
			if v := screen.Check(&f, w); v.Outcome != permits.ReviewByPerson {
				b.Fatalf("got %s by %s, want a person to decide", v.Outcome, v.Deciding.Rule)
			}
			for b.Loop() {
				screen.Check(&f, w)
			}
		})
	}
}

func moreTaxa(b *testing.B, n int) *permits.Checklist {
	b.Helper()
	var list struct {
		Sample  bool             `json:"sample"`
		Notice  string           `json:"notice"`
		Taxa    []permits.Taxon  `json:"taxa"`
		Bundles []permits.Bundle `json:"bundles"`
	}
	if err := json.Unmarshal(packs.Taxa(), &list); err != nil {
		b.Fatal(err)
	}
	for i := len(list.Taxa); i < n; i++ {
		t := permits.Taxon{Name: fmt.Sprintf("Avis numerata%d", i), English: fmt.Sprintf("Bird %d", i), Class: "Aves", Order: "Passeriformes",
			Family: "Avidae", Genus: "Avis", Groups: []string{"us-mbta"}, Status: "memory"}
		list.Taxa = append(list.Taxa, t)
	}
	if n < len(list.Taxa) {
		list.Taxa = list.Taxa[:n]
		for i := range list.Taxa {
			list.Taxa[i].Lookalikes = nil
		}
	}
	text, err := json.Marshal(list)
	if err != nil {
		b.Fatal(err)
	}
	out, err := permits.ReadChecklist(text)
	if err != nil {
		b.Fatal(err)
	}
	return out
}
