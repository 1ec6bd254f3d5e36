//go:build js && wasm

package main

import (
	"slices"
	"strings"
	"syscall/js"
)

// row is one kind of animal, or a group, as the page lists it.
type row struct {
	Name    string `json:"name"`
	English string `json:"english"`
	Group   bool   `json:"group"`
	rank    int
}

// taxa finds names by their beginnings: taxa(query, n). A name that begins
// with the query comes before one of which a later word does.
func (b *brain) taxa(args []js.Value) (any, error) {
	query, n := plain(text(args, 0)), number(args, 1)
	found := []row{}
	if b.list == nil || query == "" {
		return found, nil
	}
	for i := range b.list.Taxa {
		t := &b.list.Taxa[i]
		if r := rank(query, append([]string{t.English, t.Name}, t.Aliases...)); r > 0 {
			found = append(found, row{t.Name, t.English, false, r})
		}
	}
	for i := range b.list.Bundles {
		u := &b.list.Bundles[i]
		if r := rank(query, append([]string{u.Name}, u.Aliases...)); r > 0 {
			found = append(found, row{u.Name, capital(u.Name), true, r})
		}
	}
	slices.SortStableFunc(found, func(x, y row) int {
		if x.rank != y.rank {
			return x.rank - y.rank
		}
		return strings.Compare(x.English, y.English)
	})
	return found[:min(n, len(found))], nil
}

// groups lists the names that stand for several kinds: groups().
func (b *brain) groups([]js.Value) (any, error) {
	found := []row{}
	if b.list == nil {
		return found, nil
	}
	for i := range b.list.Bundles {
		// A genus is a group too, but a search finds it as well as a list does.
		if kind, ok := strings.CutPrefix(b.list.Bundles[i].Name, "unidentified "); ok {
			found = append(found, row{Name: b.list.Bundles[i].Name, English: capital(kind), Group: true})
		}
	}
	return found, nil
}

// members lists the kinds that a group may stand for: members(group, n).
func (b *brain) members(args []js.Value) (any, error) {
	found := []row{}
	if b.list == nil {
		return found, nil
	}
	for _, t := range b.list.Resolve(text(args, 0), true, nil).Taxa {
		found = append(found, row{Name: t.Name, English: t.English})
	}
	slices.SortFunc(found, func(x, y row) int { return strings.Compare(x.English, y.English) })
	return found[:min(max(number(args, 1), 0), len(found))], nil
}

// plain makes capitals, hyphens and apostrophes not matter.
func plain(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return strings.ContainsRune(" -'’.,", r)
	}), " ")
}

// rank says how well one of the names answers the query: 1 is the whole name,
// 2 its beginning, 3 the beginning of a later word, 0 not at all.
func rank(query string, names []string) int {
	best := 0
	for _, name := range names {
		r, p := 0, plain(name)
		switch {
		case p == query:
			r = 1
		case strings.HasPrefix(p, query):
			r = 2
		case strings.Contains(p, " "+query):
			r = 3
		}
		if r > 0 && (best == 0 || r < best) {
			best = r
		}
	}
	return best
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
