package screen_test

import (
	"encoding/json"
	"maps"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"wayfall/permits"
	"wayfall/permits/screen"
)

// factNames are the facts that can be left out, in a fixed order.
func factNames() []string { return slices.Sorted(maps.Keys(knowable)) }

// factsEach is how many facts are left out of every variant: all of them in
// the long run, else some, by turns.
func factsEach() int {
	if os.Getenv("WAYFALL_SOAK") != "" {
		return len(knowable)
	}
	return 6
}

// missing leaves facts out, one at a time: what is permitted then is permitted
// however the fact may be known.
func (b *table) missing(s site, w *screen.World, n int) {
	b.t.Helper()
	names := factNames()
	for range n {
		name := names[b.fact%len(names)]
		b.fact++
		f := s.facts
		forget(&f, name)
		got := screen.Check(&f, w)
		b.count("a fact that is missing")
		if !got.Outcome.Permits() {
			continue
		}
		for _, value := range knowable[name] {
			known := f
			learn(b.t, &known, name, value)
			if v := screen.Check(&known, w); !v.Outcome.Permits() {
				b.wrong("%s: without %s it is permitted by %s, with %v it is %s by %s", s.name, name, got.Deciding.Rule, value, v.Outcome, v.Deciding.Rule)
			}
		}
	}
}

var factFields = fieldsByName()

func fieldsByName() map[string]int {
	out := map[string]int{}
	kind := reflect.TypeFor[screen.Facts]()
	for i := range kind.NumField() {
		name, _, _ := strings.Cut(kind.Field(i).Tag.Get("json"), ",")
		out[name] = i
	}
	return out
}

func forget(f *screen.Facts, name string) {
	reflect.ValueOf(f).Elem().Field(factFields[name]).SetZero()
	if name == "possessed" {
		f.InHand = permits.Yes // else it has not been taken, and no day is missing
	}
}

func learn(t *testing.T, f *screen.Facts, name string, value any) {
	t.Helper()
	text, err := json.Marshal(map[string]any{name: value})
	if err == nil {
		err = json.Unmarshal(text, f)
	}
	if err != nil {
		t.Fatal(err)
	}
}
