package screen_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/screen"
)

// checkRow is a row of the checklist with what only people read.
type checkRow struct {
	permits.Taxon
	Dated permits.Date `json:"dated"`
	Note  string       `json:"note"`
}

func checkRows(t *testing.T) []checkRow {
	t.Helper()
	var list struct {
		Taxa []checkRow `json:"taxa"`
	}
	if err := json.Unmarshal(packs.Taxa(), &list); err != nil {
		t.Fatal(err)
	}
	return list.Taxa
}

// A family of animals ends in -idae, and each stands in one order (ICZN,
// article 29.2).
func TestTheChecklistIsOfOnePiece(t *testing.T) {
	rows := checkRows(t)
	if len(rows) < 340 {
		t.Errorf("got %d rows, want about 350 or more", len(rows))
	}
	order, class, seen := map[string]string{}, map[string]string{}, map[string]bool{}
	for _, r := range rows {
		if r.Status != "memory" || !r.Dated.Known() || r.English == "" {
			t.Errorf("%s: got status %q, dated %q, English %q; want memory, a date and a name", r.Name, r.Status, r.Dated, r.English)
		}
		if !strings.HasSuffix(r.Family, "idae") {
			t.Errorf("%s: got family %q, want one that ends in -idae", r.Name, r.Family)
		}
		words := strings.Fields(r.Name)
		if len(words) < 2 || len(words) > 3 || words[0] != r.Genus || strings.ToLower(r.Name[1:]) != r.Name[1:] {
			t.Errorf("%s: want a genus, here %s, and one or two words written small", r.Name, r.Genus)
		}
		if was := order[r.Family]; was != "" && was != r.Order {
			t.Errorf("%s: family %s stands in %s and in %s", r.Name, r.Family, was, r.Order)
		}
		if was := class[r.Order]; was != "" && was != r.Class {
			t.Errorf("%s: order %s stands in %s and in %s", r.Name, r.Order, was, r.Class)
		}
		order[r.Family], class[r.Order] = r.Order, r.Class
		for _, n := range append([]string{r.Name, r.English}, r.Aliases...) {
			if n = strings.ToLower(n); seen[n] {
				t.Errorf("%s: the name %s stands twice", r.Name, n)
			}
			seen[n] = true
		}
		if slices.Contains(r.Lookalikes, r.Name) {
			t.Errorf("%s: it looks like itself", r.Name)
		}
	}
	home(t, rows)
}

// home counts what is plausible around the Great Lakes, and asks that every
// native bird there stands on one side of the federal law or the other.
func home(t *testing.T, rows []checkRow) {
	t.Helper()
	perClass, here := map[string]int{}, 0
	sides := []string{"us-mbta", "eagle", "us-introduced", "us-nontreaty"}
	for _, r := range rows {
		if len(r.Areas) == 0 {
			here++
			perClass[r.Class]++
		}
		if r.Class == "Aves" && !slices.ContainsFunc(r.Groups, func(g string) bool { return slices.Contains(sides, g) }) {
			t.Errorf("%s: got groups %q, want one of %q", r.Name, r.Groups, sides)
		}
	}
	t.Logf("SHOW %d taxa, %d without a narrower area: %v", len(rows), here, perClass)
	for _, c := range []string{"Aves", "Mammalia", "Reptilia", "Amphibia"} {
		if perClass[c] < 15 {
			t.Errorf("got %d of class %s, want 15 or more", perClass[c], c)
		}
	}
}

// TestEveryAnimalOfTheChecklistIsJudgedAtHome asks of every row, certainly
// named and by a person on the papers: no listed or eagle may be taken on the
// museum's papers alone.
func TestEveryAnimalOfTheChecklistIsJudgedAtHome(t *testing.T) {
	w := loadWorld(t, packs.DemoAuthorities())
	w.Tally = loons(0)
	taken := 0
	for _, r := range checkRows(t) {
		f := owl(nil)
		f.Taxon, f.Identified = r.Name, permits.Yes
		v := screen.Check(&f, w)
		strict := slices.Contains(r.Groups, "us-esa") || slices.Contains(r.Groups, "eagle") || slices.Contains(r.Groups, "us-mi-listed")
		if v.Outcome.Permits() {
			taken++
			if strict && r.Name != "Gavia immer" && r.Name != "Cygnus buccinator" && r.Name != "Emydoidea blandingii" {
				t.Errorf("%s (%q): got %s by %s, want it not taken", r.Name, r.Groups, v.Outcome, v.Deciding.Rule)
			}
		}
		if v.Deciding.Cites == "" || v.Deciding.Because == "" {
			t.Errorf("%s: the answer cites %q and says %q", r.Name, v.Deciding.Cites, v.Deciding.Because)
		}
	}
	t.Logf("SHOW %d of the checklist may be taken in Michigan on the sample papers", taken)
	if taken < 150 {
		t.Errorf("got %d that may be taken, want most of the common birds", taken)
	}
}
