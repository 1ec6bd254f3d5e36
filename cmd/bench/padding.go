package main

import (
	"encoding/json"
	"fmt"

	"wayfall/fixtures/packs"
)

const padding = "bench-padding"

type obj map[string]any

// padded are the shipped packs and one more, with as many rules as make the
// rules asked of a find in Michigan n.
func padded(n int) (texts []json.RawMessage, err error) {
	asked := 0
	for _, f := range packs.Rules() {
		var p struct {
			Jurisdiction string
			Rules        []json.RawMessage
		}
		if err := json.Unmarshal(f.Data, &p); err != nil {
			return nil, err
		}
		if p.Jurisdiction == "*" || p.Jurisdiction == "US" || p.Jurisdiction == "US-MI" {
			asked += len(p.Rules)
		}
		texts = append(texts, f.Data)
	}
	if n <= asked {
		return nil, fmt.Errorf("the packs as shipped ask %d rules of a find, which is no less than %d", asked, n)
	}
	var more []obj
	for i := range n - asked {
		more = append(more, touching(i))
	}
	text, err := json.Marshal(obj{"id": padding, "version": "1", "jurisdiction": "US", "reviewer": "nobody", "sample": true,
		"notice": "Made for measuring.", "rules": more})
	return append(texts, text), err
}

// touching is a rule that reads the facts of nearly every find. Three of four
// fail at their last condition, as most rules do; the fourth applies, with a
// sentence to fill and a duty.
func touching(i int) obj {
	last := []obj{
		{"fact": "event_carcass_count", "at_least": 50 + i},
		{"fact": "groups", "has": "eagle"},
		{"fact": "cause", "in": []string{"electrocution", "entanglement", "drowning"}},
		{"fact": "activity", "is": "salvage"},
	}[i%4]
	r := obj{"id": fmt.Sprintf("P-%d", i), "layer": "advice", "effect": "note", "if_unknown": "skip", "because": "Rule {taxon} for measuring.",
		"citation": "none", "source_status": "sample", "effective_from": "2001-01-01",
		"when": obj{"all": []obj{{"fact": "class", "is": "Aves"}, {"not": obj{"fact": "material", "is": "egg"}}, {"fact": "activity", "known": true}, last}}}
	if i%4 == 3 {
		r["duties"] = []obj{{"code": "TAG", "note": fmt.Sprintf("for rule %d", i)}}
	}
	return r
}
