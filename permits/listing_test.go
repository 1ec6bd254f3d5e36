package permits

import (
	"slices"
	"strings"
	"testing"
)

// knot stood on a list from one day to another, and on a second in one place.
const knot = `{"taxa":[{"name":"Calidris canutus","english":"Red Knot","class":"Aves","genus":"Calidris","status":"m","groups":["bird-act"],
 "listings":[{"list":"listed","from":"2015-01-12","to":"2020-06-30","cites":"x"},{"list":"coast","areas":["US-CA"],"cites":"y"}]}]}`

func TestALegalListCountsOnItsDaysAndInItsPlaces(t *testing.T) {
	list, err := ReadChecklist([]byte(knot))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, at string
		where    []string
		want     []string // the groups of each way in which it may stand
	}{
		{"the day before", "2015-01-11", []string{"US-MI"}, []string{"bird-act"}},
		{"the first day", "2015-01-12", []string{"US-MI"}, []string{"bird-act listed"}},
		{"the last day", "2020-06-30", []string{"US-MI"}, []string{"bird-act listed"}},
		{"the day after", "2020-07-01", []string{"US-MI"}, []string{"bird-act"}},
		{"in the place of another list", "2020-07-01", []string{"US-CA"}, []string{"bird-act coast"}},
		{"in a part of that place", "2020-07-01", []string{"US-CA-X"}, []string{"bird-act coast"}},
		{"perhaps in that place", "2020-07-01", []string{"US-MI", "US-CA"}, []string{"bird-act coast", "bird-act"}},
		{"a stretch over the first day", "2015-01-10/2015-01-14", []string{"US-MI"}, []string{"bird-act", "bird-act listed"}},
		{"a stretch that ends on the last", "2020-06-01/2020-06-30", []string{"US-MI"}, []string{"bird-act listed"}},
		{"a stretch over all of it", "2010-01-01/2025-01-01", []string{"US-MI"}, []string{"bird-act", "bird-act listed"}},
		{"nobody knows when", "", []string{"US-MI"}, []string{"bird-act listed coast", "bird-act"}},
	} {
		var at When
		if c.at != "" {
			if err := at.UnmarshalText([]byte(c.at)); err != nil {
				t.Fatalf("%s: %v", c.name, err)
			}
		}
		var got []string
		for _, one := range (Plausible{Taxa: []*Taxon{list.Taxon("Red Knot")}, Complete: true}).On(at, c.where).Taxa {
			got = append(got, strings.Join(one.Groups, " "))
			if one.Name != "Calidris canutus" || one.Is("listed") != slices.Contains(one.Groups, "listed") {
				t.Errorf("%s: got %s on the list %v with the groups %v", c.name, one.Name, one.Is("listed"), one.Groups)
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
	if one := list.Taxon("Red Knot"); !one.Is("listed") || len(one.Groups) != 1 {
		t.Errorf("got %v, want the checklist's own row as it was, on the list at some time", one.Groups)
	}
}

func TestAListingThatCannotBeIsRefused(t *testing.T) {
	for name, change := range map[string][2]string{
		"without a citation":      {`"cites":"x"`, `"cites":""`},
		"it ends before it began": {`"to":"2020-06-30"`, `"to":"2014-06-30"`},
		"without a list":          {`"list":"listed"`, `"list":""`},
		"for ever and for a time": {`"list":"listed"`, `"list":"bird-act"`},
	} {
		if _, err := ReadChecklist([]byte(strings.Replace(knot, change[0], change[1], 1))); err == nil {
			t.Errorf("%s: got it read, want it refused", name)
		}
	}
}
