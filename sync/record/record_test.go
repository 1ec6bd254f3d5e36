package record

import (
	"strings"
	"testing"
)

func TestEveryFieldIsNamedOnceAndMergesSomehow(t *testing.T) {
	seen := map[place]bool{}
	for _, f := range Fields {
		at := place{f.Kind, f.Name}
		if seen[at] {
			t.Errorf("%s.%s stands twice in the table", f.Kind, f.Name)
		}
		seen[at] = true
		if f.Merge == Unknown || f.Label == "" || f.Shape == "" {
			t.Errorf("%s.%s lacks a way to merge, a label or a shape", f.Kind, f.Name)
		}
		if strings.ToLower(f.Name) != f.Name {
			t.Errorf("%s.%s: names on the wire are lower case", f.Kind, f.Name)
		}
	}
}

func TestAFieldOfALaterReleaseMergesAsUnknown(t *testing.T) {
	if got := MergeOf(Report, "moon_phase"); got != Unknown {
		t.Errorf("got %v, want %v", got, Unknown)
	}
	if _, known := FieldOf(Report, "moon_phase"); known {
		t.Error("a field that is not in the table is said to be known")
	}
}

func TestEveryRecordCanBeWithdrawn(t *testing.T) {
	for _, k := range []Kind{Report, Animal, Part, Authority, Arrival, Place} {
		if MergeOf(k, "withdrawn") != Log {
			t.Errorf("%s: withdrawal must be an event, so that it hides and never destroys", k)
		}
	}
}

func TestVocabulariesHaveNoDoubleWords(t *testing.T) {
	for name, words := range map[string][]Word{
		"deeds": Deeds, "materials": Materials, "causes": Causes, "circumstances": Circumstances,
		"bases": Bases, "permissions": Permissions, "managers": Managers,
		"dispositions": Dispositions, "part types": PartTypes, "hazards": Hazards,
	} {
		seen := map[string]bool{}
		for _, w := range words {
			if w.Code == "" || w.Label == "" || seen[w.Code] {
				t.Errorf("%s: %q is empty or stands twice", name, w.Code)
			}
			seen[w.Code] = true
		}
	}
}
