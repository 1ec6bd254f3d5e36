package reports

import (
	"cmp"
	"encoding/json"
	"maps"
	"slices"
	"strings"

	"wayfall/permits"
	"wayfall/server/catalogue"
)

// editions is one authority with all its versions, the oldest first.
type editions struct {
	all  []permits.Authority
	said catalogue.Said
}

// read gathers the authorities of the papers by their own id. A document is an
// authority; earlier versions may stand inside it. A document that cannot be
// read is left out here and stays readable in the log.
func read(papers []catalogue.Paper) map[string]*editions {
	out := map[string]*editions{}
	add := func(a permits.Authority, said catalogue.Said) {
		if a.ID == "" {
			return
		}
		e := out[a.ID]
		if e == nil {
			e = &editions{}
			out[a.ID] = e
		}
		if !slices.ContainsFunc(e.all, func(b permits.Authority) bool { return b.Version == a.Version && b.From() == a.From() }) {
			e.all = append(e.all, a)
		}
		if said.LSN >= e.said.LSN {
			e.said = said
		}
	}
	for _, p := range papers {
		var doc struct {
			permits.Authority
			Versions []permits.Authority `json:"versions"`
		}
		if json.Unmarshal(p.Document, &doc) != nil {
			continue
		}
		add(doc.Authority, p.Said)
		for _, v := range doc.Versions {
			add(v, p.Said)
		}
	}
	for _, e := range out {
		slices.SortFunc(e.all, func(x, y permits.Authority) int {
			return cmp.Or(cmp.Compare(x.From(), y.From()), cmp.Compare(x.Version, y.Version))
		})
	}
	return out
}

// at is the version in force on the day, else the latest that began before.
func (e *editions) at(day permits.Date) permits.Authority {
	if a := permits.VersionAt(e.all, e.all[0].ID, day); a != nil {
		return *a
	}
	return e.all[len(e.all)-1]
}

// in is the version that the report of a year is about: the last one that held
// in that year.
func (e *editions) in(year int) permits.Authority { return e.at(permits.NewDate(year, 12, 31)) }

func sortedIDs(all map[string]*editions) []string { return slices.Sorted(maps.Keys(all)) }

// kinds are the kinds of authority as people say them.
var kinds = map[string]string{
	"special_purpose_salvage": "Federal salvage permit", "state_salvage": "State salvage permit", "utility": "Utility permit",
	"scientific_collecting": "Collecting permit", "land_permission": "Land permission", "regulation": "Regulation", "official_duty": "Official duty",
}

// nameOf is what people call an authority.
func nameOf(a permits.Authority) string {
	if a.Name != "" {
		return a.Name
	}
	name := kinds[a.Kind]
	if name == "" {
		name = strings.ReplaceAll(a.Kind, "_", " ")
	}
	if name == "" {
		return a.ID
	}
	return strings.ToUpper(name[:1]) + name[1:]
}

// versionsOf says from when to when each version held, the newest first.
func versionsOf(e *editions, today permits.Date) []Version {
	var out []Version
	now := e.at(today)
	for i, a := range e.all {
		v := Version{Authority: a, From: a.From(), Until: a.ValidTo}
		if i+1 < len(e.all) {
			v.Until = e.all[i+1].From().AddDays(-1)
		}
		v.Now = a.Version == now.Version && a.From() == now.From() && a.InForce(today) == permits.Yes
		out = append(out, v)
	}
	slices.Reverse(out)
	return out
}
