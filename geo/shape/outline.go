package shape

import (
	"math"
	"sort"

	"github.com/paulmach/orb"
)

// Outline is the region as polygons in degrees, longitude first, each with its
// holes. Arcs are drawn with corners outside them. plain is true when the
// outline is the whole hull because the pieces could not be sewn together.
func (r Region) Outline() (shape orb.MultiPolygon, plain bool) {
	if !r.Known() {
		return nil, false
	}
	rings, plain := r.rings()
	return r.nest(rings), plain
}

// Area is the ground that the region covers, in square metres; that of points
// and lines is 0.
func (r Region) Area() float64 {
	if !r.Known() || r.grow == 0 && r.thin() {
		return 0
	}
	rings, _ := r.rings()
	sum := 0.
	for _, g := range rings {
		sum += signed(g)
	}
	return sum
}

func (r Region) thin() bool {
	for _, p := range r.pieces {
		if p.area() >= finest*finest {
			return false
		}
	}
	return true
}

// rings are the edges of the union: outer ones anticlockwise, holes clockwise.
func (r Region) rings() (rings [][]xy, plain bool) {
	pieces := r.drawn()
	if len(pieces) == 1 {
		return [][]xy{pieces[0]}, false
	}
	rings, ok := sew(rim(pieces))
	if !ok {
		return [][]xy{hull(r.allOf(pieces))}, true
	}
	return rings, false
}

func (r Region) allOf(pieces []piece) []xy {
	var all []xy
	for _, p := range pieces {
		all = append(all, p...)
	}
	return all
}

// drawn are the pieces with an inside, each grown by a hair of its own, so
// that edges which two of them share cross or lie inside.
func (r Region) drawn() []piece {
	grow := r.grow
	low, high := piece(r.corners()).bounds()
	hair := 1e-7 * (low.to(high) + grow + 1)
	thin := grow == 0
	if thin {
		grow = hair
		for _, p := range r.pieces {
			if p.area() < finest*finest {
				grow = finest
				break
			}
		}
	}
	corners := 72
	if thin && grow == hair {
		corners = 6
	}
	out := make([]piece, len(r.pieces))
	for i, p := range r.pieces {
		// The turn of the disc and the hair keep edges of neighbours apart.
		own := disc(xy{}, grow*(1+1e-6*float64(i%7)), corners)
		if i%2 == 1 {
			s, c := math.Sincos(0.37 + 0.11*float64(i%5))
			for k, q := range own {
				own[k] = xy{q.x*c - q.y*s, q.x*s + q.y*c}
			}
		}
		out[i] = sum(p, hull(own))
	}
	return out
}

type edge struct{ from, to xy }

// rim are the parts of the pieces' edges that lie in no other piece.
func rim(pieces []piece) []edge {
	type box struct{ low, high xy }
	boxes := make([]box, len(pieces))
	for i, p := range pieces {
		boxes[i].low, boxes[i].high = p.bounds()
	}
	var out []edge
	for i, p := range pieces {
		var near []piece
		for j, q := range pieces {
			a, b := boxes[i], boxes[j]
			if j != i && a.low.x <= b.high.x && b.low.x <= a.high.x && a.low.y <= b.high.y && b.low.y <= a.high.y {
				near = append(near, q)
			}
		}
		for k := range p {
			out = append(out, outside(p[k], p[(k+1)%len(p)], near)...)
		}
	}
	return out
}

// outside is what is left of an edge when the parts inside the other pieces
// are taken away.
func outside(a, b xy, others []piece) []edge {
	type stretch struct{ from, to float64 }
	var taken []stretch
	for _, q := range others {
		if from, to, ok := through(a, b, q); ok {
			taken = append(taken, stretch{from, to})
		}
	}
	sort.Slice(taken, func(i, j int) bool { return taken[i].from < taken[j].from })
	var out []edge
	at := 0.
	for _, s := range taken {
		if s.from > at {
			out = append(out, edge{between(a, b, at), between(a, b, s.from)})
		}
		at = math.Max(at, s.to)
	}
	if at < 1 {
		out = append(out, edge{between(a, b, at), b})
	}
	return out
}

// through is the part of the segment from a to b inside a piece (M. Cyrus and
// J. Beck, Computers & Graphics 3 (1978), 23-28).
func through(a, b xy, q piece) (from, to float64, ok bool) {
	from, to = 0, 1
	for i := range q {
		u, v := q[i], q[(i+1)%len(q)]
		s, t := turn(u, v, a), turn(u, v, b)
		switch {
		case s <= 0 && t <= 0:
			return 0, 0, false
		case s < 0:
			from = math.Max(from, s/(s-t))
		case t < 0:
			to = math.Min(to, s/(s-t))
		}
	}
	return from, to, from < to
}

// sew joins edges end to end into rings. Ends that should meet were worked out
// twice and differ by rounding.
func sew(edges []edge) ([][]xy, bool) {
	if len(edges) == 0 {
		return nil, false
	}
	size := 0.
	for _, e := range edges {
		size = math.Max(size, math.Max(math.Abs(e.from.x), math.Abs(e.from.y)))
	}
	snap := math.Max(1e-9, 1e-9*size)
	starts := make(map[[2]int64][]int, len(edges))
	cell := func(p xy) [2]int64 {
		return [2]int64{int64(math.Floor(p.x / snap / 8)), int64(math.Floor(p.y / snap / 8))}
	}
	kept := edges[:0:0]
	for _, e := range edges {
		if e.from.to(e.to) > 2*snap {
			starts[cell(e.from)] = append(starts[cell(e.from)], len(kept))
			kept = append(kept, e)
		}
	}
	used := make([]bool, len(kept))
	follow := func(p xy) int {
		best, at, c := 8*snap, -1, cell(p)
		for dx := int64(-1); dx <= 1; dx++ {
			for dy := int64(-1); dy <= 1; dy++ {
				for _, i := range starts[[2]int64{c[0] + dx, c[1] + dy}] {
					if d := p.to(kept[i].from); !used[i] && d < best {
						best, at = d, i
					}
				}
			}
		}
		return at
	}
	var rings [][]xy
	for i := range kept {
		if used[i] {
			continue
		}
		var ring []xy
		for at := i; at >= 0; at = follow(kept[at].to) {
			used[at] = true
			ring = append(ring, kept[at].from)
			if kept[at].to.to(kept[i].from) < 8*snap {
				break
			}
			if next := follow(kept[at].to); next < 0 {
				return nil, false
			}
		}
		if len(ring) > 2 {
			rings = append(rings, straightened(ring))
		}
	}
	return rings, len(rings) > 0
}

// straightened drops corners that lie on a line with their neighbours.
func straightened(p []xy) []xy {
	out := make([]xy, 0, len(p))
	for i := range p {
		a, b, c := p[(i+len(p)-1)%len(p)], p[i], p[(i+1)%len(p)]
		if math.Abs(turn(a, b, c)) > 1e-7*a.to(c) {
			out = append(out, b)
		}
	}
	if len(out) < 3 {
		return p
	}
	return out
}

// nest puts holes into the rings around them and turns all into degrees.
func (r Region) nest(rings [][]xy) orb.MultiPolygon {
	var outer [][]xy
	var shape orb.MultiPolygon
	for _, g := range rings {
		if signed(g) > 0 {
			outer = append(outer, g)
			shape = append(shape, orb.Polygon{r.degrees(g)})
		}
	}
	for _, g := range rings {
		if signed(g) >= 0 {
			continue
		}
		for i, o := range outer {
			if ringHolds(o, g[0]) {
				shape[i] = append(shape[i], r.degrees(g))
				break
			}
		}
	}
	return shape
}

func ringHolds(ring []xy, p xy) bool {
	in := false
	for i := range ring {
		a, b := ring[i], ring[(i+1)%len(ring)]
		if (a.y > p.y) != (b.y > p.y) && p.x < a.x+(p.y-a.y)/(b.y-a.y)*(b.x-a.x) {
			in = !in
		}
	}
	return in
}

// decimals of a degree in an outline: about a centimetre.
const decimals = 1e7

func (r Region) degrees(ring []xy) orb.Ring {
	out := make(orb.Ring, 0, len(ring)+1)
	for _, c := range ring {
		p, err := r.frame.point(c)
		if err != nil {
			continue
		}
		q := orb.Point{math.Round(float64(p.Lon())*decimals) / decimals, math.Round(float64(p.Lat())*decimals) / decimals}
		if len(out) > 0 && out[len(out)-1] == q {
			continue
		}
		if len(out) > 0 && math.Abs(q[0]-out[0][0]) > 180 { // across the date line: kept in one piece
			q[0] += math.Copysign(360, out[0][0]-q[0])
		}
		out = append(out, q)
	}
	if len(out) > 1 && out[0] != out[len(out)-1] {
		out = append(out, out[0])
	}
	return out
}
