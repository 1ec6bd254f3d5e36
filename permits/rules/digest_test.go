package rules

import (
	"bytes"
	"encoding/json"
	"testing"

	"wayfall/fixtures/packs"
)

func TestAPackIsTheSameInTheFileAndInAFieldKit(t *testing.T) {
	for _, f := range packs.Rules() {
		carried, err := json.Marshal(map[string]json.RawMessage{"pack": f.Data})
		if err != nil {
			t.Fatal(err)
		}
		var kit struct{ Pack json.RawMessage }
		if err := json.Unmarshal(carried, &kit); err != nil {
			t.Fatal(err)
		}
		a, err := Load(f.Name, f.Data)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Load(f.Name, kit.Pack)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Equal(kit.Pack, f.Data) || a.Ref() != b.Ref() {
			t.Errorf("%s: got %v and %v, want one digest for two spellings", f.Name, a.Ref(), b.Ref())
		}
	}
}
