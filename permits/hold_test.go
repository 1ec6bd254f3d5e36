package permits

import (
	"strings"
	"testing"
)

var release = Release{By: "G. Marsh, permit officer", Document: "letter of 3 June 2025, no. 14", Reason: "the officer found no poison"}

func TestAHeldAnimalIsLeftAsItIs(t *testing.T) {
	const hold = "May be poisoned; evidence."
	for _, c := range []struct {
		name   string
		act    string
		values []string
		may    bool
		says   string
	}{
		{"nothing holds it", "prepare", nil, true, "Nothing holds"},
		{"an empty word is no hold", "prepare", []string{"", " "}, true, "Nothing holds"},
		{"held and to be prepared", "prepare", []string{hold}, false, "May be poisoned; evidence)"},
		{"held and to be given away", "transfer", []string{hold}, false, "until a named person releases it"},
		{"held and to be destroyed", "destroy", []string{hold}, false, "destroyed"},
		{"held and an act nobody named", "", []string{hold}, false, "held"},
		{"held and moved to another freezer", "store", []string{hold}, true, "every hand"},
		{"held and handed to the agency", "hand_to_agency", []string{hold}, true, "every hand"},
		{"released on a document", "prepare", []string{release.Text()}, true, "letter of 3 June 2025; no. 14"},
		{"one says held, another released", "prepare", []string{release.Text(), hold}, false, "held"},
		{"released by nobody", "prepare", []string{Release{Document: "letter", Reason: "done"}.Text()}, false, "held"},
		{"released without a document", "prepare", []string{Release{By: "G. Marsh", Reason: "done"}.Text()}, false, "held"},
		{"released without a reason", "prepare", []string{Release{By: "G. Marsh", Document: "letter"}.Text()}, false, "held"},
		{"a word that sounds like a release", "prepare", []string{"released, they said on the telephone"}, false, "held"},
	} {
		may, f := MayAct(c.act, c.values)
		if may != c.may || !strings.Contains(f.Because, c.says) || f.Rule != HoldRule || f.Cites == "" || f.Effect.Blocks() == may {
			t.Errorf("%s: got %v, %+v; want %v and a sentence with %q", c.name, may, f, c.may, c.says)
		}
	}
}

func FuzzRelease(f *testing.F) {
	f.Add("G. Marsh", "letter 14", "no poison")
	f.Add("a, document b", ", because ", "x")
	f.Fuzz(func(t *testing.T, by, document, reason string) {
		r := Release{by, document, reason}
		got, ok := ParseRelease(r.Text())
		if ok != r.Whole() {
			t.Fatalf("%+v: got a release %v, want %v; written %q", r, ok, r.Whole(), r.Text())
		}
		if again, _ := ParseRelease(got.Text()); ok && again != got {
			t.Fatalf("got %+v, want %+v", again, got)
		}
	})
}
