package intake_test

import (
	"fmt"
	"math/rand"
	"testing"
	"time"

	"wayfall/geo"
	"wayfall/server/intake"
	"wayfall/sync/op"
)

var morning = time.Date(2025, 10, 11, 12, 0, 0, 0, time.UTC)

func at(t *testing.T, lat, lon geo.Degrees) geo.Point {
	t.Helper()
	p, err := geo.At(lat, lon)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// loon is a loon on a beach, left where it lay; change makes it another.
func loon(t *testing.T, n byte, who string, change func(*intake.Sighting)) intake.Sighting {
	s := intake.Sighting{Report: op.ID{n}, Animal: op.ID{n, 1}, Reporter: who, Device: who + "'s phone",
		Found: morning, Until: morning, Where: geo.Circle{Centre: at(t, 43.59, -86.52), Radius: 10},
		Taxon: "Gavia immer", Deed: "left", Circumstance: "beach", Decay: -1}
	if change != nil {
		change(&s)
	}
	return s
}

func TestWhatMakesAPair(t *testing.T) {
	later := func(d time.Duration) func(*intake.Sighting) {
		return func(s *intake.Sighting) { s.Found, s.Until = morning.Add(d), morning.Add(d) }
	}
	also := func(fns ...func(*intake.Sighting)) func(*intake.Sighting) {
		return func(s *intake.Sighting) {
			for _, fn := range fns {
				fn(s)
			}
		}
	}
	moved := func(lat geo.Degrees) func(*intake.Sighting) {
		return func(s *intake.Sighting) { s.Where.Centre = at(t, lat, -86.52) }
	}
	taken := func(s *intake.Sighting) { s.Deed = "taken" }
	for _, c := range []struct {
		name string
		a, b intake.Sighting
		want bool
	}{
		{"left by one, taken by the other the next day, 110 m off", loon(t, 1, "tom", nil), loon(t, 2, "bea", also(taken, later(26*time.Hour), moved(43.591))), true},
		{"the same in the other order of the list", loon(t, 2, "bea", also(taken, later(26*time.Hour), moved(43.591))), loon(t, 1, "tom", nil), true},
		{"one of them not identified", loon(t, 1, "tom", nil), loon(t, 2, "bea", func(s *intake.Sighting) { s.Taxon = "" }), true},
		{"taken, then found gone by the other", loon(t, 1, "tom", taken), loon(t, 2, "bea", also(later(time.Hour), func(s *intake.Sighting) { s.Deed = "vanished" })), true},
		{"the same person twice", loon(t, 1, "tom", nil), loon(t, 2, "tom", nil), false},
		{"two animals of one report", loon(t, 1, "tom", nil), loon(t, 1, "bea", nil), false},
		{"three kilometres up the shore", loon(t, 1, "tom", nil), loon(t, 2, "bea", moved(43.617)), false},
		{"taken before the other was found", loon(t, 1, "tom", taken), loon(t, 2, "bea", later(5*24*time.Hour)), false},
		{"another kind on the same spot", loon(t, 1, "tom", nil), loon(t, 2, "bea", func(s *intake.Sighting) { s.Taxon = "Larus smithsonianus" }), false},
		{"a month apart on the same spot", loon(t, 1, "tom", nil), loon(t, 2, "bea", later(30*24*time.Hour)), false},
		{"with different bands", loon(t, 1, "tom", func(s *intake.Sighting) { s.Band = "0987-12345" }), loon(t, 2, "bea", func(s *intake.Sighting) { s.Band = "0987-12346" }), false},
		{"three kilometres apart, both said to bear no band", loon(t, 1, "tom", func(s *intake.Sighting) { s.Band = "none" }), loon(t, 2, "bea", also(moved(43.617), func(s *intake.Sighting) { s.Band = "none" })), false},
		{"with one band, a kilometre and twenty hours apart", loon(t, 1, "tom", func(s *intake.Sighting) { s.Band = "0987-12345" }), loon(t, 2, "bea", also(moved(43.6), later(20*time.Hour), func(s *intake.Sighting) { s.Band = "0987-12345" })), true},
		{"somewhere in the county", loon(t, 1, "tom", nil), loon(t, 2, "bea", func(s *intake.Sighting) { s.Where.Radius = 20 * geo.Kilometre }), false},
		{"known only to four kilometres", loon(t, 1, "tom", nil), loon(t, 2, "bea", func(s *intake.Sighting) { s.Where.Radius = 4 * geo.Kilometre }), false},
		{"nowhere known", loon(t, 1, "tom", nil), loon(t, 2, "bea", func(s *intake.Sighting) { s.Where = geo.Circle{} }), false},
	} {
		got := intake.Pairs([]intake.Sighting{c.a, c.b})
		if (len(got) == 1) != c.want {
			t.Errorf("%s: proposed %v, want %v; weighed %s", c.name, len(got) == 1, c.want, parts(intake.Weigh(c.a, c.b)))
		}
	}
}

func parts(p intake.Pair) string {
	out := fmt.Sprintf("%.1f points:", p.Points)
	for _, part := range p.Parts {
		out += fmt.Sprintf(" %s %+.1f (%s)", part.Name, part.Points, part.Why)
	}
	return out
}

func TestEveryPairIsExplainedAndItsPartsAddUp(t *testing.T) {
	p := intake.Weigh(loon(t, 1, "tom", nil), loon(t, 2, "bea", nil))
	sum := 0.0
	for _, part := range p.Parts {
		if part.Why == "" || part.Name == "" {
			t.Errorf("a part without a name or a reason: %+v", part)
		}
		sum += part.Points
	}
	if len(p.Parts) < 5 || sum != p.Points {
		t.Errorf("got %d parts worth %.3f points, want at least 5 worth %.3f", len(p.Parts), sum, p.Points)
	}
}

// Three loons by one person, three by another, each nearest to its own mate:
// the sum must be the greatest of all ways to join them.
func TestEachSightingStandsInOnePairAndTheSumIsGreatest(t *testing.T) {
	seed := time.Now().UnixNano()
	r := rand.New(rand.NewSource(seed))
	for round := range 60 {
		var all []intake.Sighting
		for n := range 3 + r.Intn(5) {
			who := [...]string{"tom", "bea", "jun"}[r.Intn(3)]
			all = append(all, loon(t, byte(n+1), who, func(s *intake.Sighting) {
				s.Where.Centre = at(t, 43.59+geo.Degrees(r.Float64())*0.004, -86.52)
				s.Found = morning.Add(time.Duration(r.Intn(40)) * time.Hour)
				s.Until = s.Found
				s.Deed = [...]string{"left", "left", "taken"}[r.Intn(3)]
			}))
		}
		got, used := 0.0, map[op.ID]bool{}
		for _, p := range intake.Pairs(all) {
			if used[p.A.Animal] || used[p.B.Animal] {
				t.Fatalf("seed %d round %d: a sighting stands in two pairs", seed, round)
			}
			used[p.A.Animal], used[p.B.Animal] = true, true
			got += p.Points
		}
		if want := greatest(all); got < want-1e-6 {
			t.Fatalf("seed %d round %d: got %.3f points, want %.3f", seed, round, got, want)
		}
	}
}

// greatest tries every way to join sightings.
func greatest(all []intake.Sighting) float64 {
	if len(all) < 2 {
		return 0
	}
	sum := greatest(all[1:])
	for i := 1; i < len(all); i++ {
		p := intake.Weigh(all[0], all[i])
		if p.Points < 20 {
			continue
		}
		rest := append(append([]intake.Sighting{}, all[1:i]...), all[i+1:]...)
		sum = max(sum, p.Points+greatest(rest))
	}
	return sum
}

func BenchmarkPairs(b *testing.B) {
	r := rand.New(rand.NewSource(1))
	var all []intake.Sighting
	for n := range 100000 {
		p, _ := geo.At(43+geo.Degrees(r.Float64()*1.4), -86.5+geo.Degrees(r.Float64()))
		found := morning.Add(time.Duration(r.Intn(365*24)) * time.Hour)
		all = append(all, intake.Sighting{Report: op.ID{byte(n), byte(n >> 8), byte(n >> 16)}, Animal: op.ID{byte(n), byte(n >> 8), byte(n >> 16), 1},
			Reporter: fmt.Sprint(r.Intn(50)), Found: found, Until: found, Where: geo.Circle{Centre: p, Radius: 20},
			Taxon: fmt.Sprint(r.Intn(60)), Deed: "left", Decay: -1})
	}
	for b.Loop() {
		intake.Pairs(all)
	}
}
