package web

import (
	"net/http"
	"strings"
	"testing"
)

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
