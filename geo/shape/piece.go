package shape

import (
	"math"
	"sort"
)

// piece is a convex polygon, anticlockwise; a segment when it has two corners
// and a point when it has one.
type piece []xy

// hull is the smallest piece around some points (monotone chain: A. M.
// Andrew, Information Processing Letters 9 (1979), 216-219).
func hull(points []xy) piece {
	p := append([]xy(nil), points...)
	sort.Slice(p, func(i, j int) bool { return p[i].x < p[j].x || p[i].x == p[j].x && p[i].y < p[j].y })
	out := make(piece, 0, len(p)+1)
	for pass := 0; pass < 2; pass++ {
		base := len(out)
		for _, q := range p {
			for len(out) >= base+2 && turn(out[len(out)-2], out[len(out)-1], q) <= 0 {
				out = out[:len(out)-1]
			}
			out = append(out, q)
		}
		out = out[:len(out)-1]
		for i, j := 0, len(p)-1; i < j; i, j = i+1, j-1 {
			p[i], p[j] = p[j], p[i]
		}
	}
	if len(out) == 0 && len(p) > 0 {
		return piece{p[0]}
	}
	return out
}

// disc is a polygon around a circle: its sides touch it, so that it holds all
// of it, and its corners lie r/cos(180/n degrees) away.
func disc(at xy, r float64, n int) piece {
	if r <= 0 {
		return piece{at}
	}
	d := make(piece, n)
	out := r / math.Cos(math.Pi/float64(n))
	for i := range d {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		d[i] = xy{at.x + out*c, at.y + out*s}
	}
	return d
}

// sum is the Minkowski sum: all places reached from one piece by a step out of
// the other.
func sum(a, b piece) piece {
	if len(b) == 1 {
		a, b = b, a
	}
	if len(a) == 1 {
		out := make(piece, len(b))
		for i, q := range b {
			out[i] = a[0].plus(q)
		}
		return out
	}
	all := make([]xy, 0, len(a)*len(b))
	for _, p := range a {
		for _, q := range b {
			all = append(all, p.plus(q))
		}
	}
	return hull(all)
}

// clip is what two pieces share (I. E. Sutherland and G. W. Hodgman,
// Communications of the ACM 17 (1974), 32-42). by must have an inside.
func clip(a, by piece) piece {
	for i := range by {
		if len(a) == 0 {
			return nil
		}
		a = cut(a, by[i], by[(i+1)%len(by)])
	}
	return a
}

// cut keeps what lies to the left of the line from p to q.
func cut(a piece, p, q xy) piece {
	out := make(piece, 0, len(a)+1)
	for i := range a {
		j := (i + 1) % len(a)
		s, t := turn(p, q, a[i]), turn(p, q, a[j])
		if s >= 0 {
			out = append(out, a[i])
		}
		if s > 0 && t < 0 || s < 0 && t > 0 {
			out = append(out, between(a[i], a[j], s/(s-t)))
		}
	}
	return out
}

// holds tells whether a place lies in the piece or within slack of it.
func (a piece) holds(p xy, slack float64) bool {
	if len(a) < 3 {
		return a.distance(p) <= slack
	}
	for i := range a {
		u, v := a[i], a[(i+1)%len(a)]
		if turn(u, v, p) < -slack*u.to(v) {
			return false
		}
	}
	return true
}

// distance from a place to the piece; 0 inside.
func (a piece) distance(p xy) float64 {
	if len(a) >= 3 && a.holds(p, 0) {
		return 0
	}
	best := math.Inf(1)
	for i := range a {
		best = math.Min(best, p.to(nearest(p, a[i], a[(i+1)%len(a)])))
	}
	return best
}

func (a piece) area() float64 {
	s := 0.
	for i := 1; i+1 < len(a); i++ {
		s += turn(a[0], a[i], a[i+1])
	}
	return s / 2
}

func (a piece) bounds() (low, high xy) {
	low, high = xy{math.Inf(1), math.Inf(1)}, xy{math.Inf(-1), math.Inf(-1)}
	for _, p := range a {
		low.x, low.y = math.Min(low.x, p.x), math.Min(low.y, p.y)
		high.x, high.y = math.Max(high.x, p.x), math.Max(high.y, p.y)
	}
	return low, high
}

// nearest is the place on the segment from a to b that is nearest to p.
func nearest(p, a, b xy) xy {
	along := b.minus(a)
	if l := along.dot(along); l > 0 {
		return between(a, b, math.Max(0, math.Min(1, p.minus(a).dot(along)/l)))
	}
	return a
}
