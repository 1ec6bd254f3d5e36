package gazetteer_test

import (
	"bufio"
	"os"
	"strconv"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
)

func point(t testing.TB, lat, lon geo.Degrees) geo.Point {
	t.Helper()
	p, err := geo.At(lat, lon)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// towns reads the real towns of two states.
func towns(t testing.TB) []gazetteer.Place {
	t.Helper()
	f, err := os.Open("testdata/places.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	class := map[string]gazetteer.Class{}
	for c := gazetteer.UnknownClass; c <= gazetteer.Former; c++ {
		class[c.String()] = c
	}
	var all []gazetteer.Place
	for s := bufio.NewScanner(f); s.Scan(); {
		row := strings.Split(s.Text(), ",")
		if strings.HasPrefix(row[0], "#") {
			continue
		}
		if len(row) != 7 {
			t.Fatalf("row %q has %d columns, want 7", s.Text(), len(row))
		}
		lat, err1 := strconv.ParseFloat(row[3], 64)
		lon, err2 := strconv.ParseFloat(row[4], 64)
		people, err3 := strconv.Atoi(row[5])
		c, ok := class[row[6]]
		if err1 != nil || err2 != nil || err3 != nil || !ok {
			t.Fatalf("row %q cannot be read", s.Text())
		}
		all = append(all, gazetteer.Place{Name: row[0], State: row[1], County: row[2],
			At: point(t, geo.Degrees(lat), geo.Degrees(lon)), Population: people, Class: c})
	}
	if len(all) < 800 {
		t.Fatalf("got %d towns, want at least 800", len(all))
	}
	return all
}

func list(t testing.TB) *gazetteer.List {
	t.Helper()
	l, err := gazetteer.Build("Michigan and Indiana", towns(t))
	if err != nil {
		t.Fatal(err)
	}
	return l
}
