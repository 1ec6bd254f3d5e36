package server_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/record"
)

// sheet is what the tests read of a report or an animal.
type sheet struct {
	Verdicts []struct {
		Outcome, Inputs string
		By              struct{ Who string }
	}
	Decisions []struct {
		By, Reason, Document, Outcome, At, Against, Why string
		Stands                                          bool
	}
	Life []struct{ Head, Text string }
	Hold *struct {
		Held    bool
		Because string
	}
}

func sheetOf(t *testing.T, r reply) (s sheet) {
	t.Helper()
	r.into(t, &s)
	return s
}

// kept posts a find and returns the address of its report and of its animal.
func kept(t *testing.T, m *museum, key string, change map[string]any) (report, animal string) {
	t.Helper()
	var out struct {
		ID      string
		Animals []struct{ ID string }
	}
	expect(t, "report "+key, m.as("cal").report(key, find(change)), 201).into(t, &out)
	return "/v1/reports/" + out.ID, "/v1/animals/" + out.Animals[0].ID
}

func decision(inputs string, change map[string]any) map[string]any {
	d := map[string]any{"outcome": "refuse_pickup", "reason": "The road office asked us to wait", "document": "e-mail of 2 Oct 2025", "inputs": inputs}
	for k, v := range change {
		d[k] = v
	}
	return d
}

func TestADecisionIsKeptBesideTheAnswerAndNeverOverIt(t *testing.T) {
	m := open(t, nil)
	papers(t, m)
	report, _ := kept(t, m, "d1", nil)
	desmond := m.as("desmond")
	before := sheetOf(t, desmond.get(report))
	if len(before.Verdicts) != 1 || before.Verdicts[0].Outcome != "take" || before.Verdicts[0].Inputs == "" || len(before.Decisions) != 0 {
		t.Fatalf("got %+v, want one answer with the digest of its facts and no decision", before)
	}
	inputs := before.Verdicts[0].Inputs
	for _, bad := range []struct {
		name   string
		change map[string]any
		at     []string
	}{
		{"no reason", map[string]any{"reason": "  "}, []string{"/reason"}},
		{"no document", map[string]any{"document": ""}, []string{"/document"}},
		{"nothing at all", map[string]any{"outcome": "", "reason": "", "document": "", "inputs": ""}, []string{"/outcome", "/reason", "/document", "/inputs"}},
		{"an answer that no person gives", map[string]any{"outcome": "obligation_due"}, []string{"/outcome"}},
		{"a word nobody knows", map[string]any{"outcome": "fine"}, []string{"/outcome"}},
	} {
		p := problemOf(t, bad.name, desmond.post(report+"/decisions", decision(inputs, bad.change)), http.StatusUnprocessableEntity)
		var at []string
		for _, e := range p.Errors {
			at = append(at, e.Pointer)
			if len(e.Detail) < 10 {
				t.Errorf("%s: %s says %q, want a sentence", bad.name, e.Pointer, e.Detail)
			}
		}
		if strings.Join(at, " ") != strings.Join(bad.at, " ") {
			t.Errorf("%s: got it wrong at %v, want %v", bad.name, at, bad.at)
		}
	}
	problemOf(t, "about other facts", desmond.post(report+"/decisions", decision("0000", nil)), http.StatusConflict)
	for _, who := range []string{"cal", "gwen"} {
		problemOf(t, who+" decides", m.as(who).post(report+"/decisions", decision(inputs, nil)), http.StatusForbidden)
	}
	if s := sheetOf(t, desmond.get(report)); len(s.Decisions) != 0 {
		t.Fatalf("what was refused was kept: %+v", s.Decisions)
	}
	expect(t, "decide", desmond.post(report+"/decisions", decision(inputs, nil)), 201)
	problemOf(t, "the same again", desmond.post(report+"/decisions", decision(inputs, nil)), http.StatusConflict)
	s := sheetOf(t, desmond.get(report))
	if len(s.Verdicts) != 1 || s.Verdicts[0] != before.Verdicts[0] {
		t.Errorf("the answer of the rules is now %+v, want it as it was: %+v", s.Verdicts, before.Verdicts)
	}
	if len(s.Decisions) != 1 || s.Decisions[0].By != "desmond" || s.Decisions[0].Outcome != "refuse_pickup" || !s.Decisions[0].Stands || s.Decisions[0].At == "" || s.Decisions[0].Against == "" {
		t.Fatalf("got %+v, want one decision that stands", s.Decisions)
	}
	told := false
	for _, l := range s.Life {
		told = told || l.Head == "decided" && strings.Contains(l.Text, "e-mail of 2 Oct 2025")
	}
	if !told {
		t.Errorf("the line in time does not tell the decision: %+v", s.Life)
	}
	m.wit.report(t)
}

func TestDangerEvidenceAndDieOffAreNotDecidedAway(t *testing.T) {
	m := open(t, nil)
	papers(t, m)
	desmond := m.as("desmond")
	for name, sign := range map[string]func(*record.Signs){
		"danger":   func(s *record.Signs) { s.Danger = "yes" },
		"evidence": func(s *record.Signs) { s.Crime = "yes" },
		"die-off":  func(s *record.Signs) { s.Others, s.OthersNearby = "yes", 14 },
	} {
		signs := find(nil)["signs"].(record.Signs)
		sign(&signs)
		report, _ := kept(t, m, name, map[string]any{"signs": signs, "deed": "left"})
		s := sheetOf(t, desmond.get(report))
		p := problemOf(t, name, desmond.post(report+"/decisions", decision(s.Verdicts[0].Inputs, map[string]any{"outcome": "allow_with_obligations"})), http.StatusUnprocessableEntity)
		if len(p.Errors) != 1 || p.Errors[0].Pointer != "/outcome" || !strings.Contains(p.Errors[0].Detail, "not decided away") {
			t.Errorf("%s: got %+v, want a sentence at /outcome", name, p)
		}
		if s := sheetOf(t, desmond.get(report)); len(s.Decisions) != 0 {
			t.Errorf("%s: the refused decision was kept", name)
		}
		expect(t, name+", stricter", desmond.post(report+"/decisions", decision(s.Verdicts[0].Inputs, nil)), 201)
	}
	m.wit.report(t)
}

// Facts that change ask for the decision again, and what a phone writes into
// the log as a decision counts for nothing.
func TestADecisionAboutOtherFactsOrFromAPhoneDoesNotCount(t *testing.T) {
	m := open(t, nil)
	papers(t, m)
	cal, desmond := m.phone("cal", 1), m.as("desmond")
	id := op.ID{7, 1}
	cal.push(cal.save(groups(t, id, find(nil), op.ID{7, 2})...))
	report := "/v1/reports/" + id.String()
	s := sheetOf(t, desmond.get(report))
	forged := op.Event("decisions", raw(t, map[string]any{"by": "cal", "reason": "x", "document": "y", "outcome": "allow_with_obligations", "inputs": s.Verdicts[0].Inputs, "against": "R"}))
	got := cal.push(cal.save(op.Group{ID: id, Kind: "report", Acts: []op.Act{forged}}))[0]
	if got.Effect != oplog.Review {
		t.Errorf("a decision in a salvager's name: got %v, want it to wait for a look", got.Effect)
	}
	s = sheetOf(t, desmond.get(report))
	if len(s.Decisions) != 1 || s.Decisions[0].Stands || s.Decisions[0].Why != "elsewhere" {
		t.Errorf("got %+v, want the decision from a phone seen and not counting", s.Decisions)
	}
	expect(t, "decide", desmond.post(report+"/decisions", decision(s.Verdicts[0].Inputs, nil)), 201)
	if s = sheetOf(t, desmond.get(report)); len(s.Decisions) != 2 || !s.Decisions[0].Stands {
		t.Fatalf("got %+v, want the newest to stand", s.Decisions)
	}
	answers := len(s.Verdicts)
	cal.push(cal.save(op.Group{ID: id, Kind: "report", Acts: []op.Act{op.Set("band", op.Text("1234-56789"))}}))
	s = sheetOf(t, desmond.get(report))
	if len(s.Verdicts) <= answers || s.Decisions[0].Stands || s.Decisions[0].Why != "other_facts" {
		t.Errorf("after the facts changed got %d answers and %+v, want a new answer and the decision set aside", len(s.Verdicts), s.Decisions)
	}
	m.wit.report(t)
}

func TestTheFindsPageTakesADecision(t *testing.T) {
	m := open(t, nil)
	papers(t, m)
	report, _ := kept(t, m, "p1", nil)
	page := strings.Replace(report, "/v1/reports/", "/finds/", 1)
	desk, action := m.desk("desmond"), page+"/decisions"
	form := typedIn(t, desk.get(page).body, action)
	r := expect(t, "an empty form", desk.post(action, form), http.StatusUnprocessableEntity)
	for _, want := range []string{"Choose what was decided.", "Give the reason.", "Name the document it rests on", "It may be taken"} {
		if !strings.Contains(string(r.body), want) {
			t.Errorf("the page does not say %q at its field", want)
		}
	}
	form.Set("outcome", "hold_call_first")
	form.Set("reason", "The office asks <b>first</b>")
	r = expect(t, "no document", desk.post(action, form), http.StatusUnprocessableEntity)
	if again := typedIn(t, r.body, action); again.Get("reason") != form.Get("reason") || again.Get("outcome") != "hold_call_first" {
		t.Errorf("what was typed is lost: %v", again)
	}
	form.Set("document", "letter 7")
	expect(t, "decide", desk.post(action, form), http.StatusSeeOther)
	body := string(expect(t, "find", desk.get(page), 200).body)
	for _, want := range []string{"Desmond Farrow decided: Leave it and call", "asks &lt;b&gt;first", "It may be taken", ", decided</b>", "letter 7"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page does not tell %q", want)
		}
	}
	reader := m.desk("gwen")
	if strings.Contains(string(reader.get(page).body), `action="`+action+`"`) {
		t.Error("a registrar is offered to decide")
	}
	expect(t, "a registrar decides", reader.post(action, form), http.StatusForbidden)
}

func TestAHeldAnimalIsReleasedOnADocument(t *testing.T) {
	m := open(t, nil)
	papers(t, m)
	_, animal := kept(t, m, "h1", nil)
	gwen, teo := m.as("gwen"), m.as("teo")
	problemOf(t, "nothing holds it", gwen.post(animal+"/release", map[string]any{"document": "letter 1", "reason": "none"}), http.StatusConflict)
	expect(t, "hold", gwen.post(animal+"/fields/hold", map[string]any{"value": "May be poisoned; evidence"}), 200)
	sentence := "This animal is held (May be poisoned; evidence)"
	p := problemOf(t, "a part", teo.post(animal+"/parts", map[string]any{"type": "skin"}), http.StatusConflict)
	if !strings.Contains(p.Detail, sentence) {
		t.Errorf("got %q, want the sentence of the hold", p.Detail)
	}
	for at, in := range map[string]map[string]any{"/document": {"document": " ", "reason": "no poison was found"}, "/reason": {"document": "letter 14", "reason": ""}} {
		p := problemOf(t, "without "+at, gwen.post(animal+"/release", in), http.StatusUnprocessableEntity)
		if len(p.Errors) != 1 || p.Errors[0].Pointer != at {
			t.Errorf("without %s: got %+v", at, p)
		}
	}
	whole := map[string]any{"document": "letter 14 of the laboratory", "reason": "no poison was found"}
	problemOf(t, "a preparator", teo.post(animal+"/release", whole), http.StatusForbidden)
	problemOf(t, "a release typed over the hold", gwen.post(animal+"/fields/hold", map[string]any{"value": "Released by x, document y, because z"}), 422)
	if s := sheetOf(t, gwen.get(animal)); s.Hold == nil || !s.Hold.Held || !strings.Contains(s.Hold.Because, sentence) {
		t.Fatalf("got %+v, want it held still", s.Hold)
	}
	if s := sheetOf(t, expect(t, "release", m.as("desmond").post(animal+"/release", whole), 200)); s.Hold == nil || s.Hold.Held || !strings.Contains(s.Hold.Because, "letter 14") {
		t.Errorf("got %+v, want the hold lifted on letter 14", s.Hold)
	}
	expect(t, "a part after all", teo.post(animal+"/parts", map[string]any{"type": "skin"}), 201)
	m.wit.report(t)
}

func TestTheAnimalsPageSaysItsHoldAndReleasesIt(t *testing.T) {
	m := open(t, nil)
	papers(t, m)
	_, animal := kept(t, m, "h2", nil)
	page := strings.TrimPrefix(animal, "/v1")
	gwen, teo := m.desk("gwen"), m.desk("teo")
	expect(t, "hold", gwen.post(page+"/correct", url.Values{"field": {"hold"}, "text": {"May be poisoned"}}), http.StatusSeeOther)
	body := string(teo.get(page).body)
	if !strings.Contains(body, "Legal hold.</b> This animal is held (May be poisoned)") || strings.Contains(body, page+"/release") {
		t.Error("a preparator must see the hold in words, and no form to lift it")
	}
	r := expect(t, "preparation", teo.post(page+"/preparation", url.Values{"no": {"TM 3"}}), http.StatusConflict)
	if !strings.Contains(string(r.body), "This animal is held (May be poisoned)") {
		t.Error("the refusal does not show the sentence of the hold")
	}
	r = expect(t, "without a document", gwen.post(page+"/release", url.Values{"reason": {"nothing found"}}), http.StatusUnprocessableEntity)
	if again := typedIn(t, r.body, page+"/release"); again.Get("reason") != "nothing found" || !strings.Contains(string(r.body), "Name the document that releases the animal") {
		t.Errorf("got %v, want what was typed kept and the sentence at the field", again)
	}
	expect(t, "a preparator", teo.post(page+"/release", url.Values{"document": {"letter 2"}, "reason": {"nothing found"}}), http.StatusForbidden)
	expect(t, "release", gwen.post(page+"/release", url.Values{"document": {"letter 2"}, "reason": {"nothing found"}}), http.StatusSeeOther)
	body = string(gwen.get(page).body)
	if strings.Contains(body, "Legal hold.</b>") || !strings.Contains(body, "Gwendolyn Stasik lifted the hold on letter 2: nothing found") {
		t.Error("the page must say who lifted the hold, and on what")
	}
	expect(t, "preparation", teo.post(page+"/preparation", url.Values{"no": {"TM 3"}}), http.StatusSeeOther)
}

func raw(t *testing.T, v any) op.Value {
	t.Helper()
	out, err := op.ValueOf(v)
	if err != nil {
		t.Fatal(err)
	}
	return out
}
