package screen_test

import (
	"encoding/json"
	"maps"
	"slices"
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
	"band": {"none", "federal metal band"},
	"sex":  {"female", "male"}, "age": {"adult", "juvenile"}, "acquired": {"found_dead", "died_in_care", "received", "taken"},
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
	"land_default", "land_defaults_possible", "land_name", // what drawn units say, where there are any
	"struck_in", "plausible", "authority", "offline_devices"}

// bases are the finds of all scenarios as plain JSON objects, each with the
// world that judges it.
func bases(t *testing.T) []base {
	t.Helper()
	var out []base
	f := loadVectors(t)
	w := loadWorld(t, packs.Authorities())
	for i := range f.Cases {
		for _, text := range f.Cases[i].Facts {
			mine := *w
			mine.Tally = f.Cases[i].Tallies
			out = append(out, base{f.Cases[i].ID, &mine, overlay(t, f.Ordinary, text)})
		}
	}
	w = loadWorld(t, packs.DemoAuthorities())
	for _, c := range michigan {
		text, err := json.Marshal(owl(c.change))
		if err != nil {
			t.Fatal(err)
		}
		mine := *w
		mine.Tally = c.tally
		out = append(out, base{c.name, &mine, overlay(t, text)})
	}
	return out
}

type base struct {
	id    string
	world *screen.World
	facts map[string]any
}

func TestAMissingFactIsNeverMorePermissiveThanItsWorst(t *testing.T) {
	permitted, compared := 0, 0
	for _, b := range bases(t) {
		for fact, values := range knowable {
			n, ok := missingIsStrict(t, b.world, b.id, b.facts, fact, values)
			compared += n
			if ok {
				permitted++
			}
		}
	}
	if permitted < 700 || compared < 3500 {
		t.Errorf("got %d permitted with a fact missing, %d compared; want enough to mean something", permitted, compared)
	}
}

// TestMissingMoreIsNeverMorePermissive leaves out every pair of facts: what is
// permitted then must be permitted with either of the two known.
func TestMissingMoreIsNeverMorePermissive(t *testing.T) {
	if testing.Short() {
		t.Skip("every pair of facts of every find")
	}
	facts := slices.Sorted(maps.Keys(knowable))
	pairs := 0
	for _, b := range bases(t) {
		alone := map[string]bool{}
		for _, fact := range facts {
			alone[fact] = judge(t, b.world, without(b.facts, fact)).Outcome.Permits()
		}
		for i, one := range facts {
			for _, other := range facts[i+1:] {
				if one == "possessed" || other == "possessed" || alone[one] && alone[other] {
					continue // no day is missing while it lies there; or nothing to break
				}
				pairs++
				if v := judge(t, b.world, without(b.facts, one, other)); v.Outcome.Permits() {
					t.Errorf("%s: without %s and %s it is permitted by %s, but not without one of them alone", b.id, one, other, v.Deciding.Rule)
				}
			}
		}
	}
	if pairs < 20_000 {
		t.Errorf("got %d pairs, want enough to mean something", pairs)
	}
}

func without(facts map[string]any, names ...string) map[string]any {
	out := maps.Clone(facts)
	for _, n := range names {
		delete(out, n)
		if n == "possessed" {
			out["in_hand"] = true // else it has not been taken, and no day is missing
		}
	}
	for _, n := range names {
		if n == "in_hand" {
			delete(out, n)
		}
	}
	return out
}

// missingIsStrict compares the find without the fact to the find with each
// known value, and tells whether the find was permitted without it.
func missingIsStrict(t *testing.T, w *screen.World, id string, facts map[string]any, fact string, values []any) (int, bool) {
	t.Helper()
	missing := without(facts, fact)
	got := judge(t, w, missing)
	if !got.Outcome.Permits() {
		return 1, false
	}
	for _, value := range values {
		with := maps.Clone(missing)
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
