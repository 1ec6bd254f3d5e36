package region_test

import (
	"fmt"
	"math"
	"testing"

	"wayfall/geo"
	"wayfall/geo/geodesic"
	"wayfall/geo/region"
)

// invented is a state of three counties in a row, each a tenth of a degree
// wide and high, on a grid of a hundredth of a degree. West and Middle share
// arc 0, Middle and East share arc 2; around them is nothing.
func invented() *region.Lines {
	n := func(xy ...int32) []region.Node {
		var arc []region.Node
		for i := 0; i < len(xy); i += 2 {
			arc = append(arc, region.Node{X: xy[i], Y: xy[i+1]})
		}
		return arc
	}
	county := func(id region.ID, name string, ring ...int32) region.Outline {
		return region.Outline{
			Region:   region.Region{ID: id, Name: name, Level: region.County, Parent: id[:2]},
			Polygons: [][]region.Ring{{ring}},
		}
	}
	return &region.Lines{
		Year: 2023, Origin: [2]float64{-85, 42}, Step: [2]float64{0.01, 0.01},
		Arcs: [][]region.Node{
			n(10, 0, 10, 10),
			n(10, 10, 0, 10, 0, 0, 10, 0),
			n(20, 0, 20, 10),
			n(20, 10, 10, 10),
			n(10, 0, 20, 0),
			n(20, 0, 30, 0, 30, 10, 20, 10),
		},
		Outlines: []region.Outline{
			{
				Region:   region.Region{ID: "98", Name: "Invented", Level: region.State},
				Polygons: [][]region.Ring{{{1, 4, 5, 3}}},
			},
			county("98001", "West", 0, 1),
			county("98003", "Middle", 4, 2, 3, -1),
			county("98005", "East", 5, -3),
		},
	}
}

func point(t testing.TB, lat, lon geo.Degrees) geo.Point {
	t.Helper()
	p, err := geo.At(lat, lon)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func build(t testing.TB, l *region.Lines) *region.Map {
	t.Helper()
	m, err := region.Build(l)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// One degree of longitude at 42.05 north is 82.8 km, so the centre lies 0.828 km
// west of the line at 84.9 west.
func ExampleMap_Locate() {
	m, _ := region.Build(invented())
	p, _ := geo.At(42.05, -84.91)
	for _, h := range m.Locate(geo.Circle{Centre: p, Radius: 20}) {
		fmt.Printf("%s %s: %v, %.0f m away, border at %.0f m\n", h.Level, h.Name, h.Relation, h.Distance, h.Border)
	}
	// Output:
	// state Invented: inside, 0 m away, border at 5554 m
	// county West: may be, 0 m away, border at 828 m
	// county Middle: may be, 828 m away, border at 828 m
}

var locateTests = []struct {
	name     string
	lat, lon geo.Degrees
	radius   geo.Metres
	want     string // counties only
}{
	{"the middle of a county is inside it", 42.05, -84.85, 10, "Middle inside"},
	{"1.2 km from a shared line both counties may be", 42.05, -84.885, 10, "Middle may be, West may be"},
	{"a wide circle reaches a line that the band does not", 42.05, -84.87, 600, "Middle may be, West may be"},
	{"the same centre with a narrow circle is inside", 42.05, -84.87, 100, "Middle inside"},
	{"1 km inside an outer line is inside, at the edge", 42.01, -84.95, 10, "West inside edge"},
	{"1.1 km outside an outer line is on the shore", 41.99, -84.95, 10, "West may be shore"},
	{"4.4 km outside is still offered as the shore", 41.96, -84.95, 10, "West may be shore"},
	{"5.6 km outside nobody knows", 41.95, -84.95, 10, ""},
	{"a wide circle far outside still touches", 41.93, -84.95, 6000, "West may be shore"},
	{"outside where two counties meet, both are offered", 41.99, -84.899, 10, "Middle may be shore, West may be shore"},
	{"on the other side of the globe nobody knows", -42.05, 95, 10, ""},
}

func TestACircleIsPlacedOnlyAsFarAsTheLinesCanBeTrusted(t *testing.T) {
	m := build(t, invented())
	for _, tt := range locateTests {
		got := ""
		for _, h := range m.Locate(geo.Circle{Centre: point(t, tt.lat, tt.lon), Radius: tt.radius}) {
			if h.Level != region.County {
				continue
			}
			if got != "" {
				got += ", "
			}
			got += h.Name + " " + h.Relation.String()
			if h.Edge {
				got += " edge"
			}
			if h.Shore {
				got += " shore"
			}
		}
		if got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, got, tt.want)
		}
	}
}

func TestAnUnknownCircleLiesNowhere(t *testing.T) {
	m := build(t, invented())
	for _, c := range []geo.Circle{{}, {Radius: 10}, {Centre: point(t, 42.05, -84.85), Radius: -1},
		{Centre: point(t, 42.05, -84.85), Radius: geo.Metres(math.NaN())}} {
		if hits := m.Locate(c); len(hits) != 0 {
			t.Errorf("%+v: got %v, want nothing", c, hits)
		}
	}
}

func TestAlaskaIsReachedAcrossTheDateLine(t *testing.T) {
	l := invented()
	l.Origin[0] = -180
	m := build(t, l)
	hits := m.Locate(geo.Circle{Centre: point(t, 42.05, 179.99), Radius: 10})
	if len(hits) != 2 || hits[1].Name != "West" || math.Abs(float64(hits[1].Distance)-828) > 1 {
		t.Errorf("828 m west of the date line: got %+v, want West 828 m away", hits)
	}
}

// A county reduced to a line, as small cities are by generalising, must still
// be offered to a point beside it.
func TestACollapsedPolygonMakesItsSurroundingsUncertain(t *testing.T) {
	l := invented()
	l.Arcs = append(l.Arcs, []region.Node{{X: 14, Y: 5}, {X: 16, Y: 5}})
	l.Outlines = append(l.Outlines, region.Outline{
		Region:   region.Region{ID: "98007", Name: "Lost City", Level: region.County, Parent: "98"},
		Polygons: [][]region.Ring{{{6, -7}}},
	})
	m := build(t, l)
	hits := m.Locate(geo.Circle{Centre: point(t, 42.05+0.03, -84.85), Radius: 10})
	if len(hits) != 3 || hits[1].Name != "Middle" || hits[1].Relation != region.MayBe || hits[2].Name != "Lost City" {
		t.Errorf("3.3 km beside a collapsed city: got %+v, want Middle and Lost City, neither sure", hits)
	}
}

// The nearest place is found on a plane; the answer must be as near as any
// place on the line, measured on the ellipsoid.
func TestBorderDistancesAreTheShortestOnTheEllipsoid(t *testing.T) {
	m := build(t, invented())
	for _, from := range []geo.Point{point(t, 42.03, -84.72), point(t, 41.99, -84.68), point(t, 42.07, -84.71)} {
		hits := m.Locate(geo.Circle{Centre: from, Radius: 3000})
		var east *region.Hit
		for i := range hits {
			if hits[i].Name == "East" {
				east = &hits[i]
			}
		}
		if east == nil {
			t.Fatalf("%v: East was not found", from)
		}
		least := geo.Metres(math.Inf(1))
		for i := range 10001 {
			s := geo.Degrees(i) / 10000 * 0.1
			for _, q := range []geo.Point{point(t, 42+s, -84.7), point(t, 42+s, -84.8), point(t, 42, -84.8+s), point(t, 42.1, -84.8+s)} {
				d, err := geodesic.Distance(from, q)
				if err != nil {
					t.Fatal(err)
				}
				least = min(least, d)
			}
		}
		if math.Abs(float64(east.Border-least)) > 0.5 {
			t.Errorf("%v: got a border at %.2f m, want %.2f m", from, east.Border, least)
		}
	}
}

func TestAHomeRegionKeepsItsNeighbours(t *testing.T) {
	l := invented()
	l.Outlines[3].ID, l.Outlines[3].Parent = "99001", "99"
	l.Outlines[0].Polygons = [][]region.Ring{{{1, 4, 2, 3}}}
	l.Outlines = append(l.Outlines, region.Outline{
		Region:   region.Region{ID: "99", Name: "Neighbour", Level: region.State},
		Polygons: [][]region.Ring{{{5, -3}}},
	})
	l.Sort()
	cut, err := l.Extract("99")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, r := range build(t, cut).Regions() {
		names = append(names, r.Name)
	}
	// West touches no corner of the home state and stays behind.
	if got, want := fmt.Sprint(names), "[Invented Neighbour Middle East]"; got != want {
		t.Errorf("cut out around Neighbour: got %s, want %s", got, want)
	}
	deep := build(t, cut).Locate(geo.Circle{Centre: point(t, 42.05, -84.95), Radius: 10})
	if len(deep) != 2 || deep[0].Name != "Invented" || deep[1].Shore {
		t.Errorf("deep in a neighbour: got %+v, want its state, and no county on a shore", deep)
	}
	if _, err := l.Extract("77"); geo.KindOf(err) != geo.Unknown {
		t.Errorf("a state that is not there: got %v, want kind unknown", err)
	}
	if _, err := l.Extract(); geo.KindOf(err) != geo.Unknown {
		t.Errorf("no state at all: got %v, want kind unknown", err)
	}
}
