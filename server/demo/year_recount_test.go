package demo_test

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"

	"wayfall/fixtures/packs"
	"wayfall/server/demo"
)

// What follows counts a year again from the operations of the log as they are
// on the wire. It shares nothing with the folding, the book, the reports or
// the compliance of the program: only the words of the wire are the same.

type rawAct struct {
	Field string          `json:"f"`
	Kind  string          `json:"k"`
	Val   json.RawMessage `json:"val"`
}

type rawOp struct {
	Op struct {
		Actor string
		On    []struct {
			ID, Kind string
			Acts     []rawAct
		}
	}
	Receipt struct {
		LSN         uint64
		Eff, Effect string
	}
	Cursor string
	More   bool
}

// stamp orders "milliseconds.counter".
type stamp struct{ ms, n int64 }

func stampOf(text string) (s stamp) {
	ms, n, _ := strings.Cut(text, ".")
	s.ms, _ = strconv.ParseInt(ms, 10, 64)
	s.n, _ = strconv.ParseInt(n, 10, 64)
	return s
}

// rawRecord is a record as its last writer left each field.
type rawRecord struct {
	id, kind string
	first    uint64
	author   string
	vals     map[string]json.RawMessage
	at       map[string]stamp
	adds     map[string][]json.RawMessage // of sets and of logs, in the order of the log
}

func (r *rawRecord) text(field string) (s string) {
	_ = json.Unmarshal(r.vals[field], &s)
	return s
}

// rawLog pulls the whole log as a reader of the interface.
func rawLog(t *testing.T, c *demo.Client) (all map[string]*rawRecord, entries int) {
	t.Helper()
	all = map[string]*rawRecord{}
	for cursor, more := "", true; more; {
		body, err := c.Get(context.Background(), "/v1/sync/pull?limit=1000"+cursor)
		if err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(bytes.NewReader(body))
		lines.Buffer(nil, 4<<20)
		for lines.Scan() {
			var o rawOp
			if err := json.Unmarshal(lines.Bytes(), &o); err != nil {
				t.Fatal(err)
			}
			if o.Cursor != "" {
				cursor, more = "&cursor="+url.QueryEscape(o.Cursor), o.More
				continue
			}
			entries++
			if o.Receipt.Effect == "ok" || o.Receipt.Effect == "review" {
				for _, g := range o.Op.On {
					take(all, o, g.ID, g.Kind, g.Acts)
				}
			}
		}
	}
	return all, entries
}

func take(all map[string]*rawRecord, o rawOp, id, kind string, acts []rawAct) {
	r := all[id]
	if r == nil {
		r = &rawRecord{id: id, kind: kind, first: o.Receipt.LSN, author: o.Op.Actor, vals: map[string]json.RawMessage{}, at: map[string]stamp{}, adds: map[string][]json.RawMessage{}}
		all[id] = r
	}
	for _, a := range acts {
		switch at := stampOf(o.Receipt.Eff); a.Kind {
		case "set":
			if was, set := r.at[a.Field]; !set || at.ms > was.ms || at.ms == was.ms && at.n >= was.n {
				r.vals[a.Field], r.at[a.Field] = a.Val, at
			}
		case "add", "evt":
			r.adds[a.Field] = append(r.adds[a.Field], a.Val)
		}
	}
}

// rawTake is one animal with what a permit asks of it.
type rawTake struct {
	animal, name, taxon, material, state, county string
	day, time, person, deed, place               string
	judged                                       bool
	outcome, named                               string
	relies                                       []string
	blocking                                     []struct{ Authority, Layer, Effect string }
	duties                                       []struct{ Code, Due string }
	received                                     string
	tagged, sure                                 bool
	told                                         []*rawRecord // its reports
	handed                                       []struct{ From, To, Day string }
}

func (k *rawTake) under(paper string) bool {
	near := slices.ContainsFunc(k.blocking, func(f struct{ Authority, Layer, Effect string }) bool { return f.Authority == paper })
	// A paper that is only named answers for nothing that another paper, a
	// regulation or no law at all lets be taken: a report leaves out what was
	// taken under other authority (USFWS form 3-202-1, instructions), and the
	// bird act does not reach introduced species (70 FR 12710).
	named := k.named == paper && !(k.judged && k.outcome == "allow_with_obligations")
	return named || slices.Contains(k.relies, paper) || near
}

// full reports whether a full number is all that stands in the way.
func (k *rawTake) full(paper string) bool {
	n := 0
	for _, f := range k.blocking {
		if f.Authority == paper {
			if n++; f.Layer != "quota" {
				return false
			}
		}
	}
	return n > 0
}

func (k *rawTake) covered(paper string) bool {
	return slices.Contains(k.relies, paper) || k.full(paper) || k.named == paper && (!k.judged || k.full(""))
}

// farther is how far an animal has come, of two records of it.
var farther = []string{"", "left", "vanished", "never_arrived", "agency", "private_freezer", "received", "transferred", "destroyed"}

// rawTakes finds every animal of which there is a report, each once.
func rawTakes(t *testing.T, all map[string]*rawRecord, county map[string]string) (out []*rawTake) {
	t.Helper()
	root := func(id string) string {
		for range 20 {
			r := all[id]
			if r == nil || r.text("same_as") == "" {
				return id
			}
			id = r.text("same_as")
		}
		t.Fatalf("animal %s is joined in a ring", id)
		return ""
	}
	members, reports := map[string][]*rawRecord{}, map[string][]*rawRecord{}
	for id, r := range all {
		switch r.kind {
		case "animal":
			members[root(id)] = append(members[root(id)], r)
		case "report":
			for _, raw := range r.adds["animals"] {
				var animal string
				_ = json.Unmarshal(raw, &animal)
				if at := root(animal); !slices.Contains(reports[at], r) {
					reports[at] = append(reports[at], r)
				}
			}
		}
	}
	for id, told := range reports {
		slices.SortFunc(told, func(a, b *rawRecord) int { return cmp.Compare(a.first, b.first) })
		slices.SortFunc(members[id], func(a, b *rawRecord) int {
			own := func(r *rawRecord) int {
				if r.id == id {
					return 0
				}
				return 1
			}
			return cmp.Or(cmp.Compare(own(a), own(b)), cmp.Compare(a.id, b.id))
		})
		out = append(out, rawTakeOf(id, members[id], told, county))
	}
	slices.SortFunc(out, func(a, b *rawTake) int { return cmp.Compare(a.animal, b.animal) })
	return out
}

// rawTakeOf reads one animal. The county of a point that names none is the one
// in which the story put the find.
func rawTakeOf(id string, members, told []*rawRecord, county map[string]string) *rawTake {
	teller := told[0]
	if i := slices.IndexFunc(told, func(r *rawRecord) bool { return r.text("deed") == "taken" }); i >= 0 {
		teller = told[i]
	}
	k := &rawTake{animal: id, deed: teller.text("deed"), named: teller.text("authority"), person: cmp.Or(teller.text("salvager"), teller.author), material: cmp.Or(teller.text("material"), "carcass")}
	k.told = told
	var when struct{ Earliest, Precision string }
	for _, field := range []string{"found", "taken_at"} {
		_ = json.Unmarshal(teller.vals[field], &when)
	}
	if len(when.Earliest) >= 10 {
		k.day, k.time = when.Earliest[:10], when.Earliest
	}
	var place struct {
		State, County string
		Known         bool
	}
	_ = json.Unmarshal(teller.vals["place"], &place)
	if place.County == "" && place.Known {
		place.County = county[teller.id]
	}
	k.state, k.county = cmp.Or(map[string]string{"US-MI": "Michigan", "US-IN": "Indiana"}[place.State], "not known"), cmp.Or(place.County, "not known")
	for _, m := range members {
		var taxon struct{ Name, Written, Certainty string }
		_ = json.Unmarshal(m.vals["taxon"], &taxon)
		k.sure = k.sure || taxon.Name != "" && taxon.Certainty == "sure"
		k.tagged = k.tagged || len(m.adds["tags"]) > 0
		if k.taxon == "" {
			k.taxon, k.name = taxon.Name, taxon.Written
		}
		if at := m.text("disposition"); slices.Index(farther, at) > slices.Index(farther, k.place) {
			k.place = at
		}
		for _, raw := range m.adds["custody"] {
			var c struct {
				From, To string
				At       struct{ Earliest string }
			}
			_ = json.Unmarshal(raw, &c)
			k.handed = append(k.handed, struct{ From, To, Day string }{c.From, c.To, c.At.Earliest[:min(10, len(c.At.Earliest))]})
			if c.To == "the institution" && k.received == "" {
				k.received = c.At.Earliest
			}
		}
	}
	k.judge(teller)
	return k
}

// judge reads the newest verdict of the report.
func (k *rawTake) judge(r *rawRecord) {
	for _, raw := range r.adds["verdicts"] {
		var v struct {
			Outcome     string
			Relies      []struct{ Authority string }
			Findings    []struct{ Authority, Layer, Effect string }
			Obligations []struct {
				Code string
				Due  struct{ At string }
			}
		}
		if json.Unmarshal(raw, &v) != nil || v.Outcome == "" {
			continue
		}
		k.judged, k.outcome, k.relies, k.blocking, k.duties = true, v.Outcome, nil, nil, nil
		for _, rel := range v.Relies {
			k.relies = append(k.relies, rel.Authority)
		}
		for _, f := range v.Findings {
			if f.Effect == "note" || f.Effect == "allow" {
				break
			}
			k.blocking = append(k.blocking, f)
		}
		for _, o := range v.Obligations {
			k.duties = append(k.duties, struct{ Code, Due string }{o.Code, o.Due.At})
		}
	}
}

// classes is the class of each scientific name, from the list as it is on disk.
func classes(t *testing.T) (class, english map[string]string) {
	t.Helper()
	var list struct {
		Taxa []struct{ Name, English, Class string }
	}
	if err := json.Unmarshal(packs.Taxa(), &list); err != nil {
		t.Fatal(err)
	}
	class, english = map[string]string{}, map[string]string{}
	for _, x := range list.Taxa {
		class[x.Name], english[x.Name] = x.Class, x.English
	}
	return class, english
}

// rawPaper is a paper as it stands in the log.
type rawPaper struct {
	ID      string
	From    string `json:"valid_from"`
	Until   string `json:"valid_to"`
	Persons []struct{ ID, From, To string }
	Quotas  []struct {
		ID     string
		Taxa   []string
		Limit  int
		Window string
	}
}

func rawPapers(t *testing.T, all map[string]*rawRecord) (out []rawPaper) {
	t.Helper()
	for _, r := range all {
		if r.kind == "authority" {
			var p rawPaper
			if err := json.Unmarshal(r.vals["document"], &p); err != nil {
				t.Fatal(err)
			}
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b rawPaper) int { return cmp.Compare(a.ID, b.ID) })
	return out
}
