package find

import (
	"bufio"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
	"wayfall/geo/region"
)

func point(t testing.TB, lat, lon geo.Degrees) geo.Point {
	t.Helper()
	p, err := geo.At(lat, lon)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func read() (*region.Lines, error) {
	wire, err := os.ReadFile("../../../server/web/dist/counties.bin")
	if err != nil {
		return nil, err
	}
	return region.Decode(wire)
}

var drawn = sync.OnceValues(func() (*region.Map, error) {
	l, err := read()
	if err != nil {
		return nil, err
	}
	return region.Build(l)
})

func lines(t testing.TB) *region.Map {
	t.Helper()
	m, err := drawn()
	if err != nil {
		t.Fatalf(`the boundary lines are not there (%v); "make build" makes them`, err)
	}
	return m
}

// names are the real towns of Michigan and Indiana with more than a thousand
// people: GeoNames, CC BY 4.0.
func names(t testing.TB, more ...gazetteer.Place) *gazetteer.List {
	t.Helper()
	f, err := os.Open("../../../geo/gazetteer/testdata/places.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all := more
	for s := bufio.NewScanner(f); s.Scan(); {
		row := strings.Split(s.Text(), ",")
		if len(row) != 7 || strings.HasPrefix(row[0], "#") {
			continue
		}
		lat, err1 := strconv.ParseFloat(row[3], 64)
		lon, err2 := strconv.ParseFloat(row[4], 64)
		people, err3 := strconv.Atoi(row[5])
		if err1 != nil || err2 != nil || err3 != nil {
			t.Fatalf("row %q cannot be read", s.Text())
		}
		all = append(all, gazetteer.Place{Name: row[0], State: row[1], County: row[2],
			At: point(t, geo.Degrees(lat), geo.Degrees(lon)), Population: people, Class: gazetteer.Town})
	}
	l, err := gazetteer.Build("Michigan and Indiana", all)
	if err != nil || l.Len() < 800 {
		t.Fatalf("got %d places, %v", l.Len(), err)
	}
	return l
}

func here(t testing.TB) Map { return Map{Lines: lines(t), Names: names(t)} }
