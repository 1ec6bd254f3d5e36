package bothbodies

import (
	"encoding/json"
	"fmt"
	"testing"

	"wayfall/fixtures/packs"
	"wayfall/fixtures/scenario"
	"wayfall/permits"
	"wayfall/permits/screen"
	"wayfall/permits/screen/find"
	"wayfall/permits/screen/land"
	"wayfall/server/demo"
	"wayfall/sync/record"
)

func TestDrawnGroundThroughBothBodies(t *testing.T) {
	story := scenario.Build(1)
	papers := demo.Papers(story, permits.NewDate(story.Season.ReportYear, 6, 30))
	used := usedUp(papers)
	text := spell(t, json.RawMessage(packs.DemoLand()))
	units, faults := land.Load("field kit", []byte(text))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	w := world(t, papers)
	w.Tally, w.Ground = used, units.Edition()
	load := kit(t, papers, used)
	load.Args[0].(map[string]any)["land"] = json.RawMessage(text)
	border := product(t, "home.bin")
	m := nativeMap(t, border, product(t, "field/places.bin"))
	calls := []call{load, {"region", []any{wire{border}}}}
	var want []string
	cases := []struct {
		name        string
		lat, radius float64
		cited       bool
	}{{"inside", 43.695, 12, true}, {"touching", 43.68999, 12, true}, {"outside", 43.68999, 0.5, false}}
	for _, c := range cases {
		fields := fieldsOf(t, story.Reports[0])
		fields["place"] = json.RawMessage(spell(t, record.Georeference{Known: true, Lat: c.lat, Lon: -86.31, Radius: c.radius, Datum: "WGS84", Source: "device"}))
		context, natively := asked(t, story.Reports[0], m.Lines)
		natively.Land = units
		calls = append(calls, call{"screen", []any{fields, context}})
		var whole find.Report
		if err := json.Unmarshal([]byte(spell(t, fields)), &whole); err != nil {
			t.Fatal(err)
		}
		facts := find.Of(whole, natively)
		v := screen.Check(&facts, w)
		cited := false
		for _, f := range v.Findings {
			cited = cited || f.Rule == "R-LAND-UNIT"
		}
		if cited != c.cited {
			t.Errorf("%s: got R-LAND-UNIT cited %v, want %v", c.name, cited, c.cited)
		}
		want = append(want, spell(t, v))
	}
	equal := 0
	for i, got := range phone(t, calls)[2:] {
		if same(t, cases[i].name, got, want[i]) {
			equal++
		}
	}
	fmt.Printf("SHOW drawn ground through both bodies: %d equal\n", equal)
}
