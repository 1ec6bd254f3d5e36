package web

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/sync/record"
)

// tray are papers with scans and shares; what is entered falls through.
type tray struct{ entered []permits.Authority }

func (p *tray) Enter(_ context.Context, _ catalogue.Hand, a permits.Authority, _ int) error {
	p.entered = append(p.entered, a)
	return nil
}

func (p *tray) Trail(context.Context, string) (Trail, error) {
	return Trail{Entered: []Entered{{Version: 2, From: permits.NewDate(2025, 1, 1), Who: "p-farrow", AtMS: sampleDay.UnixMilli(), LSN: 7}},
		Scans: []Scan{{Photo: record.Photo{SHA256: strings.Repeat("ab", 32), Type: "image/png", Caption: "Page <1>"}, Who: "p-farrow", LSN: 9}, {Photo: record.Photo{SHA256: strings.Repeat("cd", 32), Type: "application/pdf"}}}}, nil
}

func (p *tray) Shares(context.Context) ([]Share, error) {
	return []Share{{Authority: "state-2025", Quota: "loon", Species: "Common Loon", Device: "d1", Person: "p-ana", Left: 2, Spent: 1, SinceMS: sampleDay.UnixMilli(), HeardMS: sampleDay.UnixMilli()},
		{Authority: "state-2025", Quota: "loon", Species: "Common Loon", Device: "d2", Person: "p-cal", Left: 1, Gone: "phone lost"}}, nil
}

func (p *tray) Attach(context.Context, catalogue.Hand, string, Scan, []byte) error { return nil }

func TestPagesOfPapersAreWellFormedForEveryRole(t *testing.T) {
	m := newMuseum(t)
	m.fill()
	papers := &tray{}
	m.desk.Office, m.desk.Papers = newPaper(), papers
	for person, paths := range map[string]map[string]string{
		"p-farrow": {"/permits": "Lent to: Ana Petrosyan-Reed 2, Cal Whitlock 1 (phone lost)", "/permits/state-2025": "Page &lt;1&gt;", "/permits/new": "Enter a paper", "/permits/state-2025/amend": "Amend: State salvage permit",
			"/permits/state-2025/versions/1": "not the version in force", "/people": "Gwendolyn Stasik", "/people/p-ana": "Finds in 2025"},
		"p-stasik": {"/permits": "AP</text>", "/permits/state-2025": "last heard", "/people": "Ana Petrosyan-Reed", "/people/p-cal": "Eastern Screech-Owl"},
		"p-reader": {"/permits": "AP</text>", "/permits/state-2025": "Versions"},
	} {
		b := m.browser(person)
		for path, want := range paths {
			status, body := b.get(path)
			if err := wellFormed(body); status != http.StatusOK || err != nil || !strings.Contains(body, want) {
				t.Errorf("%s for %s: got %d, %v, want 200 and %q", path, person, status, err, want)
			}
		}
	}
	b := m.browser("p-farrow")
	for what, form := range map[string]url.Values{
		"what is wrong": {"persons": {"1"}, "person.0": {"<b>zed"}, "valid_to": {"soon"}},
		"more rows":     {"step": {"persons"}, "persons": {"2"}, "quotas": {"900000"}},
	} {
		_, body, _ := b.post("/permits/state-2025/amend", form)
		if err := wellFormed(body); err != nil || strings.Contains(body, "<b>zed") {
			t.Errorf("the page of %s: %v", what, err)
		}
	}
	if len(papers.entered) != 0 {
		t.Errorf("%d papers were entered by looking", len(papers.entered))
	}
}

// caution is what every page says that shows an answer of the rules.
var caution = []string{"samples", "no legal advice", "permit’s own text", "local codes", "officer on the spot prevail"}

func TestEveryPageWithAnAnswerCarriesTheCaution(t *testing.T) {
	m := newMuseum(t)
	report, owl, _ := m.fill()
	m.desk.Office, m.desk.Queue = newPaper(), samplePile(report, owl)
	b := m.browser("p-farrow")
	for _, path := range []string{"/", "/finds/" + report.String(), "/animals/" + owl.String(), "/permits", "/permits/state-2025", "/permits/state-2025/years/2025", "/review"} {
		status, body := b.get(path)
		if status != http.StatusOK {
			t.Errorf("%s: got %d, want 200", path, status)
		}
		_, said, _ := strings.Cut(body, `<p class="caution">`)
		said, _, _ = strings.Cut(said, "</p>")
		for _, words := range caution {
			if !strings.Contains(said, words) {
				t.Errorf("%s: the caution %q lacks %q", path, said, words)
			}
		}
	}
}
