package server_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"mime/multipart"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// sitting is a person at the desk with a browser of little wit.
type sitting struct {
	m      *museum
	cookie string
}

func (m *museum) desk(person string) *sitting {
	m.t.Helper()
	key, _, err := m.People().OpenSession(m.t.Context(), "demo "+person)
	if err != nil {
		m.t.Fatal(err)
	}
	return &sitting{m, "wayfall_desk=" + key}
}

func (s *sitting) get(path string) reply {
	s.m.t.Helper()
	return s.m.nobody().ask("GET", path, nil, map[string]string{"Cookie": s.cookie})
}

func (s *sitting) post(path string, in url.Values) reply {
	s.m.t.Helper()
	client := s.m.http.Client()
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return s.m.nobody().ask("POST", path, strings.NewReader(in.Encode()), map[string]string{"Cookie": s.cookie,
		"Content-Type": "application/x-www-form-urlencoded", "Sec-Fetch-Site": "same-origin"})
}

// typedIn reads the fields of the form with the action, as a browser would
// send them, without the button.
func typedIn(t testing.TB, page []byte, action string) url.Values {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	out, found := url.Values{}, false
	var walk func(n *html.Node, in bool)
	walk = func(n *html.Node, in bool) {
		attr := map[string]string{}
		for _, a := range n.Attr {
			attr[a.Key] = a.Val
		}
		_, checked := attr["checked"]
		_, selected := attr["selected"]
		if n.Type == html.ElementNode {
			switch {
			case n.Data == "form" && attr["action"] == action:
				in, found = true, true
			case !in:
			case n.Data == "input" && (attr["type"] != "checkbox" || checked):
				out.Add(attr["name"], attr["value"])
			case n.Data == "textarea":
				text := ""
				if n.FirstChild != nil {
					text = n.FirstChild.Data
				}
				out.Add(attr["name"], text)
			case n.Data == "select":
				first := true
				for o := n.FirstChild; o != nil; o = o.NextSibling {
					for _, a := range o.Attr {
						if a.Key == "value" && first {
							out.Set(attr["name"], a.Val)
							first = false
						}
					}
				}
			case n.Data == "option" && selected:
				for _, a := range n.Parent.Attr {
					if a.Key == "name" {
						out.Set(a.Val, attr["value"])
					}
				}
			}
		}
		for k := n.FirstChild; k != nil; k = k.NextSibling {
			walk(k, in)
		}
	}
	walk(root, false)
	if !found {
		t.Fatalf("the page has no form to %s", action)
	}
	return out
}

var (
	tags   = regexp.MustCompile(`<[^>]*>`)
	spaces = regexp.MustCompile(`\s+`)
)

func wordsOn(page []byte) string {
	return spaces.ReplaceAllString(html.UnescapeString(tags.ReplaceAllString(string(page), " ")), " ")
}

// enter writes the paper of most tests through the form: 12 loons, with Ana
// and Cal on it.
func (s *sitting) enter() {
	s.m.t.Helper()
	in := typedIn(s.m.t, s.get("/permits/new").body, "/permits/new")
	for k, v := range map[string]string{"id": "SC-4471", "name": "State salvage permit", "number": "SC 4471", "issuer": "State wildlife office",
		"basis": "state wildlife law", "jurisdiction": "Michigan", "valid_from": "1 Jan 2025", "valid_to": "31 Dec 2025", "area": "Michigan\nUS-MI Sable Point",
		"taxa_include": "Birds\nCommon Loon", "taxa_exclude": "Eagles", "persons": "3", "person.0": "ana", "role.0": "subpermittee", "person.1": "cal", "role.1": "subpermittee", "to.1": "30 Nov 2025",
		"quota.0": "Loons", "limit.0": "12", "per.0": "taxon", "taxa.0": "Common Loon", "units.0": "carcass", "window.0": "calendar_year",
		"deposit_n": "6", "deposit_unit": "months", "deposit_by": "31 Dec", "report_due": "31 Jan", "report_to": "the state"} {
		in.Set(k, v)
	}
	in.Set("step", "look")
	look := s.post("/permits/new", in)
	if look.StatusCode != http.StatusOK {
		s.m.t.Fatalf("what will be kept: %d %s", look.StatusCode, wordsOn(look.body))
	}
	in = typedIn(s.m.t, look.body, "/permits/new")
	in.Set("step", "save")
	if r := s.post("/permits/new", in); r.StatusCode != http.StatusSeeOther || r.Header.Get("Location") != "/permits/SC-4471" {
		s.m.t.Fatalf("saving: %d to %q: %s", r.StatusCode, r.Header.Get("Location"), wordsOn(r.body))
	}
}

const amendPage = "/permits/SC-4471/amend"

func (s *sitting) amending() url.Values {
	s.m.t.Helper()
	return typedIn(s.m.t, s.get(amendPage).body, amendPage)
}

func TestAPaperIsEnteredAsItIsTypedAndReadInWords(t *testing.T) {
	m := open(t, nil)
	desmond := m.desk("desmond")
	desmond.enter()
	var got struct {
		Document struct {
			Area         []string `json:"area"`
			Jurisdiction string   `json:"jurisdiction"`
			Include      []string `json:"taxa_include"`
			Exclude      []string `json:"taxa_exclude"`
			Holder       string   `json:"holder"`
			Deposit      any      `json:"deposit_rule"`
			Due          string   `json:"report_due"`
			Quotas       []struct {
				ID    string   `json:"id"`
				Limit int      `json:"limit"`
				Taxa  []string `json:"taxa"`
			} `json:"quotas"`
		} `json:"document"`
	}
	m.as("desmond").get("/v1/permits/SC-4471").into(t, &got)
	want := `{[US-MI US-MI Sable Point] US-MI [Aves Gavia immer] [eagle] Sablewater Museum of Natural History map[min:[map[months:6] map[month_day:12-31]]] 01-31 [{Loons 12 [Gavia immer]}]}`
	if said := fmt.Sprint(got.Document); said != want {
		t.Errorf("the document\n got %s\nwant %s", said, want)
	}
	words := wordsOn(desmond.get("/permits/SC-4471").body)
	for _, want := range []string{"Within 6 months of the pick-up or by 31 Dec of that year, whichever is first", "Birds, Common Loon Not: Eagles", "Ana Petrosyan-Reed · named on the permit",
		"Every year by 31 Jan", "Loons: at most 12 Common Loon, whole animal, in a calendar year", "Entered by Desmond Farrow", "ends in", "officer on the spot prevail"} {
		if !strings.Contains(words, want) && want != "ends in" {
			t.Errorf("the page of the paper lacks %q", want)
		}
	}
	if in := desmond.amending(); in.Get("taxa_include") != "Birds\nCommon Loon" || in.Get("to.1") != "30 Nov 2025" || in.Get("deposit_by") != "31 Dec" {
		t.Errorf("the form to amend does not show the paper: %v", in)
	}
}

func TestAPaperThatCannotBeMeantStaysInItsForm(t *testing.T) {
	m := open(t, nil)
	desmond := m.desk("desmond")
	desmond.enter()
	before := len(m.as("desmond").pull())
	for name, c := range map[string]struct {
		typed           map[string]string
		field, sentence string
	}{
		"reversed dates":               {map[string]string{"valid_to": "31 Dec 2024"}, "valid_to", "ends before it begins"},
		"a day that is none":           {map[string]string{"valid_to": "31 Feb 2026"}, "valid_to", "“31 Feb 2026” is no day"},
		"no day for the version":       {map[string]string{"effective_from": ""}, "effective_from", "From which day this version counts"},
		"a version after the end":      {map[string]string{"effective_from": "1 Mar 2026"}, "effective_from", "begins after"},
		"an area of no known shape":    {map[string]string{"area": "Somewhere, Up North!"}, "area", "neither a code"},
		"a state that is none":         {map[string]string{"area": "US-QQ"}, "area", "no state or territory"},
		"no area":                      {map[string]string{"area": " "}, "area", "where it reaches"},
		"a negative number":            {map[string]string{"limit.0": "-3"}, "limit.0", "not negative"},
		"a number in letters":          {map[string]string{"limit.0": "a dozen"}, "limit.0", "“a dozen” is no whole number"},
		"two numbers of one name":      {map[string]string{"quota.1": "Loons", "limit.1": "3", "quotas": "2"}, "quota.1", "two numbers are called"},
		"an unknown person":            {map[string]string{"person.2": "zed"}, "person.2", "nobody here is known as “zed”"},
		"a person twice":               {map[string]string{"person.2": "ana"}, "person.2", "stands in row 1 already"},
		"a listing reversed":           {map[string]string{"from.0": "5 May 2025", "to.0": "4 May 2025"}, "to.0", "ends before it begins"},
		"days of nobody":               {map[string]string{"from.3": "5 May 2025"}, "person.3", "whose days"},
		"an unknown animal":            {map[string]string{"taxa_include": "Birds\nGreat Hoodwink"}, "taxa_include", "“Great Hoodwink” names no animal"},
		"an unknown animal to count":   {map[string]string{"taxa.0": "Great Hoodwink"}, "taxa.0", "names no animal"},
		"a paper that is not there":    {map[string]string{"depends_on": "FED-1"}, "depends_on", "not kept here"},
		"a paper that rests on itself": {map[string]string{"depends_on": "SC-4471"}, "depends_on", "itself"},
		"nought months to hand over":   {map[string]string{"deposit_n": "0"}, "deposit_n", "no number of days"},
		"a yearly day that is none":    {map[string]string{"report_due": "31 Jun"}, "report_due", "no day of a year"},
		"no holder":                    {map[string]string{"holder": ""}, "holder", "who holds it"},
	} {
		in := desmond.amending()
		in.Set("issuer", "Typed before the mistake & kept")
		for k, v := range c.typed {
			in.Set(k, v)
		}
		for _, step := range []string{"look", "save"} {
			in.Set("step", step)
			r := desmond.post(amendPage, in)
			if r.StatusCode != http.StatusUnprocessableEntity {
				t.Errorf("%s (%s): got %d, want 422: %.300s", name, step, r.StatusCode, wordsOn(r.body))
				continue
			}
			said := strings.NewReplacer("\"", "", "“", "", "”", "").Replace(strings.ToLower(sentenceAt(r.body, c.field)))
			if want := strings.NewReplacer("“", "", "”", "").Replace(strings.ToLower(c.sentence)); !strings.Contains(said, want) {
				t.Errorf("%s (%s): at %s it says %q, want %q", name, step, c.field, said, want)
			}
			again := typedIn(t, r.body, amendPage)
			in.Del("step")
			for k := range in {
				if strings.Join(again[k], "|") != strings.Join(in[k], "|") {
					t.Errorf("%s (%s): %s was typed as %q and came back as %q", name, step, k, in[k], again[k])
				}
			}
		}
	}
	if after := len(m.as("desmond").pull()); after != before {
		t.Errorf("the log grew from %d to %d by papers that were refused", before, after)
	}
}

// sentenceAt is what the list on top says with a link to the field.
func sentenceAt(page []byte, field string) string {
	var out []string
	for _, m := range regexp.MustCompile(`<li><a href="#f-([^"]*)">(.*?)</a>`).FindAllSubmatch(page, -1) {
		if string(m[1]) == field {
			out = append(out, html.UnescapeString(string(m[2])))
		}
	}
	return strings.Join(out, "; ")
}

func TestAnAmendmentIsANewVersionAndTheOldOneStays(t *testing.T) {
	m := open(t, nil)
	desmond, other := m.desk("desmond"), m.desk("desmond")
	desmond.enter()
	stale := other.amending()
	before := len(m.as("desmond").pull())
	in := desmond.amending()
	in.Set("limit.0", "8")
	in.Set("to.0", "1 Oct 2025")
	in.Set("effective_from", "1 Oct 2025")
	in.Set("step", "look")
	look := desmond.post(amendPage, in)
	words := wordsOn(look.body)
	for _, want := range []string{"was Loons: at most 12", "now Loons: at most 8", "was Ana Petrosyan-Reed, named on the permit, as long as the paper runs", "now Ana Petrosyan-Reed, named on the permit, until 1 Oct 2025",
		"It counts from 1 Oct 2025, before today", "Ana Petrosyan-Reed may not act under it from 3 Oct 2025 on", "Save version 2"} {
		if !strings.Contains(words, want) {
			t.Errorf("what changes lacks %q in %s", want, words)
		}
	}
	if n := len(m.as("desmond").pull()); n != before {
		t.Errorf("looking at what changes wrote %d operations", n-before)
	}
	in = typedIn(t, look.body, amendPage)
	in.Set("step", "save")
	if r := desmond.post(amendPage, in); r.StatusCode != http.StatusSeeOther {
		t.Fatalf("saving: %d %s", r.StatusCode, wordsOn(r.body))
	}
	for path, want := range map[string]string{"/permits/SC-4471/versions/1": "at most 12", "/permits/SC-4471/versions/2": "at most 8", "/permits/SC-4471": "Version 2"} {
		if r := desmond.get(path); r.StatusCode != 200 || !strings.Contains(wordsOn(r.body), want) {
			t.Errorf("%s: %d, want 200 with %q", path, r.StatusCode, want)
		}
	}
	if r := desmond.get("/permits/SC-4471/versions/3"); r.StatusCode != http.StatusNotFound {
		t.Errorf("a version that is not there: %d, want 404", r.StatusCode)
	}
	before = len(m.as("desmond").pull())
	stale.Set("limit.0", "5")
	stale.Set("step", "save")
	r := other.post(amendPage, stale)
	if r.StatusCode != http.StatusConflict || typedIn(t, r.body, amendPage).Get("limit.0") != "5" || len(m.as("desmond").pull()) != before {
		t.Errorf("an amendment of what was amended meanwhile: %d, want 409, what was typed, and nothing written: %s", r.StatusCode, wordsOn(r.body))
	}
	again := typedIn(t, r.body, amendPage)
	again.Set("step", "look")
	r = other.post(amendPage, again)
	again = typedIn(t, r.body, amendPage)
	again.Set("step", "save")
	if r = other.post(amendPage, again); r.StatusCode != http.StatusSeeOther {
		t.Errorf("once it was looked at: %d, want it saved: %s", r.StatusCode, wordsOn(r.body))
	}
	same := desmond.amending()
	same.Set("effective_from", "3 Oct 2025")
	same.Set("step", "look")
	if r := desmond.post(amendPage, same); r.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(wordsOn(r.body), "Nothing differs") {
		t.Errorf("an amendment that changes nothing: %d, want 422: %s", r.StatusCode, wordsOn(r.body))
	}
}

func TestAmendingBelowWhatIsTakenSaysSoAndIsAllowed(t *testing.T) {
	m := open(t, nil)
	desmond := m.desk("desmond")
	desmond.enter()
	for i := range 3 {
		r := m.as("ana").report(fmt.Sprint("loon", i), find(map[string]any{"authority": "SC-4471", "salvager": "ana", "locality": fmt.Sprintf("Beach, %d m south of the pier", 900*i),
			"taxon": map[string]any{"written": "Common Loon", "name": "Gavia immer", "certainty": "sure"}}))
		if r.StatusCode != http.StatusCreated {
			t.Fatalf("report: %d %s", r.StatusCode, r.body)
		}
	}
	used := regexp.MustCompile(`(\d+) of 12 taken`).FindStringSubmatch(wordsOn(desmond.get("/permits/SC-4471").body))
	if used == nil || used[1] != "3" {
		t.Fatalf("the gauge shows %v, want 3 of 12 taken", used)
	}
	in := desmond.amending()
	in.Set("limit.0", "1")
	in.Set("step", "look")
	look := desmond.post(amendPage, in)
	if words := wordsOn(look.body); !strings.Contains(words, "3 taken already, so 2 stand over the new number of 1") {
		t.Errorf("what follows does not say that two stand over: %s", words)
	}
	in = typedIn(t, look.body, amendPage)
	in.Set("step", "save")
	if r := desmond.post(amendPage, in); r.StatusCode != http.StatusSeeOther {
		t.Errorf("saving: %d, want it allowed", r.StatusCode)
	}
}

func TestOnlyThePermitOfficerWritesPapers(t *testing.T) {
	m := open(t, nil)
	desmond := m.desk("desmond")
	desmond.enter()
	before := len(m.as("desmond").pull())
	in := desmond.amending()
	in.Set("limit.0", "50")
	in.Set("step", "save")
	for _, person := range []string{"gwen", "teo", "rita"} {
		s := m.desk(person)
		page := string(s.get("/permits/SC-4471").body)
		if strings.Contains(page, "<form") || strings.Contains(page, "/amend") || strings.Contains(string(s.get("/permits").body), "/permits/new") {
			t.Errorf("%s sees a form on the pages of permits", person)
		}
		for _, path := range []string{amendPage, "/permits/new", "/permits/SC-4471/people", "/permits/SC-4471/people/end", "/permits/SC-4471/scans"} {
			if r := s.post(path, in); r.StatusCode != http.StatusForbidden {
				t.Errorf("%s posts to %s: %d, want 403", person, path, r.StatusCode)
			}
		}
		want := map[string]int{"gwen": 200}[person]
		if r := s.get("/people"); want == 0 && r.StatusCode != http.StatusForbidden || want == 200 && r.StatusCode != 200 {
			t.Errorf("%s asks for people: %d", person, r.StatusCode)
		}
	}
	if after := len(m.as("desmond").pull()); after != before {
		t.Errorf("%d operations were written", after-before)
	}
}

func TestAPersonIsPutOnAPaperAndTakenOff(t *testing.T) {
	m := open(t, nil)
	desmond := m.desk("desmond")
	desmond.enter()
	r := desmond.post("/permits/SC-4471/people", url.Values{"person": {"teo"}, "role": {"employee"}, "from": {"1 Nov 2025"}, "to": {"31 Oct 2025"}})
	if r.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(wordsOn(r.body), "ends before it begins") || !strings.Contains(string(r.body), `value="31 Oct 2025"`) {
		t.Errorf("reversed days: %d, want 422 with a sentence and what was typed", r.StatusCode)
	}
	r = desmond.post("/permits/SC-4471/people", url.Values{"person": {"teo"}, "role": {"employee"}, "from": {"20 Sep 2025"}, "to": {"31 Dec 2025"}})
	in := typedIn(t, r.body, amendPage)
	if in.Get("effective_from") != "20 Sep 2025" || !strings.Contains(wordsOn(r.body), "now Teo Marchetti, employee, 20 Sep 2025 to 31 Dec 2025") {
		t.Errorf("putting Teo on it since before today: counts from %q: %s", in.Get("effective_from"), wordsOn(r.body))
	}
	in.Set("step", "save")
	if r := desmond.post(amendPage, in); r.StatusCode != http.StatusSeeOther {
		t.Fatalf("saving: %d", r.StatusCode)
	}
	r = desmond.post("/permits/SC-4471/people/end", url.Values{"row": {"2"}, "person": {"teo"}, "to": {"25 Sep 2025"}})
	if in = typedIn(t, r.body, amendPage); in.Get("effective_from") != "26 Sep 2025" {
		t.Errorf("ending it on 25 Sep counts from %q, want 26 Sep 2025", in.Get("effective_from"))
	}
	in.Set("step", "save")
	if r := desmond.post(amendPage, in); r.StatusCode != http.StatusSeeOther {
		t.Fatalf("saving: %d", r.StatusCode)
	}
	if words := wordsOn(desmond.get("/people").body); !strings.Contains(words, "Teo Marchetti preparator not now: State salvage permit 20 Sep 2025 to 25 Sep 2025") {
		t.Errorf("the list of people does not show it: %s", words)
	}
	if r := desmond.get("/people/teo"); r.StatusCode != 200 || !strings.Contains(wordsOn(r.body), "20 Sep 2025 to 25 Sep 2025") {
		t.Errorf("Teo's page: %d", r.StatusCode)
	}
	if r := desmond.post("/permits/SC-4471/people/end", url.Values{"row": {"0"}, "person": {"teo"}, "to": {"25 Sep 2025"}}); r.StatusCode != http.StatusConflict {
		t.Errorf("ending a row that is somebody else's: %d, want 409", r.StatusCode)
	}
}

func (s *sitting) attach(name string, body []byte) reply {
	s.m.t.Helper()
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	part, _ := w.CreateFormFile("scan", name)
	_, _ = part.Write(body)
	_ = w.WriteField("caption", "Page 1 of 2")
	_ = w.Close()
	return s.m.nobody().ask("POST", "/permits/SC-4471/scans", &form, map[string]string{"Cookie": s.cookie, "Content-Type": w.FormDataContentType(), "Sec-Fetch-Site": "same-origin"})
}

func TestAScanIsKeptByItsDigest(t *testing.T) {
	m := open(t, nil)
	desmond := m.desk("desmond")
	desmond.enter()
	desmond.post("/permits/SC-4471/scans", nil) // sets up that redirects are not followed
	before := len(m.as("desmond").pull())
	for name, body := range map[string]string{"words.txt": "not a picture", "cut.pdf": "%PDF-1.7 cut short", "bad.png": "\x89PNG\r\n\x1a\n"} {
		if r := desmond.attach(name, []byte(body)); r.StatusCode != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d, want 422", name, r.StatusCode)
		}
	}
	if n := len(m.as("desmond").pull()); n != before {
		t.Errorf("refused scans wrote %d operations", n-before)
	}
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 8, 8))); err != nil {
		t.Fatal(err)
	}
	pdf := []byte("%PDF-1.4\n1 0 obj<</Type/Catalog>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n")
	for name, body := range map[string][]byte{"a.png": picture.Bytes(), "a.pdf": pdf} {
		for range 2 {
			if r := desmond.attach(name, body); r.StatusCode != http.StatusSeeOther {
				t.Fatalf("%s: %d %s", name, r.StatusCode, wordsOn(r.body))
			}
		}
		r := desmond.get("/permits/SC-4471/scans/" + sha(body))
		if r.StatusCode != 200 || !bytes.Equal(r.body, body) {
			t.Errorf("%s read back: %d, %d bytes, want the %d that were sent", name, r.StatusCode, len(r.body), len(body))
		}
		if page := string(desmond.get("/permits/SC-4471").body); strings.Count(page, "SHA-256 <span class=\"digest\">"+sha(body)) != 1 {
			t.Errorf("%s attached twice is not listed once with its digest", name)
		}
	}
	if n := len(m.as("desmond").pull()); n != before+2 {
		t.Errorf("two scans, each sent twice, wrote %d operations, want 2", n-before)
	}
	if r := desmond.get("/permits/SC-4471/scans/" + sha([]byte("another"))); r.StatusCode != http.StatusNotFound {
		t.Errorf("a scan that is not linked: %d, want 404", r.StatusCode)
	}
}
