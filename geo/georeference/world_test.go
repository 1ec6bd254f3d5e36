package georeference_test

import (
	"strings"

	"github.com/paulmach/orb"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
)

// world is a small invented country around 45 north, 100 west.
type world []gazetteer.Feature

func (w world) Named(name string, _ []string, _ *geo.Circle, limit int) []gazetteer.Feature {
	var all []gazetteer.Feature
	for _, f := range w {
		if strings.EqualFold(f.Name, name) && (limit == 0 || len(all) < limit) {
			all = append(all, f)
		}
	}
	return all
}

func at(lat, lon float64) geo.Point {
	p, err := geo.At(geo.Degrees(lat), geo.Degrees(lon))
	if err != nil {
		panic(err)
	}
	return p
}

func square(lat, lon, half float64) orb.Polygon {
	return orb.Polygon{{{lon - half, lat - half}, {lon + half, lat - half}, {lon + half, lat + half}, {lon - half, lat + half}, {lon - half, lat - half}}}
}

var invented = world{
	{ID: "ludden", Name: "Ludden", Point: at(45, -100), Radial: 2000},
	{ID: "orrin", Name: "Orrin", Point: at(45.1, -99.9), Radial: 1000},
	{ID: "brask", Name: "Brask", Point: at(45.05, -99.8), Radial: 3000, Shape: orb.Polygon{{{-99.82, 45.03}, {-99.78, 45.035}, {-99.775, 45.06}, {-99.8, 45.045}, {-99.815, 45.07}, {-99.82, 45.03}}}},
	{ID: "tarn-county", Name: "Tarn County", Shape: square(45, -99.97, 0.2)},
	{ID: "elk-refuge", Name: "Elk Marsh Refuge", Shape: orb.Polygon{{{-100.1, 44.9}, {-99.9, 44.9}, {-99.9, 45.1}, {-99.95, 45.1}, {-99.95, 44.95}, {-100.1, 44.95}, {-100.1, 44.9}}}},
	{ID: "hwy-12", Name: "Hwy 12", Shape: orb.LineString{{-100.5, 45}, {-100.2, 45.01}, {-100, 45}, {-99.9, 45.03}, {-99.7, 45.02}, {-99.5, 45.05}},
		Posts: []gazetteer.Post{{Number: 10, Unit: "mi", Point: at(45.01, -100.2)}, {Number: 20, Unit: "mi", Point: at(45, -100)}, {Number: 30, Unit: "mi", Point: at(45.025, -99.8)}}},
	{ID: "route-9", Name: "Route 9", Shape: orb.LineString{{-99.95, 44.8}, {-99.94, 45.0}, {-99.96, 45.3}}},
	{ID: "tamarack", Name: "Tamarack River", Shape: orb.LineString{{-100.3, 45.2}, {-100.1, 45.1}, {-100, 45}, {-99.95, 44.9}}},
	{ID: "troy-1", Name: "Troy", Point: at(45.3, -100.3), Radial: 1500},
	{ID: "troy-2", Name: "Troy", Point: at(44.7, -99.6), Radial: 1500},
}
