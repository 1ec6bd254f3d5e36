package land

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
)

// corner is longitude and latitude in degrees, as RFC 7946 orders them.
type corner [2]float64

type ring []corner

// polygon is an outer ring and its holes, with a box around it.
type polygon struct {
	rings    []ring
	min, max corner
}

// mostCorners is how many corners a ring may have; our own choice, so that a
// drawing can be looked through for crossings on any machine.
const mostCorners = 20_000

func (l *loader) shape(u *Unit) {
	var all [][]ring
	switch u.Shape.Type {
	case "Polygon":
		var one []ring
		if err := json.Unmarshal(u.Shape.Coordinates, &one); err != nil {
			l.complain(u, "shape.coordinates", "cannot be read as rings of two numbers: %v", err)
			return
		}
		all = [][]ring{one}
	case "MultiPolygon":
		if err := json.Unmarshal(u.Shape.Coordinates, &all); err != nil {
			l.complain(u, "shape.coordinates", "cannot be read as polygons of rings of two numbers: %v", err)
			return
		}
	default:
		l.complain(u, "shape.type", "%q is neither Polygon nor MultiPolygon", u.Shape.Type)
		return
	}
	before := len(l.faults)
	for i, rings := range all {
		if len(rings) == 0 {
			l.complain(u, fmt.Sprintf("shape.coordinates[%d]", i), "the polygon has no ring")
		}
		for j, r := range rings {
			l.ring(u, r, fmt.Sprintf("ring %d of polygon %d", j+1, i+1))
		}
	}
	if len(all) == 0 {
		l.complain(u, "shape.coordinates", "the shape has no polygon")
	}
	if len(l.faults) > before {
		return
	}
	for i, rings := range all {
		for j := 1; j < len(rings); j++ {
			if !slices.ContainsFunc(rings[j], rings[0].holds) {
				l.complain(u, fmt.Sprintf("shape.coordinates[%d][%d]", i, j), "the hole lies outside its polygon")
			}
		}
		u.polygons = append(u.polygons, boxed(rings))
	}
	l.order(u)
}

// ring says what is wrong with one ring, the first thing only: what follows
// from it would be told twice.
func (l *loader) ring(u *Unit, r ring, which string) {
	say := func(format string, args ...any) {
		l.complain(u, "shape.coordinates", which+" "+format, args...)
	}
	switch {
	case len(r) < 4:
		say("has %d corners; the smallest closed ring has 4", len(r))
		return
	case len(r) > mostCorners:
		say("has %d corners; more than %d are not taken", len(r), mostCorners)
		return
	case r[0] != r[len(r)-1]:
		say("is not closed: it begins at %v and ends at %v", r[0], r[len(r)-1])
		return
	}
	for i, c := range r {
		switch {
		case math.Abs(c[1]) > 90 && math.Abs(c[0]) <= 90:
			say("has longitude and latitude exchanged at corner %d: %v; longitude comes first", i+1, c)
			return
		case math.Abs(c[0]) > 180 || math.Abs(c[1]) > 90:
			say("leaves the globe at corner %d: %v", i+1, c)
			return
		case i > 0 && math.Abs(c[0]-r[i-1][0]) > 180:
			say("runs over the date line at corner %d: cut it there in two", i+1)
			return
		case i > 0 && c == r[i-1]:
			say("has corner %d twice", i)
			return
		}
	}
	if a, b, crossed := r.crossing(); crossed {
		say("crosses itself: its side %d meets its side %d", a+1, b+1)
	}
}

// order tells by the point that lies inside whether the numbers of the drawing
// were exchanged.
func (l *loader) order(u *Unit) {
	at, turned := corner{u.Inside.Lon, u.Inside.Lat}, corner{u.Inside.Lat, u.Inside.Lon}
	switch {
	case u.Inside == Named{}:
		l.complain(u, "inside", "name a point inside, with lat and lon, to show that the drawing lies where it should")
	case u.holds(at):
	case u.holds(turned):
		l.complain(u, "shape.coordinates", "longitude and latitude are exchanged: longitude comes first")
	default:
		l.complain(u, "inside", "the point named does not lie in the drawing")
	}
}

func boxed(rings []ring) polygon {
	p := polygon{rings: rings, min: rings[0][0], max: rings[0][0]}
	for _, c := range rings[0] {
		for k := range c {
			p.min[k], p.max[k] = min(p.min[k], c[k]), max(p.max[k], c[k])
		}
	}
	return p
}

func (u *Unit) holds(c corner) bool {
	return slices.ContainsFunc(u.polygons, func(p polygon) bool { return p.holds(c) })
}

// holds tells whether the point is in the outer ring and in no hole.
func (p *polygon) holds(c corner) bool {
	if c[0] < p.min[0] || c[0] > p.max[0] || c[1] < p.min[1] || c[1] > p.max[1] || !p.rings[0].holds(c) {
		return false
	}
	return !slices.ContainsFunc(p.rings[1:], func(r ring) bool { return r.holds(c) })
}

// holds counts how often a line to the east of the point meets the ring.
func (r ring) holds(c corner) bool {
	in := false
	for i := 1; i < len(r); i++ {
		a, b := r[i-1], r[i]
		if (a[1] > c[1]) != (b[1] > c[1]) && c[0] < (b[0]-a[0])*(c[1]-a[1])/(b[1]-a[1])+a[0] {
			in = !in
		}
	}
	return in
}

// crossing returns two sides that meet elsewhere than at the corner they share.
// Sides are looked at from west to east, so that only near ones are compared.
func (r ring) crossing() (first, second int, crossed bool) {
	n := len(r) - 1
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	west := func(i int) float64 { return min(r[i][0], r[i+1][0]) }
	slices.SortFunc(order, func(a, b int) int {
		switch {
		case west(a) < west(b):
			return -1
		case west(a) > west(b):
			return 1
		}
		return a - b
	})
	for k, i := range order {
		east := max(r[i][0], r[i+1][0])
		for _, j := range order[k+1:] {
			if west(j) > east {
				break
			}
			a, b := min(i, j), max(i, j)
			next := b == a+1 || a == 0 && b == n-1
			if meet(r[a], r[a+1], r[b], r[b+1], next) {
				return a, b, true
			}
		}
	}
	return 0, 0, false
}

// meet tells whether two sides have a point in common; of sides that follow
// each other, whether one runs back along the other.
func meet(a, b, c, d corner, next bool) bool {
	d1, d2, d3, d4 := turn(c, d, a), turn(c, d, b), turn(a, b, c), turn(a, b, d)
	if next {
		return d3 == 0 && d4 == 0 && back(a, b, c, d)
	}
	if d1*d2 < 0 && d3*d4 < 0 {
		return true
	}
	return d1 == 0 && on(c, d, a) || d2 == 0 && on(c, d, b) || d3 == 0 && on(a, b, c) || d4 == 0 && on(a, b, d)
}

// back tells of two sides on one line that share a corner whether they overlap.
func back(a, b, c, d corner) bool {
	if b == c {
		return (b[0]-a[0])*(d[0]-c[0])+(b[1]-a[1])*(d[1]-c[1]) < 0
	}
	return (a[0]-b[0])*(c[0]-d[0])+(a[1]-b[1])*(c[1]-d[1]) < 0 // a == d: the last side and the first
}

func turn(a, b, c corner) float64 {
	return (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0])
}

// on tells of a point on the line through a and b whether it is between them.
func on(a, b, c corner) bool {
	return min(a[0], b[0]) <= c[0] && c[0] <= max(a[0], b[0]) && min(a[1], b[1]) <= c[1] && c[1] <= max(a[1], b[1])
}
