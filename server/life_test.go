package server_test

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"image"
	"image/png"
	"io"
	"net/http"
	"slices"
	"strings"
	"testing"

	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/sync/exchange"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/record"
	"wayfall/sync/tag"
)

// papers enters the sample authorities of the Michigan scenario.
func papers(t *testing.T, m *museum) {
	t.Helper()
	var all []permits.Authority
	if err := json.Unmarshal(packs.DemoAuthorities(), &all); err != nil {
		t.Fatal(err)
	}
	desmond := m.as("desmond")
	for _, a := range all {
		m.lists(a)
		if r := desmond.send("PUT", "/v1/permits/"+a.ID, a, nil); r.StatusCode != http.StatusOK {
			t.Fatalf("enter %s: %d %s", a.ID, r.StatusCode, r.body)
		}
	}
}

// expect fails unless the answer has the status.
func expect(t *testing.T, what string, r reply, status int) reply {
	t.Helper()
	if r.StatusCode != status {
		t.Fatalf("%s: got %d %s, want %d", what, r.StatusCode, r.body, status)
	}
	return r
}

// One owl from the road to the drawer, through every operation of the
// interface, each request and answer held to the description.
func TestAnAnimalsLifeThroughEveryOperationOfTheInterface(t *testing.T) {
	m := open(t, nil)
	papers(t, m)
	expect(t, "health", m.nobody().get("/v1/health"), 200)
	if r := expect(t, "description", m.nobody().get("/v1/openapi.yaml"), 200); !bytes.HasPrefix(r.body, []byte("openapi: 3.1")) {
		t.Error("the description is not handed out as it is")
	}
	roadside(t, m)
	owl, tag := pushed(t, m)
	officer(t, m)
	decided(t, m, owl)
	barred(t, m)
	museumDay(t, m, owl, tag)
	needsALook(t, m)
	lending(t, m)
	files(t, m)
	if left := m.wit.unseen(); len(left) > 0 {
		t.Errorf("operations of the description that no test ever saw answered: %v", left)
	}
}

// roadside is what a phone asks while it has signal, and what a program posts.
func roadside(t *testing.T, m *museum) {
	cal := m.phone("cal", 1)
	r := expect(t, "sign in again", m.nobody().post("/v1/sign-in", map[string]any{"code": "demo cal", "device": map[string]any{"id": cal.device}}), 200)
	expect(t, "token", m.nobody().post("/v1/token", map[string]any{"refresh": r.member(t, "refresh")}), 200)
	kit := expect(t, "field kit", cal.get("/v1/field-kit"), 200)
	expect(t, "field kit, not changed", cal.ask("GET", "/v1/field-kit", nil, map[string]string{"If-None-Match": kit.Header.Get("ETag")}), 304)
	v := expect(t, "verdict", cal.post("/v1/verdicts", find(map[string]any{"deed": nil})), 200)
	if got := v.member(t, "outcome"); got != "allow_with_obligations" {
		t.Errorf("a listed salvager and an owl hit by a car: got %s, want allow_with_obligations: %s", got, v.body)
	}
	expect(t, "verdict on facts", cal.post("/v1/verdicts/facts", map[string]any{"finds": []map[string]any{{"count": 1}}}), 200)
	kept := expect(t, "report", cal.report("r1", find(map[string]any{"remarks": []record.Remark{{Text: "warm"}}})), 201)
	var out struct {
		ID      string
		Animals []struct{ ID, Tag string }
		Effect  string
	}
	kept.into(t, &out)
	if len(out.Animals) != 1 || out.Effect != "ok" {
		t.Errorf("got %+v, want one animal and effect ok", out)
	} else if _, err := tag.Parse(out.Animals[0].Tag); err != nil {
		t.Errorf("the animal in the hand got tag %q: %v", out.Animals[0].Tag, err)
	}
	expect(t, "one report", cal.get("/v1/reports/"+out.ID), 200)
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 3, 3))); err != nil {
		t.Fatal(err)
	}
	path := "/v1/photos/" + sha(picture.Bytes())
	expect(t, "photo in", cal.ask("PUT", path, &picture, map[string]string{"Content-Type": "image/png"}), 204)
	expect(t, "photo out", cal.get(path), 200)
	expect(t, "sealed head", cal.get("/v1/sync/head"), 200)
}

// pushed is what a phone hands in after a day without signal.
func pushed(t *testing.T, m *museum) (owl op.ID, bag string) {
	cal := m.phone("cal", 2)
	hello := func() exchange.Welcome {
		r := expect(t, "hello", cal.post("/v1/sync/hello", exchange.Hello{Dev: cal.id, NextSeq: cal.seq + 1, Head: cal.link, Schema: 1, Now: m.now.Load()}), 200)
		var w exchange.Welcome
		r.into(t, &w)
		return w
	}
	if w := hello(); w.ExpectedSeq != 1 || w.Echo != m.now.Load() {
		t.Errorf("hello: got %+v, want to push from 1", w)
	}
	made, err := tag.Make(cal.prefix, 1)
	if err != nil {
		t.Fatal(err)
	}
	owl = op.ID{0xA, 1}
	g := groups(t, op.ID{0xB, 1}, find(map[string]any{"locality": "M-37, Newaygo County, Michigan"}), owl)
	g[1].Acts = append(g[1].Acts, op.Add("tags", op.Text(string(made))))
	if got := cal.push(cal.save(g...))[0]; got.Effect != oplog.OK {
		t.Errorf("push: got %v %s %s, want ok", got.Effect, got.Code, got.Why)
	}
	if w := hello(); w.ExpectedSeq != 2 {
		t.Errorf("hello after the push: got %d, want to push from 2", w.ExpectedSeq)
	}
	verdicts := 0
	for _, e := range cal.pull() {
		if strings.Contains(string(e.Wire), `"actor":"server"`) && strings.Contains(string(e.Wire), op.ID{0xB, 1}.String()) {
			verdicts++
		}
	}
	if verdicts != 1 {
		t.Errorf("the log holds %d verdicts of the server on the pushed report, want 1", verdicts)
	}
	return owl, string(made)
}

// officer looks at papers, balances and the year.
func officer(t *testing.T, m *museum) {
	desmond := m.as("desmond")
	expect(t, "permits", desmond.get("/v1/permits"), 200)
	expect(t, "permit", desmond.get("/v1/permits/SW-MI-SALV"), 200)
	expect(t, "balance", desmond.get("/v1/permits/SW-MI-SALV/balance"), 200)
	expect(t, "year", desmond.get("/v1/permits/SW-MI-SALV/years/2025"), 200)
	for _, r := range []reply{
		expect(t, "year as a file", desmond.get("/v1/permits/SW-MI-SALV/years/2025.csv"), 200),
		expect(t, "year by Accept", desmond.ask("GET", "/v1/permits/SW-MI-SALV/years/2025", nil, map[string]string{"Accept": "text/csv"}), 200),
	} {
		if !strings.HasPrefix(r.Header.Get("Content-Type"), "text/csv") || len(r.body) == 0 {
			t.Errorf("got %s of %d bytes, want a spreadsheet", r.Header.Get("Content-Type"), len(r.body))
		}
	}
}

// decided is what people decide beside the rules, and of what is held.
func decided(t *testing.T, m *museum, owl op.ID) {
	desmond, report := m.as("desmond"), "/v1/reports/"+op.ID{0xB, 1}.String()
	var asked struct{ Verdicts []struct{ Inputs string } }
	expect(t, "the answer", desmond.get(report), 200).into(t, &asked)
	expect(t, "decide", desmond.post(report+"/decisions", map[string]any{"outcome": "refuse_pickup",
		"reason": "the road is closed", "document": "e-mail of 2 Oct", "inputs": asked.Verdicts[0].Inputs}), 201)
	animal := "/v1/animals/" + owl.String()
	expect(t, "hold", desmond.post(animal+"/fields/hold", map[string]any{"value": "May be evidence"}), 200)
	if r := desmond.post(animal+"/custody", map[string]any{"from": "cal", "to": "the officer"}); r.StatusCode != 422 || !strings.Contains(string(r.body), "/seal") {
		t.Errorf("a hand-over of a held animal without a seal: got %d %s, want it refused", r.StatusCode, r.body)
	}
	var sheet struct {
		Gaps []string `json:"custody_gaps"`
	}
	expect(t, "hand over", desmond.post(animal+"/custody", map[string]any{"from": "cal", "to": "the officer", "place": "the loading door", "seal": "B-7", "signed": "Officer Lund"}), 200).into(t, &sheet)
	expect(t, "hand back", desmond.post(animal+"/custody", map[string]any{"from": "somebody else", "to": "cal", "place": "the office", "seal": "B-7", "signed": "Cal"}), 200).into(t, &sheet)
	if len(sheet.Gaps) != 1 || !strings.Contains(sheet.Gaps[0], "from the officer to somebody else") {
		t.Errorf("got the gaps %q, want that nobody says how it came from the officer to somebody else", sheet.Gaps)
	}
	expect(t, "release", desmond.post(animal+"/release", map[string]any{"document": "letter 7", "reason": "the officer is done"}), 200)
}

// barred is what becomes of a person who may not use permits for a time.
func barred(t *testing.T, m *museum) {
	desmond := m.as("desmond")
	expect(t, "bar", desmond.post("/v1/people/ana/bars", map[string]any{"from": "2025-10-01", "document": "judgment 3", "why": "50 CFR 13.21(c)(1)"}), 204)
	expect(t, "end it", desmond.post("/v1/people/ana/bars/end", map[string]any{"to": "2025-10-02", "document": "waiver 4"}), 204)
	if r := desmond.post("/v1/people/ana/bars/end", map[string]any{"to": "2025-10-02", "document": "waiver 4"}); r.StatusCode != 409 {
		t.Errorf("ended twice: got %d %s, want it refused", r.StatusCode, r.body)
	}
	if r := m.as("ana").post("/v1/people/cal/bars", map[string]any{"from": "2025-10-01", "document": "x", "why": "y"}); r.StatusCode != 403 {
		t.Errorf("by a salvager: got %d %s, want it refused", r.StatusCode, r.body)
	}
}

// museumDay takes the owl from the loading door into the drawer.
func museumDay(t *testing.T, m *museum, owl op.ID, bag string) {
	gwen, teo := m.as("gwen"), m.as("teo")
	begun := expect(t, "begin an arrival", gwen.post("/v1/arrivals", map[string]any{"from": "Cal Whitlock", "list": bag + " screech-owl"}), 201)
	path := "/v1/arrivals/" + begun.member(t, "id")
	expect(t, "arrivals", gwen.get("/v1/arrivals"), 200)
	expect(t, "lines", gwen.post(path+"/list", map[string]any{"text": "a robin without a tag"}), 200)
	expect(t, "bag", gwen.post(path+"/bags", map[string]any{"tag": bag}), 200)
	problemOf(t, "a misread tag", gwen.post(path+"/bags", map[string]any{"tag": bag[:len(bag)-1] + "?"}), 422)
	table := expect(t, "arrival", gwen.get(path), 200)
	var side struct {
		Matched  []any
		LineOnly []any `json:"lines_without_bag"`
	}
	table.into(t, &side)
	if len(side.Matched) != 1 || len(side.LineOnly) != 1 {
		t.Errorf("got %d matched and %d lines without a bag, want 1 and 1: %s", len(side.Matched), len(side.LineOnly), table.body)
	}
	expect(t, "accept", gwen.post(path+"/accept", map[string]any{"animal": owl.String(), "tag": bag, "freezer": "F2"}), 200)
	expect(t, "close", gwen.post(path+"/close", map[string]any{"note": "one line without its bag"}), 200)
	animal := "/v1/animals/" + owl.String()
	expect(t, "preparation number", teo.post(animal+"/fields/preparation_no", map[string]any{"value": "TM 1"}), 200)
	expect(t, "part", teo.post(animal+"/parts", map[string]any{"type": "skin", "stored": "case 3"}), 201)
	no := expect(t, "catalogue", gwen.post(animal+"/catalogue", map[string]any{}), 200)
	if no.member(t, "catalogue_no") == "" {
		t.Errorf("got %s, want a catalogue number", no.body)
	}
	got := expect(t, "animal", gwen.get(animal), 200)
	for _, want := range []string{no.member(t, "catalogue_no"), `"who":"cal"`, `"skin"`} {
		if !strings.Contains(string(got.body), want) {
			t.Errorf("the animal does not tell %s: %s", want, got.body)
		}
	}
	expect(t, "reports", gwen.get("/v1/reports?limit=10&state=received"), 200)
	if drawer := expect(t, "drawer", gwen.get("/v1/catalogue"), 200); !strings.Contains(string(drawer.body), no.member(t, "catalogue_no")) {
		t.Errorf("the catalogue does not hold %s: %s", no.member(t, "catalogue_no"), drawer.body)
	}
}

// needsALook settles a doubt and joins a pair.
func needsALook(t *testing.T, m *museum) {
	ana, cal, gwen := m.phone("ana", 5), m.phone("cal", 6), m.as("gwen")
	left := find(map[string]any{"deed": "left", "salvager": "ana", "taxon": record.Determination{Written: "Barred Owl", Name: "Strix varia", Certainty: record.Sure}})
	taken := find(map[string]any{"taxon": record.Determination{Written: "Barred Owl", Name: "Strix varia", Certainty: record.Sure}})
	ana.push(ana.save(groups(t, op.ID{1, 1}, left, op.ID{1, 2})...))
	cal.push(cal.save(groups(t, op.ID{2, 1}, taken, op.ID{2, 2})...))
	list := expect(t, "review", gwen.get("/v1/review?code=pair_proposed"), 200)
	var open struct {
		Items []struct {
			ID, Record, Other string
			Parts             []struct{ Why string }
		}
	}
	list.into(t, &open)
	if len(open.Items) != 1 || len(open.Items[0].Parts) < 5 {
		t.Fatalf("got %s, want one proposed pair with its reasons", list.body)
	}
	expect(t, "settle", gwen.post("/v1/review/"+open.Items[0].ID+"/settle", map[string]any{"how": "same", "note": "same photo"}), 204)
	if r := gwen.get("/v1/review?code=pair_proposed"); strings.Contains(string(r.body), open.Items[0].ID) {
		t.Errorf("the pair is still on the list: %s", r.body)
	}
	problemOf(t, "settle again", gwen.post("/v1/review/"+open.Items[0].ID+"/settle", map[string]any{"how": "same"}), 404)
	a := expect(t, "the joined animal", gwen.get("/v1/animals/"+op.ID{1, 2}.String()), 200)
	if !strings.Contains(string(a.body), op.ID{2, 2}.String()) {
		t.Errorf("the joined animal does not name the other: %s", a.body)
	}
	other := find(map[string]any{"taxon": record.Determination{Written: "Great Horned Owl", Name: "Bubo virginianus", Certainty: record.Sure}})
	cal.push(cal.save(groups(t, op.ID{3, 1}, other, op.ID{3, 2})...))
	expect(t, "join by hand", gwen.post("/v1/animals/"+op.ID{3, 2}.String()+"/same-as", map[string]any{"animal": op.ID{2, 2}.String()}), 200)
	problemOf(t, "join in a ring", gwen.post("/v1/animals/"+op.ID{2, 2}.String()+"/same-as", map[string]any{"animal": op.ID{3, 2}.String()}), 409)
}

func TestEveryRouteIsDescribedAndEveryDescriptionHasARoute(t *testing.T) {
	m := open(t, nil)
	described := map[string]bool{}
	for _, o := range m.wit.ops {
		described[o.method+" "+o.template] = true
	}
	routes := map[string]bool{}
	for _, r := range m.Routes() {
		if strings.HasPrefix(r.Path, "/v1/") && !strings.Contains(r.Path, "*") {
			routes[r.Method+" "+braces(r.Path)] = true
		}
	}
	if len(routes) < 30 {
		t.Fatalf("looked at %d routes, want the whole interface", len(routes))
	}
	for r := range routes {
		if !described[r] {
			t.Errorf("%s is answered but not described", r)
		}
	}
	for d := range described {
		if !routes[d] {
			t.Errorf("%s is described but nobody answers", d)
		}
	}
}

// braces writes a path of the router as the description does.
func braces(path string) string {
	parts := strings.Split(path, "/")
	for i, p := range parts {
		if name, ok := strings.CutPrefix(p, ":"); ok {
			parts[i] = "{" + name + "}"
		}
	}
	return strings.Join(parts, "/")
}

// What the museum or the log itself writes is not posted: verdicts, decisions, duties,
// withdrawal and its opposite; and only a phone that holds a share spends of it. Every other field is; null is refused with the
// name of the field, which tells a known field from an unknown one.
func TestTheFieldsOfAReportAreThoseOfTheLog(t *testing.T) {
	m := open(t, nil)
	cal, known := m.as("cal"), 0
	for _, f := range record.Fields {
		if f.Kind != record.Report || slices.Contains([]string{"verdicts", "done", "decisions", "withdrawn", "restored", "spent"}, f.Name) {
			continue
		}
		p := problemOf(t, f.Name, cal.post("/v1/verdicts", map[string]any{f.Name: nil}), http.StatusUnprocessableEntity)
		if !strings.Contains(p.Detail, "null does not fit") {
			t.Errorf("%s of the log cannot be posted: %s", f.Name, p.Detail)
		}
		known++
	}
	if known < 20 {
		t.Errorf("looked at %d fields, want all of a report", known)
	}
}

func TestAnswersAreCompressedForThoseWhoTakeIt(t *testing.T) {
	m := open(t, nil)
	cal := m.as("cal")
	plain := cal.ask("GET", "/v1/field-kit", nil, map[string]string{"Accept-Encoding": "identity"})
	packed := cal.ask("GET", "/v1/field-kit", nil, map[string]string{"Accept-Encoding": "gzip"})
	if packed.Header.Get("Content-Encoding") != "gzip" || plain.Header.Get("Content-Encoding") != "" {
		t.Fatalf("got %q and %q, want gzip and none", packed.Header.Get("Content-Encoding"), plain.Header.Get("Content-Encoding"))
	}
	z, err := gzip.NewReader(bytes.NewReader(packed.body))
	if err != nil {
		t.Fatal(err)
	}
	unpacked, err := io.ReadAll(z)
	if err != nil || !bytes.Equal(unpacked, plain.body) || len(packed.body) > len(plain.body)/2 {
		t.Errorf("packed %d bytes to %d, %v, want the same bytes in at most half", len(plain.body), len(packed.body), err)
	}
}
