package intake

import (
	"fmt"
	"strings"

	"wayfall/geo"
	"wayfall/geo/region"
	"wayfall/geo/sanity"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// SiteReach is how near a pin must lie to the museum or a home to be taken
// for it. Our choice: a phone indoors is off by some tens of metres.
const SiteReach = 150 * geo.Metre

// offShore is how far off the drawn shore a find on land may seem to lie
// before it is doubted; the lines are generalised.
const offShore = 1 * geo.Kilometre

const offRoad = "the animal lay on a road, and the pin lies in water or in no county we know"

// Ground knows where counties, museums and homes lie. A nil Map knows none.
type Ground struct {
	Map    *region.Map
	Around sanity.Surroundings
}

// Lay is what a report says of where it lay.
type Lay struct {
	Place        record.Georeference
	Circumstance string
	Locality     string
}

// Circle returns the circle of a georeference, unknown if it has none.
func Circle(g record.Georeference) geo.Circle {
	p, err := geo.At(geo.Degrees(g.Lat), geo.Degrees(g.Lon))
	if !g.Known || err != nil {
		return geo.Circle{}
	}
	return geo.Circle{Centre: p, Radius: geo.Metres(g.Radius)}
}

// spot is a circle on the ground with the areas it touches, looked up once.
type spot struct {
	ground *Ground
	circle geo.Circle
	hits   []region.Hit
}

func (g *Ground) look(p record.Georeference) spot {
	s := spot{ground: g, circle: Circle(p)}
	if g.Map != nil && s.circle.Known() {
		s.hits = g.Map.Locate(s.circle)
	}
	return s
}

// locator looks circles up on the lines, the spot's own without looking
// again; it is nil without lines.
func (s spot) locator() func(geo.Circle) []region.Hit {
	if s.ground.Map == nil {
		return nil
	}
	return func(c geo.Circle) []region.Hit {
		if c == s.circle {
			return s.hits
		}
		return s.ground.Map.Locate(c)
	}
}

func (s spot) counties() []region.Hit {
	var out []region.Hit
	for _, h := range s.hits {
		if h.Level == region.County {
			out = append(out, h)
		}
	}
	return out
}

// Doubts says what is odd about where a report is pinned.
func (g *Ground) Doubts(l Lay) []Doubt { return g.doubts(l, g.look(l.Place)) }

func (g *Ground) doubts(l Lay, at spot) []Doubt {
	c := at.circle
	if !c.Known() {
		return nil
	}
	var out []Doubt
	for _, f := range sanity.Check(c.Centre, g.Around) {
		d := Doubt{Code: PlaceDoubt, Kind: record.Report, Field: "place", Why: f.Because}
		if f.Code == "known-place" && l.Locality != "" {
			d.Why = fmt.Sprintf("%s; the words say %q", f.Because, l.Locality)
		}
		if f.Code == "outside" && l.Circumstance == "road" && g.Map != nil && len(at.counties()) == 0 {
			d.Why = offRoad
		}
		d.Suggest = instead(l.Place, f.Instead)
		out = append(out, d)
		if strings.HasPrefix(f.Code, "zero") {
			break // that it lies far from home follows
		}
	}
	if len(out) > 0 || g.Map == nil {
		return out
	}
	counties := at.counties()
	if len(counties) == 0 || counties[0].Shore && counties[0].Distance > offShore {
		why := "the pin lies in water or in no county"
		if l.Circumstance == "road" {
			why = offRoad
		}
		return append(out, Doubt{Code: PlaceDoubt, Kind: record.Report, Field: "place", Why: why})
	}
	return append(out, wrongCounty(l, counties)...)
}

// instead returns the place with the point that was probably meant.
func instead(p record.Georeference, at geo.Point) op.Value {
	if !at.Known() {
		return ""
	}
	p.Lat, p.Lon = float64(at.Lat()), float64(at.Lon())
	v, err := op.ValueOf(p)
	if err != nil {
		return ""
	}
	return v
}

// wrongCounty compares the counties of the pin with the county that was said.
func wrongCounty(l Lay, at []region.Hit) []Doubt {
	said := l.Place.County
	if said == "" {
		said = countyIn(l.Locality)
	}
	said = strings.TrimSuffix(said, " County")
	if said == "" {
		return nil
	}
	for _, h := range at {
		if squeezed(h.Name) == squeezed(said) {
			return nil
		}
	}
	return []Doubt{{Code: PlaceDoubt, Kind: record.Report, Field: "place",
		Why: fmt.Sprintf("the words say %s County, and the pin lies in %s County", said, at[0].Name)}}
}

// squeezed leaves out what spellings of one county differ in: LaPorte, La Porte.
func squeezed(name string) string { return strings.ToLower(squeeze.Replace(name)) }

var squeeze = strings.NewReplacer(" ", "", ".", "", "-", "", "'", "")

// countyIn returns the county named in a description of a place, as in
// "Polk Road, Oceana County, Michigan", or "".
func countyIn(text string) string {
	before, _, ok := strings.Cut(text, " County")
	if !ok {
		return ""
	}
	if i := strings.LastIndexAny(before, ",;"); i >= 0 {
		before = before[i+1:]
	}
	return strings.TrimSpace(before)
}
