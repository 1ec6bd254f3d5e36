package web

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"wayfall/server/catalogue"
	"wayfall/server/people"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// browser signs a person in at the museum and follows no redirect on its own.
type browser struct {
	m      *museum
	client *http.Client
}

func (m *museum) browser(person string) *browser {
	m.t.Helper()
	jar, err := cookiejar.New(nil)
	m.must(err)
	b := &browser{m, &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
	if person == "" {
		return b
	}
	code, err := m.door.IssueCode(context.Background(), person, people.CodeTerms{Lasts: 1e12})
	m.must(err)
	if status, _, to := b.post("/sign-in", url.Values{"code": {code}}); status != http.StatusSeeOther || to != "/" {
		m.t.Fatalf("signing in: got %d to %q", status, to)
	}
	return b
}

func (b *browser) do(r *http.Request) (status int, body, location string) {
	b.m.t.Helper()
	res, err := b.client.Do(r)
	b.m.must(err)
	defer res.Body.Close()
	raw, err := io.ReadAll(res.Body)
	b.m.must(err)
	return res.StatusCode, string(raw), res.Header.Get("Location")
}

func (b *browser) get(path string) (int, string) {
	b.m.t.Helper()
	r, err := http.NewRequest(http.MethodGet, b.m.site.URL+path, nil)
	b.m.must(err)
	status, body, _ := b.do(r)
	return status, body
}

func (b *browser) post(path string, form url.Values) (int, string, string) {
	b.m.t.Helper()
	r, err := http.NewRequest(http.MethodPost, b.m.site.URL+path, strings.NewReader(form.Encode()))
	b.m.must(err)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return b.do(r)
}

// void are the elements of HTML without an end tag.
var void = map[string]bool{"meta": true, "link": true, "input": true, "br": true, "img": true, "hr": true}

// wellFormed reports the first tag that is not closed where it should be, and
// any form field without a label and image without words.
func wellFormed(page string) error {
	z := html.NewTokenizer(strings.NewReader(page))
	var open []string
	ids, labels := map[string]bool{}, map[string]bool{}
	var fields []string
	for {
		kind := z.Next()
		if kind == html.ErrorToken {
			break
		}
		tok := z.Token()
		attr := map[string]string{}
		for _, a := range tok.Attr {
			attr[a.Key] = a.Val
		}
		switch kind {
		case html.StartTagToken:
			if id := attr["id"]; id != "" {
				if ids[id] {
					return fmt.Errorf("id %q stands twice", id)
				}
				ids[id] = true
			}
			if attr["style"] != "" {
				return fmt.Errorf("<%s> has a style that the page's own policy forbids", tok.Data)
			}
			switch tok.Data {
			case "label":
				labels[attr["for"]] = true
			case "input", "select", "textarea":
				if attr["type"] != "hidden" {
					fields = append(fields, attr["id"])
				}
			case "img":
				if attr["alt"] == "" {
					return fmt.Errorf("a picture without words")
				}
			}
			if !void[tok.Data] {
				open = append(open, tok.Data)
			}
		case html.EndTagToken:
			if len(open) == 0 || open[len(open)-1] != tok.Data {
				return fmt.Errorf("</%s> closes %v", tok.Data, open)
			}
			open = open[:len(open)-1]
		}
	}
	if len(open) > 0 {
		return fmt.Errorf("never closed: %v", open)
	}
	for _, f := range fields {
		if !labels[f] {
			return fmt.Errorf("field %q has no label", f)
		}
	}
	return nil
}

func TestWellFormedFindsFaults(t *testing.T) {
	for _, bad := range []string{"<p><b></p>", "<ul>", `<input id="a">`, `<i id="a"></i><i id="a"></i>`, `<p style="x"></p>`, `<img alt="">`} {
		if wellFormed(bad) == nil {
			t.Errorf("%q is said to be well formed", bad)
		}
	}
}

func TestEveryPageOfAFullMuseumIsWellFormed(t *testing.T) {
	m := newMuseum(t)
	report, owl, arrival := m.fill()
	m.desk.Office, m.desk.Queue, m.desk.Outlines = newPaper(), samplePile(report, owl), oneLine{}
	for _, person := range []string{"p-farrow", "p-stasik", "p-marchetti", "p-reader"} {
		b := m.browser(person)
		for path, want := range map[string]string{
			"/": "Eastern Screech-Owl", "/?q=owl&outcome=take": "1 report matches", "/?county=Nowhere": "Nothing matches", "/finds/" + report.String(): "M-37, 1.2 km N",
			"/animals/" + owl.String(): "differs", "/permits": "SC-4471", "/permits/state-2025": "Due next", "/permits/state-2025/years/2025": "Common Loon",
			"/permits/state-2025/years/2024": "No activity", "/arrivals": "Cal Whitlock", "/arrivals/" + arrival: "On the table only", "/bench": "TM 412",
			"/catalogue": "C-000001", "/review": "More were taken", "/review?code=differs": "people differ", "/about": "Arsenic", "/sign-out": "Sign out",
		} {
			status, body := b.get(path)
			if status != http.StatusOK || !strings.Contains(body, want) {
				t.Errorf("%s for %s: got %d, want 200 with %q", path, person, status, want)
			}
			if err := wellFormed(body); err != nil {
				t.Errorf("%s for %s: %v", path, person, err)
			}
		}
	}
}

func TestEveryAnimalAndEveryFindHasItsPage(t *testing.T) {
	m := newMuseum(t)
	m.fill()
	list, err := m.desk.Book.Finds(context.Background(), catalogue.Filter{})
	m.must(err)
	b, pages, joined := m.browser("p-stasik"), 0, 0
	for _, f := range list.Rows {
		paths := []string{"/finds/" + f.ID}
		for _, a := range f.Animals {
			paths = append(paths, "/animals/"+a.ID)
		}
		for _, path := range paths {
			status, body := b.get(path)
			if err := wellFormed(body); status != http.StatusOK || err != nil {
				t.Errorf("%s: got %d, %v", path, status, err)
			}
			pages++
			if strings.Contains(body, "On the record joined to it") {
				joined++
			}
		}
	}
	if pages != 12 || joined != 2 {
		t.Errorf("got %d pages, %d of them of a joined animal; want 12 and 2", pages, joined)
	}
}

func TestEveryPageOfAnEmptyMuseumSaysHowToBegin(t *testing.T) {
	m := newMuseum(t)
	b := m.browser("p-stasik")
	for path, want := range map[string]string{
		"/": "Every find will stand here", "/permits": "Permits will stand here", "/arrivals": "Every hand-over will stand here", "/bench": "The queue for preparation will stand here",
		"/catalogue": "Catalogued animals will stand here", "/review": "Nothing needs a look",
	} {
		status, body := b.get(path)
		if status != http.StatusOK || !strings.Contains(body, want) {
			t.Errorf("%s: got %d, want 200 with %q", path, status, want)
		}
		if err := wellFormed(body); err != nil {
			t.Errorf("%s: %v", path, err)
		}
	}
}

func TestWhoIsNotSignedInIsAskedAndBroughtBack(t *testing.T) {
	m := newMuseum(t)
	stranger := m.browser("")
	r, err := http.NewRequest(http.MethodGet, m.site.URL+"/bench?x=1", nil)
	m.must(err)
	if status, _, to := stranger.do(r); status != http.StatusSeeOther || to != "/sign-in?to=%2Fbench%3Fx%3D1" {
		t.Errorf("got %d to %q", status, to)
	}
	if status, body, _ := stranger.post("/sign-in", url.Values{"code": {"WRONG"}, "to": {"/bench"}}); status == http.StatusSeeOther || !strings.Contains(body, `value="WRONG"`) {
		t.Errorf("a wrong code: got %d, and what was typed must still be there", status)
	}
	for _, to := range []string{"//elsewhere.example", "https://elsewhere.example", `/\elsewhere`, ""} {
		code, err := m.door.IssueCode(context.Background(), "p-reader", people.CodeTerms{Lasts: 1e12})
		m.must(err)
		if _, _, got := stranger.post("/sign-in", url.Values{"code": {code}, "to": {to}}); got != "/" {
			t.Errorf("a way back to %q leads to %q, want /", to, got)
		}
	}
	if status, _ := stranger.get("/about"); status != http.StatusOK {
		t.Errorf("the cautions must be open to everybody: got %d", status)
	}
}

func TestSigningOutEndsTheSession(t *testing.T) {
	m := newMuseum(t)
	b := m.browser("p-reader")
	if status, _ := b.get("/"); status != http.StatusOK {
		t.Fatalf("signed in: got %d", status)
	}
	b.post("/sign-out", nil)
	if status, _ := b.get("/"); status != http.StatusSeeOther {
		t.Errorf("after signing out: got %d, want a way to sign in", status)
	}
}

func TestRolesAreKept(t *testing.T) {
	m := newMuseum(t)
	_, owl, arrival := m.fill()
	acts := map[string]url.Values{
		"/arrivals": {"from": {"Ana"}}, "/arrivals/" + arrival + "/bags": {"tag": {makeTag(209)}}, "/arrivals/" + arrival + "/close": {},
		"/animals/" + owl.String() + "/catalogue": {}, "/animals/" + owl.String() + "/correct": {"field": {"sex"}, "text": {"female"}},
		"/animals/" + owl.String() + "/preparation": {"no": {"X 1"}},
	}
	may := map[string]map[string]bool{
		"p-reader": {}, "p-ana": {}, "p-marchetti": {"/animals/" + owl.String() + "/preparation": true},
		"p-farrow": {"/animals/" + owl.String() + "/correct": true},
	}
	for person, allowed := range may {
		b := m.browser(person)
		for path, form := range acts {
			status, body, _ := b.post(path, form)
			if allowed[path] != (status == http.StatusSeeOther) {
				t.Errorf("%s by %s: got %d", path, person, status)
			}
			if !allowed[path] && (status != http.StatusForbidden || wellFormed(body) != nil) {
				t.Errorf("%s by %s: got %d, want a clear page with 403 (%v)", path, person, status, wellFormed(body))
			}
			for _, typed := range form {
				if !allowed[path] && !strings.Contains(body, typed[0]) {
					t.Errorf("%s by %s: %q was typed and is gone", path, person, typed[0])
				}
			}
		}
	}
	if status, body := m.browser("p-ana").get("/"); status != http.StatusForbidden || !strings.Contains(body, "/field/") {
		t.Errorf("a salvager at the desk: got %d, want to be shown the field page", status)
	}
}

func TestAFormFromAnotherSiteIsRefused(t *testing.T) {
	m := newMuseum(t)
	b := m.browser("p-stasik")
	r, err := http.NewRequest(http.MethodPost, m.site.URL+"/arrivals", strings.NewReader("from=x"))
	m.must(err)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	if status, _, _ := b.do(r); status != http.StatusForbidden {
		t.Errorf("got %d, want 403", status)
	}
	if rows, _ := m.desk.Book.Arrivals(context.Background()); len(rows) != 0 {
		t.Error("the foreign form began an arrival")
	}
}

func TestAWrongTagGetsASentenceAndStaysTyped(t *testing.T) {
	m := newMuseum(t)
	_, _, arrival := m.fill()
	b := m.browser("p-stasik")
	status, body, _ := b.post("/arrivals/"+arrival+"/bags", url.Values{"tag": {"K7Q-204-X"}})
	if status != http.StatusUnprocessableEntity || !strings.Contains(body, `value="K7Q-204-X"`) || !strings.Contains(body, "check character does not fit") {
		t.Errorf("got %d; want 422, the tag as typed and a sentence", status)
	}
	if err := wellFormed(body); err != nil {
		t.Error(err)
	}
	before, _ := m.desk.Book.Arrival(context.Background(), arrival)
	if status, _, to := b.post("/arrivals/"+arrival+"/bags", url.Values{"tag": {strings.ToLower(makeTag(209))}}); status != http.StatusSeeOther || to != "/arrivals/"+arrival {
		t.Errorf("a good tag in small letters: got %d to %q", status, to)
	}
	after, err := m.desk.Book.Arrival(context.Background(), arrival)
	m.must(err)
	if len(after.Table) != len(before.Table)+1 || after.Table[len(after.Table)-1].Tag != makeTag(209) {
		t.Errorf("got %d bags, want %d with %s last", len(after.Table), len(before.Table)+1, makeTag(209))
	}
}

func TestOneClickSettlesADifference(t *testing.T) {
	m := newMuseum(t)
	_, owl, _ := m.fill()
	b := m.browser("p-farrow")
	sheet, err := m.desk.Book.Animal(context.Background(), owl.String())
	m.must(err)
	form := url.Values{}
	for _, f := range sheet.Facts {
		if f.Field.Name == "cause" {
			form.Set("value", string(f.Said[0].Value))
			form["saw"] = f.Saw()
		}
	}
	if len(form["saw"]) != 2 {
		t.Fatalf("got %d values that differ, want 2", len(form["saw"]))
	}
	if status, _, _ := b.post("/animals/"+owl.String()+"/fields/cause", form); status != http.StatusSeeOther {
		t.Errorf("got %d", status)
	}
	if _, body := b.get("/animals/" + owl.String()); strings.Contains(body, "Take this one") || !strings.Contains(body, "Settled.") {
		t.Error("after settling, the page must say so and show one value")
	}
	stale := url.Values{"value": form["value"], "saw": {}}
	status, body, _ := b.post("/animals/"+owl.String()+"/fields/cause", stale)
	if status != http.StatusConflict || !strings.Contains(body, "Somebody") {
		t.Errorf("settling what somebody else settled: got %d, want 409 with a sentence", status)
	}
}

func TestADifferenceOnAReportIsSettledToo(t *testing.T) {
	m := newMuseum(t)
	report, _, _ := m.fill()
	m.save(9, "p-ana", sampleDay, op.Group{ID: report, Kind: "report", Acts: []op.Act{op.Set("locality", val("M-37 at Sable Road"))}})
	b := m.browser("p-stasik")
	sheet, err := m.desk.Book.Find(context.Background(), report.String())
	m.must(err)
	form := url.Values{}
	for _, f := range sheet.Facts {
		if f.Field.Name == "locality" {
			form.Set("value", string(f.Said[1].Value))
			form["saw"] = f.Saw()
		}
	}
	if _, body := b.get("/finds/" + report.String()); strings.Count(body, "Take this one") != 2 {
		t.Errorf("got %d buttons, want one beside each of two values", strings.Count(body, "Take this one"))
	}
	status, _, to := b.post("/finds/"+report.String()+"/fields/locality", form)
	if _, body := b.get("/finds/" + report.String()); status != http.StatusSeeOther || to != "/finds/"+report.String() || strings.Contains(body, "Take this one") {
		t.Errorf("got %d to %q, and the page must show one value", status, to)
	}
}

// hostile is text that tries to be markup wherever it lands.
const hostile = `"><script>alert(1)</script><img src=x onerror=alert(2)>'{{.}}&amp;`

func TestTextFromOutsideIsNeverMarkup(t *testing.T) {
	m := newMuseum(t)
	report, owl, arrival := m.fill()
	worst := record.Determination{Written: hostile, Name: hostile}
	at := sampleDay
	m.save(9, hostile, at, op.Group{ID: report, Kind: "report", Acts: []op.Act{
		op.Set("locality", val(hostile)), op.Set("fieldno", val(hostile)), op.Set("salvager", val(hostile)), op.Set("taxon", val(worst)),
		op.Set("deed", val(hostile)), op.Set("found", val(record.When{Text: hostile, Earliest: hostile, Latest: hostile})), op.Set("hat", val(hostile)),
		op.Event("verdicts", val(map[string]string{"outcome": hostile})), op.Event("remarks", val(record.Remark{Text: hostile})),
		op.Set("place", val(record.Georeference{Known: true, Lat: 1e308, Lon: -1e308, Radius: 1e300, County: hostile, State: hostile})),
		op.Add("photos", val(record.Photo{SHA256: hostile, Caption: hostile})),
	}}, op.Group{ID: owl, Kind: "animal", Acts: []op.Act{
		op.Set("taxon", val(worst)), op.Set("disposition", val(hostile)), op.Set("freezer", val(hostile)), op.Set("hold", val(hostile)), op.Add("hazards", val(hostile)),
		op.Add("tags", val(hostile)), op.Set("sex", val(hostile)), op.Set("arrival", val(hostile)), op.Set("catalogue_no", val(hostile)), op.Set("cause", val(hostile)),
	}})
	m.must(m.desk.Hands.AddLines(context.Background(), catalogue.Hand{Person: hostile, AtMS: at.UnixMilli()}, arrival, hostile))
	queue := samplePile(report, owl)
	queue.items[0].Why, queue.items[0].Name, queue.items[0].Who, queue.items[0].Code = hostile, hostile, hostile, hostile
	office := newPaper()
	office.row.Name, office.row.Issuer, office.row.Balances[0].Name, office.row.Notice = hostile, hostile, hostile, hostile
	m.desk.Office, m.desk.Queue, m.desk.Institution = office, queue, hostile
	b := m.browser("p-stasik")
	for _, path := range []string{"/", "/?q=" + url.QueryEscape(hostile), "/finds/" + report.String(), "/animals/" + owl.String(), "/arrivals", "/arrivals/" + arrival,
		"/bench", "/catalogue?q=" + url.QueryEscape(hostile), "/review?code=" + url.QueryEscape(hostile), "/permits", "/permits/state-2025", "/permits/state-2025/years/2025",
		"/sign-in?code=" + url.QueryEscape(hostile) + "&to=" + url.QueryEscape(hostile), "/finds/" + url.PathEscape(hostile)} {
		status, body := b.get(path)
		if status >= 500 {
			t.Errorf("%s: got %d", path, status)
		}
		if strings.Contains(body, "<script>alert") || strings.Contains(body, "<img src=x") {
			t.Errorf("%s: text became markup", path)
		}
		if err := wellFormed(body); err != nil {
			t.Errorf("%s: %v", path, err)
		}
	}
	if status, body, _ := b.post("/arrivals/"+arrival+"/bags", url.Values{"tag": {hostile}}); status != http.StatusUnprocessableEntity || strings.Contains(body, "<script>alert") {
		t.Errorf("a hostile tag: got %d", status)
	}
}

func TestMissingRecordsAndBrokenAddressesAreClearPages(t *testing.T) {
	m := newMuseum(t)
	m.desk.Office = newPaper()
	b := m.browser("p-reader")
	for _, path := range []string{"/finds/nothing", "/animals/AAAAAAAAAAAAAAAAAAAAAA", "/arrivals/x", "/permits/none", "/permits/none/years/2025", "/permits/state-2025/years/soon", "/photos/abc"} {
		status, body := b.get(path)
		if status != http.StatusNotFound || wellFormed(body) != nil || !strings.Contains(body, "Go back") {
			t.Errorf("%s: got %d, want a clear page with 404", path, status)
		}
	}
}

func TestTheYearAsATable(t *testing.T) {
	m := newMuseum(t)
	m.desk.Office = newPaper()
	b := m.browser("p-reader")
	status, body := b.get("/permits/state-2025/years/2025.csv")
	if status != http.StatusOK || !strings.HasPrefix(body, "row,species,") || !strings.Contains(body, "subtotal,Common Loon,Gavia immer,carcass,Michigan,,,8,") {
		t.Errorf("got %d:\n%s", status, body)
	}
}

func TestReviewIsSettledWithNameAndNote(t *testing.T) {
	m := newMuseum(t)
	queue := &pile{}
	m.desk.Queue = queue
	status, _, to := m.browser("p-farrow").post("/review/41:over_quota/settle", url.Values{"how": {"seen"}, "note": {"rang them"}})
	if status != http.StatusSeeOther || to != "/review" || len(queue.settled) != 1 || queue.settled[0] != "p-farrow 41:over_quota seen rang them" {
		t.Errorf("got %d to %q, settled %q", status, to, queue.settled)
	}
}

func TestBordersNearAPlace(t *testing.T) {
	m := newMuseum(t)
	m.desk.Outlines = oneLine{}
	b := m.browser("p-reader")
	if status, body := b.get("/data/lines?lat=43.5&lon=-86&radius=20"); status != http.StatusOK || !strings.HasPrefix(body, `[{"name":"Newaygo","lines":[[[-86.04,43.29],`) {
		t.Errorf("got %d %s", status, body)
	}
	for _, bad := range []string{"lat=91&lon=0&radius=1", "lat=x&lon=0&radius=1", "lat=NaN&lon=0&radius=1", "lat=0&lon=0&radius=-1", ""} {
		if status, _ := b.get("/data/lines?" + bad); status != http.StatusUnprocessableEntity {
			t.Errorf("%q: got %d, want 422", bad, status)
		}
	}
}

func TestStylesAndHeaders(t *testing.T) {
	m := newMuseum(t)
	b := m.browser("")
	for _, path := range []string{"/desk/desk.css", "/desk/year.css"} {
		res, err := b.client.Get(m.site.URL + path)
		m.must(err)
		res.Body.Close()
		if res.StatusCode != http.StatusOK || !strings.HasPrefix(res.Header.Get("Content-Type"), "text/css") || res.Header.Get("ETag") == "" {
			t.Errorf("%s: got %d, %q", path, res.StatusCode, res.Header.Get("Content-Type"))
		}
	}
	for _, path := range []string{"/desk/../web.go", "/field/.keep", "/desk/layout.html", "/field/../../web.go", "/desk/%2e%2e/web.go"} {
		if status, body := b.get(path); status == http.StatusOK && strings.Contains(body, "package web") || path == "/field/.keep" && status == http.StatusOK {
			t.Errorf("%s: got %d, want nothing", path, status)
		}
	}
	res, err := b.client.Get(m.site.URL + "/sign-in")
	m.must(err)
	res.Body.Close()
	for name, part := range map[string]string{"Content-Security-Policy": "frame-ancestors 'none'", "X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin"} {
		if !strings.Contains(res.Header.Get(name), part) {
			t.Errorf("%s: got %q, want %q in it", name, res.Header.Get(name), part)
		}
	}
}

func TestTheFootOfAPageIsOnlyText(t *testing.T) {
	m := newMuseum(t)
	_, sheet := m.browser("").get("/desk/foot.css?text=" + url.QueryEscape("a\"} body { display: none } /* \\ \n ü"))
	want := `@page { @bottom-left { content: "a\000022\00007d\000020body\000020\00007b\000020display\00003a\000020none\000020\00007d\000020\00002f\00002a\000020\00005c\000020\00000a\000020\0000fc"; `
	if !strings.HasPrefix(sheet, want) {
		t.Errorf("got\n%s\nwant a beginning of\n%s", sheet, want)
	}
}
