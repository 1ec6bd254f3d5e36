package region

import (
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// Map is a set of lines made ready to be asked. It may be asked by many at
// once.
type Map struct {
	year   int
	shapes []shape
}

// shape is one region as drawn.
type shape struct {
	Region
	bound orb.Bound
	parts []part
	// vague marks a unit whose own drawing cannot be trusted to hold it.
	vague bool
}

// part is one polygon of a region with its own box: a state with islands
// would otherwise be looked at from half the globe.
type part struct {
	bound orb.Bound
	rings orb.Polygon
}

// Build makes lines ready to be asked.
func Build(l *Lines) (*Map, error) {
	if err := l.Check(); err != nil {
		return nil, err
	}
	m := &Map{year: l.Year, shapes: make([]shape, len(l.Outlines))}
	for i := range l.Outlines {
		m.shapes[i] = l.draw(&l.Outlines[i])
	}
	return m, nil
}

// Year is the edition of the lines.
func (m *Map) Year() int { return m.year }

// Regions lists all units, states first, each level by ID.
func (m *Map) Regions() []Region {
	all := make([]Region, len(m.shapes))
	for i := range m.shapes {
		all[i] = m.shapes[i].Region
	}
	return all
}

// Polygons returns the drawing of a region, or nil if there is none. The
// caller must not change it.
func (m *Map) Polygons(id ID) orb.MultiPolygon {
	for i := range m.shapes {
		if m.shapes[i].ID == id {
			var all orb.MultiPolygon
			for _, p := range m.shapes[i].parts {
				all = append(all, p.rings)
			}
			return all
		}
	}
	return nil
}

func (l *Lines) draw(o *Outline) shape {
	s := shape{Region: o.Region}
	area := 0.0
	for i, rings := range o.Polygons {
		p := part{rings: make(orb.Polygon, len(rings))}
		for j, ring := range rings {
			p.rings[j] = l.trace(ring)
		}
		p.bound = p.rings.Bound()
		area += planar.Area(p.rings)
		if i == 0 {
			s.bound = p.bound
		}
		s.bound = s.bound.Union(p.bound)
		s.parts = append(s.parts, p)
	}
	s.vague = o.Level == County && (area < collapsed || independentCity(o.ID))
	return s
}

// collapsed is the area, in square degrees, below which a polygon was lost in
// generalising: about a square kilometre.
const collapsed = 1e-4

// independentCity reports whether a county-level code is one of Virginia's
// independent cities, which are numbered from 510 up. They are small, mostly
// enclosed, and badly drawn at this scale.
func independentCity(id ID) bool { return len(id) == 5 && id[:2] == "51" && id[2:] >= "510" }

// trace walks a ring's arcs and gives its corners in degrees.
func (l *Lines) trace(ring Ring) orb.Ring {
	var r orb.Ring
	for _, ref := range ring {
		arc := l.Arcs[index(ref)]
		for i := range arc {
			n := arc[i]
			if ref < 0 {
				n = arc[len(arc)-1-i]
			}
			lon, lat := l.degrees(n)
			at := orb.Point{lon, lat}
			if len(r) == 0 || r[len(r)-1] != at {
				r = append(r, at)
			}
		}
	}
	if r[0] != r[len(r)-1] || len(r) == 1 {
		r = append(r, r[0])
	}
	return r
}
