package bothbodies

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"wayfall/fixtures/packs"
	"wayfall/fixtures/scenario"
	"wayfall/geo/gazetteer"
	"wayfall/geo/region"
	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
	"wayfall/permits/screen/find"
	"wayfall/permits/screen/vectors"
	"wayfall/server/demo"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// world is what the native body judges in.
func world(t *testing.T, papers []permits.Authority) *screen.World {
	t.Helper()
	var all []*rules.Pack
	for _, text := range rulePacks(t) {
		p, err := rules.Load("field kit", text)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	book, err := rules.NewBook(all...)
	if err != nil {
		t.Fatal(err)
	}
	list, err := permits.ReadChecklist(packs.Taxa())
	if err != nil {
		t.Fatal(err)
	}
	return &screen.World{Book: book, Register: rules.NewRegister(book, papers), Checklist: list}
}

// rulePacks are the packs as a kit carries them, without white space: a pack is
// known by the digest of its bytes, so both bodies must be handed the same.
func rulePacks(t *testing.T) []json.RawMessage {
	t.Helper()
	var all []json.RawMessage
	for _, f := range packs.Rules() {
		all = append(all, json.RawMessage(spell(t, json.RawMessage(f.Data))))
	}
	return all
}

// kit is the same as the phone gets it.
func kit(t *testing.T, papers []permits.Authority, used quota.Fixed) call {
	t.Helper()
	if used == nil {
		used = quota.Fixed{}
	}
	return call{"load", []any{map[string]any{
		"packs": rulePacks(t), "taxa": json.RawMessage(packs.Taxa()), "authorities": papers, "tallies": used,
	}}}
}

func product(t *testing.T, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(top, "server/web/dist", filepath.FromSlash(name)))
	if err != nil {
		t.Fatalf(`%s is not there (%v); "make build" makes it`, name, err)
	}
	return b
}

func papersOf(t *testing.T, text []byte) []permits.Authority {
	t.Helper()
	var papers []permits.Authority
	if err := json.Unmarshal(text, &papers); err != nil {
		t.Fatal(err)
	}
	return papers
}

type vector struct {
	ID      string                       `json:"id"`
	Facts   []map[string]json.RawMessage `json:"facts"`
	Tallies quota.Fixed                  `json:"tallies"`
}

// visits returns the vectors with their facts laid over what is ordinary.
func visits(t *testing.T) []vector {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(top, "fixtures/vectors/permits.json"))
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Ordinary map[string]json.RawMessage `json:"ordinary"`
		Cases    []vector                   `json:"cases"`
	}
	if err := json.Unmarshal(text, &file); err != nil {
		t.Fatal(err)
	}
	for _, v := range file.Cases {
		for i, facts := range v.Facts {
			whole := maps.Clone(file.Ordinary)
			maps.Copy(whole, facts)
			v.Facts[i] = whole
		}
	}
	return file.Cases
}

// wanted compares what the phone's program answered to a visit with what its
// vector wants.
func wanted(t *testing.T, c *vectors.Case, answer string) bool {
	t.Helper()
	var got []permits.Verdict
	if err := json.Unmarshal([]byte(answer), &got); err != nil {
		t.Errorf("%s: %v in %s", c.ID, err, answer)
		return false
	}
	wrong := c.Differences(got)
	for _, w := range wrong {
		t.Errorf("%s on the phone: %s", c.ID, w)
	}
	return len(wrong) == 0
}

// TestVectorsOnThePhone asks the phone's program for every visit.
func TestVectorsOnThePhone(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(top, "fixtures/vectors/permits.json"))
	if err != nil {
		t.Fatal(err)
	}
	file, err := vectors.Read(text)
	if err != nil {
		t.Fatal(err)
	}
	papers := papersOf(t, packs.Authorities())
	var calls []call
	for _, v := range visits(t) {
		calls = append(calls, kit(t, papers, v.Tallies), call{"judge", []any{v.Facts, struct{}{}}})
	}
	agree := 0
	for i, got := range phone(t, calls) {
		if i%2 == 1 && wanted(t, &file.Cases[i/2], got) {
			agree++
		}
	}
	t.Logf("SHOW on the phone: %d of %d vectors agree in outcome, rule and duties", agree, len(file.Cases))
	if len(file.Cases) != 40 {
		t.Errorf("got %d vectors, want 40", len(file.Cases))
	}
}

func TestVectorsThroughBothBodies(t *testing.T) {
	papers := papersOf(t, packs.Authorities())
	w := world(t, papers)
	var calls []call
	var what, native []string
	ask := func(name string, facts any, want string) {
		calls, what, native = append(calls, call{"judge", []any{facts, struct{}{}}}), append(what, name), append(native, want)
	}
	for _, v := range visits(t) {
		finds := make([]screen.Facts, len(v.Facts))
		if err := json.Unmarshal([]byte(spell(t, v.Facts)), &finds); err != nil {
			t.Fatalf("%s: %v", v.ID, err)
		}
		w.Tally = v.Tallies
		calls, what, native = append(calls, kit(t, papers, v.Tallies)), append(what, ""), append(native, "")
		for i := range finds {
			ask(fmt.Sprintf("%s, find %d alone", v.ID, i+1), v.Facts[i:i+1], spell(t, []permits.Verdict{screen.Check(&finds[i], w)}))
		}
		if len(finds) > 1 {
			ask(v.ID+", the visit", v.Facts, spell(t, screen.Visit(finds, w)))
		}
	}
	equal, asked := 0, 0
	for i, got := range phone(t, calls) {
		if what[i] == "" {
			continue
		}
		asked++
		if same(t, what[i], got, native[i]) {
			equal++
		}
	}
	if asked < 40 {
		t.Errorf("got %d vectors, want the forty of the file at least", asked)
	}
	fmt.Printf("SHOW vectors through both bodies: %d equal\n", equal)
}

// fieldsOf are the fields of a report of the story as a phone's page holds them.
func fieldsOf(t *testing.T, r scenario.Report) map[string]json.RawMessage {
	t.Helper()
	p := demo.NewPhone(nil, op.DeviceID{1}, r.Reporter, "museum", "K7")
	f, err := p.NewFind(r, nil)
	if err != nil {
		t.Fatalf("%s: %v", r.Key, err)
	}
	fields := map[string]json.RawMessage{}
	for _, a := range f.Groups[0].Acts {
		if a.Kind == op.KindSet {
			fields[a.Field] = json.RawMessage(a.Value)
		}
	}
	// The page asks whether to take it now, by the phone's clock.
	now := r.Made[:len("2006-01-02T15:04")]
	fields["taken_at"] = json.RawMessage(spell(t, record.When{Earliest: now, Latest: now, Precision: record.ToMinute}))
	return fields
}

// usedUp states numbers for every quota of the papers: some free, some spent.
func usedUp(papers []permits.Authority) quota.Fixed {
	used := quota.Fixed{}
	for i, a := range papers {
		for j, q := range a.Quotas {
			used = append(used, quota.Stated{Authority: a.ID, Quota: q.ID, Used: q.Limit * ((i + j) % 3) / 2})
		}
	}
	return used
}

// asked is the phone's context of a report, and the same for the native body.
func asked(t *testing.T, r scenario.Report, lines *region.Map) (map[string]any, find.Asked) {
	t.Helper()
	at, err := time.Parse(time.RFC3339, r.Made)
	if err != nil {
		t.Fatal(err)
	}
	now, err := permits.ParseMoment(at.Format("2006-01-02T15:04"))
	if err != nil {
		t.Fatal(err)
	}
	return map[string]any{"now_ms": at.UnixMilli(), "tz": at.Format("-07:00"), "person": r.Reporter, "role": "volunteer", "own": []any{}},
		find.Asked{Person: r.Reporter, Role: "volunteer", Now: now, Lines: lines}
}

func TestTheYearOfReportsThroughBothBodies(t *testing.T) {
	story := scenario.Build(1)
	papers := demo.Papers(story, permits.NewDate(story.Season.ReportYear, 6, 30))
	used := usedUp(papers)
	w := world(t, papers)
	w.Tally = used
	border, towns := product(t, "home.bin"), product(t, "field/places.bin")
	m := nativeMap(t, border, towns)
	calls := []call{kit(t, papers, used), {"region", []any{wire{border}}}, {"places", []any{wire{towns}}}}
	var places, verdicts []string
	outcomes := map[permits.Outcome]int{}
	for _, r := range story.Reports {
		fields := fieldsOf(t, r)
		calls = append(calls, call{"place", []any{fields}})
		place, known := nativePlace(t, m, fields)
		places = append(places, place)
		if known != nil {
			fields["place"] = known
		}
		context, natively := asked(t, r, m.Lines)
		calls = append(calls, call{"screen", []any{fields, context}})
		var whole find.Report
		if err := json.Unmarshal([]byte(spell(t, fields)), &whole); err != nil {
			t.Fatal(err)
		}
		facts := find.Of(whole, natively)
		v := screen.Check(&facts, w)
		outcomes[v.Outcome]++
		verdicts = append(verdicts, spell(t, v))
	}
	got := phone(t, calls)[3:]
	equal, placed := 0, 0
	for i, r := range story.Reports {
		if samePlace(t, r.Key, got[2*i], places[i]) {
			placed++
		}
		if same(t, "verdict of "+r.Key, got[2*i+1], verdicts[i]) {
			equal++
		}
	}
	if len(outcomes) < 3 || len(story.Reports) < 300 {
		t.Errorf("got %d reports with outcomes %v, want the whole year and at least three outcomes", len(story.Reports), outcomes)
	}
	fmt.Printf("SHOW reports through both bodies: %d verdicts and %d places equal, outcomes %v\n", equal, placed, outcomes)
}

func nativeMap(t *testing.T, border, towns []byte) find.Map {
	t.Helper()
	drawn, err := region.Decode(border)
	if err != nil {
		t.Fatal(err)
	}
	lines, err := region.Build(drawn)
	if err != nil {
		t.Fatal(err)
	}
	names, err := gazetteer.Decode(towns)
	if err != nil {
		t.Fatal(err)
	}
	return find.Map{Lines: lines, Names: names}
}

// nativePlace returns the georeference as JSON, or "" with none where the
// words of the report make no place.
func nativePlace(t *testing.T, m find.Map, fields map[string]json.RawMessage) (string, json.RawMessage) {
	t.Helper()
	var w find.Whereabouts
	if err := json.Unmarshal([]byte(spell(t, fields)), &w); err != nil {
		t.Fatal(err)
	}
	g, err := m.Place(w)
	if err != nil {
		return err.Error(), nil
	}
	return spell(t, g), json.RawMessage(spell(t, g))
}

// samePlace takes the georeference, or the sentence, out of the answer.
func samePlace(t *testing.T, key, answer, native string) bool {
	t.Helper()
	var got struct {
		Place json.RawMessage `json:"place"`
		Error struct {
			Sentence string `json:"sentence"`
		} `json:"error"`
	}
	if err := json.Unmarshal([]byte(answer), &got); err != nil {
		t.Fatal(err)
	}
	if got.Place == nil {
		return same(t, "place of "+key, got.Error.Sentence, native)
	}
	return same(t, "place of "+key, string(got.Place), native)
}

func TestEveryFunctionThatIsAskedIsThere(t *testing.T) {
	names := []string{"load", "region", "places", "words", "taxa", "groups", "members", "screen", "judge", "place", "tag", "checkTag", "genesis", "op", "fold"}
	var calls []call
	for _, n := range names {
		calls = append(calls, call{n, []any{}})
	}
	for i, got := range phone(t, calls) {
		if !json.Valid([]byte(got)) || slices.Contains([]string{"", "null"}, got) {
			t.Errorf("%s without arguments: got %q, want JSON", names[i], got)
		}
	}
}

func TestAFaultIsToldAndTheProgramGoesOn(t *testing.T) {
	calls := []call{{"tag", []any{map[string]string{"bigint": "1"}, 1}}, {"tag", []any{"K7Q", 204}}}
	got := phone(t, calls)
	const fault = `{"error":{"kind":"fault","sentence":"The rules program failed on this. What was typed is kept."}}`
	if got[0] != fault {
		t.Errorf("a kind of value that the program cannot take: got %s, want %s", got[0], fault)
	}
	if want := `{"tag":"K7Q-204-1"}`; got[1] != want {
		t.Errorf("the call after the fault: got %s, want %s", got[1], want)
	}
}
