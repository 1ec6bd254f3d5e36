package screen_test

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

// TestWhatIsSaidBesideAVerdictAgreesWithIt explains every vector, and every
// vector with up to three of its facts taken away, and holds what is said of
// each law to the verdict: a law that is covered is relied on by the same
// paper under the same rule, and one that is not has nothing good inside it.
func TestWhatIsSaidBesideAVerdictAgreesWithIt(t *testing.T) {
	w := loadWorld(t, packs.Authorities())
	file := loadVectors(t)
	chance := rand.New(rand.NewPCG(1, 2))
	cases, laws, ways := 0, 0, 0
	for i := range file.Cases {
		w.Tally = file.Cases[i].Tallies
		for _, facts := range file.facts(t, &file.Cases[i]) {
			for n := range 40 {
				f := facts
				if n > 0 {
					unknowing(&f, chance)
				}
				want := screen.Check(&f, w)
				got, weighed := screen.Explain(&f, w)
				if !reflect.DeepEqual(got, want) {
					t.Fatalf("%s: explained\n%+v\nwant what Check gives\n%+v", file.Cases[i].ID, got, want)
				}
				cases, laws = cases+1, laws+len(weighed)
				ways += agrees(t, file.Cases[i].ID, &want, weighed)
			}
		}
	}
	t.Logf("SHOW %d cases explained, %d laws, %d ways inside them, each agrees with the verdict", cases, laws, ways)
	if laws < cases/2 || ways < laws {
		t.Errorf("got %d laws and %d ways in %d cases: too few to mean anything", laws, ways, cases)
	}
}

func agrees(t *testing.T, id string, v *permits.Verdict, weighed []rules.Weighed) (ways int) {
	t.Helper()
	relied := map[string]permits.Reliance{}
	for _, r := range v.Relies {
		relied[r.Law] = r
	}
	covered := 0
	for _, l := range weighed {
		r, on := relied[l.Law]
		if on != l.Covered {
			t.Errorf("%s, law %s: covered %v, relied on %v", id, l.Law, l.Covered, on)
		}
		if l.Covered {
			covered++
		}
		for _, way := range l.Ways {
			ways++
			paper := ""
			if way.Authority != nil {
				paper = way.Authority.ID
			}
			if way.Good && !l.Covered || way.Good && len(way.Why) > 0 || on && way.Chosen && (way.Rule != r.Rule || paper != r.Authority) {
				t.Errorf("%s, law %s: way %+v, relied %+v", id, l.Law, way, r)
			}
		}
	}
	if covered != len(v.Relies) {
		t.Errorf("%s: %d laws covered, %d relied on", id, covered, len(v.Relies))
	}
	return ways
}

// unknowing takes up to three facts away.
func unknowing(f *screen.Facts, chance *rand.Rand) {
	v := reflect.ValueOf(f).Elem()
	for range 1 + chance.IntN(3) {
		v.Field(chance.IntN(v.NumField())).SetZero()
	}
}
