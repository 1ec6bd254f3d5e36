// Package gazetteer keeps a list of named places and answers where a name is,
// and how large a place it stands for.
//
// It promises to guess nothing: a name that more than one place bears is
// answered with all of them and never with the largest. It compares names and
// not spellings: case, dots, apostrophes, accents, spaces and "St." for
// "Saint" make no difference. The points are those of its source and say
// nothing of a place's extent, so every place comes with a radial out of a
// table (see Radial). It knows only what is on the list; that a name is on it
// once does not prove that no hamlet elsewhere bears it too.
package gazetteer

import (
	"math"
	"sort"
	"strings"
	"unicode"
	"unicode/utf8"

	"wayfall/geo"
)

// Class says what kind of feature a name stands for. The zero Class is
// unknown.
type Class uint8

// Classes of features.
const (
	UnknownClass Class = iota
	// Town is a populated place of any size.
	Town
	// Section is a named part of a town.
	Section
	// Former is a place that was given up or lost its name.
	Former
)

var classNames = [...]string{"unknown", "town", "section", "former"}

// String returns the class in a word.
func (c Class) String() string {
	if int(c) < len(classNames) {
		return classNames[c]
	}
	return classNames[0]
}

// Place is one named place.
type Place struct {
	Name string
	// State is an ISO 3166-2 code such as "US-MI".
	State string
	// County is the name of the county or what stands in its place, such as
	// "Mason County"; "" is unknown.
	County string
	At     geo.Point
	// Population is 0 when it is unknown.
	Population int
	Class      Class
}

// Radial is the distance from the place's point that is taken to hold all of
// it.
func (p Place) Radial() geo.Metres { return Radial(p.Class, p.Population) }

// List is a set of places ready to be asked. It may be asked by many at once.
type List struct {
	edition string
	partial bool
	places  []Place
	keys    []string // the folded name of each place
	states  []span   // in order
}

// span is where a state's places stand in the list.
type span struct {
	state    string
	from, to int
}

// limits of what is accepted, far above what the data needs.
const (
	maxName       = 120
	maxPopulation = 100_000_000
	grid          = 1e5 // nodes to a degree: points are kept to about a metre
)

// Build makes a list of places. edition names the source and its month, for
// the credit. Points are rounded to the fifth decimal.
func Build(edition string, places []Place) (*List, error) {
	return build(edition, false, places)
}

func build(edition string, partial bool, places []Place) (*List, error) {
	if len(edition) > maxName || !utf8.ValidString(edition) {
		return nil, geo.Errorf(geo.Damaged, "the name of the edition cannot be kept")
	}
	l := &List{edition: edition, partial: partial, places: append([]Place(nil), places...)}
	for i := range l.places {
		if err := l.places[i].settle(); err != nil {
			return nil, err
		}
	}
	l.order()
	for i := 1; i < len(l.places); i++ {
		if l.places[i] == l.places[i-1] {
			return nil, geo.Errorf(geo.Damaged, "the place %q in %s stands twice in the list", l.places[i].Name, l.places[i].State)
		}
	}
	return l, nil
}

// settle checks a place and puts its point on the grid.
func (p *Place) settle() error {
	if !printable(p.Name, 1) || Fold(p.Name) == "" || !printable(p.State, 4) || !printable(p.County, 0) {
		return geo.Errorf(geo.Damaged, "a place named %q in %q, %q, cannot be kept", p.Name, p.County, p.State)
	}
	if !p.At.Known() {
		return geo.Errorf(geo.Damaged, "the place %q has no point", p.Name)
	}
	if p.Population < 0 || p.Population > maxPopulation || int(p.Class) >= len(classNames) {
		return geo.Errorf(geo.Damaged, "the place %q has a population or a class that cannot be", p.Name)
	}
	at, err := pointOf(p.nodes())
	p.At = at
	return err
}

func printable(s string, least int) bool {
	if len(s) < least || len(s) > maxName || !utf8.ValidString(s) || strings.TrimSpace(s) != s {
		return false
	}
	return strings.IndexFunc(s, func(r rune) bool { return !unicode.IsPrint(r) }) < 0
}

func (p *Place) nodes() (lat, lon int64) {
	return int64(math.Round(float64(p.At.Lat()) * grid)), int64(math.Round(float64(p.At.Lon()) * grid))
}

func pointOf(lat, lon int64) (geo.Point, error) {
	return geo.At(geo.Degrees(float64(lat)/grid), geo.Degrees(float64(lon)/grid))
}

// order sorts the places by state and folded name and finds each state's span.
func (l *List) order() {
	type entry struct {
		key   string
		place Place
	}
	all := make([]entry, len(l.places))
	for i, p := range l.places {
		all[i] = entry{Fold(p.Name), p}
	}
	sort.Slice(all, func(i, j int) bool {
		a, b := &all[i], &all[j]
		if a.place.State != b.place.State {
			return a.place.State < b.place.State
		}
		if a.key != b.key {
			return a.key < b.key
		}
		return a.place.before(&b.place)
	})
	l.keys, l.states = make([]string, len(all)), nil
	for i := range all {
		l.places[i], l.keys[i] = all[i].place, all[i].key
		if i == 0 || l.places[i].State != l.places[i-1].State {
			l.states = append(l.states, span{state: l.places[i].State, from: i})
		}
		l.states[len(l.states)-1].to = i + 1
	}
}

// before puts places of one state and folded name in order.
func (p *Place) before(q *Place) bool {
	switch {
	case p.Name != q.Name:
		return p.Name < q.Name
	case p.County != q.County:
		return p.County < q.County
	case p.At.Lat() != q.At.Lat():
		return p.At.Lat() < q.At.Lat()
	case p.At.Lon() != q.At.Lon():
		return p.At.Lon() < q.At.Lon()
	case p.Population != q.Population:
		return p.Population < q.Population
	}
	return p.Class < q.Class
}

// Edition names the source and its month.
func (l *List) Edition() string { return l.edition }

// Partial tells whether the list was cut out of a larger one, so that a name
// that is on it once may be on the larger one again.
func (l *List) Partial() bool { return l.partial }

// Len is the number of places.
func (l *List) Len() int { return len(l.places) }

// Places returns all places in their order.
func (l *List) Places() []Place { return append([]Place(nil), l.places...) }

// All returns every place of a name, in one state or, if state is "", in all
// of them.
func (l *List) All(name, state string) []Place {
	key := Fold(name)
	if key == "" {
		return nil
	}
	var found []Place
	for _, s := range l.states {
		if state != "" && s.state != state {
			continue
		}
		i := s.from + sort.SearchStrings(l.keys[s.from:s.to], key)
		for ; i < s.to && l.keys[i] == key; i++ {
			found = append(found, l.places[i])
		}
	}
	return found
}

// Find answers only when exactly one place bears the name: its point, and the
// radial that holds all of it. Where no state is given, a list that was cut
// out of a larger one answers nothing.
func (l *List) Find(name, state string) (at geo.Point, radial geo.Metres, ok bool) {
	found := l.All(name, state)
	if len(found) != 1 || state == "" && l.partial {
		return geo.Point{}, 0, false
	}
	return found[0].At, found[0].Radial(), true
}

// In cuts out the places of some states, for a phone.
func (l *List) In(states ...string) (*List, error) {
	var kept []Place
	for _, state := range states {
		before := len(kept)
		for _, s := range l.states {
			if s.state == state {
				kept = append(kept, l.places[s.from:s.to]...)
			}
		}
		if len(kept) == before {
			return nil, geo.Errorf(geo.Unknown, "no place on the list is in %q", state)
		}
	}
	return build(l.edition, true, kept)
}
