// Package places turns published lists of towns into the compact list that the
// program carries.
//
// It reads the list of towns with state and county as JSON, the names of
// counties as JSON, and a second list that knows the number of people, and
// keeps the towns of the United States. A town whose people are not in the
// second list keeps an unknown population. It fetches nothing.
//
// The lists derive from GeoNames (geonames.org), CC BY 4.0: whoever shows
// what is made here shows that credit.
package places

import (
	"encoding/json"
	"io"
	"strconv"
	"strings"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
)

// Credit is the line that the licence of the lists asks for.
const Credit = "Contains data from GeoNames (geonames.org), CC BY 4.0, reduced and joined"

// Sources are the published lists.
type Sources struct {
	// Towns is an array of objects with name, lat, lng, country, admin1 and
	// admin2, all of them strings.
	Towns io.Reader
	// Counties is an array of objects with code, such as "US.MI.105", and
	// name.
	Counties io.Reader
	// People is the second list, in protocol buffers; nil if it is not there.
	People io.Reader
	// Edition names the source and its month.
	Edition string
}

// Reduce writes the compact list of the towns of the United States.
func Reduce(s Sources) ([]byte, error) {
	l, err := Read(s)
	if err != nil {
		return nil, err
	}
	return l.Encode(), nil
}

// Home cuts the places of some states, such as "US-MI", out of a compact list.
func Home(whole []byte, states ...string) ([]byte, error) {
	l, err := gazetteer.Decode(whole)
	if err != nil {
		return nil, err
	}
	cut, err := l.In(states...)
	if err != nil {
		return nil, err
	}
	return cut.Encode(), nil
}

// Read reads the lists into one.
func Read(s Sources) (*gazetteer.List, error) {
	counties, err := readCounties(s.Counties)
	if err != nil {
		return nil, err
	}
	var people census
	if s.People != nil {
		if people, err = readPeople(s.People); err != nil {
			return nil, err
		}
	}
	var all []gazetteer.Place
	seen := make(map[gazetteer.Place]bool)
	err = each(s.Towns, "towns", func(t *town) error {
		if t.Country != "US" {
			return nil
		}
		p, err := t.place(counties)
		if err != nil {
			return err
		}
		people.join(&p)
		if strings.HasSuffix(p.Name, "(historical)") {
			p.Class = gazetteer.Former
		}
		if !seen[p] {
			seen[p] = true
			all = append(all, p)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, geo.Errorf(geo.Damaged, "the list of towns holds none in the United States")
	}
	return gazetteer.Build(s.Edition, all)
}

type town struct {
	Name    string `json:"name"`
	Lat     string `json:"lat"`
	Lng     string `json:"lng"`
	Country string `json:"country"`
	Admin1  string `json:"admin1"`
	Admin2  string `json:"admin2"`
}

func (t *town) place(counties map[string]string) (gazetteer.Place, error) {
	lat, err1 := strconv.ParseFloat(t.Lat, 64)
	lon, err2 := strconv.ParseFloat(t.Lng, 64)
	at, err3 := geo.At(geo.Degrees(lat), geo.Degrees(lon))
	if err1 != nil || err2 != nil || err3 != nil {
		return gazetteer.Place{}, geo.Errorf(geo.Damaged, "the town %q lies at %q, %q", t.Name, t.Lat, t.Lng)
	}
	if len(t.Admin1) != 2 {
		return gazetteer.Place{}, geo.Errorf(geo.Damaged, "the town %q is in the state %q", t.Name, t.Admin1)
	}
	return gazetteer.Place{
		Name: strings.Join(strings.Fields(t.Name), " "), State: "US-" + t.Admin1,
		County: counties["US."+t.Admin1+"."+t.Admin2], At: at,
	}, nil
}

func readCounties(r io.Reader) (map[string]string, error) {
	type unit struct {
		Code string `json:"code"`
		Name string `json:"name"`
	}
	names := make(map[string]string)
	err := each(r, "counties", func(u *unit) error {
		if strings.HasPrefix(u.Code, "US.") {
			names[u.Code] = strings.Join(strings.Fields(u.Name), " ")
		}
		return nil
	})
	if err == nil && len(names) == 0 {
		err = geo.Errorf(geo.Damaged, "the list of counties holds none in the United States")
	}
	return names, err
}

// each reads a JSON array one element at a time, so that a long list is never
// in memory as a whole.
func each[T any](r io.Reader, what string, do func(*T) error) error {
	d := json.NewDecoder(r)
	if open, err := d.Token(); err != nil || open != json.Delim('[') {
		return geo.Errorf(geo.Damaged, "the list of %s is not a JSON array", what)
	}
	for d.More() {
		var v T
		if err := d.Decode(&v); err != nil {
			return geo.Errorf(geo.Damaged, "the list of %s: %v", what, err)
		}
		if err := do(&v); err != nil {
			return err
		}
	}
	if _, err := d.Token(); err != nil {
		return geo.Errorf(geo.Damaged, "the list of %s breaks off", what)
	}
	return nil
}
