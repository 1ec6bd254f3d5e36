package api

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"wayfall/server/fault"
	"wayfall/sync/record"
)

type shelf struct {
	Name  string         `json:"name"`
	Count int            `json:"count"`
	Mass  float64        `json:"mass"`
	Wet   bool           `json:"wet"`
	Bags  []record.Bag   `json:"bags"`
	Free  map[string]int `json:"free"`
	Any   json.RawMessage
	Deep  *shelf `json:"deep"`
}

func TestStrictNamesEveryPlaceThatDoesNotFit(t *testing.T) {
	for _, c := range []struct{ name, body, pointers string }{
		{"everything fits", `{"name":"F1","count":2,"mass":1.5,"wet":true,"bags":[{"tag":"A"}],"free":{"x":1},"deep":{"name":"F2"}}`, ""},
		{"a member that is not known", `{"name":"F1","colour":"red"}`, "/colour"},
		{"a name in other case", `{"Name":"F1"}`, "/Name"},
		{"a number for a text", `{"name":5}`, "/name"},
		{"a text for a number", `{"count":"5"}`, "/count"},
		{"half a whole number", `{"count":1.5}`, "/count"},
		{"a number too large for a double", `{"mass":1e999}`, "/mass"},
		{"a list for an object", `{"deep":[]}`, "/deep"},
		{"an object for a list", `{"bags":{}}`, "/bags"},
		{"a member written twice", `{"name":"a","name":"b"}`, "/name"},
		{"null for a text", `{"name":null}`, "/name"},
		{"deep inside a list", `{"bags":[{"tag":"A"},{"tag":1,"weight":2}]}`, "/bags/1/tag /bags/1/weight"},
		{"a name with a slash and a tilde", `{"a/b~c":1}`, "/a~1b~0c"},
		{"two things at once", `{"deep":{"wet":"yes"},"sky":1}`, "/deep/wet /sky"},
	} {
		var s shelf
		err := strict([]byte(c.body), &s)
		var got string
		var p *Problem
		if errors.As(err, &p) {
			var all []string
			for _, e := range p.Errors {
				all = append(all, e.Pointer)
			}
			got = strings.Join(all, " ")
		}
		if got != c.pointers || (err == nil) != (c.pointers == "") {
			t.Errorf("%s: got %q and %v, want %q", c.name, got, err, c.pointers)
		}
	}
}

func TestStrictRefusesWhatIsNotJSON(t *testing.T) {
	for _, body := range []string{"", "{", "{}{}", "[1,]", "nul", "{\"a\":\"\xff\"}", strings.Repeat("[", 200) + strings.Repeat("]", 200), `{'a':1}`} {
		var any map[string]json.RawMessage
		err := strict([]byte(body), &any)
		var p *Problem
		if !errors.As(err, &p) || p.Status != 400 && p.Status != 422 {
			t.Errorf("%.20q: got %v, want a problem", body, err)
		}
	}
}

func FuzzStrict(f *testing.F) {
	f.Add([]byte(`{"name":"F1","bags":[{"tag":"A"}]}`))
	f.Add([]byte(`{"deep":{"deep":{"deep":{}}}}`))
	f.Fuzz(func(t *testing.T, body []byte) {
		var s shelf
		if strict(body, &s) != nil {
			return
		}
		if !json.Valid(body) {
			t.Errorf("taken, and no JSON: %q", body)
		}
		var again shelf
		if err := json.Unmarshal(body, &again); err != nil {
			t.Errorf("taken, and cannot be read: %q: %v", body, err)
		}
	})
}

func TestErrorsThatAreOursTellNothing(t *testing.T) {
	p := ProblemOf(errors.New("open /secret/wayfall.db: disk I/O error"))
	if p.Status != 500 || strings.Contains(p.Detail, "secret") || !strings.Contains(p.Detail, "our side") {
		t.Errorf("got %d %q, want 500 and a sentence that tells nothing of the inside", p.Status, p.Detail)
	}
	p = ProblemOf(fault.Wrap(errors.New("boom"), "read shelf 3"))
	if p.Status != 500 || strings.Contains(p.Detail, "shelf") {
		t.Errorf("got %d %q, want the same of a wrapped one", p.Status, p.Detail)
	}
	p = ProblemOf(fault.New(fault.Stale, "it has moved on").At("/base", "is 4, now 9"))
	if p.Status != 409 || p.Detail != "it has moved on" || len(p.Errors) != 1 || p.Errors[0].Pointer != "/base" {
		t.Errorf("got %+v, want 409 with its sentence and its place", p)
	}
}

func TestEveryKindOfFaultHasAStatus(t *testing.T) {
	for k := fault.Internal; k <= fault.Unsupported; k++ {
		status, code := statusOf(k)
		if status < 400 || code == "" || (status == 500) != (k == fault.Internal) {
			t.Errorf("%v: got %d %q, want a status of its own and a word", k, status, code)
		}
	}
}
