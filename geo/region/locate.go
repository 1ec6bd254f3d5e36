package region

import (
	"math"
	"sort"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"wayfall/geo"
	"wayfall/geo/geodesic"
)

const (
	// Band is how far a line on the map may lie from the line on the ground.
	// Measured on the 2023 edition of the Census Bureau's generalised lines,
	// where they coincide with OpenStreetMap's time zone borders, at 1,278
	// places: half lie within 84 m, 95 % within 1 km, 98 % within 2 km; lines
	// along winding rivers are the worst.
	Band = 2 * geo.Kilometre
	// ShoreReach is how far from land a place that lies in no polygon is
	// still given to the nearest county. An outer shore may be missing from
	// the drawing by half a kilometre; an island that is missing altogether
	// may belong to another county than the nearest, so farther out the
	// answer is that nobody knows.
	ShoreReach = 5 * geo.Kilometre
	// vagueBand takes the place of Band for a unit whose own polygon is lost
	// or nearly lost: the drawing is off by the size of the unit itself.
	vagueBand = 5 * geo.Kilometre
)

// Relation says how a circle lies to a region. The zero Relation is unknown.
type Relation uint8

// Relations. There is no "outside": a region that is not returned cannot hold
// the circle, as far as the lines can be trusted.
const (
	// Inside: the truth is in the region, wherever in the circle it lies and
	// however the line is off within the band.
	Inside Relation = iota + 1
	// MayBe: the lines cannot tell. A person decides, or the strictest of the
	// candidates counts.
	MayBe
)

// String returns the relation in words.
func (r Relation) String() string {
	switch r {
	case Inside:
		return "inside"
	case MayBe:
		return "may be"
	}
	return "unknown"
}

// Hit is one region that holds or may hold the circle.
type Hit struct {
	Region
	Relation Relation
	// Distance is from the centre of the circle to the region as drawn; it is
	// zero when the centre is drawn inside.
	Distance geo.Metres
	// Border is from the centre to the nearest place on the region's outline,
	// from whichever side.
	Border geo.Metres
	// Edge is set when the region's outline is within reach and none of our
	// regions lies beyond it: a shore, or another country.
	Edge bool
	// Shore is set when the centre lies in no polygon of the level and the
	// region is offered because it is near.
	Shore bool
}

// Locate returns every state and county that holds or may hold the circle:
// states before counties, each level by distance, the region around the
// centre first. It returns nothing for an unknown circle and for a place that
// is far from all regions: then the region is not known.
func (m *Map) Locate(c geo.Circle) []Hit {
	if !c.Known() {
		return nil
	}
	v := viewFrom(c)
	states := m.level(v, State)
	counties := m.level(v, County)
	if drawnInside(states) {
		// A cut-out map may hold a neighbouring state without its counties;
		// then a county near the centre is near, but no shore lies between.
		for i := range counties {
			counties[i].Shore = false
		}
	}
	return append(states, counties...)
}

func drawnInside(hits []Hit) bool {
	for i := range hits {
		if hits[i].Distance == 0 {
			return true
		}
	}
	return false
}

func (m *Map) level(v *view, level Level) []Hit {
	var held, near, far []Hit
	vague := false
	for i := range m.shapes {
		s := &m.shapes[i]
		if s.Level != level || !v.sees(s.bound) {
			continue
		}
		inside, border, ok := v.measure(s)
		h := Hit{Region: s.Region, Relation: MayBe, Distance: border, Border: border}
		switch {
		case inside:
			h.Distance = 0
			held, vague = append(held, h), vague || s.vague
		case ok && border <= v.reach(s):
			near = append(near, h)
		case ok && border <= ShoreReach:
			far = append(far, h)
		}
	}
	if len(held) == 0 && len(near) == 0 {
		near = nearest(far)
	}
	if len(held) == 1 && len(near) == 0 && !vague {
		held[0].Relation = Inside
	}
	if len(held)+len(near) == 1 && len(held) == 1 {
		held[0].Edge = held[0].Border <= v.c.Radius+Band
	}
	for i := range near {
		near[i].Shore = len(held) == 0
	}
	hits := append(held, near...)
	sort.SliceStable(hits, func(i, j int) bool { return hits[i].Distance < hits[j].Distance })
	return hits
}

func nearest(hits []Hit) []Hit {
	best := hits
	for i := range hits {
		if len(best) != 1 || hits[i].Distance < best[0].Distance {
			best = hits[i : i+1]
		}
	}
	return best
}

// view is the world around the centre of a circle, flattened: good enough to
// find which place on an outline is nearest, not to say how far it is.
type view struct {
	c           geo.Circle
	north, east float64 // metres per degree at the centre
	padLat      float64 // how far to look, in degrees
	padLon      float64
	spellings   []orb.Point // the centre, and again past the date line
}

func viewFrom(c geo.Circle) *view {
	n, e := geodesic.MetresPerDegree(c.Centre.Lat())
	v := &view{c: c, north: float64(n), east: math.Max(float64(e), 1)}
	look := float64(c.Radius + vagueBand)
	v.padLat = look / 110_500 // no degree of latitude is shorter
	poleward := math.Min(90, math.Abs(float64(c.Centre.Lat()))+v.padLat)
	_, e = geodesic.MetresPerDegree(geo.Degrees(poleward))
	v.padLon = math.Min(360, look/math.Max(float64(e), 1))
	lon, lat := float64(c.Centre.Lon()), float64(c.Centre.Lat())
	v.spellings = []orb.Point{{lon, lat}}
	if lon-v.padLon < -180 {
		v.spellings = append(v.spellings, orb.Point{lon + 360, lat})
	}
	if lon+v.padLon > 180 {
		v.spellings = append(v.spellings, orb.Point{lon - 360, lat})
	}
	return v
}

func (v *view) reach(s *shape) geo.Metres {
	if s.vague {
		return v.c.Radius + vagueBand
	}
	return v.c.Radius + Band
}

// sees reports whether a box comes near the centre.
func (v *view) sees(b orb.Bound) bool {
	for _, at := range v.spellings {
		if v.near(b, at) {
			return true
		}
	}
	return false
}

func (v *view) near(b orb.Bound, at orb.Point) bool {
	return at[0] >= b.Min[0]-v.padLon && at[0] <= b.Max[0]+v.padLon &&
		at[1] >= b.Min[1]-v.padLat && at[1] <= b.Max[1]+v.padLat
}

// measure says whether the centre is drawn inside a shape and how far its
// outline is; not ok means too far to matter.
func (v *view) measure(s *shape) (inside bool, border geo.Metres, ok bool) {
	best := nearPoint{square: math.Inf(1)}
	for i := range s.parts {
		p := &s.parts[i]
		for _, at := range v.spellings {
			if !v.near(p.bound, at) {
				continue
			}
			inside = inside || p.bound.Contains(at) && planar.PolygonContains(p.rings, at)
			for _, ring := range p.rings {
				v.search(ring, at, &best)
			}
		}
	}
	if math.IsInf(best.square, 1) {
		return inside, 0, false
	}
	d, err := v.toPoint(best.at)
	return inside, d, err == nil
}

func (v *view) toPoint(at orb.Point) (geo.Metres, error) {
	lon := math.Remainder(at[0], 360)
	p, err := geo.At(geo.Degrees(math.Max(-90, math.Min(90, at[1]))), geo.Degrees(lon))
	if err != nil {
		return 0, err
	}
	return geodesic.Distance(v.c.Centre, p)
}

// nearPoint is the nearest place found so far.
type nearPoint struct {
	square float64
	at     orb.Point
}

// search looks along a ring for a place nearer than the best.
func (v *view) search(ring orb.Ring, from orb.Point, best *nearPoint) {
	x1, y1 := (ring[0][0]-from[0])*v.east, (ring[0][1]-from[1])*v.north
	for _, corner := range ring[1:] {
		x2, y2 := (corner[0]-from[0])*v.east, (corner[1]-from[1])*v.north
		dx, dy := x2-x1, y2-y1
		t := 0.0
		if length := dx*dx + dy*dy; length > 0 {
			t = math.Max(0, math.Min(1, -(x1*dx+y1*dy)/length))
		}
		x, y := x1+t*dx, y1+t*dy
		if square := x*x + y*y; square < best.square {
			*best = nearPoint{square, orb.Point{from[0] + x/v.east, from[1] + y/v.north}}
		}
		x1, y1 = x2, y2
	}
}
