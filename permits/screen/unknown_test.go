package screen_test

import (
	"encoding/json"
	"maps"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/screen"
)

// knowable lists, for every fact, the ways in which it may be known. A fact of
// screen.Facts that is not here fails the test.
var knowable = map[string][]any{
	"person": {"a.rivera", "b.chen", "d.okafor", "h.new"}, "role": {"public", "volunteer", "staff"},
	"found": {"2026-05-10", "2024-01-01"}, "possessed": {"2026-05-10", "2024-01-01", "2030-01-01"},
	"judged_at":     {"2026-06-10", "2031-01-01"},
	"jurisdictions": {[]string{"US-CA"}, []string{"US-ZZ"}, []string{"US-MI"}, []string{"GB-ENG"}, []string{"XX"}},
	"land_manager":  {"other", "private", "national_park", "refuge", "tribal"}, "landowner_consent": {"written", "spoken", "none"},
	"taxon":    {"Turdus migratorius", "Haliaeetus leucocephalus", "Passer domesticus", "Anarhynchus nivosus nivosus", "Procyon lotor"},
	"material": {"carcass", "feather", "active_nest", "inactive_nest", "viable_egg", "nonviable_egg"}, "count": {1, 500},
	"event_carcass_count": {1, 6}, "cause": {"unknown", "window", "turbine", "line"}, "activity": {"salvage"},
	"band":       {"none", "federal metal band"},
	"identified": both, "official_duty": both, "designated": both, "in_hand": both, "soft_tissue": both,
	"nest_active": both, "eggs_viable": both, "suspected_crime": both, "suspected_poison": both,
	"evidence_released": both, "dieoff_released": both, "salvager_caused_death": both, "euthanised": both,
	"opportunistic": both, "research_purpose": both, "wants_to_keep": both, "lawful_hunt": both,
	"open_season": both, "in_live_traffic_lane": both, "other_hazard": both, "permit_copy_on_hand": both,
	"renewal_complete": both, "recipient_authorised": both, "both_registered": both, "commercial": both,
	"deposit_made": both, "crosses_border": both, "lawfully_held": both, "renewal_filed": {"2026-02-14", "2026-03-30"}, "distance_to_shore_m": {0, 5000},
	"activity_count": {0, 7},
}

var both = []any{true, false}

// alone lists facts that name something rather than answer a question, so that
// leaving them out is not a missing answer. Whether a person is barred stands in
// the register, and wants_to_keep asks for selling too; those two facts can
// only make an answer stricter.
var alone = []string{"barred", "sale", "jurisdictions_possible", "units", "site", "land_managers_possible", "storage_manager",
	"struck_in", "plausible", "authority", "offline_devices"}

func TestAMissingFactIsNeverMorePermissiveThanItsWorst(t *testing.T) {
	f := loadVectors(t)
	w := loadWorld(t, packs.Authorities())
	permitted, compared := 0, 0
	for i := range f.Cases {
		v := &f.Cases[i]
		for _, text := range v.Facts {
			base := overlay(t, f.Ordinary, text)
			for fact, values := range knowable {
				w.Tally = v.Tallies
				n, ok := missingIsStrict(t, w, v.ID, base, fact, values)
				compared += n
				if ok {
					permitted++
				}
			}
		}
	}
	if permitted < 500 || compared < 2500 {
		t.Errorf("got %d permitted with a fact missing, %d compared; want enough to mean something", permitted, compared)
	}
}

// missingIsStrict compares the find without the fact to the find with each
// known value, and tells whether the find was permitted without it.
func missingIsStrict(t *testing.T, w *screen.World, id string, base map[string]any, fact string, values []any) (int, bool) {
	t.Helper()
	without := maps.Clone(base)
	if fact == "possessed" {
		without["in_hand"] = true // else it has not been taken, and no day is missing
	}
	delete(without, fact)
	got := judge(t, w, without)
	if !got.Outcome.Permits() {
		return 1, false
	}
	for _, value := range values {
		with := maps.Clone(without)
		with[fact] = value
		if known := judge(t, w, with); !known.Outcome.Permits() {
			t.Errorf("%s: without %s it is permitted by %s, yet with %v it is %s by %s (%s)", id, fact,
				got.Deciding.Rule, value, known.Outcome, known.Deciding.Rule, known.Deciding.Because)
		}
	}
	return len(values), true
}

func overlay(t *testing.T, layers ...json.RawMessage) map[string]any {
	t.Helper()
	out := map[string]any{}
	for _, l := range layers {
		if err := json.Unmarshal(l, &out); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

func judge(t *testing.T, w *screen.World, facts map[string]any) permits.Verdict {
	t.Helper()
	text, err := json.Marshal(facts)
	if err != nil {
		t.Fatal(err)
	}
	var f screen.Facts
	if err := json.Unmarshal(text, &f); err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return screen.Check(&f, w)
}

func TestEveryFactIsAskedForInTheTestOfMissingFacts(t *testing.T) {
	text, err := json.Marshal(filled())
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]any
	if err := json.Unmarshal(text, &all); err != nil {
		t.Fatal(err)
	}
	for _, name := range alone {
		delete(all, name)
	}
	for name := range all {
		if knowable[name] == nil {
			t.Errorf("no test leaves out %q", name)
		}
	}
	if len(all) != len(knowable) {
		t.Errorf("got %d facts, want %d: a fact is not filled in or has gone", len(all), len(knowable))
	}
}

func TestWithoutATallyNoNumberIsFree(t *testing.T) {
	f := loadVectors(t)
	w := loadWorld(t, packs.Authorities())
	base := f.facts(t, &f.Cases[0])[0]
	w.Tally = quota.Fixed{}
	if got := screen.Check(&base, w); got.Outcome != permits.AllowWithObligations {
		t.Fatalf("with a tally of none used got %s, want it allowed", got.Outcome)
	}
	w.Tally = nil
	if got := screen.Check(&base, w); got.Outcome != permits.ReviewByPerson || got.Deciding.Rule != "R-QUOTA" {
		t.Errorf("without a tally got %s by %s, want review by R-QUOTA", got.Outcome, got.Deciding.Rule)
	}
}
