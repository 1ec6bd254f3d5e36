package server_test

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"wayfall/fixtures/scenario"
	"wayfall/geo"
	"wayfall/geo/region"
	"wayfall/geo/sanity"
	facts "wayfall/permits/screen/find"
	"wayfall/server"
	"wayfall/server/demo"
	"wayfall/server/people"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// roleOf turns what people do in the story into roles.
func roleOf(p scenario.Person) []people.Role {
	var out []people.Role
	for _, r := range p.Roles {
		switch r {
		case "salvager":
			out = append(out, people.Salvager)
		case "compliance officer", "permit holder":
			out = append(out, people.PermitOfficer)
		case "registrar", "freezer manager":
			out = append(out, people.Registrar)
		case "preparator":
			out = append(out, people.Preparator)
		case "tissue curator", "curator":
			out = append(out, people.Reader)
		}
	}
	return out
}

// season is the invented year, poured through the interface.
type season struct {
	*museum
	story scenario.Story
	out   demo.Outcome
	key   map[string]string // record id of a report or an animal -> key of its report
}

func pour(t *testing.T) *season {
	t.Helper()
	story := scenario.Build(1)
	m := open(t, func(c *server.Config) {
		c.Home = []region.ID{"26", "18"}
		c.Sites = sites(t, story)
	})
	m.now.Store(time.Date(2025, 12, 20, 18, 0, 0, 0, time.UTC).UnixMilli())
	for _, p := range story.People {
		if err := m.People().Keep(t.Context(), people.Person{ID: p.Key, Name: p.Name, Institution: "sablewater", Roles: roleOf(p)}); err != nil {
			t.Fatal(err)
		}
	}
	places := facts.Map{}
	out, err := demo.Pour(t.Context(), demo.Setup{Base: m.http.URL, HTTP: m.http.Client(), Story: story,
		Code: func(ctx context.Context, p scenario.Person) (string, error) {
			return m.People().IssueCode(ctx, p.Key, people.CodeTerms{Lasts: time.Hour})
		},
		Place: func(acts []op.Act) record.Georeference { return placeOf(places, acts) },
	})
	if err != nil {
		t.Fatal(err)
	}
	s := &season{museum: m, story: story, out: out, key: map[string]string{}}
	for key, f := range out.Finds {
		s.key[f.ID.String()] = key
		for _, a := range f.Animals {
			s.key[a.String()] = key
		}
	}
	return s
}

func sites(t *testing.T, story scenario.Story) []sanity.Place {
	t.Helper()
	var out []sanity.Place
	add := func(name string, p scenario.Point) {
		at, err := geo.At(geo.Degrees(p.Lat), geo.Degrees(p.Lon))
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, sanity.Place{Name: name, At: geo.Circle{Centre: at, Radius: 150}})
	}
	add("the museum", story.Institution.Site)
	for _, p := range story.People {
		if p.Home != nil {
			add("a home", *p.Home)
		}
	}
	return out
}

// placeOf works out the place of a find as the phone's core does.
func placeOf(m facts.Map, acts []op.Act) record.Georeference {
	var w facts.Whereabouts
	for _, a := range acts {
		switch a.Field {
		case "fix":
			w.Fix = new(record.Fix)
			_ = a.Value.Into(w.Fix)
		case "coordinates":
			_ = a.Value.Into(&w.Coordinates)
		case "locality":
			_ = a.Value.Into(&w.Locality)
		}
	}
	g, err := m.Place(w)
	if err != nil {
		return record.Georeference{Source: "words"}
	}
	return g
}

// item is one line of the list of what needs a look.
type item struct{ ID, Code, Why, Kind, Record, Other, Field string }

func (s *season) planted(key string) scenario.Fault {
	s.t.Helper()
	for _, f := range s.story.Faults {
		if f.Key == key {
			return f
		}
	}
	s.t.Fatalf("the story plants nothing called %s", key)
	return scenario.Fault{}
}

func TestTheInventedYearComesOutAsItWasPlanted(t *testing.T) {
	if testing.Short() {
		t.Skip("pours 300 reports")
	}
	s := pour(t)
	if s.out.Joined != 6 {
		t.Errorf("%d pairs were proposed and joined, want 6", s.out.Joined)
	}
	var list struct{ All, Animals int }
	expect(t, "reports", s.as("gwen").get("/v1/reports"), 200).into(t, &list)
	if list.All != 300 || list.Animals != 297 {
		t.Errorf("got %d reports of %d animals, want 300 of 297", list.All, list.Animals)
	}
	var all struct {
		Items  []item
		Counts map[string]int
	}
	expect(t, "review", s.as("gwen").get("/v1/review?limit=2000"), 200).into(t, &all)
	t.Logf("open items by code: %v", all.Counts)
	by := map[string][]string{}
	why := map[string]string{}
	for _, it := range all.Items {
		by[it.Code] = append(by[it.Code], s.key[it.Record])
		why[it.Code+" "+s.key[it.Record]] = it.Why
	}
	for _, c := range []struct{ fault, code string }{
		{"loon-quota", "over_quota"},
		{"eagle-kept", "stop_species"},
		{"listing-ended", "not_covered"},
		{"neighbour-state", "not_covered"},
		{"day-and-month", "date_doubt"},
		{"pin-indoors", "place_doubt"}, {"pin-at-zero", "place_doubt"}, {"pin-turned", "place_doubt"}, {"road-in-lake", "place_doubt"},
	} {
		for _, key := range s.planted(c.fault).Keys {
			if !slices.Contains(by[c.code], key) {
				t.Errorf("%s: %s is not listed under %s; %s", c.fault, key, c.code, s.verdict(key))
			}
		}
	}
	exactly(t, "over_quota", by["over_quota"], s.planted("loon-quota").Keys)
	exactly(t, "date_doubt", by["date_doubt"], s.planted("day-and-month").Keys)
	var places []string
	for _, fault := range []string{"pin-indoors", "pin-at-zero", "pin-turned", "road-in-lake"} {
		places = append(places, s.planted(fault).Keys...)
	}
	exactly(t, "place_doubt", by["place_doubt"], places)
	if turned := s.planted("pin-turned").Keys[0]; !strings.Contains(why["place_doubt "+turned], "swapped") {
		t.Errorf("%s: got %q, want it to say that the numbers are swapped", turned, why["place_doubt "+turned])
	}
	exactly(t, "stop_species", by["stop_species"], s.planted("eagle-kept").Keys)
	s.needless(t, by, why)
	s.plainly(t)
}

// needless fails for reports that nothing was planted on and that are listed
// all the same as not to be read.
func (s *season) needless(t *testing.T, by map[string][]string, why map[string]string) {
	t.Helper()
	for _, code := range []string{"bad_value", "unknown_word", "unknown_field", "photo_bad", "wrong_actor", "lost_device", "differs", "pair_proposed"} {
		for _, key := range by[code] {
			t.Errorf("%s is listed under %s: %s", key, code, why[code+" "+key])
		}
	}
}

func exactly(t *testing.T, what string, got, want []string) {
	t.Helper()
	got, want = slices.Clone(got), slices.Clone(want)
	slices.Sort(got)
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("%s: got %v, want %v", what, got, want)
	}
}

// verdict tells what the server said of a report, for a failure.
func (s *season) verdict(key string) string {
	r := s.as("gwen").get("/v1/reports/" + s.out.Finds[key].ID.String())
	var one struct {
		Taxon    string
		Deed     string
		Verdicts []struct {
			Outcome  string
			By       struct{ Who string }
			Findings []struct{ Rule, Outcome, Because string }
		}
	}
	if err := json.Unmarshal(r.body, &one); err != nil {
		return err.Error()
	}
	out := []string{one.Taxon, one.Deed}
	for _, v := range one.Verdicts {
		out = append(out, v.By.Who+": "+v.Outcome)
		for _, f := range v.Findings[:min(2, len(v.Findings))] {
			out = append(out, fmt.Sprintf("%s %s %s", f.Rule, f.Outcome, f.Because))
		}
	}
	return strings.Join(out, "; ")
}
