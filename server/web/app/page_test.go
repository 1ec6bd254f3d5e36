// Package app holds the sources of the field page. What is Go here are tests
// only: the page in a real browser against a real server.
package app

import (
	"context"
	crand "crypto/rand"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os/exec"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"wayfall/fixtures/packs"
	"wayfall/server"
	"wayfall/server/people"
)

// museum is a server that the page talks to, over a network that can fail.
type museum struct {
	*server.Server
	t    *testing.T
	down atomic.Bool
	site *httptest.Server
}

func openMuseum(t *testing.T) *museum {
	t.Helper()
	zone, err := time.LoadLocation("America/Detroit")
	if err != nil {
		t.Fatal(err)
	}
	cfg := server.Config{Folder: t.TempDir(), Institution: "museum", Name: "A Museum", Zone: zone, Version: "test", Now: time.Now,
		Chance: crand.Reader, Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Taxa: packs.Taxa(), Tries: 1000}
	for _, f := range packs.Rules() {
		cfg.Packs = append(cfg.Packs, server.File{Name: f.Name, Data: f.Data})
	}
	m := &museum{t: t}
	if m.Server, err = server.New(cfg); err != nil {
		t.Fatal(err)
	}
	inner := m.Handler()
	m.site = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if m.down.Load() && strings.HasPrefix(r.URL.Path, "/v1/") {
			panic(http.ErrAbortHandler)
		}
		inner.ServeHTTP(w, r)
	}))
	t.Cleanup(func() {
		m.site.Close()
		if err := m.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	for _, p := range []people.Person{{ID: "ana", Name: "Ana Petrosyan-Reed", Institution: "museum", Roles: []people.Role{people.Salvager}},
		{ID: "gwen", Name: "Gwendolyn Stasik", Institution: "museum", Roles: []people.Role{people.Registrar}}} {
		if err := m.People().Keep(t.Context(), p); err != nil {
			t.Fatal(err)
		}
	}
	return m
}

func (m *museum) code(person string) string {
	m.t.Helper()
	code, err := m.People().IssueCode(m.t.Context(), person, people.CodeTerms{Lasts: time.Hour})
	if err != nil {
		m.t.Fatal(err)
	}
	return code
}

// get asks the museum's interface as its registrar.
func (m *museum) get(path string, into any) {
	m.t.Helper()
	answer, err := http.Post(m.site.URL+"/v1/sign-in", "application/json", strings.NewReader(fmt.Sprintf(`{"code":%q}`, m.code("gwen"))))
	if err != nil {
		m.t.Fatal(err)
	}
	var signed struct{ Access string }
	if err := json.NewDecoder(answer.Body).Decode(&signed); err != nil || signed.Access == "" {
		m.t.Fatalf("sign in as the registrar: %s, %v", answer.Status, err)
	}
	answer.Body.Close()
	ask, err := http.NewRequestWithContext(m.t.Context(), http.MethodGet, m.site.URL+path, nil)
	if err != nil {
		m.t.Fatal(err)
	}
	ask.Header.Set("Authorization", "Bearer "+signed.Access)
	answer, err = http.DefaultClient.Do(ask)
	if err != nil {
		m.t.Fatal(err)
	}
	defer answer.Body.Close()
	if err := json.NewDecoder(answer.Body).Decode(into); err != nil {
		m.t.Fatalf("%s: %v", path, err)
	}
}

// page is the field page on a phone of its own.
type page struct {
	t   *testing.T
	ctx context.Context
	m   *museum
}

func (m *museum) phone() *page {
	m.t.Helper()
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		m.t.Fatal("chromium is missing: the Debian package chromium shows the page here")
	}
	opts := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(chromium), chromedp.NoSandbox,
		chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-dev-shm-usage", true),
		chromedp.Flag("disable-component-update", true), chromedp.UserDataDir(m.t.TempDir()), chromedp.WSURLReadTimeout(time.Minute))
	alloc, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	m.t.Cleanup(cancel)
	ctx, cancel := chromedp.NewContext(alloc)
	m.t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 3*time.Minute)
	m.t.Cleanup(cancel)
	p := &page{m.t, ctx, m}
	must(p, chromedp.EmulateViewport(360, 740))
	return p
}

func must[T any](p *page, a chromedp.Action[T]) T {
	p.t.Helper()
	v, err := chromedp.Run(p.ctx, a)
	if err != nil {
		p.t.Fatal(err)
	}
	return v
}

func (p *page) open(rest string) {
	p.t.Helper()
	must(p, chromedp.Navigate(p.m.site.URL+"/field/"+rest))
	p.wait("the page", `document.documentElement.dataset.ready === "yes"`)
}

func (p *page) wait(what, js string) {
	p.t.Helper()
	for range 200 {
		if ok, err := chromedp.Run(p.ctx, chromedp.Evaluate[bool]("Boolean("+js+")")); err == nil && ok {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	seen, _ := chromedp.Run(p.ctx, chromedp.Evaluate[string]("document.body.innerText"))
	p.t.Fatalf("%s did not come; the page says:\n%s", what, seen)
}

func at(name string) string { return fmt.Sprintf(`document.querySelector('[data-test="%s"]')`, name) }

func (p *page) touch(names ...string) {
	p.t.Helper()
	for _, name := range names {
		p.wait(name, at(name))
		must(p, chromedp.Evaluate[bool](at(name)+".click(), true"))
		time.Sleep(200 * time.Millisecond)
	}
}

func (p *page) write(name, text string) {
	p.t.Helper()
	p.wait(name, at(name))
	must(p, chromedp.Evaluate[bool](fmt.Sprintf(`(e => { e.value = %q; e.dispatchEvent(new Event("input")); e.dispatchEvent(new Event("change")); return true })(%s)`, text, at(name))))
}

// says waits until the page says the text somewhere.
func (p *page) says(text string) {
	p.t.Helper()
	p.wait(fmt.Sprintf("%q", text), fmt.Sprintf("document.body.innerText.includes(%q)", text))
}

// store runs a script over the page's store, as db, and returns its result.
func (p *page) store(script string) string {
	p.t.Helper()
	must(p, chromedp.Evaluate[bool](`(async () => {
  const done = (r) => new Promise((yes, no) => { r.onsuccess = () => yes(r.result); r.onerror = () => no(r.error); });
  const db = await done(indexedDB.open("wayfall"));
  const tx = db.transaction(["one", "ops", "past", "finds"], "readwrite");
  const get = (s, k) => done(tx.objectStore(s).get(k)), all = (s) => done(tx.objectStore(s).getAll());
  const put = (s, v, k) => done(tx.objectStore(s).put(v, k)), drop = (s, k) => done(tx.objectStore(s).delete(k));
  try { return await (async () => { `+script+` })(); } finally { db.close(); }
})().then((v) => { globalThis.told = JSON.stringify(v ?? null); }, (e) => { globalThis.told = "failed: " + e; }), globalThis.told = "", true`))
	p.wait("an answer of the store", "globalThis.told")
	told := must(p, chromedp.Evaluate[string]("globalThis.told"))
	if strings.HasPrefix(told, "failed") {
		p.t.Fatalf("the store: %s", told)
	}
	return told
}

// find saves a find of an unidentified animal.
func (p *page) find() {
	p.t.Helper()
	p.touch("new-find", "way-words")
	p.write("locality", "2 mi N of Muskegon")
	p.touch("where-next", "unknown-animal", "certainty-guess", "decay-1", "lay-road", "cause-unknown", "signs-next", "land-unknown", "verdict-leave", "save", "done")
}
