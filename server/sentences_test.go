package server_test

import (
	"slices"
	"strings"
	"testing"

	"wayfall/permits"
)

// plainly fails for a sentence in a verdict of the invented year that holds a
// code: an underscore, a code of ISO 3166, or the id of a paper or a person.
func (s *season) plainly(t *testing.T) {
	t.Helper()
	var ids []string
	for _, p := range s.story.People {
		ids = append(ids, p.Key)
	}
	for _, p := range s.story.Permits {
		ids = append(ids, p.Key)
	}
	verdicts, sentences := 0, map[string]bool{}
	for key, f := range s.out.Finds {
		var sheet struct {
			Verdicts []struct {
				By struct{ Value permits.Verdict }
			}
		}
		expect(t, "a report", s.as("gwen").get("/v1/reports/"+f.ID.String()), 200).into(t, &sheet)
		for _, one := range sheet.Verdicts {
			verdicts++
			v := one.By.Value
			for _, finding := range v.Findings {
				sentences[finding.Because] = true
				if code := coded(finding.Because, ids); code != "" {
					t.Errorf("%s: %s says %q, which holds %q", key, finding.Rule, finding.Because, code)
				}
			}
		}
	}
	t.Logf("SHOW %d verdicts on the invented year, %d different sentences, none with a code", verdicts, len(sentences))
	if verdicts < 300 || len(sentences) < 20 {
		t.Errorf("got %d verdicts and %d sentences, want 300 and 20 or more", verdicts, len(sentences))
	}
}

func coded(sentence string, ids []string) string {
	for _, word := range strings.FieldsFunc(sentence, func(r rune) bool { return strings.ContainsRune(" ,.:;()“”", r) }) {
		country, part, split := strings.Cut(word, "-")
		switch {
		case strings.Contains(word, "_"), slices.Contains(ids, word),
			split && len(country) == 2 && len(part) >= 2 && country == strings.ToUpper(country) && part == strings.ToUpper(part):
			return word
		}
	}
	return ""
}
