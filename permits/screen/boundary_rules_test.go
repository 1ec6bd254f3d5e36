package screen_test

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"wayfall/fixtures/packs"
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
)

// rulesInTime gives every rule and law that is asked by itself a first and a
// last day around the find, one at a time, and asks that it speaks inside and
// is silent outside.
func (b *table) rulesInTime(book *rules.Book, list *permits.Checklist) {
	b.t.Helper()
	sites := b.everySite()
	for _, file := range packs.Rules() {
		var pack map[string]any
		if err := json.Unmarshal(file.Data, &pack); err != nil {
			b.t.Fatal(err)
		}
		for _, part := range []string{"rules", "laws"} {
			entries, _ := pack[part].([]any)
			for n, e := range entries {
				entry := e.(map[string]any)
				if part == "rules" && entry["when"] == nil {
					continue // only laws refer to it, and they have dates of their own
				}
				b.inTime(file.Name, pack, part, n, entry, sites, book, list)
			}
		}
	}
}

func (b *table) everySite() []site {
	b.t.Helper()
	var all []permits.Authority
	for _, text := range [][]byte{packs.Authorities(), packs.DemoAuthorities()} {
		var some []permits.Authority
		if err := json.Unmarshal(text, &some); err != nil {
			b.t.Fatal(err)
		}
		all = append(all, some...)
	}
	var out []site
	f := loadVectors(b.t)
	for i := range f.Cases {
		for _, facts := range f.facts(b.t, &f.Cases[i]) {
			out = append(out, site{f.Cases[i].ID, facts, all, f.Cases[i].Tallies})
		}
	}
	for _, c := range michigan {
		out = append(out, site{c.name, owl(c.change), all, c.tally})
	}
	return out
}

// speaks counts the findings of one rule, of one clause where several share
// its name, or of one law.
func speaks(v *permits.Verdict, pack, part string, entry map[string]any) int {
	n := 0
	id, _ := entry["id"].(string)
	because, _ := entry["because"].(string)
	longest := ""
	for _, part := range strings.FieldsFunc(because, func(r rune) bool { return r == '{' || r == '}' }) {
		if len(part) > len(longest) {
			longest = part
		}
	}
	for _, f := range v.Findings {
		switch {
		case f.Pack != pack && part == "rules":
		case part == "laws" && f.Law == id, part == "rules" && string(f.Rule) == id && f.Law == "" && f.Cites == entry["citation"] &&
			f.Layer.String() == entry["layer"] && strings.Contains(f.Because, longest):
			n++
		}
	}
	return n
}

func (b *table) inTime(name string, pack map[string]any, part string, n int, entry map[string]any, sites []site, book *rules.Book, list *permits.Checklist) {
	b.t.Helper()
	id := entry["id"].(string)
	packID := pack["id"].(string)
	done := 0
	for _, s := range sites {
		w := s.world(book, list)
		before := screen.Check(&s.facts, w)
		day, last := days(&s.facts)
		was := speaks(&before, packID, part, entry)
		if was == 0 || !day.Known() || done == 2 {
			continue
		}
		done++
		for _, edge := range []struct {
			member string
			day    permits.Date
			inside bool
		}{{"effective_from", last.AddDays(-1), true}, {"effective_from", last, true}, {"effective_from", last.AddDays(1), false},
			{"effective_to", day.AddDays(1), true}, {"effective_to", day, true}, {"effective_to", day.AddDays(-1), false}} {
			// Only rules whose own dates leave room are moved.
			if entry["effective_from"] != nil || entry["effective_to"] != nil {
				if part == "rules" {
					continue
				}
			}
			old, had := entry[edge.member]
			entry[edge.member] = edge.day.String()
			after := b.rebuilt(name, pack, &s, list)
			if entry[edge.member] = old; !had {
				delete(entry, edge.member)
			}
			b.count("first and last day of a rule or law")
			now := speaks(&after, packID, part, entry)
			switch {
			case edge.inside && day != last && now == was && !after.Outcome.Permits():
				// known to a stretch: a rule that held on some of its days satisfies nobody
			case edge.inside && (now != was || after.Outcome != before.Outcome):
				b.t.Errorf("%s %s %s %s: inside, got %s and %d findings, want %s and %d as before", name, id, edge.member, edge.day, after.Outcome, now, before.Outcome, was)
			case !edge.inside && now >= was:
				b.t.Errorf("%s %s %s %s: outside, yet it speaks on %s (%s)", name, id, edge.member, edge.day, day, s.name)
			}
		}
	}
	if done == 0 {
		b.by["rules that no scenario reaches"]++
	}
}

// rebuilt judges a site with one pack in the place of the shipped one.
func (b *table) rebuilt(name string, pack map[string]any, s *site, list *permits.Checklist) permits.Verdict {
	b.t.Helper()
	text, err := json.Marshal(pack)
	if err != nil {
		b.t.Fatal(err)
	}
	all := slices.Clone(b.loaded())
	p, err := rules.Load(name, text)
	if err != nil {
		b.t.Fatal(err)
	}
	for i, f := range packs.Rules() {
		if f.Name == name {
			all[i] = p
		}
	}
	book, err := rules.NewBook(all...)
	if err != nil {
		b.t.Fatal(err)
	}
	return screen.Check(&s.facts, s.world(book, list))
}

func (b *table) loaded() []*rules.Pack {
	b.t.Helper()
	return loadBook(b.t).Packs()
}

// thresholds walks one unit below and above every number that a pack states.
func (b *table) thresholds(book *rules.Book, list *permits.Checklist) {
	b.t.Helper()
	sites := b.everySite()
	set := map[string]func(*screen.Facts, int){
		"event_carcass_count": func(f *screen.Facts, n int) { f.Count, f.EventCount = 1, n },
		"distance_to_shore_m": func(f *screen.Facts, n int) { f.ShoreMetres = &n },
		"activity_count":      func(f *screen.Facts, n int) { f.ActivityCount = &n },
		"offline_devices":     func(f *screen.Facts, n int) { f.OfflineDevices = n },
	}
	stricter := map[string]bool{"event_carcass_count": true, "distance_to_shore_m": true, "offline_devices": true} // with a larger number
	for _, fact := range slices.Sorted(maps.Keys(set)) {
		for _, s := range sites {
			w := s.world(book, list)
			var last permits.Verdict
			for i, n := range []int{1, 2, 3, 4, 5, 6, 7, 401, 402, 403, 404} {
				f := s.facts
				set[fact](&f, n)
				v := screen.Check(&f, w)
				b.count("one unit below and above a number")
				if i > 0 && stricter[fact] && v.Outcome.Permits() && !last.Outcome.Permits() {
					b.wrong("%s: with %s %d it is permitted by %s, with fewer it was %s by %s", s.name, fact, n, v.Deciding.Rule, last.Outcome, last.Deciding.Rule)
				}
				last = v
			}
		}
	}
}

// thresholdInTime walks the British reporting thresholds over the day on which
// they changed, 1 October 2022: for a gull three before it and one from it on
// (Defra and APHA, as relayed by councils and societies).
func (b *table) thresholdInTime(book *rules.Book, list *permits.Checklist) {
	b.t.Helper()
	for _, s := range b.everySite() {
		if s.facts.Activity != "salvage" || !slices.Contains(s.facts.Jurisdictions, "GB-ENG") {
			continue
		}
		for _, day := range []int{-2, -1, 0, 1} {
			for count := 1; count <= 6; count++ {
				f := s.facts
				f.Taxon, f.Identified, f.Count, f.EventCount = "Larus argentatus", permits.Yes, 1, count
				f.Found, f.Possessed = permits.On(permits.NewDate(2022, 10, 1).AddDays(day)), permits.On(permits.NewDate(2022, 10, 1).AddDays(day))
				v := screen.Check(&f, s.world(book, list))
				b.count("a threshold on the day it changed")
				held := slices.ContainsFunc(v.Findings, func(f permits.Finding) bool { return f.Rule == "R-DIEOFF-GB" && f.Effect.Blocks() })
				if want := count >= 3 || day >= 0; held != want {
					b.t.Errorf("%d gulls on %s: got held %v, want %v", count, f.Found, held, want)
				}
			}
		}
	}
}
