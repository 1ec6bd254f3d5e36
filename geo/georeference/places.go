package georeference

import (
	"math"
	"sort"
	"strings"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
	"wayfall/geo/geodesic"
)

// Places lets a list of named places answer for names. A place is a point and
// the radial of its class; it has no shape.
type Places struct{ List *gazetteer.List }

// Named finds the places of a name. Of within, ISO 3166-2 codes are states and
// all else are counties.
func (p Places) Named(name string, within []string, near *geo.Circle, limit int) []gazetteer.Feature {
	if p.List == nil {
		return nil
	}
	states, counties := []string{}, map[string]bool{}
	for _, w := range within {
		if len(w) > 3 && w[2] == '-' && strings.ToUpper(w) == w {
			states = append(states, w)
		} else {
			counties[countyKey(w)] = true
		}
	}
	if len(states) == 0 {
		states = []string{""}
	}
	var all []gazetteer.Feature
	for _, state := range states {
		for _, at := range p.List.All(name, state) {
			if len(counties) == 0 || counties[countyKey(at.County)] {
				all = append(all, featureOf(at))
			}
		}
	}
	if near != nil {
		sort.SliceStable(all, func(i, j int) bool {
			return away(geo.Circle{Centre: all[i].Point}, *near) < away(geo.Circle{Centre: all[j].Point}, *near)
		})
	}
	if limit > 0 && len(all) > limit {
		all = all[:limit]
	}
	return all
}

// Around finds the places of a class whose points lie in a circle, nearest
// first.
func (p Places) Around(c geo.Circle, class gazetteer.Class, limit int) []gazetteer.Feature {
	if p.List == nil || !c.Known() {
		return nil
	}
	north, east := geodesic.MetresPerDegree(c.Centre.Lat())
	var all []gazetteer.Feature
	for _, at := range p.List.Places() {
		up := math.Abs(float64(at.At.Lat()-c.Centre.Lat())) * float64(north)
		along := math.Abs(math.Remainder(float64(at.At.Lon()-c.Centre.Lon()), 360)) * float64(east)
		if at.Class == class && up <= 1.1*float64(c.Radius) && along <= 1.1*float64(c.Radius) && away(geo.Circle{Centre: at.At}, c) <= c.Radius {
			all = append(all, featureOf(at))
		}
	}
	sort.SliceStable(all, func(i, j int) bool {
		return away(geo.Circle{Centre: all[i].Point}, c) < away(geo.Circle{Centre: all[j].Point}, c)
	})
	if limit > 0 && len(all) > limit {
		all = all[:limit]
	}
	return all
}

// countyKey lets "Ingham Co." and "Ingham County" be one name.
func countyKey(s string) string {
	key := gazetteer.Fold(strings.TrimSuffix(s, "."))
	return strings.TrimSuffix(strings.TrimSuffix(key, "county"), "co")
}

func featureOf(p gazetteer.Place) gazetteer.Feature {
	return gazetteer.Feature{
		ID:   p.State + "/" + p.County + "/" + p.Name + "/" + p.At.String(),
		Name: p.Name, Class: p.Class, Within: []string{p.State, p.County},
		Point: p.At, Radial: p.Radial(), Basis: gazetteer.RadialBasis,
	}
}
