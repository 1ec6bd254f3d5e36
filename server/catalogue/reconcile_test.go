package catalogue

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"wayfall/sync/record"
)

func line(n int, tag, taxon string) Line {
	return Line{N: n, Bag: record.Bag{Tag: tag, Taxon: taxon}}
}

func bag(n int, tag, taxon string) Bag { return Bag{N: n, Bag: record.Bag{Tag: tag, Taxon: taxon}} }

// reported knows every tag that begins with K7Q as an animal of its own.
func reported(tag string) []Owner {
	if len(tag) < 3 || tag[:3] != "K7Q" {
		return nil
	}
	return []Owner{{Animal: "animal of " + tag, Tag: tag}}
}

// An arrival with 3 bags that no line names and 2 lines whose bag is not there
// is the planted fault of the demo scenario.
func TestThreeBagsWithoutALineAndTwoLinesWithoutABagAreFoundExactly(t *testing.T) {
	var list []Line
	var bags []Bag
	for i := range 25 {
		tag := fmt.Sprintf("K7Q-%03d-A", i)
		list = append(list, line(len(list)+1, tag, ""))
		bags = append(bags, bag(len(bags)+1, tag, ""))
	}
	list = append(list, line(26, "K7Q-900-A", ""), line(27, "K7Q-901-A", ""))
	bags = append(bags, bag(26, "K7Q-800-A", ""), bag(27, "K7Q-801-A", ""), bag(28, "", ""))
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 7))
		r.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
		r.Shuffle(len(bags), func(i, j int) { bags[i], bags[j] = bags[j], bags[i] })
		got := Reconcile(list, bags, reported)
		if len(got.Matched) != 25 || len(got.BagOnly) != 3 || len(got.LineOnly) != 2 {
			t.Fatalf("seed %d: got %d matched, %d bags without a line, %d lines without a bag; want 25, 3, 2",
				seed, len(got.Matched), len(got.BagOnly), len(got.LineOnly))
		}
		var tags []string
		for _, s := range got.BagOnly {
			tags = append(tags, s.Bag.Tag)
		}
		slices.Sort(tags)
		if want := []string{"", "K7Q-800-A", "K7Q-801-A"}; !slices.Equal(tags, want) {
			t.Errorf("seed %d: got bags %q without a line, want %q", seed, tags, want)
		}
		if got.Even() {
			t.Error("a list and a table that differ are called even")
		}
	}
}

func TestReconcile(t *testing.T) {
	shared := func(tag string) []Owner { return []Owner{{Animal: "a"}, {Animal: "b"}} }
	joined := func(tag string) []Owner { return []Owner{{Animal: "loon", Taxon: "Gavia immer"}} }
	named := func(tag string) []Owner { return []Owner{{Animal: "loon", Taxon: "Gavia immer", Name: "Common Loon"}} }
	for _, tc := range []struct {
		name                                                  string
		list                                                  []Line
		bags                                                  []Bag
		owners                                                Owners
		matched, bag, line, twice, unknown, shared, different int
	}{
		{name: "nothing at all is even", owners: reported},
		{name: "small letters and spaces are the same tag", list: []Line{line(1, " k7q-204-m", "")},
			bags: []Bag{bag(1, "K7Q-204-M ", "")}, owners: reported, matched: 1},
		{name: "a bag scanned twice is one bag, and said", list: []Line{line(1, "K7Q-1", "")},
			bags: []Bag{bag(1, "K7Q-1", ""), bag(2, "K7Q-1", "")}, owners: reported, matched: 1, twice: 1},
		{name: "two bags without any tag are two bags", bags: []Bag{bag(1, "", ""), bag(2, "", "")},
			owners: reported, bag: 2, unknown: 2},
		{name: "a tag that nobody reported", bags: []Bag{bag(1, "ZZZ-1", "")}, owners: reported, bag: 1, unknown: 1},
		{name: "a tag on two animals", bags: []Bag{bag(1, "K7Q-1", "")}, owners: shared, bag: 1, shared: 1},
		{name: "two tags of one animal meet", list: []Line{line(1, "OLD-1", "")},
			bags: []Bag{bag(1, "NEW-1", "")}, owners: joined, matched: 1},
		{name: "list and report disagree on the kind", list: []Line{line(1, "T", "Gavia stellata")},
			bags: []Bag{bag(1, "T", "")}, owners: joined, matched: 1, different: 1},
		{name: "common and scientific name are one kind", list: []Line{line(1, "T", "Gavia immer")},
			bags: []Bag{bag(1, "T", "common loon")}, owners: named, matched: 1},
		{name: "an unidentified line disagrees with nobody", list: []Line{line(1, "T", "")},
			bags: []Bag{bag(1, "T", "gavia immer")}, owners: joined, matched: 1},
		{name: "lines without a tag never meet by kind alone", list: []Line{line(1, "", "Gavia immer")},
			bags: []Bag{bag(1, "", "Gavia immer")}, owners: reported, bag: 1, line: 1, unknown: 1},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got := Reconcile(tc.list, tc.bags, tc.owners)
			have := []int{len(got.Matched), len(got.BagOnly), len(got.LineOnly), len(got.Twice), len(got.Unknown), len(got.Shared), len(got.Different)}
			want := []int{tc.matched, tc.bag, tc.line, tc.twice, tc.unknown, tc.shared, tc.different}
			if !slices.Equal(have, want) {
				t.Errorf("matched, bag only, line only, twice, unknown, shared, different\n got %v\nwant %v", have, want)
			}
		})
	}
}

func TestEveryLineAndEveryBagIsAccountedFor(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 14))
	for range 300 {
		var list []Line
		var bags []Bag
		for n := range r.IntN(30) {
			list = append(list, line(n+1, fmt.Sprintf("K7Q-%d", r.IntN(20)), ""))
		}
		for n := range r.IntN(30) {
			bags = append(bags, bag(n+1, fmt.Sprintf("K7Q-%d", r.IntN(20)), ""))
		}
		got := Reconcile(list, bags, reported)
		again := 0
		for _, tw := range got.Twice {
			again += len(tw.Bags) - 1
		}
		if len(got.Matched)+len(got.LineOnly) != len(list) || len(got.Matched)+len(got.BagOnly)+again != len(bags) {
			t.Fatalf("%d lines and %d bags became %d matched, %d + %d, %d again",
				len(list), len(bags), len(got.Matched), len(got.LineOnly), len(got.BagOnly), again)
		}
	}
}

func TestKindsDifferOnlyWhenTheyDo(t *testing.T) {
	gull := Owner{Animal: "a", Name: "Ring-billed Gull", Taxon: "Larus delawarensis"}
	for _, c := range []struct {
		what  string
		names []string
		want  []string
	}{
		{"the same name in other letters agrees", []string{"ring billed GULLS", ""}, nil},
		{"the scientific name agrees", []string{"Larus delawarensis", "Ring-billed Gull"}, nil},
		{"a coarser word agrees", []string{"gull sp.", "an unidentified gull"}, nil},
		{"a word that names nothing agrees", []string{"dead bird", "?"}, nil},
		{"another gull differs", []string{"Herring Gull", ""}, []string{"Herring Gull", "Ring-billed Gull"}},
		{"a coarse word hides no difference", []string{"gull", "Herring Gull"}, []string{"gull", "Herring Gull", "Ring-billed Gull"}},
		{"another kind differs", []string{"Barn Owl"}, []string{"Barn Owl", "Ring-billed Gull"}},
	} {
		if got := kinds(gull, c.names...); !slices.Equal(got, c.want) {
			t.Errorf("%s: got %q, want %q", c.what, got, c.want)
		}
	}
}
