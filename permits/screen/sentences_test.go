package screen_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

// saidBy returns every sentence of a verdict that a person reads, each with
// where it stands.
func saidBy(v *permits.Verdict) map[string]string {
	out := map[string]string{"deciding": v.Deciding.Because, "notice": v.Notice}
	for i, f := range v.Findings {
		out[fmt.Sprintf("finding %d %s", i, f.Rule)] = f.Because
		out[fmt.Sprintf("contact %d %s", i, f.Rule)] = f.Contact
	}
	for _, o := range v.Obligations {
		out["duty "+o.Code] = permits.DutyText(o.Code)
		out["to "+o.Code], out["note "+o.Code], out["word "+o.Code] = o.To, o.Note, o.Due.Word
	}
	for _, c := range v.Cautions {
		out["caution "+c.Code], out["topic "+c.Code] = c.Text, c.Topic
	}
	for _, c := range v.Changes {
		out["change "+c.Fact] = permits.FactText(c.Fact)
	}
	return out
}

// codeIn returns what of a sentence is a code and no word: something with an
// underscore, an ISO 3166 code, a day written in digits, or one of the ids.
func codeIn(sentence string, ids map[string]bool) string {
	if i := strings.IndexAny(sentence, "_{}"); i >= 0 {
		return sentence[max(0, i-10):min(len(sentence), i+10)]
	}
	for _, word := range strings.FieldsFunc(sentence, func(r rune) bool { return strings.ContainsRune(" ,.:;()“”\"/", r) }) {
		country, part, split := strings.Cut(word, "-")
		upper := func(s string, least, most int) bool {
			return len(s) >= least && len(s) <= most && s == strings.ToUpper(s) && s != strings.ToLower(s)
		}
		_, notDay := permits.ParseDate(word)
		switch {
		case split && upper(country, 2, 2) && upper(part, 2, 3), ids[word], notDay == nil, strings.HasPrefix(word, "R-"):
			return word
		}
	}
	for id := range ids {
		if strings.Contains(id, ".") && strings.Contains(sentence, id) {
			return id
		}
	}
	return ""
}

// idsOf are the ids of papers, people, packs and laws, and the codes of the
// lists: none of them is a word.
func idsOf(book *rules.Book, papers []permits.Authority) map[string]bool {
	ids := map[string]bool{}
	for _, a := range papers {
		ids[a.ID] = true
		for _, g := range a.Persons {
			ids[g.Person] = true
		}
	}
	for _, p := range book.Packs() {
		ids[p.ID] = strings.Contains(p.ID, "-")
		for _, w := range p.Laws {
			ids[w.ID] = true
		}
		for _, a := range p.Authorised {
			ids[a.ID] = true
		}
	}
	delete(ids, "")
	return ids
}

// papersOf are the sample authorities of both sets.
func papersOf(t *testing.T) []permits.Authority {
	t.Helper()
	var all []permits.Authority
	for _, text := range [][]byte{packs.Authorities(), packs.DemoAuthorities()} {
		var some []permits.Authority
		if err := json.Unmarshal(text, &some); err != nil {
			t.Fatal(err)
		}
		all = append(all, some...)
	}
	return all
}

// variants calls f with every find of all scenarios, with each of its facts
// left out, and with each of its facts known in every way.
func variants(t *testing.T, f func(w *screen.World, facts map[string]any)) {
	t.Helper()
	for _, b := range bases(t) {
		f(b.world, b.facts)
		for _, fact := range slices.Sorted(maps.Keys(knowable)) {
			f(b.world, without(b.facts, fact))
			for _, value := range knowable[fact] {
				with := maps.Clone(b.facts)
				with[fact] = value
				f(b.world, with)
			}
		}
		for _, more := range []map[string]any{
			{"jurisdictions": nil, "jurisdictions_possible": []string{"US-MI", "US-IN", "US-OH"}},
			{"jurisdictions": nil, "jurisdictions_possible": []string{"US-ZZ", "GB-SCT"}},
			{"jurisdictions": nil}, {"jurisdictions": []string{"US"}}, {"jurisdictions": []string{"QQ-ZZ"}},
			{"land_manager": "", "land_managers_possible": []string{"national_park", "road_authority"}},
			{"land_manager": "road_authority", "landowner_consent": "none"}, {"person": "a.rivera", "barred": true},
			{"person": "lena", "possessed": "2025-09-29/2025-10-02"}, {"cause": "electrocution", "in_hand": true},
			{"taxon": "sandhill_crane", "identified": false}, {"storage_manager": "refuge"},
			{"activity": "hold", "in_hand": true}, {"activity": "transfer", "recipient_authorised": false},
			{"activity": "year_end"}, {"activity": "take"}, {"material": "study_skin"}, {"in_hand": true},
		} {
			with := maps.Clone(b.facts)
			for fact, value := range more {
				if with[fact] = value; value == nil {
					delete(with, fact)
				}
			}
			f(b.world, with)
		}
	}
}

func TestNoSentenceHoldsACode(t *testing.T) {
	book := loadBook(t)
	ids := idsOf(book, papersOf(t))
	verdicts, sentences := 0, map[string]bool{}
	variants(t, func(w *screen.World, facts map[string]any) {
		v := judge(t, w, facts)
		verdicts++
		for where, sentence := range saidBy(&v) {
			if sentences[sentence] {
				continue
			}
			sentences[sentence] = true
			written, _ := facts["taxon"].(string)
			if code := codeIn(strings.ReplaceAll(sentence, written, ""), ids); code != "" {
				t.Errorf("%s holds %q: %s", where, code, sentence)
			}
		}
	})
	t.Logf("SHOW %d verdicts, %d different sentences, none with a code", verdicts, len(sentences))
	if verdicts < 5000 || len(sentences) < 200 {
		t.Errorf("got %d verdicts and %d sentences, want 5,000 and 200 or more", verdicts, len(sentences))
	}
}

func TestTheSearchForCodesFindsThem(t *testing.T) {
	ids := map[string]bool{"SW-FED-SALV": true, "a.rivera": true}
	for _, bad := range []string{"Not known: landowner_consent.", "SW-FED-SALV does not reach it.", "does not reach US-IN.",
		"a.rivera is not listed.", "It ran to 2025-12-31.", "{taxon} may be stricter.", "By R-EAGLE it stays."} {
		if codeIn(bad, ids) == "" {
			t.Errorf("%q passes for a sentence without a code", bad)
		}
	}
	if code := codeIn("The state salvage permit does not reach Indiana: 12 of 12, between 3 May 2025 and 4 May 2025.", ids); code != "" {
		t.Errorf("got %q, want a plain sentence to pass", code)
	}
}

func TestEveryFactHasAPlainName(t *testing.T) {
	for _, fact := range append(slices.Sorted(maps.Keys(knowable)), "place", "quota", "depends_on", "possessed_on", "land_authority") {
		if text := permits.FactText(fact); text == fact || !strings.Contains(text, " ") {
			t.Errorf("%s is called %q, which is no name a person would use", fact, text)
		}
	}
}
