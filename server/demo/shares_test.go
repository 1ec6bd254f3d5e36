package demo_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os/exec"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"wayfall/fixtures/scenario"
	"wayfall/permits"
	"wayfall/server/api"
	"wayfall/server/demo"
)

// spell is a network that can lose the answer to one request that was heard.
type spell struct {
	air
	lose atomic.Pointer[string] // the path whose answer is lost
}

func (s *spell) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if path := s.lose.Load(); path != nil && r.URL.Path == *path {
		s.next.ServeHTTP(httptest.NewRecorder(), r)
		panic(http.ErrAbortHandler)
	}
	if s.down.Load() && !strings.HasPrefix(r.URL.Path, "/v1/") {
		s.next.ServeHTTP(w, r) // the page's own files lie on the phone
		return
	}
	s.air.ServeHTTP(w, r)
}

// lenders is a museum whose state paper allows so many loons in its life.
type lenders struct {
	*museum
	t   *testing.T
	net *spell
	web *httptest.Server
	top context.Context // the one browser
}

const (
	loonName = "Common Loon"
	script   = `
const sleep = (ms) => new Promise((go) => setTimeout(go, ms));
const at = (n) => document.querySelector('[data-test="' + n + '"]');
const come = async (n) => { for (let i = 0; i < 500; i++) { if (at(n)) return at(n); await sleep(20); } throw n + " did not come: " + document.body.innerText; };
const touch = async (...names) => { for (const n of names) { (await come(n)).click(); await sleep(30); } };
const write = async (n, text) => { const e = await come(n); e.value = text; e.dispatchEvent(new Event("input", { bubbles: true })); e.dispatchEvent(new Event("change", { bubbles: true })); await sleep(30); };
const done = (r) => new Promise((yes, no) => { r.onsuccess = () => yes(r.result); r.onerror = () => no(r.error); });
const one = async (how, key, value) => { const db = await done(indexedDB.open("wayfall")); try { const s = db.transaction("one", "readwrite").objectStore("one"); return await done(how === "get" ? s.get(key) : s.put(value, key)); } finally { db.close(); } };
const loon = async () => {
  location.hash = "#/start";
  await touch("new-find", "way-typed"); await write("coordinates", "43.42, -85.80"); await touch("where-next");
  await write("search", "loon"); await touch("taxon-gavia-immer", "certainty-sure", "decay-1", "lay-beach", "cause-unknown", "signs-next", "land-written");
  const v = await come("verdict");
  return { act: v.dataset.act, text: document.body.innerText };
};
const keep = async (take) => { await touch(...(take ? ["verdict-bag"] : ["verdict-other", "deed-in-hand"]), "save"); await come("saved"); await touch("done"); };
`
)

// lend opens a museum and one browser in which every phone is apart.
func lend(t *testing.T) *lenders {
	t.Helper()
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		t.Fatal("this test needs Debian's chromium")
	}
	m := &lenders{museum: open(t, time.Now), t: t, net: &spell{}}
	for _, p := range m.story.People {
		if _, err := demo.Inviter(m.People())(context.Background(), p); err != nil {
			t.Fatal(err)
		}
	}
	m.net.next = m.Handler()
	m.web = httptest.NewServer(m.net)
	t.Cleanup(m.web.Close)
	opts := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(chromium), chromedp.NoSandbox,
		chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-dev-shm-usage", true),
		chromedp.Flag("disable-component-update", true), chromedp.UserDataDir(t.TempDir()), chromedp.WSURLReadTimeout(time.Minute))
	alloc, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	m.top, cancel = chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	if _, err := chromedp.Run(m.top, chromedp.Navigate("about:blank")); err != nil {
		t.Fatal(err)
	}
	return m
}

// papers enters the papers of the story as renewed, with a number of loons.
func (m *lenders) papers(loons int) {
	m.t.Helper()
	now := time.Now()
	for _, a := range demo.Papers(m.story, permits.NewDate(now.Year(), int(now.Month()), now.Day())) {
		for i := range a.Quotas {
			if a.Quotas[i].ID == loonName {
				a.Quotas[i].Limit = loons
			}
		}
		if err := m.officer.Do(context.Background(), http.MethodPut, "/v1/permits/"+a.ID, a, nil); err != nil {
			m.t.Fatal(err)
		}
	}
}

// another opens the field page on a phone of its own.
func (m *lenders) another(person string) *phonePage {
	m.t.Helper()
	ctx, cancel := chromedp.NewContext(m.top, chromedp.WithNewBrowserContext())
	m.t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 2*time.Minute)
	m.t.Cleanup(cancel)
	p := &phonePage{m.t, ctx, &m.net.air}
	must(m.t, chromedp.EmulateViewport(360, 740), p)
	hash := ""
	if person != "" {
		i := slices.IndexFunc(m.story.People, func(p scenario.Person) bool { return p.Key == person })
		code, err := demo.Inviter(m.People())(context.Background(), m.story.People[i])
		if err != nil {
			m.t.Fatal(err)
		}
		hash = "#code=" + code
	}
	p.visit(m, hash)
	return p
}

func (p *phonePage) visit(m *lenders, hash string) {
	p.t.Helper()
	must(p.t, chromedp.Navigate("about:blank"), p)
	must(p.t, chromedp.Navigate(m.web.URL+"/field/"+hash), p)
	p.wait("the page", `document.documentElement.dataset.ready === "yes"`)
}

// do runs a script on the page and reads what it returns.
func do[T any](p *phonePage, js string) (out T) {
	p.t.Helper()
	must(p.t, chromedp.Evaluate[bool](`globalThis.told = "", (async () => {`+script+js+`})().then((v) => { globalThis.told = JSON.stringify(v ?? null); }, (e) => { globalThis.told = "failed " + e; }), true`), p)
	p.wait("an answer", "globalThis.told")
	text := p.read("globalThis.told")
	if strings.HasPrefix(text, "failed") {
		p.t.Fatalf("on the page: %s", text)
	}
	if err := json.Unmarshal([]byte(text), &out); err != nil {
		p.t.Fatalf("%s: %v", text, err)
	}
	return out
}

// sends touches the button for sending and waits for the end of the round that
// it began. A round that was under way already is waited for before.
func (p *phonePage) sends() {
	p.t.Helper()
	do[any](p, `
if (globalThis.rounds === undefined) {
  const plain = fetch;
  globalThis.rounds = 0;
  globalThis.fetch = (...a) => { if (String(a[0]).endsWith("/v1/sync/hello")) rounds++; return plain(...a); };
}
const idle = () => navigator.locks.request("wayfall-send", () => undefined);
location.hash = "#/sending";
for (let i = 0; i < 20; i++) {
  await idle();
  const before = rounds;
  await touch("send-now");
  for (let j = 0; j < 100 && rounds === before; j++) await sleep(20);
  if (rounds > before) { await idle(); await sleep(30); return; }
}
throw "nothing is sent";`)
}

// held is how many loons the phone may take by its purse.
func (p *phonePage) held() int {
	p.t.Helper()
	return do[int](p, `const d = await one("get", "device"); return (d.purse?.holdings ?? []).filter((h) => h.taxon === "Gavia immer").reduce((n, h) => n + Math.max(0, h.last - h.next + 1), 0)`)
}

// loons is the number of loons as the museum's ledger has it.
func (m *lenders) loons() api.Number {
	m.t.Helper()
	var out struct{ Numbers []api.Number }
	m.get(m.t, "/v1/grants", &out)
	for _, n := range out.Numbers {
		if n.Quota == loonName && n.Taxon == "Gavia immer" && len(n.Shares)+n.Spent+n.Entered > 0 {
			return n
		}
	}
	m.t.Fatalf("no number of loons is lent: %+v", out.Numbers)
	return api.Number{}
}

type seen struct{ Act, Text string }

// TestTwoPhonesOfflineNeverPassANumber is two phones in one dead spot and more
// loons than the paper has left.
func TestTwoPhonesOfflineNeverPassANumber(t *testing.T) {
	m := lend(t)
	phones := []*phonePage{m.another("ana"), m.another("cal")}
	const limit = 3
	for _, p := range phones {
		p.sends() // each has asked, so that neither is lent the other's part
	}
	m.papers(limit)
	for range 2 {
		for _, p := range phones {
			p.sends()
		}
	}
	a, b := phones[0].held(), phones[1].held()
	if a == 0 || b == 0 || a+b > limit {
		t.Fatalf("the phones hold %d and %d loons, want some each and at most %d together", a, b, limit)
	}
	m.net.down.Store(true)
	taken, found := 0, 0
	for _, p := range phones {
		for range p.held() + 1 {
			v := do[seen](p, `return loon()`)
			do[any](p, fmt.Sprintf(`await keep(%v)`, v.Act == "take"))
			found++
			if v.Act == "take" {
				taken++
			} else if v.Act != "ask" || !strings.Contains(v.Text, "Others may hold the rest") {
				t.Errorf("beyond its share the phone says %q:\n%s", v.Act, v.Text)
			}
		}
	}
	if taken != a+b {
		t.Errorf("offline the phones were free to take %d loons, want the %d that they held", taken, a+b)
	}
	m.net.down.Store(false)
	for _, p := range phones {
		p.sends()
		p.wait("all sent", sel("status")+`.innerText === "all sent"`)
	}
	n := m.loons()
	t.Logf("SHOW two phones offline: %d loons found, %d taken on shares, of a number of %d; the ledger: %d spent, %d entered, %d over", found, taken, limit, n.Spent, n.Entered, n.Over)
	if n.Spent != taken || n.Spent+n.Entered > limit || n.Spent+n.Entered+n.Over != found || len(n.Alarms) > 0 {
		t.Errorf("got %+v, want %d spent, at most %d with what was entered, %d in all, no alarm", n, taken, limit, found)
	}
	if got := m.finds(t); got != found {
		t.Errorf("got %d finds at the museum, want all %d", got, found)
	}
	for i, p := range phones {
		v := do[seen](p, `return loon()`)
		if v.Act == "take" {
			t.Errorf("phone %d may take another loon though the number is used up", i+1)
		}
	}
}

// TestAPhoneThatIsNotItselfHoldsNothing is a lost answer, a store put back and
// a store copied.
func TestAPhoneThatIsNotItselfHoldsNothing(t *testing.T) {
	m := lend(t)
	m.papers(12)
	path := "/v1/grants"
	m.net.lose.Store(&path)
	p := m.another("ana")
	p.sends()
	lent := m.loons()
	if got := p.held(); got != 0 || lent.Lent == 0 {
		t.Fatalf("the answer was lost: the phone holds %d and the museum lent %d, want 0 and some", got, lent.Lent)
	}
	m.net.lose.Store(nil)
	p.sends()
	if got, now := p.held(), m.loons(); got != lent.Lent || now.Lent != lent.Lent || len(now.Shares) != len(lent.Shares) {
		t.Errorf("asked again: the phone holds %d and the museum lent %d, want the %d of the lost answer", got, now.Lent, lent.Lent)
	}

	// Its store is copied into another browser, and put back in its own.
	row := do[map[string]any](p, `return one("get", "device")`)
	kept := do[json.RawMessage](p, `return { device: await one("get", "device"), session: await one("get", "session"), kit: await one("get", "kit") }`)
	m.net.down.Store(true)
	if v := do[seen](p, `return loon()`); v.Act != "take" {
		t.Fatalf("the first loon: got %q, want take:\n%s", v.Act, v.Text)
	}
	do[any](p, `await keep(true)`)
	if got := p.held(); got != lent.Lent-1 {
		t.Errorf("after one loon: got %d held, want %d", got, lent.Lent-1)
	}
	text, err := json.Marshal(row)
	if err != nil {
		t.Fatal(err)
	}
	do[any](p, `await one("put", "device", `+string(text)+`)`)
	p.visit(m, "")
	if v := do[seen](p, `return loon()`); v.Act != "ask" || p.held() != 0 {
		t.Errorf("put back: got %q and %d held, want ask and none", v.Act, p.held())
	}
	twin := m.another("")
	do[any](twin, `const k = `+string(kept)+`; for (const key of ["device", "session", "kit"]) await one("put", key, k[key])`)
	twin.visit(m, "")
	if got := twin.held(); got != 0 {
		t.Errorf("a copy holds %d loons, want none", got)
	}
	m.net.down.Store(false)
	twin.sends()
	twin.wait("why", sel("stray")+`?.dataset.why`)
	if n := m.loons(); n.Burned != lent.Lent || n.Lent != 0 {
		t.Errorf("after a copy was told of: got %d burned and %d lent, want %d and 0", n.Burned, n.Lent, lent.Lent)
	}

	// The phone goes on under a new number; its loon is recorded, without a share.
	p.sends()
	p.wait("why", sel("stray")+`?.dataset.why`)
	i := slices.IndexFunc(m.story.People, func(p scenario.Person) bool { return p.Key == "ana" })
	code, err := demo.Inviter(m.People())(context.Background(), m.story.People[i])
	if err != nil {
		t.Fatal(err)
	}
	do[any](p, `await write("anew-code", "`+code+`"); await touch("anew"); await come("new-find")`)
	p.sends()
	n := m.loons()
	if got := m.finds(t); got != 1 || n.Entered != 1 || n.Spent != 0 || n.Burned != lent.Lent || len(n.Alarms) > 0 {
		t.Errorf("under a new number: got %d finds and %+v, want 1 find, entered without a share, %d burned and no alarm", got, n, lent.Lent)
	}
	if got := p.held(); got == 0 || got != n.Lent {
		t.Errorf("under a new number the phone holds %d and the museum lent %d, want the same and some", got, n.Lent)
	}
}

// TestAPhoneGivesBackWhatItDoesNotNeed is a share given back by a touch, and
// one whose window is over given back by itself.
func TestAPhoneGivesBackWhatItDoesNotNeed(t *testing.T) {
	m := lend(t)
	m.papers(12)
	p := m.another("ana")
	p.sends()
	before, held := m.loons(), p.held()
	if held == 0 || before.Lent != held {
		t.Fatalf("the phone holds %d and the museum lent %d, want the same and some", held, before.Lent)
	}
	do[any](p, `await touch("shares-back"); await come("shares-again")`)
	p.sends()
	if n := m.loons(); p.held() != 0 || n.Lent != 0 || n.Free != before.Free+held {
		t.Errorf("given back: the phone holds %d, the museum lent %d and has %d free; want 0, 0 and %d", p.held(), n.Lent, n.Free, before.Free+held)
	}
	m.net.down.Store(true)
	if v := do[seen](p, `return loon()`); v.Act != "ask" {
		t.Errorf("without a share: got %q, want ask", v.Act)
	}
	m.net.down.Store(false)
	do[any](p, `location.hash = "#/sending"; await touch("shares-again")`)
	p.sends()
	if n := m.loons(); p.held() != held || n.Lent != held {
		t.Errorf("asked again: the phone holds %d and the museum lent %d, want %d", p.held(), n.Lent, held)
	}

	saves := do[int](p, `const d = await one("get", "device"); for (const h of d.purse.holdings) h.to = "2025-12-31"; await one("put", "device", d); return d.seq`)
	p.sends()
	if n, now := m.loons(), do[int](p, `return (await one("get", "device")).seq`); n.Lent != 0 || p.held() != 0 || now != saves+1 {
		t.Errorf("its window is over: the museum lent %d, the phone holds %d after %d saves; want 0, 0 and one save more than %d", n.Lent, p.held(), now, saves)
	}
	p.sends()
	if n := m.loons(); n.Lent == 0 || p.held() != n.Lent {
		t.Errorf("in the next window: the phone holds %d and the museum lent %d, want the same and some", p.held(), n.Lent)
	}
}
