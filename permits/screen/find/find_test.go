package find

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"wayfall/geo/region"
	"wayfall/permits"
	"wayfall/permits/screen"
	"wayfall/sync/record"
)

func TestWhatAReportDoesNotSayStaysUnknown(t *testing.T) {
	got := Of(Report{}, Asked{})
	if want := (screen.Facts{Activity: "salvage"}); !reflect.DeepEqual(got, want) {
		t.Errorf("an empty report: got %+v, want nothing but the activity", got)
	}
	decay := 0
	got = Of(Report{Found: &record.When{Text: "last spring"}, TakenAt: &record.When{Latest: "2025-05-01"},
		Place: &record.Georeference{}, Taxon: &record.Determination{}, Cause: &record.Cause{}, Signs: &record.Signs{},
		Land: &record.Land{}, Condition: &record.Condition{Decay: &decay}}, Asked{Lines: lines(t)})
	if want := (screen.Facts{Activity: "salvage"}); !reflect.DeepEqual(got, want) {
		t.Errorf("a report of empty fields: got %+v, want nothing but the activity", got)
	}
}

func day(t *testing.T, text string) permits.Moment {
	t.Helper()
	m, err := permits.ParseMoment(text)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestMomentsAreAsFineAsTheyWereSaid(t *testing.T) {
	for _, tt := range []struct {
		name     string
		in       record.When
		from, to string // "" is unknown
	}{
		{"a minute", record.When{Earliest: "2025-05-01T07:30", Precision: record.ToMinute}, "2025-05-01T07:30", "2025-05-01T07:30"},
		{"a stretch", record.When{Earliest: "2025-05-01T07:30", Latest: "2025-05-01T09:00"}, "2025-05-01T07:30", "2025-05-01T09:00"},
		{"a day with the first minute written", record.When{Earliest: "2025-05-01T00:00", Precision: record.ToDay}, "2025-05-01", "2025-05-01"},
		{"a day with both ends", record.When{Earliest: "2025-05-01T00:00", Latest: "2025-05-01T23:59", Precision: record.ToDay}, "2025-05-01", "2025-05-01"},
		{"a month with both ends", record.When{Earliest: "2025-05-01", Latest: "2025-05-31", Precision: record.ToMonth}, "2025-05-01", "2025-05-31"},
		{"a month without its end", record.When{Earliest: "2025-05-01", Precision: record.ToMonth}, "", ""},
		{"a stretch without its end", record.When{Earliest: "2025-05-01", Precision: record.Between}, "", ""},
		{"the 31st of February", record.When{Earliest: "2025-02-31"}, "", ""},
		{"an end that cannot be read", record.When{Earliest: "2025-02-01", Latest: "later"}, "", ""},
		{"words alone", record.When{Text: "May"}, "", ""},
	} {
		got := Of(Report{Found: &tt.in}, Asked{}).Found
		want := permits.When{}
		if tt.from != "" {
			want = permits.When{From: day(t, tt.from), To: day(t, tt.to)}
		}
		if got != want {
			t.Errorf("%s: got %v, want %v", tt.name, got, want)
		}
	}
}

// facts pairs what a report says with one fact that follows.
var facts = []struct {
	name string
	in   Report
	got  func(screen.Facts) any
	want any
}{
	{"surely named is identified", Report{Taxon: &record.Determination{Certainty: record.Sure}}, func(f screen.Facts) any { return f.Identified }, permits.Yes},
	{"likely is not identified", Report{Taxon: &record.Determination{Certainty: record.Likely}}, func(f screen.Facts) any { return f.Identified }, permits.No},
	{"a certainty not said", Report{Taxon: &record.Determination{Name: "Corvus"}}, func(f screen.Facts) any { return f.Identified }, permits.Unknown},
	{"the name in the checklist counts", Report{Taxon: &record.Determination{Name: "Corvus", Written: "crow"}}, func(f screen.Facts) any { return f.Taxon }, "Corvus"},
	{"else the name as written", Report{Taxon: &record.Determination{Written: "crow"}}, func(f screen.Facts) any { return f.Taxon }, "crow"},
	{"no band was seen", Report{Band: "None"}, func(f screen.Facts) any { return f.Band }, "none"},
	{"a number on a band is the strictest band", Report{Band: "0934-12345"}, func(f screen.Facts) any { return f.Band }, "federal metal band"},
	{"a band not spoken of", Report{}, func(f screen.Facts) any { return f.Band }, ""},
	{"shot is suspected crime", Report{Cause: &record.Cause{Cause: "shot"}}, func(f screen.Facts) any { return f.SuspectedCrime }, permits.Yes},
	{"shot is crime whatever was ticked", Report{Cause: &record.Cause{Cause: "shot"}, Signs: &record.Signs{Crime: "no"}}, func(f screen.Facts) any { return f.SuspectedCrime }, permits.Yes},
	{"trapped is suspected crime", Report{Cause: &record.Cause{Cause: "trapped"}}, func(f screen.Facts) any { return f.SuspectedCrime }, permits.Yes},
	{"a window says nothing of crime", Report{Cause: &record.Cause{Cause: "window"}}, func(f screen.Facts) any { return f.SuspectedCrime }, permits.Unknown},
	{"poison is suspected poison", Report{Cause: &record.Cause{Cause: "poison"}, Signs: &record.Signs{Crime: "no"}}, func(f screen.Facts) any { return f.SuspectedPoison }, permits.Yes},
	{"no crime, asked with poison, is no poison", Report{Signs: &record.Signs{Crime: "no"}}, func(f screen.Facts) any { return f.SuspectedPoison }, permits.No},
	{"signs of crime leave poison open", Report{Signs: &record.Signs{Crime: "yes"}}, func(f screen.Facts) any { return f.SuspectedPoison }, permits.Unknown},
	{"euthanised", Report{Cause: &record.Cause{Cause: "euthanised"}}, func(f screen.Facts) any { return f.Euthanised }, permits.Yes},
	{"a cause that cannot be told leaves it open", Report{Cause: &record.Cause{Cause: "unknown"}}, func(f screen.Facts) any { return f.Euthanised }, permits.Unknown},
	{"a planned search is no chance find", Report{Signs: &record.Signs{Planned: "yes"}}, func(f screen.Facts) any { return f.Opportunistic }, permits.No},
	{"not planned is a chance find", Report{Signs: &record.Signs{Planned: "no"}}, func(f screen.Facts) any { return f.Opportunistic }, permits.Yes},
	{"planned not said", Report{Signs: &record.Signs{Crime: "no"}}, func(f screen.Facts) any { return f.Opportunistic }, permits.Unknown},
	{"a word that is neither yes nor no", Report{Signs: &record.Signs{Keep: "maybe"}}, func(f screen.Facts) any { return f.WantsToKeep }, permits.Unknown},
	{"danger on a road is traffic", Report{Where: "road", Signs: &record.Signs{Danger: "yes"}}, func(f screen.Facts) any { return f.TrafficLane }, permits.Yes},
	{"danger elsewhere may be anything", Report{Where: "beach", Signs: &record.Signs{Danger: "yes"}}, func(f screen.Facts) any { return f.TrafficLane }, permits.Unknown},
	{"no danger is no traffic", Report{Signs: &record.Signs{Danger: "no"}}, func(f screen.Facts) any { return f.TrafficLane }, permits.No},
	{"two and three more are five", Report{Count: 2, Signs: &record.Signs{OthersNearby: 3}}, func(f screen.Facts) any { return f.EventCount }, 5},
	{"others not asked for", Report{Count: 2, Signs: &record.Signs{Keep: "no"}}, func(f screen.Facts) any { return f.EventCount }, 0},
	{"others not asked for with the rest", Report{Count: 2, Signs: &record.Signs{Crime: "no"}}, func(f screen.Facts) any { return f.EventCount }, 0},
	{"no others", Report{Count: 2, Signs: &record.Signs{Others: "no"}}, func(f screen.Facts) any { return f.EventCount }, 2},
	{"no others, one of them", Report{Signs: &record.Signs{Others: "no"}}, func(f screen.Facts) any { return f.EventCount }, 1},
	{"others that nobody counted", Report{Count: 1, Signs: &record.Signs{Others: "yes"}}, func(f screen.Facts) any { return f.EventCount }, 0},
	{"others that were counted", Report{Count: 1, Signs: &record.Signs{Others: "yes", OthersNearby: 4}}, func(f screen.Facts) any { return f.EventCount }, 5},
	{"the number stands against the word", Report{Count: 1, Signs: &record.Signs{Others: "no", OthersNearby: 4}}, func(f screen.Facts) any { return f.EventCount }, 5},
	{"written permission", Report{Land: &record.Land{Permission: "yes", Written: true}}, func(f screen.Facts) any { return f.Consent }, permits.Written},
	{"spoken permission", Report{Land: &record.Land{Permission: "yes"}}, func(f screen.Facts) any { return f.Consent }, permits.Spoken},
	{"refused permission", Report{Land: &record.Land{Permission: "no", Written: true}}, func(f screen.Facts) any { return f.Consent }, permits.Refused},
	{"permission not needed", Report{Land: &record.Land{Permission: "not_needed"}}, func(f screen.Facts) any { return f.Consent }, permits.NotApplicable},
	{"permission not asked", Report{Land: &record.Land{Permission: "unknown"}}, func(f screen.Facts) any { return f.Consent }, permits.Consent("")},
	{"who manages the ground", Report{Land: &record.Land{Manager: "refuge"}}, func(f screen.Facts) any { return f.LandManager }, "refuge"},
	{"in hand", Report{Signs: &record.Signs{InHand: "yes"}}, func(f screen.Facts) any { return f.InHand }, permits.Yes},
	{"count, material and paper are carried over", Report{Count: 3, Material: "feather", Authority: "a"}, func(f screen.Facts) any { return fmt.Sprintf("%d %s %s", f.Count, f.Material, f.Authority) }, "3 feather a"},
}

func TestFactsFollowFromWhatIsSaid(t *testing.T) {
	for _, tt := range facts {
		if got := tt.got(Of(tt.in, Asked{})); got != tt.want {
			t.Errorf("%s: got %v, want %v", tt.name, got, tt.want)
		}
	}
	a := Asked{Person: "p", Role: "volunteer", Now: day(t, "2025-05-01T08:00")}
	if f := Of(Report{}, a); f.Person != "p" || f.Role != "volunteer" || f.JudgedAt != a.Now {
		t.Errorf("who asks and when: got %+v", f)
	}
}

// Points: Muskegon by GeoNames; New Buffalo, Michigan, lies about 5 km from
// Indiana (GeoNames, 41.79393, -86.74391).
func TestAPlaceNearAStateLineIsOfferedAsBoth(t *testing.T) {
	at := func(lat, lon, radius float64) *record.Georeference {
		return &record.Georeference{Known: true, Lat: lat, Lon: lon, Radius: radius}
	}
	named := func(p *record.Georeference, state string) *record.Georeference { p.State = state; return p }
	for _, tt := range []struct {
		name           string
		place          *record.Georeference
		lines          *region.Map
		sure, possible []string
	}{
		{"far from any line", at(43.23418, -86.0, 50), lines(t), []string{"US-MI"}, nil},
		{"5 km from the line, 50 m wide", at(41.79393, -86.74391, 50), lines(t), []string{"US-MI"}, nil},
		{"5 km from the line, 10 km wide", at(41.79393, -86.74391, 10_000), lines(t), nil, []string{"US-IN", "US-MI"}},
		{"on the line", at(41.7605, -86.70, 50), lines(t), nil, []string{"US-IN", "US-MI"}},
		{"5 km from the line, width not said", at(41.79393, -86.74391, 0), lines(t), nil, []string{"US-IN", "US-MI"}},
		{"far from any line, width not said", at(43.23418, -86.0, 0), lines(t), nil, []string{"US-MI"}},
		{"a person names the same state", named(at(43.23418, -86.0, 50), "Michigan"), lines(t), []string{"US-MI"}, nil},
		{"a person names another state", named(at(43.23418, -86.0, 50), "Ohio"), lines(t), nil, []string{"US-MI", "US-OH"}},
		{"out at sea", at(0.0001, 0.0001, 10), lines(t), nil, nil},
		{"beyond the pole", at(91, 0, 10), lines(t), nil, nil},
		{"a radius below nothing", at(43.23418, -86.0, -1), lines(t), nil, nil},
		{"words and a state", &record.Georeference{State: "michigan"}, lines(t), []string{"US-MI"}, nil},
		{"words and what is no state", &record.Georeference{State: "Ontario"}, lines(t), nil, nil},
		{"no lines, but a state", named(at(43.23418, -86.0, 50), "MI"), nil, []string{"US-MI"}, nil},
		{"no lines and no state", at(43.23418, -86.0, 50), nil, nil, nil},
		{"no place", nil, lines(t), nil, nil},
	} {
		f := Of(Report{Place: tt.place}, Asked{Lines: tt.lines})
		slices.Sort(f.JurisdictionsPossible)
		if !slices.Equal(f.Jurisdictions, tt.sure) || !slices.Equal(f.JurisdictionsPossible, tt.possible) {
			t.Errorf("%s: got sure %v, possible %v, want %v, %v", tt.name, f.Jurisdictions, f.JurisdictionsPossible, tt.sure, tt.possible)
		}
	}
}

func TestStateNamesAreThoseOfTheBoundaryFile(t *testing.T) {
	seen := 0
	for _, r := range lines(t).Regions() {
		if r.Level != region.State {
			continue
		}
		seen++
		code := Code(r.ID)
		name := NameOf(code)
		short := strings.TrimPrefix(strings.ReplaceAll(r.Name, "United States", "U.S."), "Commonwealth of the ")
		if name != short || !strings.HasPrefix(code, "US-") {
			t.Errorf("%s: got %q, %q, want the name %q", r.ID, code, name, r.Name)
		}
		for _, spelling := range []string{name, strings.ToUpper(name), code, strings.ToLower(code), code[3:], " " + name + " "} {
			if got := CodeOf(spelling); got != code {
				t.Errorf("%q: got %q, want %q", spelling, got, code)
			}
		}
		if got := Code(r.ID + "001"); got != code {
			t.Errorf("a county of %s: got %q, want %q", name, got, code)
		}
	}
	if seen != 56 || len(stateNames) != 56 {
		t.Errorf("got %d states in the file and %d in the table, want 56", seen, len(stateNames))
	}
	for _, none := range []region.ID{"", "3", "03", "99", "99001"} {
		if got := Code(none); got != "" {
			t.Errorf("code %q: got %q, want none", none, got)
		}
	}
	if got := CodeOf(" Ontario "); got != "Ontario" {
		t.Errorf("what is no state stays as written: got %q", got)
	}
	if got := NameOf("CA-ON"); got != "CA-ON" {
		t.Errorf("a code that is no state's: got %q", got)
	}
}

// shapes are the Go types of the values that a report and a place are read
// from.
var shapes = map[record.Shape]any{
	record.Text: "", record.Code: "", record.Number: 0, record.Link: "", record.WhenV: record.When{}, record.FixV: record.Fix{},
	record.PlaceV: record.Georeference{}, record.TaxonV: record.Determination{}, record.CauseV: record.Cause{},
	record.StateV: record.Condition{}, record.LandV: record.Land{}, record.SignsV: record.Signs{},
}

func TestJSONHasTheFieldNamesOfTheRecord(t *testing.T) {
	for _, into := range []any{Report{}, Whereabouts{}} {
		kind := reflect.TypeOf(into)
		for i := range kind.NumField() {
			name := kind.Field(i).Tag.Get("json")
			f, known := record.FieldOf(record.Report, name)
			if !known {
				t.Errorf("%s.%s: %q is no field of a report", kind, kind.Field(i).Name, name)
				continue
			}
			shape, ok := shapes[f.Shape]
			got := kind.Field(i).Type
			if got.Kind() == reflect.Pointer {
				got = got.Elem()
			}
			if !ok || got != reflect.TypeOf(shape) {
				t.Errorf("%s.%s: got %v, want the type of a %q", kind, name, got, f.Shape)
			}
		}
	}
}

// TestJSONOfEveryFieldIsRead writes every field that a report shares with the
// record, strictly reads it, and finds each again.
func TestJSONOfEveryFieldIsRead(t *testing.T) {
	wire := `{"found":{"earliest":"2025-05-01"},"taken_at":{"earliest":"2025-05-02"},"place":{"state":"US-MI"},
	 "taxon":{"name":"Corvus"},"count":2,"material":"carcass","condition":{"decay":0},"circumstance":"road","acquired":"found_dead",
	 "cause":{"cause":"vehicle"},"signs":{"crime":"no"},"band":"none","land":{"manager":"private"},"authority":"a1"}`
	var r Report
	strictly(t, wire, &r)
	v := reflect.ValueOf(r)
	for i := range v.NumField() {
		if v.Field(i).IsZero() {
			t.Errorf("the field %q was not read", v.Type().Field(i).Tag.Get("json"))
		}
	}
	var w Whereabouts
	strictly(t, `{"fix":{"lat":1,"lon":2},"coordinates":"1, 2","locality":"x","place":{"datum":"WGS84"}}`, &w)
	if w.Fix == nil || w.Coordinates == "" || w.Locality == "" || w.Place == nil {
		t.Errorf("got %+v, want all four", w)
	}
	d := json.NewDecoder(strings.NewReader(`{"where":"road"}`))
	d.DisallowUnknownFields()
	if err := d.Decode(&r); err == nil {
		t.Error("a name that is not the record's was read")
	}
}

func strictly(t *testing.T, wire string, into any) {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader([]byte(wire)))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		t.Fatal(err)
	}
}

func TestHowAnAnimalWasComeByIsWorkedOutWhereThereIsNoDoubt(t *testing.T) {
	for _, c := range []struct {
		name   string
		report Report
		want   string
	}{
		{"what somebody said counts", Report{Acquired: permits.Received, Where: "road", Signs: &record.Signs{Caused: "no"}}, permits.Received},
		{"on a road, and the salvager did not cause it", Report{Where: "road", Signs: &record.Signs{Caused: "no"}}, permits.FoundDead},
		{"on a road, and nobody said who caused it", Report{Where: "road"}, ""},
		{"the salvager caused it", Report{Where: "road", Signs: &record.Signs{Caused: "yes"}}, permits.Killed},
		{"in a care centre", Report{Where: "care", Signs: &record.Signs{Caused: "no"}}, permits.DiedInCare},
		{"put down", Report{Where: "road", Cause: &record.Cause{Cause: "euthanised"}, Signs: &record.Signs{Caused: "no"}}, permits.DiedInCare},
		{"out of a freezer", Report{Where: "freezer", Signs: &record.Signs{Caused: "no"}}, ""},
		{"nobody said where it lay", Report{Signs: &record.Signs{Caused: "no"}}, ""},
	} {
		f := Of(c.report, Asked{Traits: true, Sex: "female", Age: "old"})
		if f.Acquired != c.want || f.Sex != "female" || f.Age != "" {
			t.Errorf("%s: got %q, sex %q, age %q; want %q, female and no age", c.name, f.Acquired, f.Sex, f.Age, c.want)
		}
		if f := Of(c.report, Asked{Sex: "female"}); f.Acquired+f.Sex != "" {
			t.Errorf("%s: no paper asks, yet the facts say %q", c.name, f.Acquired+f.Sex)
		}
	}
}
