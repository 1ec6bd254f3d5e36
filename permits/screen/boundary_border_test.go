package screen_test

import (
	"os"
	"path/filepath"
	"slices"
	"wayfall/geo"
	"wayfall/geo/geodesic"
	"wayfall/geo/region"
	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
	"wayfall/permits/screen/find"
	"wayfall/sync/record"
)

// borders stands one metre to either side of the lines of states, and where
// the circle just reaches over the line and just does not.
func (b *table) borders(book *rules.Book, list *permits.Checklist) {
	b.t.Helper()
	data, err := os.ReadFile(filepath.FromSlash("../../server/web/dist/counties.bin"))
	if err != nil {
		b.t.Fatalf(`no boundary lines (%v); "make build" makes them`, err)
	}
	lines, err := region.Decode(data)
	if err != nil {
		b.t.Fatal(err)
	}
	m, err := region.Build(lines)
	if err != nil {
		b.t.Fatal(err)
	}
	cal := site{"cal", owl(nil), nil, loons(0)}
	rivera := site{}
	for _, s := range b.everySite() {
		if s.name == "D01" {
			rivera = s
		}
		if cal.papers == nil {
			cal.papers = s.papers
		}
	}
	for _, home := range []struct {
		id   region.ID
		code string
		s    site
	}{{"26", "US-MI", cal}, {"06", "US-CA", rivera}} {
		points := 0
		for _, polygon := range m.Polygons(home.id) {
			ring := polygon[0]
			step := max(1, len(ring)/80)
			for i := 0; i+1 < len(ring); i += step {
				a, okA := geo.At(geo.Degrees(ring[i][1]), geo.Degrees(ring[i][0]))
				z, okZ := geo.At(geo.Degrees(ring[i+1][1]), geo.Degrees(ring[i+1][0]))
				if okA != nil || okZ != nil || a == z {
					continue
				}
				b.beside(m, a, z, home.code, home.s, book, list)
				points++
			}
		}
		if points < 60 {
			b.t.Errorf("%s: got %d points on the line, want 60 or more", home.code, points)
		}
	}
}

// beside judges finds to either side of one segment of a line.
func (b *table) beside(m *region.Map, a, z geo.Point, code string, s site, book *rules.Book, list *permits.Checklist) {
	b.t.Helper()
	line, err := geodesic.Inverse(a, z)
	if err != nil {
		b.t.Fatal(err)
	}
	middle, heading, err := geodesic.Direct(a, line.Depart, line.Distance/2)
	if err != nil {
		b.t.Fatal(err)
	}
	w := s.world(book, list)
	for _, radius := range []geo.Metres{5, 300} {
		for _, off := range []geo.Metres{1, region.Band + radius - 1, region.Band + radius + 1} {
			for _, turn := range []geo.Degrees{90, -90} {
				at, _, err := geodesic.Direct(middle, turned(heading+turn), off)
				if err != nil {
					b.t.Fatal(err)
				}
				b.stand(m, at, radius, off, code, s, w)
			}
		}
	}
}

func (b *table) stand(m *region.Map, at geo.Point, radius, off geo.Metres, code string, s site, w *screen.World) {
	b.t.Helper()
	lat, lon := at.Lat(), at.Lon()
	g := &record.Georeference{Known: true, Lat: float64(lat), Lon: float64(lon), Radius: float64(radius)}
	sure, possible := find.States(g, m.Locate)
	f := s.facts
	f.Jurisdictions, f.JurisdictionsPossible = sure, possible
	v := screen.Check(&f, w)
	b.count("beside the line of a state")
	if off == 1 && len(sure) > 0 {
		hits := m.Locate(geo.Circle{Centre: at, Radius: radius})
		if !hits[0].Edge {
			b.wrong("one metre from the line at %v it is surely in %v", at, sure)
		}
		b.by["of these, surely inside a line with no state beyond: a shore or another country"]++
	}
	if !v.Outcome.Permits() {
		return
	}
	for _, one := range append(slices.Clone(sure), possible...) {
		known := f
		known.Jurisdictions, known.JurisdictionsPossible = []string{one}, nil
		if got := screen.Check(&known, w); !got.Outcome.Permits() {
			b.wrong("%v with radius %v: permitted by %s, yet in %s it is %s", at, radius, v.Deciding.Rule, one, got.Outcome)
		}
	}
	if len(sure) == 1 && sure[0] != code {
		b.wrong("%v: permitted in %v on papers for %s", at, sure, code)
	}
}

func turned(h geo.Degrees) geo.Degrees {
	switch {
	case h < 0:
		return h + 360
	case h >= 360:
		return h - 360
	}
	return h
}
