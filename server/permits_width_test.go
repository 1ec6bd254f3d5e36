package server_test

import (
	"context"
	"fmt"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// narrow opens a browser as wide as a small phone.
func narrow(t *testing.T) context.Context {
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
	ctx, cancel = context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(cancel)
	do(t, ctx, chromedp.EmulateViewport(360, 740))
	return ctx
}

func do[T any](t *testing.T, ctx context.Context, a chromedp.Action[T]) T {
	t.Helper()
	v, err := chromedp.Run(ctx, a)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func await(t *testing.T, ctx context.Context, what, js string) {
	t.Helper()
	for range 200 {
		if ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("Boolean("+js+")")); err == nil && ok {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("%s did not come", what)
}

func TestNoPageOfPapersIsWiderThanASmallPhone(t *testing.T) {
	m := open(t, nil)
	m.desk("desmond").enter()
	ctx := narrow(t)
	do(t, ctx, chromedp.Navigate(m.http.URL+"/sign-in?code=demo+desmond"))
	do(t, ctx, chromedp.Evaluate[bool](`document.querySelector("main form").requestSubmit(), true`))
	await(t, ctx, "the start page", `location.pathname === "/"`)
	check := func(what string) {
		wide := do(t, ctx, chromedp.Evaluate[float64]("document.documentElement.scrollWidth"))
		over := do(t, ctx, chromedp.Evaluate[string](`[...document.querySelectorAll("main *")].filter(e => e.getBoundingClientRect().right > 360.5 && !e.closest(".hidden")).slice(0, 3).map(e => e.outerHTML.slice(0, 80)).join(" ")`))
		if wide > 360 || over != "" {
			t.Errorf("%s is %g wide on a screen of 360; beyond its edge: %s", what, wide, over)
		}
		for _, words := range caution {
			if !do(t, ctx, chromedp.Evaluate[bool](fmt.Sprintf("document.body.innerText.includes(%q)", words))) {
				t.Errorf("%s does not show the caution %q", what, words)
			}
		}
	}
	for _, path := range []string{"/permits", "/permits/new", "/permits/SC-4471", "/permits/SC-4471/amend", "/permits/SC-4471/versions/1", "/people", "/people/ana"} {
		do(t, ctx, chromedp.Navigate(m.http.URL+path))
		check(path)
	}
	do(t, ctx, chromedp.Navigate(m.http.URL+amendPage))
	do(t, ctx, chromedp.Evaluate[bool](`document.getElementsByName("limit.0")[0].value = "-4", document.getElementsByName("valid_to")[0].value = "31 Feb 2026", document.querySelector("button.go").click(), true`))
	await(t, ctx, "the list of what is wrong", `document.querySelector('[role=alert]')`)
	check("the list of what is wrong")
	if said := do(t, ctx, chromedp.Evaluate[string](`document.querySelector('[role=alert]').innerText`)); !strings.Contains(said, "2 things cannot be meant") {
		t.Errorf("the list of what is wrong says %q", said)
	}
	do(t, ctx, chromedp.Evaluate[bool](`document.getElementsByName("limit.0")[0].value = "4", document.getElementsByName("valid_to")[0].value = "30 Nov 2025", document.querySelector("button.go").click(), true`))
	await(t, ctx, "what changes", `document.querySelector("h1").innerText.includes("what changes")`)
	check("what changes")
}

var caution = []string{"packs are samples", "no legal advice", "local codes", "officer on the spot prevail"}
