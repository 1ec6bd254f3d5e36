package server_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/screen"
	"wayfall/permits/screen/vectors"
	"wayfall/server/people"
	"wayfall/sync/record"
)

func readVectors(t *testing.T) vectors.File {
	t.Helper()
	data, err := os.ReadFile(filepath.FromSlash("../fixtures/vectors/permits.json"))
	if err != nil {
		t.Fatal(err)
	}
	f, err := vectors.Read(data)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// vectorMuseum is a museum with the papers and the people of the vectors.
func vectorMuseum(t *testing.T) *museum {
	t.Helper()
	m := open(t, nil)
	for _, id := range []string{"a.rivera", "b.chen", "h.new"} {
		p := people.Person{ID: id, Name: id, Roles: []people.Role{people.Salvager}, Institution: "sablewater"}
		if err := m.People().Keep(t.Context(), p); err != nil {
			t.Fatal(err)
		}
		if _, err := m.People().IssueCode(t.Context(), id, people.CodeTerms{Text: "DEMO " + id, Lasts: 1e6 * time.Hour, Reusable: true}); err != nil {
			t.Fatal(err)
		}
	}
	var all []permits.Authority
	if err := json.Unmarshal(packs.Authorities(), &all); err != nil {
		t.Fatal(err)
	}
	desmond := m.as("desmond")
	for _, a := range all {
		m.lists(a)
		expect(t, "enter "+a.ID, desmond.send("PUT", "/v1/permits/"+a.ID, a, nil), http.StatusOK)
	}
	return m
}

// TestEveryVectorThroughTheInterface asks POST /v1/verdicts/facts, as any
// program may, with the facts of the vectors as they stand in their file.
func TestEveryVectorThroughTheInterface(t *testing.T) {
	m := vectorMuseum(t)
	f := readVectors(t)
	cal := m.as("cal")
	same, duties, timed := 0, 0, 0
	for i := range f.Cases {
		v := &f.Cases[i]
		finds := make([]map[string]any, len(v.Facts))
		for n := range finds {
			laid(t, &finds[n], f.Ordinary, v.Facts[n])
		}
		used := v.Tallies
		if used == nil {
			used = quota.Fixed{}
		}
		var got struct{ Verdicts []permits.Verdict }
		expect(t, v.ID, cal.post("/v1/verdicts/facts", map[string]any{"finds": finds, "used": used}), http.StatusOK).into(t, &got)
		if len(got.Verdicts) != len(finds) {
			t.Fatalf("%s: got %d verdicts, want %d", v.ID, len(got.Verdicts), len(finds))
		}
		for _, one := range got.Verdicts {
			if !one.Sample || one.Notice == "" {
				t.Errorf("%s: an answer without the notice that the packs are samples", v.ID)
			}
		}
		if wrong := v.Differences(got.Verdicts); wrong != nil {
			t.Errorf("%s %s: %s", v.ID, v.Name, strings.Join(wrong, "\n"))
			continue
		}
		same++
		for _, d := range v.Want.Obligations {
			duties++
			if d.Due.Known() {
				timed++
			}
		}
	}
	t.Logf("SHOW POST /v1/verdicts/facts: %d of %d vectors agree in outcome, rule and %d duties, %d with a due time", same, len(f.Cases), duties, timed)
	if len(f.Cases) != 40 {
		t.Errorf("got %d vectors, want 40", len(f.Cases))
	}
}

// TestFactsThatCannotBeMeantAreNamed asks that each is pointed at.
func TestFactsThatCannotBeMeantAreNamed(t *testing.T) {
	m := vectorMuseum(t)
	cal := m.as("cal")
	for pointer, find := range map[string]map[string]any{
		"/finds/0/count":               {"count": -1},
		"/finds/0/event_carcass_count": {"event_carcass_count": -1},
		"/finds/0/distance_to_shore_m": {"distance_to_shore_m": -402},
		"/finds/0/found":               {"found": "2026-02-31"},
		"/finds/0/possessed":           {"found": "2026-05-10", "possessed": "2026-05-09"},
		"/finds/0/judged_at":           {"judged_at": "tomorrow"},
		"/finds/0/landowner_consent":   {"landowner_consent": "nodded"},
		"/finds/0/in_hand":             {"in_hand": "perhaps"},
		"/finds/0/land_manager":        {"land_manager": "National Park"},
		"/finds/0/role":                {"role": "king"},
		"/finds/0/activity":            {"activity": "sell"},
		"/finds/0/band":                {"band": "fedral"},
		"/finds/0/material":            {"material": "carcas"},
		"/finds/0/cause":               {"cause": "shoting"},
		"/finds/0/jurisdictions/0":     {"jurisdictions": []string{"Michigan"}},
		"/finds/0/colour":              {"colour": "red"},
		"/finds":                       nil,
	} {
		finds := []map[string]any{find}
		if find == nil {
			finds = finds[:0]
		}
		r := cal.post("/v1/verdicts/facts", map[string]any{"finds": finds})
		var p struct {
			Errors []struct{ Pointer, Detail string }
		}
		r.into(t, &p)
		if r.StatusCode != http.StatusUnprocessableEntity || len(p.Errors) != 1 || p.Errors[0].Pointer != pointer || p.Errors[0].Detail == "" {
			t.Errorf("%s: got %d %s, want 422 that points there", pointer, r.StatusCode, r.body)
		}
	}
}

func laid(t *testing.T, into any, layers ...json.RawMessage) {
	t.Helper()
	for _, l := range layers {
		if err := json.Unmarshal(l, into); err != nil {
			t.Fatal(err)
		}
	}
}

// sayable are the facts for which a report has a field.
var sayable = []string{"person", "role", "found", "possessed", "judged_at", "in_hand", "jurisdictions", "site", "land_manager",
	"landowner_consent", "taxon", "identified", "material", "count", "event_carcass_count", "band", "cause", "suspected_crime",
	"suspected_poison", "salvager_caused_death", "opportunistic", "research_purpose", "wants_to_keep", "permit_copy_on_hand",
	"in_live_traffic_lane"}

// unsaid returns the first fact of a vector for which a report has no field,
// or a value that no report can have; "" if all can be said.
func unsaid(t *testing.T, v *vectors.Case, ordinary json.RawMessage) string {
	t.Helper()
	var usual map[string]any
	laid(t, &usual, ordinary)
	for _, text := range v.Facts {
		var facts map[string]any
		laid(t, &facts, text)
		for name, value := range facts {
			if !slices.Contains(sayable, name) && value != usual[name] {
				return name
			}
		}
		if state := fmt.Sprint(facts["jurisdictions"]); state != "[US-CA]" {
			return "state " + state
		}
		if role := facts["role"]; role == "public" {
			return "somebody who is not signed in"
		}
		if m := fmt.Sprint(facts["material"]); strings.HasSuffix(m, "nest") || strings.HasSuffix(m, "egg") {
			return "whether the nest is in use and the eggs could hatch"
		}
	}
	return ""
}

// asReport says the facts as a report does.
func asReport(f *screen.Facts) map[string]any {
	yes := func(a permits.Answer) string {
		return map[permits.Answer]string{permits.Yes: "yes", permits.No: "no"}[a]
	}
	planned := map[permits.Answer]string{permits.Yes: "no", permits.No: "yes"}[f.Opportunistic]
	when := func(w permits.When) record.When {
		return record.When{Earliest: w.From.Date.String() + "T00:00", Latest: w.To.Date.String() + "T23:59", Precision: record.ToDay, Zone: "-08:00"}
	}
	certainty := map[permits.Answer]record.Certainty{permits.Yes: record.Sure, permits.No: record.Guess}[f.Identified]
	land := record.Land{Manager: f.LandManager}
	switch f.Consent {
	case permits.Written:
		land.Permission, land.Written = "yes", true
	case permits.Spoken:
		land.Permission = "yes"
	case permits.Refused:
		land.Permission = "no"
	case permits.NotApplicable:
		land.Permission = "not_needed"
	}
	return map[string]any{
		"found": when(f.Found), "taken_at": when(f.Possessed), "locality": f.Site,
		"place": record.Georeference{State: f.Jurisdictions[0], Source: "said"},
		"taxon": record.Determination{Written: f.Taxon, Name: f.Taxon, Certainty: certainty},
		"count": f.Count, "material": f.Material, "circumstance": "road", "salvager": f.Person, "band": f.Band,
		"cause": record.Cause{Cause: f.Cause, Basis: "position", Certainty: record.Likely}, "land": land,
		"signs": record.Signs{Crime: yes(f.SuspectedCrime), Caused: yes(f.CausedDeath), Planned: planned, Research: yes(f.Research),
			Keep: yes(f.WantsToKeep), PermitCopy: yes(f.PermitCopy), Danger: yes(f.TrafficLane), InHand: yes(f.InHand),
			Others: yes(permits.AnswerOf(f.EventCount > f.Count)), OthersNearby: max(f.EventCount-f.Count, 0)},
	}
}

// TestTheVectorsThatAReportCanSay asks POST /v1/verdicts.
func TestTheVectorsThatAReportCanSay(t *testing.T) {
	f := readVectors(t)
	asked, same := 0, 0
	for i := range f.Cases {
		v := &f.Cases[i]
		if why := unsaid(t, v, f.Ordinary); why != "" {
			t.Logf("%s is not asked: a report cannot say %s", v.ID, why)
			continue
		}
		asked++
		t.Run(v.ID, func(t *testing.T) {
			m := vectorMuseum(t)
			spend(t, m, v)
			var verdicts []permits.Verdict
			for n := range v.Facts {
				var facts screen.Facts
				laid(t, &facts, f.Ordinary, v.Facts[n])
				d := facts.JudgedAt.Date
				m.now.Store(time.Date(d.Year(), time.Month(d.Month()), d.Day(), 20, 0, 0, 0, time.UTC).UnixMilli())
				var got permits.Verdict
				expect(t, "verdict", m.as("cal").post("/v1/verdicts", asReport(&facts)), http.StatusOK).into(t, &got)
				verdicts = append(verdicts, got)
			}
			if wrong := v.Differences(verdicts); wrong != nil {
				t.Errorf("%s: %s", v.Name, strings.Join(wrong, "\n"))
				return
			}
			same++
		})
	}
	t.Logf("SHOW %d of %d vectors can be said in a report, %d agree", asked, len(f.Cases), same)
	if asked < 10 {
		t.Errorf("got %d vectors asked, want 10 or more", asked)
	}
}

// spend hands in as many finds as the vector says are used already.
func spend(t *testing.T, m *museum, v *vectors.Case) {
	t.Helper()
	for _, used := range v.Tallies {
		if used.Taxon == "" {
			continue
		}
		for n := range used.Used {
			d := permits.NewDate(2026, 1, 2).AddDays(n)
			m.now.Store(time.Date(d.Year(), time.Month(d.Month()), d.Day(), 20, 0, 0, 0, time.UTC).UnixMilli())
			f := screen.Facts{Person: "a.rivera", Found: permits.On(d), Possessed: permits.On(d), Jurisdictions: []string{"US-CA"},
				Site: "somewhere", LandManager: "other", Consent: permits.Written, Taxon: used.Taxon, Identified: permits.Yes,
				Material: "carcass", Count: 1, EventCount: 1, Cause: "window", Opportunistic: permits.Yes, Band: "none",
				SuspectedCrime: permits.No, CausedDeath: permits.No, Research: permits.No, WantsToKeep: permits.No,
				PermitCopy: permits.Yes, TrafficLane: permits.No, InHand: permits.Yes}
			r := asReport(&f)
			r["deed"] = "taken"
			expect(t, "earlier find", m.as("a.rivera").report(fmt.Sprintf("%s-%d", used.Quota, n), r), http.StatusCreated)
		}
	}
}

// TestAPaperThatCannotBeMeantIsNotHalfKept spoils one member after another and
// asks that each is pointed at, and that nothing of the paper stays.
func TestAPaperThatCannotBeMeantIsNotHalfKept(t *testing.T) {
	m := open(t, nil)
	desmond := m.as("desmond")
	var all []permits.Authority
	if err := json.Unmarshal(packs.DemoAuthorities(), &all); err != nil {
		t.Fatal(err)
	}
	paper := all[slices.IndexFunc(all, func(a permits.Authority) bool { return a.ID == "SW-MI-SALV" })]
	m.lists(paper)
	refused, before := 0, m.lsn(t)
	for pointer, spoil := range map[string]func(*permits.Authority){
		"/valid_to":       func(a *permits.Authority) { a.ValidTo = a.ValidFrom.AddDays(-1) },
		"/effective_from": func(a *permits.Authority) { a.EffectiveFrom = a.ValidTo.AddDays(1) },
		"/persons/1/id": func(a *permits.Authority) {
			a.Persons = []permits.Grant{{Person: "ana"}, {Person: "nobody.at.all"}}
		},
		"/area":   func(a *permits.Authority) { a.Area = nil },
		"/area/0": func(a *permits.Authority) { a.Area = []string{"Michigan"} },
		"/quotas/0/limit": func(a *permits.Authority) {
			a.Quotas = []permits.Quota{{ID: "Q", Per: "all", Limit: -1, Window: "calendar_year"}}
		},
		"/quotas/0/window": func(a *permits.Authority) {
			a.Quotas = []permits.Quota{{ID: "Q", Per: "all", Limit: 1, Window: "week"}}
		},
		"/taxa_include":   func(a *permits.Authority) { a.TaxaInclude = nil },
		"/taxa_include/0": func(a *permits.Authority) { a.TaxaInclude = []string{"Birds"} },
		"/persons/0/id":   func(a *permits.Authority) { a.Persons = []permits.Grant{{}} },
		"/persons/0/to": func(a *permits.Authority) {
			a.Persons = []permits.Grant{{Person: "cal", From: permits.NewDate(2026, 5, 2), To: permits.NewDate(2026, 5, 1)}}
		},
		"/kind":               func(a *permits.Authority) { a.Kind = "" },
		"/holder":             func(a *permits.Authority) { a.Holder = "" },
		"/activities":         func(a *permits.Authority) { a.Activities = nil },
		"/forbids/0":          func(a *permits.Authority) { a.Forbids = []string{"resell"} },
		"/deposit_rule/min/0": func(a *permits.Authority) { a.DepositRule = &permits.DueRule{Min: []permits.DueRule{{Months: -6}}} },
		"/quotas/0/per": func(a *permits.Authority) {
			a.Quotas = []permits.Quota{{ID: "Q", Per: "each", Limit: 1, Window: "calendar_year"}}
		},
		"/status":       func(a *permits.Authority) { a.Status = "lapsed" },
		"/deposit_rule": func(a *permits.Authority) { a.DepositRule = &permits.DueRule{Hours: 48, BusinessDays: 2} },
		"/depends_on":   func(a *permits.Authority) { a.DependsOn = []string{a.ID} },
	} {
		bad := paper
		spoil(&bad)
		r := desmond.send("PUT", "/v1/permits/"+bad.ID, bad, nil)
		var p struct {
			Errors []struct{ Pointer, Detail string }
		}
		r.into(t, &p)
		if r.StatusCode != http.StatusUnprocessableEntity || !slices.ContainsFunc(p.Errors, func(e struct{ Pointer, Detail string }) bool {
			return strings.HasPrefix(pointer, e.Pointer) && e.Detail != ""
		}) {
			t.Errorf("%s: got %d %s, want 422 that points there", pointer, r.StatusCode, r.body)
			continue
		}
		refused++
		expect(t, "the refused paper", desmond.get("/v1/permits/"+bad.ID), http.StatusNotFound)
	}
	if now := m.lsn(t); now != before {
		t.Errorf("after %d spoilt papers the log is %d long, want %d as before", refused, now, before)
	}
	expect(t, "the sound paper", desmond.send("PUT", "/v1/permits/"+paper.ID, paper, nil), http.StatusOK)
	bad := paper
	bad.Version, bad.Area = 2, []string{"nowhere at all!"}
	expect(t, "a spoilt edition", desmond.send("PUT", "/v1/permits/"+paper.ID, bad, nil), http.StatusUnprocessableEntity)
	var sheet struct {
		Document permits.Authority
		Editions []json.RawMessage
	}
	expect(t, "the sheet", desmond.get("/v1/permits/"+paper.ID), http.StatusOK).into(t, &sheet)
	if len(sheet.Editions) != 1 || sheet.Document.Area[0] != "US-MI" {
		t.Errorf("got %d editions, area %v; want the sound one alone", len(sheet.Editions), sheet.Document.Area)
	}
	t.Logf("SHOW %d spoilt papers refused, none kept in part", refused)
}

// lsn is how long the log of the museum is.
func (m *museum) lsn(t *testing.T) int {
	t.Helper()
	var got struct{ LSN int }
	expect(t, "finds", m.as("cal").get("/v1/reports"), http.StatusOK).into(t, &got)
	return got.LSN
}
