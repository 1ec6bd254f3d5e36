package find

import (
	"strings"

	"wayfall/geo"
	"wayfall/geo/notation"
	"wayfall/geo/region"
	"wayfall/geo/uncertainty"
	"wayfall/sync/record"
)

// Whereabouts is what a report says of where it was, in the words of its
// fields. The best of them makes the place: the device's position, then
// coordinates as written, then words.
type Whereabouts struct {
	Fix         *record.Fix          `json:"fix"`
	Coordinates string               `json:"coordinates"`
	Locality    string               `json:"locality"`
	Place       *record.Georeference `json:"place"` // as it stands: datum, state and county a person named
}

// Map is what places are worked out with. Both may be nil.
type Map struct {
	Lines *region.Map
	Names Names
}

// Place works out point, circle and terms. An error speaks of coordinates that
// cannot be; words that are not understood stay words.
func (m Map) Place(w Whereabouts) (record.Georeference, error) {
	var g record.Georeference
	var err error
	switch {
	case w.Fix != nil:
		g, err = fromFix(*w.Fix)
	case w.Coordinates != "":
		datum := ""
		if w.Place != nil {
			datum = w.Place.Datum
		}
		g, err = m.fromText(w.Coordinates, datum)
	default:
		g = m.fromWords(w)
	}
	if err != nil {
		return record.Georeference{}, err
	}
	m.name(&g)
	return g, nil
}

func fromFix(f record.Fix) (record.Georeference, error) {
	at, err := geo.At(geo.Degrees(f.Lat), geo.Degrees(f.Lon))
	if err != nil {
		return record.Georeference{}, err
	}
	device, odd := uncertainty.OfDevice(geo.Metres(f.Accuracy), geo.Confidence(f.Level))
	return combined(at, "device", odd, device)
}

// fromText reads coordinates as somebody wrote them. Unless that person said
// which datum was meant, the radius holds every one it may have been; in the
// conterminous United States those are the American ones.
func (m Map) fromText(text, datum string) (record.Georeference, error) {
	r, err := notation.Read(text)
	if err != nil {
		return record.Georeference{}, err
	}
	fine, err := fineness(r)
	if err != nil {
		return record.Georeference{}, err
	}
	grid := r.Side > 0
	shift := uncertainty.OfUnknownDatum(r.Point, uncertainty.DatumFacts{Grid: grid})
	if datum == "" {
		datum = r.Datum
	}
	switch strings.ToUpper(strings.NewReplacer(" ", "", "-", "").Replace(datum)) {
	case "WGS84":
		shift = uncertainty.OfKnownDatum("WGS 84")
	case "USMAP", "NAD27", "NAD83":
		shift = uncertainty.OfUnknownDatum(r.Point, uncertainty.DatumFacts{ConterminousUS: m.conterminous(r.Point), American: true, Grid: grid})
	}
	g, err := combined(r.Point, "typed", r.Findings, fine, shift)
	g.Datum = datum
	if datum == "" {
		g.Datum = "not recorded" // so that nobody takes it for known the next time
	}
	return g, err
}

// fineness is the term for how finely the text is written.
func fineness(r notation.Reading) (uncertainty.Term, error) {
	if r.Side > 0 {
		return uncertainty.OfGrid(r.Side, r.Spread), nil
	}
	return uncertainty.OfPrecision(r.Point, r.Precision)
}

// conterminous tells whether the point surely lies in one of the 48 states.
func (m Map) conterminous(at geo.Point) bool {
	if m.Lines == nil {
		return false
	}
	hits := m.Lines.Locate(geo.Circle{Centre: at, Radius: 10_000})
	for _, h := range hits {
		if code := Code(h.ID); code == "" || code == "US-AK" || code == "US-HI" || h.ID >= "60" {
			return false
		}
	}
	return len(hits) > 0
}

func combined(at geo.Point, source string, odd []geo.Finding, terms ...uncertainty.Term) (record.Georeference, error) {
	e, err := uncertainty.Combine(at, terms...)
	if err != nil {
		return record.Georeference{}, err
	}
	return written(e, source, odd), nil
}

func written(e uncertainty.Estimate, source string, odd []geo.Finding) record.Georeference {
	at := e.Circle.Centre
	g := record.Georeference{
		Lat: float64(at.Lat()), Lon: float64(at.Lon()), Known: true, Datum: "WGS84",
		Radius: float64(uncertainty.WholeMetres(e.Circle.Radius)), Protocol: e.Rule, Source: source,
	}
	for _, t := range e.Terms {
		g.Terms = append(g.Terms, record.Term{Name: t.Source.String(), Metres: float64(t.Radius), Why: t.Because})
	}
	for _, o := range odd {
		g.Flags = append(g.Flags, o.Code)
	}
	return g
}

// name adds the state and the county, each only when the circle lies wholly
// inside one. Where the lines cannot tell, what a person named in words stands
// if it is possible.
func (m Map) name(g *record.Georeference) {
	if m.Lines == nil || !g.Known {
		return
	}
	at, err := geo.At(geo.Degrees(g.Lat), geo.Degrees(g.Lon))
	if err != nil {
		return
	}
	said := *g
	g.State, g.County = "", ""
	near := false
	for _, hit := range m.Lines.Locate(geo.Circle{Centre: at, Radius: geo.Metres(g.Radius)}) {
		sure := hit.Relation == region.Inside
		near = near || !sure
		switch hit.Level {
		case region.State:
			if sure || said.State == Code(hit.ID) {
				g.State = Code(hit.ID)
			}
		case region.County:
			if sure || said.State == Code(hit.ID) && sameName(said.County, hit.Name) {
				g.County = hit.Name
			}
		}
	}
	if near {
		g.Flags = append(g.Flags, "near-border")
	}
}
