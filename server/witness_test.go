package server_test

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"regexp"
	"sort"
	"strings"
	"sync"
	"testing"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"
	wrong "github.com/pb33f/libopenapi-validator/errors"

	"wayfall/server/api"
)

// witness is a transport that holds every request and every answer to the
// description of the interface, and remembers which operations it saw.
type witness struct {
	under http.RoundTripper
	check validator.Validator
	ops   []described

	mu     sync.Mutex
	seen   map[string]int
	faults []string
}

// described is one operation of the description.
type described struct {
	id, method string
	path       *regexp.Regexp
	template   string
}

func newWitness(t testing.TB, under http.RoundTripper) *witness {
	t.Helper()
	doc, err := libopenapi.NewDocument(api.Description)
	if err != nil {
		t.Fatalf("the description cannot be read: %v", err)
	}
	check, errs := validator.NewValidator(doc)
	if len(errs) > 0 {
		t.Fatalf("the description cannot be used: %v", errs)
	}
	if ok, all := check.ValidateDocument(); !ok {
		for _, w := range all {
			t.Errorf("the description is not OpenAPI 3.1: %s %s", w.Message, w.Reason+detail(w.SchemaValidationErrors))
		}
	}
	return &witness{under: under, check: check, ops: operations(t, doc), seen: map[string]int{}}
}

var parameter = regexp.MustCompile(`\\\{[^/]+\\\}`)

// operations lists the paths and methods of the description.
func operations(t testing.TB, doc libopenapi.Document) []described {
	t.Helper()
	model, err := doc.BuildV3Model()
	if err != nil {
		t.Fatalf("the description cannot be read: %v", err)
	}
	var out []described
	for path, item := range model.Model.Paths.PathItems.FromOldest() {
		for method, op := range item.GetOperations().FromOldest() {
			if op.OperationId == "" {
				t.Errorf("%s %s has no operationId", method, path)
			}
			out = append(out, described{op.OperationId, strings.ToUpper(method),
				regexp.MustCompile("^" + parameter.ReplaceAllString(regexp.QuoteMeta(path), `[^/]+`) + "$"), path})
		}
	}
	return out
}

// RoundTrip implements http.RoundTripper.
func (w *witness) RoundTrip(r *http.Request) (*http.Response, error) {
	if !strings.HasPrefix(r.URL.Path, "/v1/") {
		return w.under.RoundTrip(r)
	}
	var sent []byte
	if r.Body != nil {
		sent, _ = io.ReadAll(r.Body)
		r.Body = io.NopCloser(bytes.NewReader(sent))
	}
	resp, err := w.under.RoundTrip(r)
	if err != nil {
		return nil, err
	}
	got, err := io.ReadAll(resp.Body)
	if err != nil {
		return nil, err
	}
	resp.Body.Close()
	r.Body = io.NopCloser(bytes.NewReader(sent))
	resp.Body = io.NopCloser(bytes.NewReader(got))
	w.hold(r, resp)
	resp.Body = io.NopCloser(bytes.NewReader(got))
	return resp, nil
}

// hold checks one exchange. A request that was refused need not be well
// formed, and an address that is not described must not answer otherwise.
func (w *witness) hold(r *http.Request, resp *http.Response) {
	w.mu.Lock()
	defer w.mu.Unlock()
	what := r.Method + " " + r.URL.Path
	at := -1
	for i, o := range w.ops {
		if o.method == r.Method && o.path.MatchString(r.URL.Path) {
			at = i
		}
	}
	if at < 0 {
		if resp.StatusCode < 400 {
			w.faults = append(w.faults, what+" is answered but not described")
		}
		return
	}
	if resp.StatusCode < 400 {
		w.seen[w.ops[at].id]++
		if ok, all := w.check.ValidateHttpRequestSync(r); !ok {
			for _, one := range all {
				w.faults = append(w.faults, what+": request: "+one.Message+": "+one.Reason+detail(one.SchemaValidationErrors))
			}
		}
	}
	if resp.Header.Get("Content-Encoding") == "gzip" { // asked for by hand; the transport leaves it packed
		z, err := gzip.NewReader(resp.Body)
		if err != nil {
			w.faults = append(w.faults, what+": the answer is no gzip")
			return
		}
		resp.Body = io.NopCloser(z)
	}
	if ok, all := w.check.ValidateHttpResponse(r, resp); !ok {
		for _, one := range all {
			w.faults = append(w.faults, what+": answer: "+one.Message+": "+one.Reason+detail(one.SchemaValidationErrors))
		}
	}
}

// report fails the test with everything that was odd.
func (w *witness) report(t testing.TB) {
	t.Helper()
	w.mu.Lock()
	defer w.mu.Unlock()
	seen := map[string]bool{}
	for _, f := range w.faults {
		if !seen[f] {
			t.Errorf("%s", f)
		}
		seen[f] = true
	}
}

// unseen lists the described operations that were never answered well.
func (w *witness) unseen() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	var out []string
	for _, o := range w.ops {
		if w.seen[o.id] == 0 {
			out = append(out, o.id)
		}
	}
	sort.Strings(out)
	return out
}

// detail says where in a body a schema was not met.
func detail(all []*wrong.SchemaValidationFailure) string {
	out := ""
	for _, f := range all {
		out += "; " + strings.Join(f.InstancePath, "/") + ": " + f.Reason
	}
	return out
}
