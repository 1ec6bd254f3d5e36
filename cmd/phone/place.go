//go:build js && wasm

package main

import (
	"syscall/js"

	"wayfall/cmd/phone/facts"
	"wayfall/geo"
	"wayfall/geo/notation"
	"wayfall/geo/region"
	"wayfall/geo/uncertainty"
	"wayfall/sync/record"
)

// placed is what the page says of a place.
type placed struct {
	Place record.Georeference `json:"place"`
	Label string              `json:"label"`
}

type placeFields struct {
	Fix         *record.Fix          `json:"fix"`
	Coordinates string               `json:"coordinates"`
	Locality    string               `json:"locality"`
	Place       *record.Georeference `json:"place"`
}

// place works out where something lay, with its circle: place(fields).
func (b *brain) place(args []js.Value) (any, error) {
	var f placeFields
	if err := read(args, 0, &f); err != nil {
		return nil, err
	}
	var g record.Georeference
	var err error
	switch {
	case f.Fix != nil:
		g, err = fromFix(*f.Fix)
	case f.Coordinates != "":
		datum := ""
		if f.Place != nil {
			datum = f.Place.Datum
		}
		g, err = fromText(f.Coordinates, datum)
	default:
		g = record.Georeference{Source: "words"}
		if f.Place != nil {
			g.State, g.County = facts.CodeOf(f.Place.State), f.Place.County
		}
	}
	if err != nil {
		return nil, err
	}
	b.name(&g)
	return placed{g, label(g)}, nil
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
// which datum was meant, the radius holds every one it may have been.
func fromText(text, datum string) (record.Georeference, error) {
	r, err := notation.Read(text)
	if err != nil {
		hint := ""
		for _, f := range r.Findings {
			hint += "; " + f.Because
		}
		return record.Georeference{}, invalid("/coordinates", err.Error()+hint)
	}
	fine, err := uncertainty.OfPrecision(r.Point, r.Precision)
	if err != nil {
		return record.Georeference{}, err
	}
	shift := uncertainty.OfUnknownDatum(r.Point, uncertainty.DatumFacts{})
	switch datum {
	case "WGS84":
		shift = uncertainty.OfKnownDatum("WGS 84")
	case "US map":
		shift = uncertainty.OfUnknownDatum(r.Point, uncertainty.DatumFacts{ConterminousUS: true, American: true})
	}
	g, err := combined(r.Point, "typed", r.Findings, fine, shift)
	g.Datum = datum
	return g, err
}

func combined(at geo.Point, source string, odd []geo.Finding, terms ...uncertainty.Term) (record.Georeference, error) {
	e, err := uncertainty.Combine(at, terms...)
	if err != nil {
		return record.Georeference{}, err
	}
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
	return g, nil
}

// name adds the state and the county, each only when the circle lies wholly
// inside one.
func (b *brain) name(g *record.Georeference) {
	if b.lines == nil || !g.Known {
		return
	}
	at, err := geo.At(geo.Degrees(g.Lat), geo.Degrees(g.Lon))
	if err != nil {
		return
	}
	g.State, g.County = "", ""
	for _, hit := range b.lines.Locate(geo.Circle{Centre: at, Radius: geo.Metres(g.Radius)}) {
		switch {
		case hit.Relation != region.Inside:
			g.Flags = append(g.Flags, "near-border")
			return
		case hit.Level == region.State:
			g.State = facts.Code(hit.ID)
		default:
			g.County = hit.Name
		}
	}
}

func label(g record.Georeference) string {
	switch state := facts.NameOf(g.State); {
	case g.County != "" && state != "":
		return g.County + ", " + state
	case state != "":
		return state
	}
	return g.County
}
