package main

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"time"

	"github.com/chromedp/chromedp"

	"wayfall/fixtures/packs"
	"wayfall/fixtures/scenario"
	"wayfall/permits"
	"wayfall/server/demo"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

//go:embed phone.js
var phoneScript []byte

const (
	phoneRules  = 200
	phoneRounds = 6
	field       = "server/web/dist/field/"
)

// onThePhone times verdicts in the program that phones get, over every find of
// the invented year.
func onThePhone(ctx context.Context) ([]line, error) {
	fmt.Fprintln(os.Stderr, "verdicts in the phone's core …")
	given, err := phoneCase()
	if err != nil {
		return nil, err
	}
	var out []line
	for _, body := range []struct {
		name string
		run  func(context.Context, []byte) ([]byte, error)
	}{{"Node", inNode}, {"Chromium", inChromium}} {
		text, err := body.run(ctx, given)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", body.name, err)
		}
		lines, err := phoneLines(body.name, text)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", body.name, err)
		}
		out = append(out, lines...)
	}
	return out, nil
}

func phoneLines(body string, text []byte) ([]line, error) {
	var got struct {
		MS       []float64
		Outcomes map[string]int
		Touched  int
		Trouble  string
	}
	if err := json.Unmarshal(text, &got); err != nil {
		return nil, err
	}
	if got.Trouble != "" {
		return nil, errors.New(got.Trouble)
	}
	if len(got.MS) < 100 || got.Touched == 0 || len(got.Outcomes) < 3 {
		return nil, fmt.Errorf("%d verdicts, outcomes %v, with %d findings of the added rules; want many of each", len(got.MS), got.Outcomes, got.Touched)
	}
	slices.Sort(got.MS)
	note := fmt.Sprintf("%d over the invented year, JSON both ways, %.0f findings of added rules each, load %s", len(got.MS), float64(got.Touched)/float64(len(got.MS)), load())
	at := func(q float64) float64 { return got.MS[int(q*float64(len(got.MS)-1))] }
	return []line{
		atMost(fmt.Sprintf("verdict by %d rules, phone's core in %s, median", phoneRules, body), at(0.5), 5, "ms", note),
		atMost("  the 99th percentile of those", at(0.99), 5, "ms", ""),
	}, nil
}

// phoneCase is a kit and the finds of the year as the field page holds them.
func phoneCase() ([]byte, error) {
	texts, err := padded(phoneRules)
	if err != nil {
		return nil, err
	}
	border, err := os.ReadFile("server/web/dist/home.bin")
	if err != nil {
		return nil, err
	}
	towns, err := os.ReadFile(field + "places.bin")
	if err != nil {
		return nil, err
	}
	story := scenario.Build(1)
	var finds [][2]any
	for _, r := range story.Reports {
		f, err := phoneFind(r)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", r.Key, err)
		}
		finds = append(finds, f)
	}
	kit := obj{"packs": texts, "taxa": json.RawMessage(packs.Taxa()), "authorities": demo.Papers(story, permits.NewDate(story.Season.ReportYear, 6, 30)), "tallies": []any{}}
	return json.Marshal(obj{"kit": kit, "region": border, "places": towns, "finds": finds, "rounds": phoneRounds, "padding": padding})
}

func phoneFind(r scenario.Report) (pair [2]any, err error) {
	f, err := demo.NewPhone(nil, op.DeviceID{1}, r.Reporter, "museum", "K7").NewFind(r, nil)
	if err != nil {
		return pair, err
	}
	fields := obj{}
	for _, a := range f.Groups[0].Acts {
		if a.Kind == op.KindSet {
			fields[a.Field] = json.RawMessage(a.Value)
		}
	}
	at, err := time.Parse(time.RFC3339, r.Made)
	if err != nil {
		return pair, err
	}
	now := at.Format("2006-01-02T15:04")
	fields["taken_at"] = record.When{Earliest: now, Latest: now, Precision: record.ToMinute}
	return [2]any{fields, obj{"now_ms": at.UnixMilli(), "tz": at.Format("-07:00"), "person": r.Reporter, "role": "volunteer", "own": []any{}}}, nil
}

func inNode(ctx context.Context, given []byte) ([]byte, error) {
	dir, err := os.MkdirTemp("", "wayfall-bench-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	script, caseFile := filepath.Join(dir, "phone.js"), filepath.Join(dir, "case.json")
	if err := errors.Join(os.WriteFile(script, phoneScript, 0o600), os.WriteFile(caseFile, given, 0o600)); err != nil {
		return nil, err
	}
	support, err := filepath.Abs(field + "wasm_exec.js")
	if err != nil {
		return nil, err
	}
	cmd := exec.CommandContext(ctx, "node", script, support, field+"phone.wasm", caseFile)
	var told bytes.Buffer
	cmd.Stderr = &told
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("%w: %s", err, told.String())
	}
	return out, nil
}

func inChromium(ctx context.Context, given []byte) ([]byte, error) {
	srv := httptest.NewServer(phonePages(given))
	defer srv.Close()
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		return nil, err
	}
	profile, err := os.MkdirTemp("", "wayfall-bench-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(profile)
	opts := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(chromium), chromedp.NoSandbox,
		chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-dev-shm-usage", true), chromedp.UserDataDir(profile),
		chromedp.WSURLReadTimeout(time.Minute))
	ctx, cancel := context.WithTimeout(ctx, 2*time.Minute)
	defer cancel()
	ctx, closed := chromedp.NewExecAllocator(ctx, opts...)
	defer closed()
	ctx, left := chromedp.NewContext(ctx)
	defer left()
	if _, err := chromedp.Run(ctx, chromedp.Evaluate[bool](fmt.Sprintf("location.href = %q, true", srv.URL))); err != nil {
		return nil, err
	}
	for ctx.Err() == nil {
		text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`globalThis.measured ?? ""`))
		if err == nil && text != "" {
			return []byte(text), nil
		}
		time.Sleep(200 * time.Millisecond)
	}
	return nil, fmt.Errorf("the page did not answer: %w", ctx.Err())
}

// phonePages serve the core to a page of its own origin alone, because only
// there a browser's clock is finer than a tenth of a millisecond.
func phonePages(given []byte) http.Handler {
	files := http.FileServer(http.Dir(field))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cross-Origin-Opener-Policy", "same-origin")
		w.Header().Set("Cross-Origin-Embedder-Policy", "require-corp")
		switch r.URL.Path {
		case "/":
			w.Header().Set("Content-Type", "text/html")
			_, _ = w.Write([]byte(`<!doctype html><script src="wasm_exec.js"></script><script src="phone.js"></script>`))
		case "/phone.js":
			w.Header().Set("Content-Type", "text/javascript")
			_, _ = w.Write(phoneScript)
		case "/case.json":
			_, _ = w.Write(given)
		default:
			files.ServeHTTP(w, r)
		}
	})
}
