package screen_test

import (
	"encoding/json"
	"testing"

	"wayfall/fixtures/packs"
	"wayfall/permits"
)

func TestEveryDutyOfThePacksIsSaidInPlainWords(t *testing.T) {
	seen := 0
	var walk func(file string, v any)
	walk = func(file string, v any) {
		switch x := v.(type) {
		case []any:
			for _, e := range x {
				walk(file, e)
			}
		case map[string]any:
			duties, _ := x["duties"].([]any)
			for _, d := range duties {
				code, _ := d.(map[string]any)["code"].(string)
				seen++
				if permits.DutyText(code) == "" {
					t.Errorf("%s: the duty %s has no words", file, code)
				}
			}
			for _, e := range x {
				walk(file, e)
			}
		}
	}
	for _, f := range packs.Rules() {
		var pack any
		if err := json.Unmarshal(f.Data, &pack); err != nil {
			t.Fatal(err)
		}
		walk(f.Name, pack)
	}
	if seen < 100 {
		t.Errorf("looked at %d duties, want all of them", seen)
	}
}
