package web

import (
	"math"

	"github.com/paulmach/orb"

	"wayfall/geo/region"
)

// Borders draws the borders of a map of states and counties.
func Borders(m *region.Map) Outlines {
	b := &borders{m: m}
	for _, r := range m.Regions() {
		b.all = append(b.all, bounded{r, m.Polygons(r.ID).Bound()})
	}
	return b
}

type borders struct {
	m   *region.Map
	all []bounded
}

type bounded struct {
	region.Region
	bound orb.Bound
}

// Near returns the pieces of borders that may be seen within the square.
func (b *borders) Near(lat, lon, half float64) []Outline {
	wide := half / math.Max(0.1, math.Cos(lat*math.Pi/180)) * 1.6
	seen := orb.Bound{Min: orb.Point{lon - wide, lat - half}, Max: orb.Point{lon + wide, lat + half}}
	var out []Outline
	for _, r := range b.all {
		if !r.bound.Intersects(seen) {
			continue
		}
		o := Outline{Name: r.Name, State: r.Level == region.State}
		for _, polygon := range b.m.Polygons(r.ID) {
			for _, ring := range polygon {
				o.Lines = append(o.Lines, pieces(ring, seen)...)
			}
		}
		if len(o.Lines) > 0 {
			out = append(out, o)
		}
	}
	return out
}

// pieces cuts a ring into the runs whose edges may cross the square. An edge
// is kept whole, so a piece reaches a little beyond.
func pieces(ring orb.Ring, seen orb.Bound) [][][2]float64 {
	var out [][][2]float64
	var run [][2]float64
	for i := 1; i < len(ring); i++ {
		edge := orb.Bound{Min: ring[i-1], Max: ring[i-1]}.Extend(ring[i])
		if !edge.Intersects(seen) {
			if run != nil {
				out, run = append(out, run), nil
			}
			continue
		}
		if run == nil {
			run = [][2]float64{rounded(ring[i-1])}
		}
		run = append(run, rounded(ring[i]))
	}
	if run != nil {
		out = append(out, run)
	}
	return out
}

// rounded keeps five decimals of a degree, about a metre: far finer than the
// lines are drawn.
func rounded(p orb.Point) [2]float64 {
	return [2]float64{math.Round(p[0]*1e5) / 1e5, math.Round(p[1]*1e5) / 1e5}
}
