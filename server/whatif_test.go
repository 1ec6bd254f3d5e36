package server_test

import (
	"html"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"wayfall/permits"
	"wayfall/permits/screen"
	"wayfall/sync/record"
)

// seat signs a person in at the desk.
func (m *museum) seat(t *testing.T, person string) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	c := &http.Client{Jar: jar}
	r, err := c.PostForm(m.http.URL+"/sign-in", url.Values{"code": {"demo-" + person}})
	if err != nil {
		t.Fatal(err)
	}
	r.Body.Close()
	return c
}

func (m *museum) page(t *testing.T, c *http.Client, path string) (status int, body string) {
	t.Helper()
	r, err := c.Get(m.http.URL + path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return r.StatusCode, string(text)
}

var stamped = regexp.MustCompile(`data-outcome="([^"]*)" data-act="([^"]*)" data-rule="([^"]*)" data-inputs="([^"]*)"`)

// answered reads the answer off a what-if page.
func answered(t *testing.T, body string) [4]string {
	t.Helper()
	got := stamped.FindStringSubmatch(body)
	if got == nil {
		t.Fatalf("no answer on the page: %s", body)
	}
	return [4]string{html.UnescapeString(got[1]), html.UnescapeString(got[2]), html.UnescapeString(got[3]), got[4]}
}

func stamp(v permits.Verdict) [4]string {
	return [4]string{v.Outcome.String(), string(v.Act), string(v.Deciding.Rule), v.Inputs}
}

// TestAWhatIfPageAnswersAsTheInterfaceDoes asks the vectors that can be said
// and hundreds of random questions on the page and by POST /v1/verdicts, and
// holds outcome, act, deciding rule and the digest of the facts to each other.
func TestAWhatIfPageAnswersAsTheInterfaceDoes(t *testing.T) {
	m := vectorMuseum(t)
	f := readVectors(t)
	vectors, outcomes, differing := 0, map[string]int{}, 0
	var program *caller
	var seat *http.Client
	ask := func(q url.Values, report map[string]any) {
		t.Helper()
		var want permits.Verdict
		expect(t, "verdict", program.post("/v1/verdicts", report), http.StatusOK).into(t, &want)
		status, body := m.page(t, seat, "/what-if?"+q.Encode())
		if status != http.StatusOK {
			t.Fatalf("%s: got %d, want 200", q.Encode(), status)
		}
		if got := answered(t, body); got != stamp(want) {
			differing++
			t.Errorf("%s\npage      %v\ninterface %v", q.Encode(), got, stamp(want))
		}
		if !strings.Contains(body, html.EscapeString(want.Deciding.Cites)) || !strings.Contains(body, "officer on the spot") {
			t.Errorf("%s: the page lacks the citation of what decides, or the caution", q.Encode())
		}
		outcomes[want.Outcome.String()]++
	}
	for i := range f.Cases {
		v := &f.Cases[i]
		if unsaid(t, v, f.Ordinary) != "" {
			continue
		}
		for _, text := range v.Facts {
			var facts screen.Facts
			laid(t, &facts, f.Ordinary, text)
			if facts.Found != facts.Possessed || facts.Found.From != facts.Found.To {
				continue // the form asks for one day
			}
			d := facts.JudgedAt.Date
			m.now.Store(time.Date(d.Year(), time.Month(d.Month()), d.Day(), 20, 0, 0, 0, time.UTC).UnixMilli())
			program, seat = m.as("desmond"), m.seat(t, "desmond")
			q := addressOf(&facts)
			ask(q, reportOf(q))
			vectors++
		}
	}
	m.now.Store(opening.UnixMilli())
	program, seat = m.as("desmond"), m.seat(t, "desmond")
	chance := rand.New(rand.NewPCG(3, 4))
	for range randomQuestions {
		q := randomQuestion(chance)
		ask(q, reportOf(q))
	}
	t.Logf("SHOW %d vectors and %d random questions, %d differ; outcomes %v", vectors, randomQuestions, differing, outcomes)
	if vectors < 8 || len(outcomes) < 4 {
		t.Errorf("got %d vectors and outcomes %v: too few to mean anything", vectors, outcomes)
	}
}

var answersOf = map[string][]string{
	"cause": {"window", "vehicle", "shot", "poison", "unknown", "euthanised", "line"}, "sure": {"sure", "likely", "guess"},
	"stuff": {"carcass", "part", "feather", "active_nest"}, "land": {"private", "road_authority", "national_park", "refuge", "tribal", "other"},
	"leave": {"written", "spoken", "no", "not_needed"}, "crime": {"yes", "no", "no", "no"}, "others": {"0", "1", "4"},
	"danger": {"yes", "no", "no", "no"}, "caused": {"yes", "no", "no"}, "planned": {"yes", "no"}, "research": {"yes", "no", "no"},
	"keep": {"yes", "no", "no"}, "copy": {"yes", "no"}, "band": {"none", "none", "marked"}, "hand": {"yes", "no"},
}

func randomQuestion(chance *rand.Rand) url.Values {
	pick := func(list ...string) string { return list[chance.IntN(len(list))] }
	q := url.Values{"who": {pick("a.rivera", "b.chen", "h.new", "cal", "public")}, "n": {pick("1", "1", "3")},
		"what":   {pick("Common Loon", "Bald Eagle", "American Robin", "House Sparrow", "gull sp.", "unknown", "no such beast", "Raccoon")},
		"county": {pick("California", "California", "Michigan", "Indiana", "Ohio", "")},
		"day":    {pick("2025-10-01", "2025-10-03", "2024-12-30", "2025-05-10", "2024-06-01")}}
	for _, key := range []string{"cause", "sure", "stuff", "land", "leave", "crime", "others", "danger", "caused", "planned", "research", "keep", "copy", "band", "hand"} {
		if chance.IntN(8) > 0 {
			q.Set(key, pick(answersOf[key]...))
		}
	}
	return q
}

// addressOf says the facts of a vector as a question.
func addressOf(f *screen.Facts) url.Values {
	yes := func(a permits.Answer) string {
		return map[permits.Answer]string{permits.Yes: "yes", permits.No: "no"}[a]
	}
	others := f.EventCount - f.Count
	q := url.Values{"who": {f.Person}, "what": {f.Taxon}, "county": {"California"}, "day": {f.Found.From.Date.String()}, "cause": {f.Cause},
		"sure": {map[permits.Answer]string{permits.Yes: "sure", permits.No: "guess"}[f.Identified]}, "stuff": {f.Material}, "land": {f.LandManager},
		"leave": {map[permits.Consent]string{permits.Written: "written", permits.Spoken: "spoken", permits.Refused: "no", permits.NotApplicable: "not_needed"}[f.Consent]},
		"crime": {yes(f.SuspectedCrime)}, "danger": {yes(f.TrafficLane)}, "caused": {yes(f.CausedDeath)}, "research": {yes(f.Research)},
		"planned": {map[permits.Answer]string{permits.Yes: "no", permits.No: "yes"}[f.Opportunistic]},
		"keep":    {yes(f.WantsToKeep)}, "copy": {yes(f.PermitCopy)}, "hand": {yes(f.InHand)}, "others": {"0"}}
	if f.Band == "none" {
		q.Set("band", "none")
	} else if f.Band != "" {
		q.Set("band", "marked")
	}
	if others >= 4 {
		q.Set("others", "4")
	}
	return q
}

// reportOf writes the question as a report, by hand and not as the page does.
func reportOf(q url.Values) map[string]any {
	day := q.Get("day")
	at, _ := time.Parse("2006-01-02", day)
	zone, _ := time.LoadLocation("America/Detroit")
	when := record.When{Earliest: day + "T00:00", Latest: day + "T23:59", Precision: record.ToDay,
		Zone: time.Date(at.Year(), at.Month(), at.Day(), 12, 0, 0, 0, zone).Format("-07:00")}
	others := map[string]int{"1": 1, "3": 3, "4": 4}[q.Get("others")]
	count := map[string]int{"3": 3}[q.Get("n")]
	hand := q.Get("hand")
	if hand == "" {
		hand = "no"
	}
	who := q.Get("who")
	if who == "public" {
		who = "a member of the public"
	}
	r := map[string]any{"salvager": who, "found": when, "taken_at": when, "count": max(1, count),
		"signs": record.Signs{Crime: q.Get("crime"), Caused: q.Get("caused"), Planned: q.Get("planned"), Research: q.Get("research"),
			Keep: q.Get("keep"), PermitCopy: q.Get("copy"), Danger: q.Get("danger"), InHand: hand, OthersNearby: others,
			Others: map[string]string{"0": "no", "1": "yes", "3": "yes", "4": "yes"}[q.Get("others")]}}
	if what := q.Get("what"); what != "unknown" {
		r["taxon"] = record.Determination{Written: what, Name: what, Certainty: record.Certainty(q.Get("sure"))}
	}
	if state := map[string]string{"California": "US-CA", "Michigan": "US-MI", "Indiana": "US-IN", "Ohio": "US-OH"}[q.Get("county")]; state != "" {
		r["place"] = record.Georeference{State: state, Source: "words"}
	}
	if c := q.Get("cause"); c != "" {
		r["cause"] = record.Cause{Cause: c}
	}
	land := record.Land{Manager: q.Get("land")}
	switch p := q.Get("leave"); p {
	case "written", "spoken":
		land.Permission, land.Written = "yes", p == "written"
	default:
		land.Permission = p
	}
	if land != (record.Land{}) {
		r["land"] = land
	}
	for key, field := range map[string]string{"stuff": "material", "band": "band"} {
		if said := q.Get(key); said != "" {
			r[field] = said
		}
	}
	return r
}

// TestABadQuestionIsAnsweredAtTheField spoils one field after another.
func TestABadQuestionIsAnsweredAtTheField(t *testing.T) {
	m := vectorMuseum(t)
	c := m.seat(t, "rita")
	good := url.Values{"who": {"cal"}, "what": {"Common Loon"}, "n": {"2"}, "day": {"2025-10-01"}, "county": {"Michigan"}}
	if status, _ := m.page(t, c, "/what-if?"+good.Encode()); status != http.StatusOK {
		t.Fatalf("the good question: got %d, want 200", status)
	}
	const evil = `"><script>x</script>`
	for _, bad := range []struct{ key, value, says string }{
		{"who", "nobody", "Choose who would take it."}, {"what", "", "Say what it is"}, {"n", "none", "whole number from 1 to 200"},
		{"n", "0", "whole number from 1 to 200"}, {"day", "2025-02-31", "there is none"}, {"day", "", "Say on which day."},
		{"county", "Mason, Nowhere", "No state is called"}, {"at", "99, 999", `class="wrong"`}, {"cause", "boredom", "is not one of the answers"},
		{"land", evil, "is not one of the answers"}, {"n", evil, "whole number"}, {"county", evil, `class="wrong"`},
	} {
		q := url.Values{}
		for k, v := range good {
			q[k] = v
		}
		q.Set("place", "3 mi NE of Ludington & "+evil)
		q.Set(bad.key, bad.value)
		status, body := m.page(t, c, "/what-if?"+q.Encode())
		if status != http.StatusUnprocessableEntity || !strings.Contains(body, bad.says) {
			t.Errorf("%s=%q: got %d, want 422 that says %q", bad.key, bad.value, status, bad.says)
		}
		for k := range q {
			if v := q.Get(k); v != "" && v != "nobody" && !strings.Contains(body, `"`+html.EscapeString(v)+`"`) {
				t.Errorf("%s=%q: what was typed as %s, %q, is gone", bad.key, bad.value, k, v)
			}
		}
		if strings.Contains(body, evil) || stamped.MatchString(body) {
			t.Errorf("%s=%q: markup went through, or there is an answer", bad.key, bad.value)
		}
	}
	if status, _ := m.page(t, m.seat(t, "cal"), "/what-if"); status != http.StatusForbidden {
		t.Errorf("a salvager: got %d, want 403", status)
	}
	if _, body := m.page(t, &http.Client{}, "/what-if?"+good.Encode()); !strings.Contains(body, `name="code"`) {
		t.Error("nobody signed in: got no sign-in page")
	}
	if status, body := m.page(t, c, "/what-if?"+strings.Replace(good.Encode(), "2025-10-01", "2025-10-04", 1)); status != http.StatusOK || !stamped.MatchString(body) {
		t.Errorf("tomorrow: got %d, want an answer", status)
	}
}
