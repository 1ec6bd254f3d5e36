package land_test

import (
	"encoding/json"
	"strings"
	"testing"

	"wayfall/fixtures/packs"
	"wayfall/geo"
	"wayfall/geo/geodesic"
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
	"wayfall/permits/screen/find"
	"wayfall/permits/screen/land"
	"wayfall/sync/record"
)

func sample(t testing.TB) *land.Map {
	t.Helper()
	m, faults := land.Load("land-demo.json", packs.DemoLand())
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return m
}

func at(t testing.TB, lat, lon float64) geo.Point {
	t.Helper()
	p, err := geo.At(geo.Degrees(lat), geo.Degrees(lon))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// away returns the point so far from another, in a direction.
func away(t testing.TB, from geo.Point, heading geo.Degrees, metres geo.Metres) geo.Point {
	t.Helper()
	p, _, err := geodesic.Direct(from, heading, metres)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

var june = permits.On(permits.NewDate(2025, 6, 12))

// TestTheWholeCircleIsLookedAt walks over the western line of the refuge, which
// runs along a meridian, so that due west of a point on it the line is nearest.
func TestTheWholeCircleIsLookedAt(t *testing.T) {
	m := sample(t)
	line := at(t, 43.705, -86.33)
	for _, radius := range []geo.Metres{5, 30, 300} {
		for _, c := range []struct {
			name   string
			west   geo.Metres // of the line; below zero, inside
			hits   int
			inside bool
		}{
			{"outside by one metre", radius + 1, 0, false},
			{"reaching over by one metre from outside", radius - 1, 1, false},
			{"centred on the line", 0, 1, false},
			{"reaching over by one metre from inside", -(radius - 1), 1, false},
			{"inside by one metre", -(radius + 1), 1, true},
		} {
			heading := geo.Degrees(270)
			far := c.west
			if far < 0 {
				heading, far = 90, -far
			}
			got := m.At(geo.Circle{Centre: away(t, line, heading, far), Radius: radius}, june)
			if len(got) != c.hits || c.hits > 0 && got[0].Sure != c.inside {
				t.Errorf("%s, a circle of %g m: got %+v, want %d units, sure %v", c.name, radius, got, c.hits, c.inside)
			}
		}
	}
}

// TestAroundTheWholeLine stands beside every side of the refuge, its hole among
// them, at right angles to it.
func TestAroundTheWholeLine(t *testing.T) {
	m := sample(t)
	var file struct {
		Units []struct {
			Shape struct{ Coordinates json.RawMessage }
		}
	}
	if err := json.Unmarshal(packs.DemoLand(), &file); err != nil {
		t.Fatal(err)
	}
	var rings [][][2]float64
	if err := json.Unmarshal(file.Units[0].Shape.Coordinates, &rings); err != nil {
		t.Fatal(err)
	}
	asked := 0
	for _, r := range rings {
		for i := 1; i < len(r); i++ {
			a, z := at(t, r[i-1][1], r[i-1][0]), at(t, r[i][1], r[i][0])
			middle := at(t, (r[i-1][1]+r[i][1])/2, (r[i-1][0]+r[i][0])/2) // on the line as drawn
			side, err := geodesic.Inverse(a, z)
			if err != nil {
				t.Fatal(err)
			}
			for _, turn := range []geo.Degrees{90, -90} {
				for _, radius := range []geo.Metres{5, 50} {
					for _, d := range []geo.Metres{-1, 1} {
						c := geo.Circle{Centre: away(t, middle, side.Depart+turn, radius+d), Radius: radius}
						hits := m.At(c, june)
						asked++
						switch {
						case d < 0 && (len(hits) != 1 || hits[0].Sure):
							t.Errorf("side %d: a circle that reaches over the line by a metre: got %+v, want one unit that is not sure", i, hits)
						case d > 0 && len(hits) == 1 && !hits[0].Sure:
							t.Errorf("side %d: a circle that ends a metre before the line may lie beyond it: %+v", i, hits)
						}
					}
				}
			}
		}
	}
	if asked < 70 {
		t.Errorf("got %d places, want 70 or more", asked)
	}
}

func TestTheHoleTheBandAndTheDays(t *testing.T) {
	m := sample(t)
	hole, forest := at(t, 43.7015, -86.298), at(t, 43.855, -86.205)
	for _, c := range []struct {
		name string
		at   geo.Circle
		on   permits.When
		hits int
		sure bool
	}{
		{"in the middle of the hole", geo.Circle{Centre: hole, Radius: 20}, june, 0, false},
		{"in the hole, reaching out of it", geo.Circle{Centre: hole, Radius: 400}, june, 1, false},
		{"in the forest", geo.Circle{Centre: forest, Radius: 20}, june, 1, true},
		{"in its second part", geo.Circle{Centre: at(t, 43.855, -86.185), Radius: 20}, june, 1, true},
		{"between its parts", geo.Circle{Centre: at(t, 43.855, -86.195), Radius: 20}, june, 0, false},
		{"as far from it as the line may be off", geo.Circle{Centre: away(t, at(t, 43.855, -86.21), 270, 24), Radius: 5}, june, 1, false},
		{"farther than the line may be off", geo.Circle{Centre: away(t, at(t, 43.855, -86.21), 270, 26), Radius: 5}, june, 0, false},
		{"the day before it was drawn", geo.Circle{Centre: forest, Radius: 20}, permits.On(permits.NewDate(2025, 4, 30)), 0, false},
		{"the day it was drawn", geo.Circle{Centre: forest, Radius: 20}, permits.On(permits.NewDate(2025, 5, 1)), 1, true},
		{"some day around that", geo.Circle{Centre: forest, Radius: 20}, permits.When{From: permits.Moment{Date: permits.NewDate(2025, 4, 29)}, To: permits.Moment{Date: permits.NewDate(2025, 5, 3)}}, 1, false},
		{"an unknown day", geo.Circle{Centre: forest, Radius: 20}, permits.When{}, 1, false},
		{"an unknown place", geo.Circle{}, june, 0, false},
	} {
		got := m.At(c.at, c.on)
		if len(got) != c.hits || c.hits > 0 && got[0].Sure != c.sure {
			t.Errorf("%s: got %+v, want %d units, sure %v", c.name, got, c.hits, c.sure)
		}
	}
	if got := (*land.Map)(nil).At(geo.Circle{Centre: forest, Radius: 20}, june); got != nil {
		t.Errorf("without units got %+v", got)
	}
}

// broken is the refuge with one thing wrong each.
var broken = []struct {
	name, from, to, path, says string
}{
	{"a ring that does not close", `[-86.33, 43.72], [-86.33, 43.69]],`, `[-86.33, 43.72]],`, "shape.coordinates", "not closed"},
	{"a ring that crosses itself", `[-86.33, 43.69], [-86.29, 43.69], [-86.28, 43.705], [-86.29, 43.72], [-86.33, 43.72], [-86.33, 43.69]`,
		`[-86.33, 43.69], [-86.29, 43.72], [-86.28, 43.705], [-86.29, 43.69], [-86.33, 43.72], [-86.33, 43.69]`, "shape.coordinates", "crosses itself"},
	{"a ring that runs back on itself", `[-86.28, 43.705], [-86.29, 43.72]`, `[-86.28, 43.705], [-86.27, 43.705], [-86.275, 43.705], [-86.29, 43.72]`, "shape.coordinates", "crosses itself"},
	{"a corner twice", `[-86.28, 43.705], [-86.29, 43.72]`, `[-86.28, 43.705], [-86.28, 43.705], [-86.29, 43.72]`, "shape.coordinates", "twice"},
	{"three corners", `[[-86.3, 43.7], [-86.3, 43.703], [-86.296, 43.703], [-86.296, 43.7], [-86.3, 43.7]]`, `[[-86.3, 43.7], [-86.3, 43.703], [-86.3, 43.7]]`, "shape.coordinates", "smallest closed ring"},
	{"a hole elsewhere", `[[-86.3, 43.7], [-86.3, 43.703], [-86.296, 43.703], [-86.296, 43.7], [-86.3, 43.7]]`, `[[-85.3, 43.7], [-85.3, 43.703], [-85.296, 43.703], [-85.296, 43.7], [-85.3, 43.7]]`, "shape.coordinates[0][1]", "hole"},
	{"latitude first", `[-86.33, 43.69], [-86.29, 43.69], [-86.28, 43.705], [-86.29, 43.72], [-86.33, 43.72], [-86.33, 43.69]],
    [[-86.3, 43.7], [-86.3, 43.703], [-86.296, 43.703], [-86.296, 43.7], [-86.3, 43.7]]`,
		`[43.69, -86.33], [43.69, -86.29], [43.705, -86.28], [43.72, -86.29], [43.72, -86.33], [43.69, -86.33]]`, "shape.coordinates", "exchanged"},
	{"latitude beyond a pole", `[-86.28, 43.705]`, `[43.705, -96.28]`, "shape.coordinates", "exchanged"},
	{"off the globe", `[-86.28, 43.705]`, `[-286.28, 43.705]`, "shape.coordinates", "leaves the globe"},
	{"over the date line", `[-86.28, 43.705]`, `[176.28, 43.705]`, "shape.coordinates", "date line"},
	{"a point inside that is not", `"lat": 43.705, "lon": -86.31`, `"lat": 43.9, "lon": -86.31`, "inside", "does not lie"},
	{"no point inside", `"inside": {"lat": 43.705, "lon": -86.31},`, ``, "inside", "name a point"},
	{"a kind of manager that is none", `"class": "refuge"`, `"class": "zoo"`, "class", "zoo"},
	{"no answer of its own", `"default": "deny"`, `"default": "perhaps"`, "default", "perhaps"},
	{"days reversed", `"from": "2025-05-01"`, `"from": "2025-05-01", "to": "2025-04-01"`, "to", "ends before"},
	{"a line of nowhere", `"off_m": 20`, `"off_m": -1`, "off_m", "0 to 10,000"},
	{"a weekend of words", `["saturday", "sunday"]`, `["Saturday"]`, "calendar.weekend", "sunday"},
	{"an id that no paper could name", `"id": "US-MI Sablewater Flats refuge"`, `"id": "refuge-1"`, "id", "US-MI"},
	{"the same id", `"id": "US-MI Petrel Hill town forest"`, `"id": "US-MI Sablewater Flats refuge"`, "id", "two units"},
	{"a shape that is a line", `"type": "Polygon"`, `"type": "LineString"`, "shape.type", "LineString"},
	{"a sample that does not say so", `"notice": "SAMPLE: invented units of ground, drawn for the story; no real refuge, park or owner.",`, ``, "notice", "sample"},
	{"a member that is not there", `"off_m": 0,`, `"off_m": 0, "colour": "red",`, "$", "colour"},
	{"no source", `"source": "invented, drawn by hand",`, ``, "source", "missing"},
}

func TestAPoorDrawingIsRefusedWithASentence(t *testing.T) {
	for _, c := range broken {
		text := strings.Replace(string(packs.DemoLand()), c.from, c.to, 1)
		if text == string(packs.DemoLand()) {
			t.Errorf("%s: the file lacks %q", c.name, c.from)
			continue
		}
		m, faults := land.Load("own.json", []byte(text))
		if m != nil || len(faults) != 1 || faults[0].Path != c.path || !strings.Contains(faults[0].What, c.says) {
			t.Errorf("%s: got %v, want nothing loaded and one fault at %s that says %q", c.name, faults, c.path, c.says)
		}
	}
}

// TestTheVerdictFollowsTheGround asks for a screech-owl hit by a car, which a
// listed salvager may take from the road authority's ground.
func TestTheVerdictFollowsTheGround(t *testing.T) {
	m := sample(t)
	var all []*rules.Pack
	for _, f := range packs.Rules() {
		p, err := rules.Load(f.Name, f.Data)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	book, err := rules.NewBook(all...)
	if err != nil {
		t.Fatal(err)
	}
	list, err := permits.ReadChecklist(packs.Taxa())
	if err != nil {
		t.Fatal(err)
	}
	var papers []permits.Authority
	if err := json.Unmarshal(packs.DemoAuthorities(), &papers); err != nil {
		t.Fatal(err)
	}
	own := permits.Authority{ID: "L", Kind: "land_permission", Basis: "letter", Jurisdiction: "US-MI", Holder: "The Museum", Status: permits.Active,
		ValidFrom: permits.NewDate(2025, 1, 1), Persons: []permits.Grant{{Person: "cal"}}, Area: []string{"US-MI Sablewater Flats refuge", "refuge"},
		TaxaInclude: []string{"Aves"}, Activities: []string{"salvage"}}
	west := at(t, 43.705, -86.33)
	for _, c := range []struct {
		name   string
		centre geo.Point
		land   record.Land
		papers []permits.Authority
		hand   string
		want   permits.Outcome
		rule   permits.RuleID
	}{
		{"outside by one metre", away(t, west, 270, 31), record.Land{Permission: "yes", Written: true, Manager: "road_authority"}, papers, "no", permits.AllowWithObligations, "R-SALV-PERMIT"},
		{"touching", away(t, west, 270, 29), record.Land{Permission: "yes", Written: true, Manager: "road_authority"}, papers, "no", permits.ReviewByPerson, "R-REFUGE"},
		{"inside", away(t, west, 90, 500), record.Land{Permission: "yes", Written: true, Manager: "road_authority"}, papers, "no", permits.RefusePickup, "R-REFUGE"},
		{"inside, already in the hand", away(t, west, 90, 500), record.Land{Permission: "yes", Written: true, Manager: "road_authority"}, papers, "yes", permits.BreachToResolve, "R-REFUGE"},
		{"inside, with the refuge's permission", away(t, west, 90, 500), record.Land{Permission: "yes", Written: true, Manager: "refuge"}, append(papers[:len(papers):len(papers)], own), "no", permits.AllowWithObligations, "R-SALV-PERMIT"},
		{"in the town forest, in writing", at(t, 43.855, -86.205), record.Land{Permission: "yes", Written: true, Manager: "municipal"}, papers, "no", permits.AllowWithObligations, "R-SALV-PERMIT"},
		{"in the town forest, nothing needed, so they say", at(t, 43.855, -86.205), record.Land{Permission: "not_needed", Manager: "municipal"}, papers, "no", permits.HoldCallFirst, "R-LAND-UNIT"},
	} {
		r := find.Report{Found: &record.When{Earliest: "2025-06-12T09:00", Precision: record.ToMinute},
			TakenAt: &record.When{Earliest: "2025-06-12T09:00", Precision: record.ToMinute},
			Place:   &record.Georeference{Known: true, Lat: float64(c.centre.Lat()), Lon: float64(c.centre.Lon()), Radius: 30, State: "Michigan"},
			Taxon:   &record.Determination{Name: "Megascops asio", Certainty: record.Sure}, Count: 1, Material: "carcass", Where: "road",
			Cause: &record.Cause{Cause: "vehicle"}, Band: "none", Land: &c.land,
			Signs: &record.Signs{Crime: "no", Caused: "no", Planned: "no", Research: "no", Keep: "no", PermitCopy: "yes", Danger: "no", InHand: c.hand, Others: "no"}}
		f := find.Of(r, find.Asked{Person: "cal", Role: "volunteer", Now: permits.NewDate(2025, 6, 12).At(9, 0), Land: m,
			Where: &find.Where{Sure: []string{"US-MI"}}})
		w := &screen.World{Book: book, Register: rules.NewRegister(book, c.papers), Checklist: list, Tally: free{}, Ground: m.Edition()}
		v := screen.Check(&f, w)
		if v.Outcome != c.want || v.Deciding.Rule != c.rule {
			t.Errorf("%s: got %s by %s (%s), want %s by %s", c.name, v.Outcome, v.Deciding.Rule, v.Deciding.Because, c.want, c.rule)
		}
		keeper := map[string]string{"Sablewater Flats wildlife refuge": "the refuge's manager (invented)", "Petrel Hill town forest": "the town's clerk (invented)"}[f.LandName]
		if v.Outcome != permits.AllowWithObligations && v.Deciding.Contact != keeper {
			t.Errorf("%s: got %q to call about %q, want %q", c.name, v.Deciding.Contact, f.LandName, keeper)
		}
	}
}

// free has nothing used of any number.
type free struct{}

func (free) Used(*permits.Authority, *permits.Quota, string, permits.Date) (used, left int, known bool) {
	return 0, 1000, true
}

// FuzzLoad holds that nothing a file says makes the reader fall over, and that
// what is loaded can be asked.
func FuzzLoad(f *testing.F) {
	f.Add(packs.DemoLand())
	for _, c := range broken {
		f.Add([]byte(strings.Replace(string(packs.DemoLand()), c.from, c.to, 1)))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		m, faults := land.Load("fuzz.json", data)
		if (m == nil) != (len(faults) > 0) {
			t.Fatalf("got a map %v and %d faults", m != nil, len(faults))
		}
		for _, u := range m.Units() {
			p, err := geo.At(geo.Degrees(u.Inside.Lat), geo.Degrees(u.Inside.Lon))
			if err != nil {
				t.Fatalf("%s was loaded with a point inside that is none: %v", u.ID, err)
			}
			if u.From == 0 && u.To == 0 && len(m.At(geo.Circle{Centre: p, Radius: 1}, june)) == 0 {
				t.Fatalf("%s does not hold its own point", u.ID)
			}
		}
	})
}
