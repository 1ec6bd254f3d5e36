package demo_test

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"wayfall/fixtures/scenario"
	"wayfall/permits"
	"wayfall/server/demo"
	"wayfall/server/people"
)

// air is the network between phone and museum. Down, it cuts every request
// before an answer, as a dead spot does.
type air struct {
	down atomic.Bool
	next http.Handler
}

func (a *air) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if a.down.Load() {
		panic(http.ErrAbortHandler)
	}
	a.next.ServeHTTP(w, r)
}

// phonePage is the field page in a real Chromium, 360 px wide.
type phonePage struct {
	t   *testing.T
	ctx context.Context
	air *air
}

func openPhone(t *testing.T, a *air) *phonePage {
	t.Helper()
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		t.Fatal("this test needs Debian's chromium")
	}
	opts := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(chromium), chromedp.NoSandbox,
		chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-dev-shm-usage", true),
		chromedp.Flag("disable-component-update", true), chromedp.UserDataDir(t.TempDir()), chromedp.WSURLReadTimeout(time.Minute))
	alloc, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(cancel)
	p := &phonePage{t, ctx, a}
	must(t, chromedp.EmulateViewport(360, 740), p)
	if _, err := chromedp.CallBrowser(ctx, browser.SetPermission, browser.SetPermissionParams{
		Permission: &browser.PermissionDescriptor{Name: "geolocation"}, Setting: browser.PermissionSettingGranted}); err != nil {
		t.Fatal(err)
	}
	return p
}

func must[T any](t *testing.T, a chromedp.Action[T], p *phonePage) T {
	t.Helper()
	v, err := chromedp.Run(p.ctx, a)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func (p *phonePage) stand(lat, lon, accuracy float64) {
	p.t.Helper()
	if _, err := chromedp.Call(p.ctx, emulation.SetGeolocationOverride,
		emulation.SetGeolocationOverrideParams{Latitude: &lat, Longitude: &lon, Accuracy: &accuracy}); err != nil {
		p.t.Fatal(err)
	}
}

func (p *phonePage) signal(up bool) {
	p.t.Helper()
	p.air.down.Store(!up)
	if _, err := chromedp.Call(p.ctx, network.OverrideNetworkState,
		network.OverrideNetworkStateParams{Offline: !up, DownloadThroughput: -1, UploadThroughput: -1}); err != nil {
		p.t.Fatal(err)
	}
}

// wait polls a condition on the page until it holds.
func (p *phonePage) wait(what, js string) {
	p.t.Helper()
	for range 300 {
		if ok, err := chromedp.Run(p.ctx, chromedp.Evaluate[bool]("Boolean("+js+")")); err == nil && ok {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	seen, _ := chromedp.Run(p.ctx, chromedp.Evaluate[string]("document.body.innerText"))
	p.t.Fatalf("%s did not come; the page says:\n%s", what, seen)
}

func sel(name string) string { return fmt.Sprintf(`document.querySelector('[data-test="%s"]')`, name) }

// touch waits for a control and touches it once.
func (p *phonePage) touch(names ...string) {
	p.t.Helper()
	for _, name := range names {
		p.wait(name, sel(name))
		must(p.t, chromedp.Evaluate[bool](sel(name)+".click(), true"), p)
		time.Sleep(150 * time.Millisecond) // a screen change
	}
}

func (p *phonePage) write(name, text string) {
	p.t.Helper()
	p.wait(name, sel(name))
	must(p.t, chromedp.Evaluate[bool](fmt.Sprintf(`(e => { e.value = %q; e.dispatchEvent(new Event("input", {bubbles: true})); e.dispatchEvent(new Event("change", {bubbles: true})); return true })(%s)`, text, sel(name))), p)
}

func (p *phonePage) read(js string) string {
	p.t.Helper()
	return must(p.t, chromedp.Evaluate[string](js), p)
}

// verdict answers what the page says may be done, and its sentence.
func (p *phonePage) verdict() (act, sentence string) {
	p.t.Helper()
	p.wait("verdict", sel("verdict"))
	return p.read(sel("verdict") + ".dataset.act"), p.read(sel("verdict") + ".innerText")
}

type walk struct {
	name    string
	what    []string // how the animal is chosen
	search  string
	lay     string
	cause   string
	act     string // what the verdict says
	says    string // what the verdict's page names
	duty    string // the code of a duty it starts
	leave   string // how the verdict is left
	deed    string
	tagged  bool
	photo   bool
	effect  string // review code on the desk
	english string
}

var walks = []walk{
	{name: "a screech-owl is taken, with duties", search: "screech", what: []string{"taxon-megascops-asio", "certainty-sure"},
		lay: "lay-road", cause: "cause-vehicle", act: "take", duty: "DEPOSIT", leave: "verdict-bag", tagged: true, photo: true, english: "Eastern Screech-Owl"},
	{name: "a loon beyond the number is recorded as over it", search: "loon", what: []string{"taxon-gavia-immer", "certainty-sure"},
		lay: "lay-beach", cause: "cause-unknown", act: "leave", says: "number", leave: "verdict-other", deed: "deed-in-hand", effect: "over_quota", english: "Common Loon"},
	{name: "an eagle stops, and says whom to call", search: "bald", what: []string{"taxon-haliaeetus-leucocephalus", "certainty-sure"},
		lay: "lay-road", cause: "cause-vehicle", act: "leave", says: "law enforcement", leave: "verdict-leave", english: "Bald Eagle"},
	{name: "an unidentified raptor asks", what: []string{"open-unidentified-raptor", "group-unidentified-raptor"},
		lay: "lay-road", cause: "cause-vehicle", act: "ask", leave: "verdict-leave", english: "Unidentified raptor"},
}

// report walks through the page for one find and saves it.
func (p *phonePage) report(w walk) {
	t := p.t
	t.Helper()
	p.touch("new-find")
	p.wait("the position", sel("accuracy"))
	p.touch("where-next")
	if w.search != "" {
		p.write("search", w.search)
	}
	p.touch(w.what...)
	if !p.there("decay-1") {
		p.touch("certainty-guess")
	}
	p.touch("decay-1", w.lay, w.cause, "signs-next", "land-written")
	act, sentence := p.verdict()
	body := p.read("document.body.innerText")
	if act != w.act || !strings.Contains(strings.ToLower(body), strings.ToLower(w.says)) {
		t.Errorf("%s: got %q (%s), want %q and a page that says %q:\n%s", w.name, act, sentence, w.act, w.says, body)
	}
	if w.duty != "" && !must(t, chromedp.Evaluate[bool](fmt.Sprintf(`Boolean(document.querySelector('[data-test="duty"][data-code="%s"]'))`, w.duty)), p) {
		t.Errorf("%s: the verdict starts no duty %s:\n%s", w.name, w.duty, body)
	}
	if !strings.Contains(body, "SAMPLE") {
		t.Errorf("%s: the verdict does not say that the rules are samples", w.name)
	}
	p.touch(w.leave)
	if w.deed != "" {
		p.touch(w.deed)
	}
	if w.photo {
		p.wait("photo", sel("photo"))
		must(t, chromedp.SetUploadFiles(`[data-test="photo"]`, []string{picture(t)}), p)
		p.wait("the photo's picture", sel("thumbs")+"?.querySelector('img')")
	}
	p.touch("save")
	p.wait("saved", sel("saved"))
	if w.tagged && !p.there("tag") {
		t.Errorf("%s: no tag on the page after saving", w.name)
	}
	p.touch("done")
}

// picture is what the camera took.
func picture(t *testing.T) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "owl.png")
	if err := os.WriteFile(name, scenario.SmallPNG(7, "owl"), 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

func (p *phonePage) there(name string) bool {
	time.Sleep(200 * time.Millisecond)
	return must(p.t, chromedp.Evaluate[bool]("Boolean("+sel(name)+")"), p)
}

// TestFourFindsOfflineInARealBrowser is the day of a salvager: four finds in a
// dead spot, then signal, then all four on the desk.
func TestFourFindsOfflineInARealBrowser(t *testing.T) {
	m := pourLive(t)
	a := &air{next: m.Handler()}
	web := httptest.NewServer(a)
	defer web.Close()
	code, err := m.People().IssueCode(context.Background(), "ana", people.CodeTerms{Lasts: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	p := openPhone(t, a)
	p.stand(43.42, -85.80, 9) // by a road in Newaygo County
	must(t, chromedp.Navigate(web.URL+"/field/#code="+code), p)
	p.wait("the start page", sel("new-find"))
	p.wait("the worker", "navigator.serviceWorker.controller")
	p.wait("the lines of the home region", `performance.getEntriesByType("resource").some(e => e.name.endsWith("home.bin"))`)
	time.Sleep(2 * time.Second)

	p.signal(false)
	must(t, chromedp.Navigate(web.URL+"/field/"), p) // opened anew, without network
	for _, w := range walks {
		p.report(w)
	}
	p.wait("4 unsent", `document.querySelector('[data-test="status"]').innerText.includes("4 unsent")`)

	before := m.finds(t)
	p.signal(true)
	began := time.Now()
	p.wait("all sent", `document.querySelector('[data-test="status"]').innerText.includes("all sent")`)
	got := m.finds(t) - before
	t.Logf("SHOW four finds on the desk %.1f s after the network came back", time.Since(began).Seconds())
	if got != len(walks) {
		t.Errorf("got %d finds on the desk, want %d", got, len(walks))
	}
	m.holdWalks(t)
}

func (m *museum) finds(t *testing.T) int {
	t.Helper()
	var n struct{ All int }
	m.get(t, "/v1/reports?limit=1", &n)
	return n.All
}

// holdWalks looks the finds of the walks up on the desk.
func (m *museum) holdWalks(t *testing.T) {
	t.Helper()
	var list struct {
		Reports []struct{ ID, Name string }
	}
	m.get(t, "/v1/reports?limit=20", &list)
	items := m.review(t)
	for _, w := range walks {
		i := slices.IndexFunc(list.Reports, func(r struct{ ID, Name string }) bool { return strings.EqualFold(r.Name, w.english) })
		if i < 0 {
			t.Errorf("%s: no find of that name among the newest on the desk: %v", w.english, list.Reports)
			continue
		}
		if w.photo {
			m.holdPhoto(t, list.Reports[i].ID)
		}
		if w.effect == "" {
			continue
		}
		if !slices.ContainsFunc(items, func(it item) bool { return it.Record == list.Reports[i].ID && it.Code == w.effect }) {
			t.Errorf("%s: the desk's list does not say %s", w.english, w.effect)
		}
	}
}

// holdPhoto fetches the photo that the find claims, as the phone took it.
func (m *museum) holdPhoto(t *testing.T, report string) {
	t.Helper()
	var s sheet
	m.get(t, "/v1/reports/"+report, &s)
	for _, f := range s.Fields {
		if f.Field != "photos" || len(f.Said) != 1 {
			continue
		}
		claim, _ := f.Said[0].Value.(map[string]any)
		sha, _ := claim["sha256"].(string)
		got, err := m.officer.Get(context.Background(), "/v1/photos/"+sha)
		if err != nil || !bytes.Equal(got, scenario.SmallPNG(7, "owl")) {
			t.Errorf("the photo %s: got %d bytes and %v, want the %d the camera gave", sha, len(got), err, len(scenario.SmallPNG(7, "owl")))
		}
		return
	}
	t.Errorf("the find %s claims no photo on the desk", report)
}

// pourLive pours the story into a server with the clock of today, as the demo
// does.
func pourLive(t *testing.T) *museum {
	t.Helper()
	m := open(t, time.Now)
	now := time.Now()
	var err error
	m.outcome, err = demo.Pour(context.Background(), demo.Setup{Base: m.web.URL, HTTP: m.web.Client(), Story: m.story,
		Today: permits.NewDate(now.Year(), int(now.Month()), now.Day()),
		Code:  demo.Inviter(m.People()), Place: demo.Placer(m.Places())})
	if err != nil {
		t.Fatal(err)
	}
	return m
}
