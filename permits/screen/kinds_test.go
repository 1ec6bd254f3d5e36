package screen_test

import (
	"strings"
	"testing"
	"wayfall/fixtures/packs"
	"wayfall/permits"
)

// kinds are the sixty-two kinds of the invented Michigan season.
const kinds = `White-throated Sparrow,Ovenbird,Tennessee Warbler,Swainson's Thrush,Hermit Thrush,Yellow-bellied Sapsucker,
Golden-crowned Kinglet,Dark-eyed Junco,Ruby-throated Hummingbird,Cedar Waxwing,Common Yellowthroat,American Woodcock,
American Robin,Gray Catbird,Northern Flicker,Mourning Dove,Cooper's Hawk,Black-capped Chickadee,Eastern Screech-Owl,
Barred Owl,Red-tailed Hawk,Great Horned Owl,Wild Turkey,American Crow,Common Grackle,Red-winged Blackbird,
Northern Cardinal,Song Sparrow,Bald Eagle,Turkey Vulture,Canada Goose,Killdeer,House Sparrow,European Starling,
Fox Squirrel,Opossum,Cottontail,Porcupine,Mink,Blanding's Turtle,Common Loon,Long-tailed Duck,Horned Grebe,
Ring-billed Gull,Red-breasted Merganser,American Herring Gull,Double-crested Cormorant,White-winged Scoter,
Red-necked Grebe,Piping Plover,Chipmunk,Great Blue Heron,Trumpeter Swan,Mallard,American Kestrel,Yellow-rumped Warbler,
Hoary Bat,Eastern Red Bat,Horned Lark,Rock Pigeon,Blue Jay,Sandhill Crane`

func TestTheChecklistKnowsEveryKindOfTheSeason(t *testing.T) {
	list, err := permits.ReadChecklist(packs.Taxa())
	if err != nil {
		t.Fatal(err)
	}
	if !list.Sample || list.Notice == "" {
		t.Error("the checklist does not say that it is a sample")
	}
	n, outside := 0, 0
	for _, name := range strings.Split(strings.ReplaceAll(kinds, "\n", ""), ",") {
		n++
		taxon := list.Taxon(name)
		if taxon == nil {
			t.Errorf("%s is not in the checklist", name)
			continue
		}
		if taxon.Class == "Aves" && taxon.Is("us-introduced") {
			outside++
		}
	}
	if n != 62 || outside != 3 {
		t.Errorf("got %d kinds and %d introduced birds, want 62 and 3", n, outside)
	}
	if len(list.Taxa) < 120 {
		t.Errorf("got %d taxa, want about 120 or more", len(list.Taxa))
	}
}
