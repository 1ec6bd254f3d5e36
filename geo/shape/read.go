package shape

import (
	"math"

	"github.com/paulmach/orb"

	"wayfall/geo"
)

// finesse is the share of a shape's size by which its outline may be
// simplified; the shape is grown by as much, so that nothing is lost.
const finesse = 1e-4

// longEdge is where an edge that is straight in degrees is divided, so that it
// is straight on the plane as well.
const longEdge = 2_000.

// Of is the region of a shape in degrees, longitude first, on WGS 84.
func Of(g orb.Geometry) (Region, error) {
	first, ok := anyPoint(g)
	if !ok {
		return Region{}, geo.Errorf(geo.Unknown, "the shape is empty")
	}
	at, err := place(first)
	if err != nil {
		return Region{}, err
	}
	// First around some corner, then around the middle.
	r := reader{frame: frame{at}}
	if err := r.add(g); err != nil {
		return Region{}, err
	}
	low, high := piece(r.all).bounds()
	if at, err = r.frame.point(between(low, high, 0.5)); err != nil {
		return Region{}, err
	}
	r = reader{frame: frame{at}, pieces: make([]piece, 0, 8), slack: finesse * low.to(high) / 2}
	if err := r.add(g); err != nil {
		return Region{}, err
	}
	grow := r.bow
	if r.simplified {
		grow += r.slack
	}
	return Region{frame: r.frame, pieces: r.pieces, grow: grow}, nil
}

func place(p orb.Point) (geo.Point, error) { return geo.At(geo.Degrees(p[1]), geo.Degrees(p[0])) }

func anyPoint(g orb.Geometry) (orb.Point, bool) {
	switch g := g.(type) {
	case orb.Point:
		return g, true
	case orb.MultiPoint:
		return first(g)
	case orb.LineString:
		return first(g)
	case orb.Ring:
		return first(g)
	case orb.Polygon:
		return firstOf(g)
	case orb.MultiLineString:
		return firstOf(g)
	case orb.MultiPolygon:
		return firstOf(g)
	case orb.Collection:
		return firstOf(g)
	case orb.Bound:
		return g.Min, true
	}
	return orb.Point{}, false
}

func first[S ~[]orb.Point](s S) (orb.Point, bool) {
	if len(s) == 0 {
		return orb.Point{}, false
	}
	return s[0], true
}

func firstOf[S ~[]G, G orb.Geometry](s S) (orb.Point, bool) {
	for _, g := range s {
		if p, ok := anyPoint(g); ok {
			return p, true
		}
	}
	return orb.Point{}, false
}

type reader struct {
	frame      frame
	all        []xy    // every corner, on the first pass
	pieces     []piece // nil on the first pass
	slack      float64
	simplified bool
	bow        float64
}

// bow is how far a line that is straight in degrees, along a parallel, bows
// away from one that is straight on the ground.
func bow(lat geo.Degrees, length float64) float64 {
	return length * length / (8 * tight) * math.Min(100, math.Abs(math.Tan(lat.Radians())))
}

func (r *reader) add(g orb.Geometry) error {
	switch g := g.(type) {
	case orb.Point:
		return r.line(orb.LineString{g})
	case orb.MultiPoint:
		return addAll(r, g)
	case orb.LineString:
		return r.line(g)
	case orb.Ring:
		return r.ring(g)
	case orb.Polygon:
		if len(g) == 0 {
			return nil
		}
		return r.ring(g[0])
	case orb.MultiLineString:
		return addAll(r, g)
	case orb.MultiPolygon:
		return addAll(r, g)
	case orb.Collection:
		return addAll(r, g)
	case orb.Bound:
		return r.ring(g.ToRing())
	}
	return geo.Invalidf("a shape of this kind cannot be used")
}

func addAll[S ~[]G, G orb.Geometry](r *reader, s S) error {
	for _, g := range s {
		if err := r.add(g); err != nil {
			return err
		}
	}
	return nil
}

// walk brings points to the plane and divides long edges.
func (r *reader) walk(points []orb.Point) ([]xy, error) {
	out := make([]xy, 0, len(points))
	for i, p := range points {
		at, err := place(p)
		if err != nil {
			return nil, err
		}
		q, err := r.frame.plane(at)
		if err != nil {
			return nil, err
		}
		if i > 0 {
			last := out[len(out)-1]
			n := int(last.to(q) / longEdge)
			r.bow = math.Max(r.bow, bow(at.Lat(), last.to(q)/float64(n+1)))
			for k := 1; k <= n && r.pieces != nil; k++ {
				t := float64(k) / float64(n+1)
				mid, err := place(orb.Point{
					points[i-1][0] + t*math.Remainder(p[0]-points[i-1][0], 360),
					points[i-1][1] + t*(p[1]-points[i-1][1]),
				})
				if err != nil {
					break // across the date line: the edge is kept straight
				}
				m, err := r.frame.plane(mid)
				if err != nil {
					return nil, err
				}
				out = append(out, m)
			}
		}
		out = append(out, q)
	}
	return out, nil
}

func (r *reader) line(points []orb.Point) error {
	p, err := r.walk(points)
	if err != nil || r.pieces == nil {
		r.all = append(r.all, p...)
		return err
	}
	if len(p) > 2000 {
		p = r.simplify(p)
	}
	if len(p) == 1 {
		r.pieces = append(r.pieces, piece{p[0]})
	}
	for i := 1; i < len(p); i++ {
		r.pieces = append(r.pieces, piece{p[i-1], p[i]})
	}
	return nil
}

func (r *reader) ring(points orb.Ring) error {
	p, err := r.walk(points)
	if err != nil || r.pieces == nil {
		r.all = append(r.all, p...)
		return err
	}
	if n := len(p); n > 1 && p[0].to(p[n-1]) < 1e-6 {
		p = p[:n-1]
	}
	if len(p) > 3 {
		far := 0
		for i := range p {
			if p[0].to(p[i]) > p[0].to(p[far]) {
				far = i
			}
		}
		if far > 0 {
			a := r.simplify(p[:far+1])
			b := r.simplify(append(append([]xy(nil), p[far:]...), p[0]))
			p = append(append([]xy(nil), a...), b[1:len(b)-1]...)
		}
	}
	r.pieces = append(r.pieces, convex(p)...)
	return nil
}

// simplify leaves out corners within slack of the line between those kept
// (D. H. Douglas and T. K. Peucker, Cartographica 10 (1973), 112-122).
func (r *reader) simplify(p []xy) []xy {
	if len(p) < 3 {
		return p
	}
	far, worst := 0, 0.
	for i := 1; i < len(p)-1; i++ {
		if d := p[i].to(nearest(p[i], p[0], p[len(p)-1])); d > worst {
			far, worst = i, d
		}
	}
	if worst <= r.slack {
		r.simplified = true
		return []xy{p[0], p[len(p)-1]}
	}
	a, b := r.simplify(p[:far+1]), r.simplify(p[far:])
	return append(append([]xy(nil), a...), b[1:]...)
}

// convex cuts a simple ring into convex pieces: ears are taken off one by one
// and joined to their neighbour while the whole stays convex. A ring that
// crosses itself becomes its hull, which holds all of it.
func convex(p []xy) []piece {
	if len(p) < 4 {
		return []piece{hull(p)}
	}
	if signed(p) < 0 {
		p = reversed(p)
	}
	if h := hull(p); h.area() <= signed(p)*(1+dent) {
		return []piece{h}
	}
	left := append([]xy(nil), p...)
	var out []piece
	for len(left) > 3 {
		ear := findEar(left)
		if ear < 0 {
			return []piece{hull(p)}
		}
		n := len(left)
		out = joinEar(out, []xy{left[(ear+n-1)%n], left[ear], left[(ear+1)%n]})
		left = append(left[:ear], left[ear+1:]...)
	}
	return joinEar(out, left)
}

func signed(p []xy) float64 {
	s := 0.
	for i := range p {
		s += p[i].cross(p[(i+1)%len(p)])
	}
	return s / 2
}

func reversed(p []xy) []xy {
	out := make([]xy, len(p))
	for i := range p {
		out[len(p)-1-i] = p[i]
	}
	return out
}

func findEar(p []xy) int {
	n := len(p)
	for i := range p {
		a, b, c := p[(i+n-1)%n], p[i], p[(i+1)%n]
		if turn(a, b, c) < 0 {
			continue
		}
		free := true
		for j := range p {
			if j == i || j == (i+n-1)%n || j == (i+1)%n {
				continue
			}
			q := p[j]
			if q != a && q != b && q != c && turn(a, b, q) >= 0 && turn(b, c, q) >= 0 && turn(c, a, q) >= 0 {
				free = false
				break
			}
		}
		if free {
			return i
		}
	}
	return -1
}

// dent is by which share of its ground a piece may be filled up to be convex:
// a parallel seen on the plane is a little hollow.
const dent = 1e-3

// joinEar adds a triangle to a piece if both together are convex.
func joinEar(out []piece, ear []xy) []piece {
	t := hull(ear)
	for i := len(out) - 1; i >= 0 && len(t) > 2; i-- {
		if len(out[i]) < 3 {
			continue
		}
		both := hull(append(append([]xy(nil), out[i]...), ear...))
		if both.area() <= (out[i].area()+t.area())*(1+dent) {
			out[i] = both
			return out
		}
	}
	return append(out, t)
}
