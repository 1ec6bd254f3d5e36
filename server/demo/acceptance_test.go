package demo_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"wayfall/fixtures/packs"
	"wayfall/fixtures/scenario"
	"wayfall/permits"
	"wayfall/server"
	"wayfall/server/demo"
	"wayfall/sync/op"
)

// chance is a source of bytes that gives the same ones in every run.
type chance struct{ *rand.ChaCha8 }

// museum is a server of the story, on the day its yearly report is drawn up.
type museum struct {
	*server.Server
	web     *httptest.Server
	story   scenario.Story
	outcome demo.Outcome
	officer *demo.Client
	folder  string
	end     func()
}

// open starts a server of the story that holds nothing yet, but for the papers
// of the story when they are asked for.
func open(t *testing.T, now func() time.Time) *museum {
	t.Helper()
	return openIn(t, t.TempDir(), now)
}

// reopen ends the server and starts another one on its folder.
func (m *museum) reopen(t *testing.T, now func() time.Time) *museum {
	t.Helper()
	m.end()
	return openIn(t, m.folder, now)
}

func openIn(t *testing.T, folder string, now func() time.Time) *museum {
	t.Helper()
	story := scenario.Build(1)
	zone, err := time.LoadLocation(story.Institution.Zone)
	if err != nil {
		t.Fatal(err)
	}
	cfg := server.Config{Folder: folder, Institution: story.Institution.Key, Name: story.Institution.Name, Zone: zone, Demo: true,
		Now: now, Chance: chance{rand.NewChaCha8([32]byte{1})}, Taxa: packs.Taxa(), Tries: 1000}
	for _, f := range packs.Rules() {
		cfg.Packs = append(cfg.Packs, server.File(f))
	}
	demo.Around(story)(&cfg)
	s, err := server.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	m := &museum{Server: s, web: httptest.NewServer(s.Handler()), story: story, folder: folder}
	m.end = sync.OnceFunc(func() {
		m.web.Close()
		if err := s.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	t.Cleanup(m.end)
	m.officer = m.signIn(t, "desmond")
	return m
}

// pour sends the whole story on the day its yearly report is drawn up.
func pour(t *testing.T) *museum {
	t.Helper()
	day, err := time.Parse("2006-01-02", scenario.Build(1).Season.ReportDay)
	if err != nil {
		t.Fatal(err)
	}
	m := open(t, func() time.Time { return day.Add(15 * time.Hour) })
	m.outcome, err = demo.Pour(context.Background(), demo.Setup{Base: m.web.URL, HTTP: m.web.Client(), Story: m.story,
		Code: demo.Inviter(m.People()), Place: demo.Placer(m.Places())})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func (m *museum) signIn(t *testing.T, person string) *demo.Client {
	t.Helper()
	i := slices.IndexFunc(m.story.People, func(p scenario.Person) bool { return p.Key == person })
	code, err := demo.Inviter(m.People())(context.Background(), m.story.People[i])
	if err != nil {
		t.Fatal(err)
	}
	c := &demo.Client{Base: m.web.URL, HTTP: m.web.Client()}
	var got struct{ Access string }
	if err := c.Do(context.Background(), http.MethodPost, "/v1/sign-in", map[string]any{"code": code}, &got); err != nil {
		t.Fatal(err)
	}
	c.Access = got.Access
	return c
}

func (m *museum) get(t *testing.T, path string, out any) {
	t.Helper()
	if err := m.officer.Do(context.Background(), http.MethodGet, path, nil, out); err != nil {
		t.Fatal(err)
	}
}

type item struct {
	Code, Record, Why, Field string
	Suggest                  any
}

func (m *museum) review(t *testing.T) []item {
	t.Helper()
	var list struct{ Items []item }
	m.get(t, "/v1/review?limit=2000", &list)
	return list.Items
}

// key turns a record back into the key of the story.
func (m *museum) key(record string) string {
	for k, f := range m.outcome.Finds {
		if f.ID.String() == record {
			return k
		}
	}
	return record
}

// flagged returns the keys of the reports with an item of that code for which
// keep is true, each once.
func (m *museum) flagged(items []item, code string, keep func(item) bool) []string {
	var keys []string
	for _, it := range items {
		if it.Code == code && keep(it) {
			keys = append(keys, m.key(it.Record))
		}
	}
	slices.Sort(keys)
	return slices.Compact(keys)
}

// among returns which of want stand in got.
func among(got, want []string) []string {
	var out []string
	for _, k := range got {
		if slices.Contains(want, k) {
			out = append(out, k)
		}
	}
	return out
}

type row struct {
	what      string
	want, got any
}

func (m *museum) fault(t *testing.T, key string) scenario.Fault {
	t.Helper()
	f := m.story.Fault(key)
	if f.Key == "" {
		t.Fatalf("the story has no fault %q", key)
	}
	return f
}

func any_(item) bool { return true }

// TestTheYearComesOutAsItWasPlanted pours the 300 reports through the
// interface and holds what came out against the answers of the story.
func TestTheYearComesOutAsItWasPlanted(t *testing.T) {
	m := pour(t)
	items := m.review(t)
	var rows []row
	add := func(what string, want, got any) { rows = append(rows, row{what, want, got}) }
	sorted := func(keys []string) string {
		keys = slices.Clone(keys)
		slices.Sort(keys)
		return strings.Join(keys, " ")
	}

	var finds struct{ All, Animals int }
	m.get(t, "/v1/reports?limit=1", &finds)
	add("reports kept", len(m.story.Reports), finds.All)
	add("pairs proposed and joined", m.fault(t, "same-carcass").Expected, m.outcome.Joined)
	add("animals", len(m.story.Animals), finds.Animals)
	group := m.fault(t, "several-in-one")
	extra := 0
	for _, k := range group.Keys {
		extra += len(m.outcome.Finds[k].Animals) - 1
	}
	add("animals beyond the reports, in group reports", group.Expected, extra)

	eagle, plover := m.fault(t, "eagle-kept"), m.fault(t, "plover")
	add("eagle in a truck: stopped", sorted(eagle.Keys), sorted(among(m.flagged(items, "stop_species", any_), eagle.Keys)))
	add("eagles received into a museum freezer", 0, m.received(t, "Bald Eagle"))
	add("plover: held, with a clock of 48 hours", "hold 2025 48h", m.plover(t, plover.Keys[0]))

	notCovered := m.flagged(items, "not_covered", any_)
	for _, f := range []string{"listing-ended", "neighbour-state"} {
		want := m.fault(t, f)
		add(f+": not covered", sorted(want.Keys), sorted(among(notCovered, want.Keys)))
	}
	add("wrong-permit: the wind farm's paper is proposed", "2 of 2", m.proposed(t, m.fault(t, "wrong-permit").Keys, "SW-UTILITY"))
	loons := m.fault(t, "loon-quota")
	add("loons over the number", sorted(loons.Keys), sorted(m.flagged(items, "over_quota", any_)))

	extraBags, missing := m.tables(t)
	add("bags without a line", sorted(m.fault(t, "bag-without-line").Keys), sorted(extraBags))
	add("lines without a bag", sorted(m.fault(t, "line-without-bag").Keys), sorted(missing))
	add("preparation numbers on two animals", m.fault(t, "one-number-two-animals").Expected, m.sharedNumbers(t))
	add("months without activity", "rosalind 2025-07", m.nil(t))

	swapped := m.fault(t, "day-and-month")
	add("day and month exchanged, suggested", sorted(swapped.Keys),
		sorted(m.flagged(items, "date_doubt", func(it item) bool { return it.Suggest != nil })))
	places := m.flagged(items, "place_doubt", any_)
	for _, f := range []string{"pin-indoors", "pin-at-zero", "pin-turned", "road-in-lake"} {
		want := m.fault(t, f)
		add(f, sorted(want.Keys), sorted(among(places, want.Keys)))
	}
	add("place flags in all", 6, len(places))
	add("no datum or error: a wide radius is reckoned", "9 of 9", m.wide(t, m.fault(t, "no-datum-or-error").Keys))

	t.Log("SHOW expected | got")
	for _, r := range rows {
		mark := "  "
		if fmt.Sprint(r.want) != fmt.Sprint(r.got) {
			mark = "✗ "
			t.Errorf("%s: got %v, want %v", r.what, r.got, r.want)
		}
		t.Logf("SHOW %s%s: %v | %v", mark, r.what, r.want, r.got)
	}
	t.Run("every number of the year, counted again from the log", m.everyNumberAgain)
}

// received counts the animals of that name that a museum freezer holds.
func (m *museum) received(t *testing.T, english string) int {
	t.Helper()
	var list struct {
		Reports []struct {
			Name    string
			Animals []struct{ Disposition, Freezer string }
		}
	}
	m.get(t, "/v1/reports?limit=500&text="+strings.ReplaceAll(english, " ", "+"), &list)
	n := 0
	for _, r := range list.Reports {
		for _, a := range r.Animals {
			if r.Name == english && (a.Disposition == "received" || a.Freezer != "") {
				n++
			}
		}
	}
	return n
}

type sheet struct {
	Verdicts []struct {
		Outcome string
		By      struct {
			Who   string
			Value permits.Verdict
		}
	}
	Fields []struct {
		Field string
		Said  []struct{ Value any }
	}
}

func (m *museum) report(t *testing.T, key string) sheet {
	t.Helper()
	var s sheet
	m.get(t, "/v1/reports/"+m.outcome.Finds[key].ID.String(), &s)
	return s
}

// verdict returns the newest verdict of the server.
func (m *museum) verdict(t *testing.T, key string) (v permits.Verdict) {
	t.Helper()
	for _, one := range m.report(t, key).Verdicts {
		if one.By.Who == "server" {
			v = one.By.Value
		}
	}
	return v
}

func (m *museum) plover(t *testing.T, key string) string {
	v := m.verdict(t, key)
	found := m.outcome.Finds[key].Report.Found.Date
	for _, o := range v.Obligations {
		if o.Code == "NOTIFY_FEDERAL" && v.Outcome == permits.HoldCallFirst && o.Due.At.Known() {
			from, err := permits.ParseDate(found)
			if err == nil && from.DaysUntil(o.Due.At.Date) == 2 {
				return "hold 2025 48h"
			}
		}
	}
	return fmt.Sprintf("%v %v", v.Outcome, v.Obligations)
}

func (m *museum) proposed(t *testing.T, keys []string, paper string) string {
	n := 0
	for _, k := range keys {
		if slices.Contains(m.verdict(t, k).Proposes, paper) {
			n++
		}
	}
	return fmt.Sprintf("%d of %d", n, len(keys))
}

// tables returns the animals whose bags no list names, and those whose bags
// never came, over all arrivals.
func (m *museum) tables(t *testing.T) (extra, missing []string) {
	t.Helper()
	of := map[string]string{}
	for animal, id := range m.outcome.Kept {
		of[id.String()] = animal
	}
	for _, id := range m.outcome.Arrivals {
		var s struct {
			BagOnly  []struct{ Owner string } `json:"bags_without_line"`
			LineOnly []struct{ Owner string } `json:"lines_without_bag"`
		}
		m.get(t, "/v1/arrivals/"+id, &s)
		for _, b := range s.BagOnly {
			extra = append(extra, of[b.Owner])
		}
		for _, l := range s.LineOnly {
			missing = append(missing, of[l.Owner])
		}
	}
	return extra, missing
}

// sharedNumbers counts the preparation numbers that more than one animal
// bears, as the animals' own sheets say it.
func (m *museum) sharedNumbers(t *testing.T) int {
	t.Helper()
	shared := map[string]bool{}
	for _, id := range m.preparedAnimals() {
		var s struct {
			No      string `json:"preparation_no"`
			Numbers []struct {
				Field, Value string
				Conflict     []struct{ ID string }
			}
		}
		m.get(t, "/v1/animals/"+id.String(), &s)
		for _, n := range s.Numbers {
			if n.Field == "preparation_no" && len(n.Conflict) > 0 {
				shared[n.Value] = true
			}
		}
	}
	return len(shared)
}

func (m *museum) preparedAnimals() []op.ID {
	var ids []op.ID
	for _, p := range m.story.Preparations {
		ids = append(ids, m.outcome.Kept[p.Animal])
	}
	return ids
}

// nil returns the months of the season in which somebody on the papers did
// nothing under any of them. Under one paper alone a month may be empty though
// the person was out: a bat is no line of a bird permit.
func (m *museum) nil(t *testing.T) string {
	t.Helper()
	papers, idle := map[string]int{}, map[string]int{}
	for _, paper := range m.story.Permits {
		var y struct {
			Persons []struct {
				Person string
				Listed bool
				Idle   []string `json:"months_without_activity"`
			}
		}
		m.get(t, "/v1/permits/"+paper.Key+"/years/2025", &y)
		for _, p := range y.Persons {
			if !p.Listed {
				continue
			}
			papers[p.Person]++
			for _, month := range p.Idle {
				if month >= m.story.Season.From[:7] && month <= m.story.Season.Until[:7] {
					idle[p.Person+" "+month]++
				}
			}
		}
	}
	var all []string
	for key, n := range idle {
		if person, _, _ := strings.Cut(key, " "); n == papers[person] {
			all = append(all, key)
		}
	}
	slices.Sort(all)
	return strings.Join(all, ", ")
}

// wide counts the reports whose place has a radius that holds what was not
// said: more than the device or the digits alone would give.
func (m *museum) wide(t *testing.T, keys []string) string {
	n := 0
	for _, k := range keys {
		for _, f := range m.report(t, k).Fields {
			if f.Field != "place" || len(f.Said) == 0 {
				continue
			}
			place, _ := f.Said[0].Value.(map[string]any)
			if r, _ := place["radius_m"].(float64); r >= 30 {
				n++
			}
		}
	}
	return fmt.Sprintf("%d of %d", n, len(keys))
}
