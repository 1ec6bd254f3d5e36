package server_test

import (
	"net/http"
	"strings"
	"testing"

	"wayfall/permits"
	"wayfall/server/people"
	"wayfall/sync/op"
)

// TestABarReachesTheFindsOfItsDaysAndTheirPhoneAlone bars a person for a time
// (50 CFR 13.21(c)(1)) and ends it.
func TestABarReachesTheFindsOfItsDaysAndTheirPhoneAlone(t *testing.T) {
	m := open(t, nil)
	papers(t, m)
	cal := m.phone("cal", 1)
	cal.push(cal.save(groups(t, op.ID{1}, find(nil), op.ID{2})...)) // of 3 October 2025
	desmond := m.as("desmond")
	verdict := func() string {
		var sheet struct {
			Verdicts []struct{ Findings []struct{ Rule string } }
		}
		expect(t, "report", desmond.get("/v1/reports/"+op.ID{1}.String()), http.StatusOK).into(t, &sheet)
		for _, f := range sheet.Verdicts[0].Findings { // the newest
			if f.Rule == "R-BARRED" {
				return "barred"
			}
		}
		return "free"
	}
	bar := func(in map[string]any, path string) {
		expect(t, "bar", desmond.post("/v1/people/cal/"+path, in), http.StatusNoContent)
	}
	steps := []struct {
		name string
		do   func()
		want string
	}{
		{"before anything", func() {}, "free"},
		{"barred from the day after the find", func() {
			bar(map[string]any{"from": "2025-10-04", "document": "judgment 3", "why": "a conviction"}, "bars")
		}, "free"},
		{"barred from its day", func() {
			bar(map[string]any{"from": "2025-10-03", "to": "2025-10-03", "document": "judgment 2", "why": "a conviction"}, "bars")
		}, "barred"},
		{"the open bar ends", func() { bar(map[string]any{"to": "2025-12-31", "document": "waiver 4"}, "bars/end") }, "barred"},
		{"the person's name is entered anew", func() {
			if err := m.People().Keep(t.Context(), people.Person{ID: "cal", Name: "Cal B. Whitlock", Institution: "sablewater", Roles: []people.Role{people.Salvager}}); err != nil {
				t.Fatal(err)
			}
		}, "barred"},
	}
	for _, s := range steps {
		s.do()
		if got := verdict(); got != s.want {
			t.Errorf("%s: got the find %s, want it %s", s.name, got, s.want)
		}
	}

	kit := func(p *phone) (bars []permits.Bar, text string) {
		r := expect(t, "kit", p.get("/v1/field-kit"), http.StatusOK)
		var k struct{ Bars []permits.Bar }
		r.into(t, &k)
		return k.Bars, string(r.body)
	}
	own, text := kit(cal)
	if len(own) != 2 || own[0].Person != "cal" || own[0].From != permits.NewDate(2025, 10, 4) || own[0].To != permits.NewDate(2025, 12, 31) || strings.Contains(text, "judgment") {
		t.Errorf("got %+v on cal's phone, want both times and no word of why", own)
	}
	if others, _ := kit(m.phone("ana", 2)); len(others) != 0 {
		t.Errorf("got %+v on ana's phone, want nothing of cal", others)
	}
	for name, in := range map[string]map[string]any{
		"without a document":      {"from": "2025-10-01", "document": " ", "why": "x"},
		"without a reason":        {"from": "2025-10-01", "document": "x", "why": " "},
		"it ends before it began": {"from": "2025-10-02", "to": "2025-10-01", "document": "x", "why": "y"},
	} {
		if r := desmond.post("/v1/people/cal/bars", in); r.StatusCode != http.StatusUnprocessableEntity {
			t.Errorf("%s: got %d %s, want it refused", name, r.StatusCode, r.body)
		}
	}
}
