package find

import (
	"fmt"
	"math"
	"math/rand"
	"testing"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
	"wayfall/geo/geodesic"
	"wayfall/sync/record"
)

func from(t *testing.T, at geo.Point, heading geo.Degrees, distance geo.Metres) geo.Point {
	t.Helper()
	p, _, err := geodesic.Direct(at, heading, distance)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// rim is how far the reckoning itself may be off, in metres: geodesics are
// good to nanometres.
const rim = 1e-6

func inside(t *testing.T, g record.Georeference, truth geo.Point) bool {
	t.Helper()
	d, err := geodesic.Distance(point(t, geo.Degrees(g.Lat), geo.Degrees(g.Lon)), truth)
	if err != nil {
		t.Fatal(err)
	}
	return float64(d) <= g.Radius+rim
}

// headings with how far each may be off: Chapman & Wieczorek (2020), 3.4.5.
var headings = []struct {
	word      string
	from, off geo.Degrees
}{
	{"N", 0, 45}, {"E", 90, 45}, {"S", 180, 45}, {"W", 270, 45},
	{"NE", 45, 22.5}, {"south-west", 225, 22.5}, {"NNW", 337.5, 11.25}, {"ESE", 112.5, 11.25},
}

// distances with half their precision, in metres: Chapman & Wieczorek (2020),
// 3.4.6; "200 m" is good to 10 m and "1.5 mi" to half a mile.
var distances = []struct {
	word   string
	metres geo.Metres
	half   geo.Metres
}{
	{"3 mi", 4828.032, 804.672}, {"1.5 mi", 2414.016, 402.336}, {"0.6 km", 600, 50},
	{"12 km", 12000, 500}, {"200 m", 200, 5}, {"7 1/4 mi", 11667.744, 201.168},
}

// TestASampledTruthLiesInTheCircle draws towns, distances and headings, and
// for each a truth that the words allow: a start somewhere in the town, a
// heading and a distance somewhere in their bounds, often at the very ends.
func TestASampledTruthLiesInTheCircle(t *testing.T) {
	const seed = 20250501
	dice := rand.New(rand.NewSource(seed))
	list := names(t)
	m := Map{Names: list} // without lines: the circle alone is tried here
	towns := list.Places()
	share := func() float64 { // often an end
		return math.Max(-1, math.Min(1, 1.5*(2*dice.Float64()-1)))
	}
	count, widest := [3]int{}, 0.0
	for try := 0; try < 4000; try++ {
		town := towns[dice.Intn(len(towns))]
		if len(list.All(town.Name, town.State)) != 1 {
			continue
		}
		h, d := headings[dice.Intn(len(headings))], distances[dice.Intn(len(distances))]
		start := from(t, town.At, geo.Degrees(360*dice.Float64()), town.Radial()*geo.Metres(math.Abs(share())))
		way := d.metres + d.half*geo.Metres(share())
		var text string
		var truth geo.Point
		form := try % 3
		switch form {
		case 0:
			text = fmt.Sprintf("%s %s of %s, %s", d.word, h.word, town.Name, town.State)
			truth = from(t, start, h.from+h.off*geo.Degrees(share()), way)
		case 1: // a road may end anywhere within the distance
			text = fmt.Sprintf("M-20, %s %s of %s, %s", d.word, h.word, town.Name, town.State)
			truth = from(t, start, geo.Degrees(360*dice.Float64()), way*geo.Metres(math.Abs(share())))
		default:
			text, truth = town.Name+", "+town.State, start
		}
		g := placed(t, m, Whereabouts{Locality: text})
		if !g.Known {
			t.Fatalf("seed %d: %q was not placed: %q", seed, text, g.Flags)
		}
		count[form]++
		off, err := geodesic.Distance(point(t, geo.Degrees(g.Lat), geo.Degrees(g.Lon)), truth)
		if err != nil {
			t.Fatal(err)
		}
		widest = max(widest, float64(off)/g.Radius)
		if float64(off) > g.Radius+rim {
			t.Errorf("seed %d: %q: a truth lies %.1f m from the point, the radius is %.0f m", seed, text, off, g.Radius)
		}
	}
	t.Logf("SHOW truths by air %d, by a way %d, in a town %d; the farthest at %.4f of the radius", count[0], count[1], count[2], widest)
	if min(count[0], count[1], count[2]) < 1000 || widest < 0.99 {
		t.Errorf("got %v truths, the farthest at %.3f of the radius: too few, or too tame to try the bound", count, widest)
	}
}

// TestAFixHoldsTheTruthInNinetyFiveCasesOfAHundred draws circular normal
// errors for a fix of 20 m at 68 %. The radius is rounded up from 32.43 to
// 33 m, which makes 95.5 %.
func TestAFixHoldsTheTruthInNinetyFiveCasesOfAHundred(t *testing.T) {
	const seed, tries = 7, 4000
	dice := rand.New(rand.NewSource(seed))
	sigma := 20 / math.Sqrt(-2*math.Log(1-0.68))
	truth, held := point(t, 43.2, -86.1), 0
	for range tries {
		x, y := sigma*dice.NormFloat64(), sigma*dice.NormFloat64()
		at := from(t, truth, geo.Degrees(math.Atan2(x, y)*180/math.Pi), geo.Metres(math.Hypot(x, y)))
		g := placed(t, Map{}, Whereabouts{Fix: &record.Fix{Lat: float64(at.Lat()), Lon: float64(at.Lon()), Accuracy: 20, Level: 0.68}})
		if inside(t, g, truth) {
			held++
		}
	}
	if got := float64(held) / tries; got < 0.945 || got > 0.967 {
		t.Errorf("seed %d: got %.4f of the truths inside, want 0.955 within 0.01", seed, got)
	}
}

// TestTypedCoordinatesHoldATruthThatWasCutOff cuts truths off to a few
// decimals, and moves them by a datum that was not recorded.
func TestTypedCoordinatesHoldATruthThatWasCutOff(t *testing.T) {
	const seed = 11
	dice := rand.New(rand.NewSource(seed))
	for try := range 1000 {
		lat, lon := 41+4*dice.Float64(), -83-4*dice.Float64()
		decimals := 2 + try%4
		cut := math.Pow10(decimals)
		text := fmt.Sprintf("%.*f, %.*f", decimals, math.Floor(lat*cut)/cut, decimals, math.Ceil(lon*cut)/cut)
		truth := point(t, geo.Degrees(lat), geo.Degrees(lon))
		datum := "WGS84"
		if try%2 == 1 {
			datum = ""
			truth = from(t, truth, geo.Degrees(360*dice.Float64()), 5359)
		}
		g := placed(t, Map{}, Whereabouts{Coordinates: text, Place: &record.Georeference{Datum: datum}})
		if !inside(t, g, truth) {
			t.Errorf("seed %d: %q, datum %q: the truth lies outside %.0f m", seed, text, datum, g.Radius)
		}
	}
}

// FuzzWords reads any text: it is placed with a radius, or stays words.
func FuzzWords(f *testing.F) {
	for _, tt := range words {
		f.Add(tt.text)
	}
	list, err := gazetteer.Build("one", []gazetteer.Place{{Name: "Hart", State: "US-MI", At: func() geo.Point { p, _ := geo.At(43.69834, -86.36397); return p }(), Population: 2000}})
	if err != nil {
		f.Fatal(err)
	}
	m := Map{Names: list}
	f.Fuzz(func(t *testing.T, text string) {
		g, err := m.Place(Whereabouts{Locality: text})
		if err != nil {
			t.Fatalf("words are never an error, got %v", err)
		}
		if g.Known != (g.Radius > 0) || g.Known != (len(g.Terms) > 0) {
			t.Errorf("%q: got %+v, want point, radius and terms together or none", text, g)
		}
	})
}
