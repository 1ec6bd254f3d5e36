package shape

import (
	"math"

	"wayfall/geo"
	"wayfall/geo/geodesic"
)

// finest is the least by which a line or a point is grown before it is cut:
// two of them share no ground otherwise.
const finest = 0.05

// Shared is the ground that two regions have in common. It is unknown when
// they have none.
func Shared(a, b Region) (Region, error) {
	if !a.Known() || !b.Known() {
		return Region{}, nil
	}
	moved, err := b.on(a.frame)
	if err != nil {
		return Region{}, nil // farther apart than any place is wide
	}
	out := Region{frame: a.frame}
	others := moved.solid()
	for _, p := range a.solid() {
		low, high := p.bounds()
		for _, q := range others {
			l, h := q.bounds()
			if l.x > high.x || h.x < low.x || l.y > high.y || h.y < low.y {
				continue
			}
			if c := clip(p, q); len(c) > 2 {
				out.pieces = append(out.pieces, c)
			}
		}
	}
	if len(out.pieces) == 0 {
		return Region{}, nil
	}
	return out, nil
}

// on brings a region to another frame. Its growth is kept: lengths differ by
// no more than the bend of the plane, which is added.
func (r Region) on(f frame) (Region, error) {
	if r.frame == f {
		return r, nil
	}
	out, off := Region{frame: f, grow: r.grow}, 0.
	for _, p := range r.pieces {
		moved := make([]xy, 0, len(p))
		for _, c := range p {
			g, err := r.frame.point(c)
			if err != nil {
				return Region{}, err
			}
			q, err := f.plane(g)
			if err != nil {
				return Region{}, err
			}
			off = math.Max(off, q.length())
			moved = append(moved, q)
		}
		out.pieces = append(out.pieces, hull(moved))
	}
	out.grow *= 1 + bend(off)
	return out, nil
}

// solid draws the growth, so that every piece has an inside.
func (r Region) solid() []piece {
	grow := r.grow
	if grow == 0 {
		thin := false
		for _, p := range r.pieces {
			thin = thin || len(p) < 3 || p.area() < finest*finest
		}
		if !thin {
			return r.pieces
		}
		grow = finest
	}
	round := disc(xy{}, grow, 96)
	out := make([]piece, len(r.pieces))
	for i, p := range r.pieces {
		out[i] = sum(p, round)
	}
	return out
}

// Nearer is the part of a region that is at least as near to own as to other:
// it is cut half-way between them.
func (r Region) Nearer(own, other geo.Point) (Region, error) {
	if !r.Known() || !own.Known() || !other.Known() {
		return Region{}, geo.Errorf(geo.Unknown, "half-way from or to an unknown place is nowhere")
	}
	a, err := r.frame.plane(own)
	if err != nil {
		return Region{}, err
	}
	b, err := r.frame.plane(other)
	if err != nil {
		return r, nil // so far away that half-way is beyond reach
	}
	middle, way := between(a, b, 0.5), b.minus(a)
	if way.length() == 0 {
		return r, nil
	}
	// A hair beyond half-way, for the bend of the plane.
	off := math.Max(a.length(), b.length())
	middle = middle.plus(way.times(bend(off)))
	left := xy{way.y, -way.x}
	out := Region{frame: r.frame}
	for _, p := range r.solid() {
		if c := cut(p, middle, middle.minus(left)); len(c) > 2 {
			out.pieces = append(out.pieces, c)
		}
	}
	if len(out.pieces) == 0 {
		return Region{}, nil
	}
	return out, nil
}

// Joined is the ground of either region.
func Joined(a, b Region) (Region, error) {
	if !a.Known() {
		return b, nil
	}
	if !b.Known() {
		return a, nil
	}
	moved, err := b.on(a.frame)
	if err != nil {
		return Region{}, err
	}
	if moved.grow == a.grow {
		a.pieces = append(append([]piece(nil), a.pieces...), moved.pieces...)
		return a, nil
	}
	return Region{frame: a.frame, pieces: append(append([]piece(nil), a.solid()...), moved.solid()...)}, nil
}

// Gap is the shortest way between two regions on the plane, 0 when they touch.
func Gap(a, b Region) (geo.Metres, error) {
	if !a.Known() || !b.Known() {
		return 0, geo.Errorf(geo.Unknown, "the way to an unknown shape has no length")
	}
	moved, err := b.on(a.frame)
	if err != nil {
		return 0, err
	}
	best := math.Inf(1)
	for _, p := range a.pieces {
		for _, q := range moved.pieces {
			for _, c := range p {
				best = math.Min(best, q.distance(c))
			}
			for _, c := range q {
				best = math.Min(best, p.distance(c))
			}
		}
	}
	return geo.Metres(math.Max(0, best-a.grow-moved.grow)), nil
}

// Band is the ground between two points: everything within half of their
// distance of the middle, held between them to both sides (an ellipse's worth
// is not claimed), grown by what the two stand for.
func Band(a, b Region) (Region, error) {
	if !a.Known() || !b.Known() {
		return Region{}, geo.Errorf(geo.Unknown, "between unknown places there is nothing")
	}
	moved, err := b.on(a.frame)
	if err != nil {
		return Region{}, err
	}
	var all []xy
	for _, p := range append(a.solid(), moved.solid()...) {
		all = append(all, p...)
	}
	return Region{frame: a.frame, pieces: []piece{hull(all)}}, nil
}

// Covers tells whether all of another region surely lies in this one. A false
// may be wrong where the other is cut out of pieces; a true is not, but for
// dents between the corners that were tried.
func (r Region) Covers(o Region) bool {
	if !r.Known() || !o.Known() {
		return false
	}
	moved, err := o.on(r.frame)
	if err != nil {
		return false
	}
	// All of it in one piece, by its round or by its corners?
	low, high := piece(moved.corners()).bounds()
	middle, half := between(low, high, 0.5), low.to(high)/2
	for _, p := range r.pieces {
		if len(p) > 2 && p.holds(middle, r.grow-moved.grow-half) {
			return true
		}
	}
	for _, p := range r.pieces {
		if len(p) > 2 && holdsAll(p, moved.corners(), r.grow-moved.grow) {
			return true
		}
	}
	for _, p := range moved.solid() {
		for _, c := range p {
			if !r.inside(c) {
				return false
			}
		}
	}
	return true
}

func holdsAll(p piece, corners []xy, slack float64) bool {
	for _, c := range corners {
		if !p.holds(c, slack) {
			return false
		}
	}
	return true
}

// Half is the part of a region on one side of the line through a point, on the
// side of a heading.
func (r Region) Half(through geo.Point, toward geo.Degrees) (Region, error) {
	own, _, err := geodesic.Direct(through, toward, 100)
	if err != nil {
		return Region{}, err
	}
	other, _, err := geodesic.Direct(through, toward+180, 100)
	if err != nil {
		return Region{}, err
	}
	return r.Nearer(own, other)
}

// Boxed is every place reached by going east and north from the region, each
// distance off by up to its half.
func (r Region) Boxed(b Box) (Region, error) {
	if !r.Known() {
		return Region{}, orUnknown(nil)
	}
	east, north := float64(b.East), float64(b.North)
	widen := 0.
	for _, c := range r.corners() {
		widen = math.Max(widen, math.Abs(r.frame.lean(math.Abs(c.x)+r.grow)))
	}
	shift := math.Hypot(east, north) * widen * math.Pi / 180
	at, err := b.from(r.frame)
	if err != nil {
		return Region{}, err
	}
	h, v := float64(b.HalfEast)+shift, float64(b.HalfNorth)+shift
	box := piece{{at.x - h, at.y - v}, {at.x + h, at.y - v}, {at.x + h, at.y + v}, {at.x - h, at.y + v}}
	out := Region{frame: r.frame, grow: r.grow}
	for _, p := range r.pieces {
		out.pieces = append(out.pieces, sum(p, box))
	}
	return out, nil
}

// Box is two distances at right angles: east and north, or west and south
// where below zero, each off by up to its half.
type Box struct{ East, North, HalfEast, HalfNorth geo.Metres }

// End is where one arrives from a point: first north or south, then east or
// west.
func (b Box) End(from geo.Point) (geo.Point, error) {
	p, _, err := geodesic.Direct(from, headingOf(b.North, 0, 180), geo.Metres(math.Abs(float64(b.North))))
	if err != nil {
		return geo.Point{}, err
	}
	p, _, err = geodesic.Direct(p, headingOf(b.East, 90, 270), geo.Metres(math.Abs(float64(b.East))))
	return p, err
}

func headingOf(d geo.Metres, ahead, back geo.Degrees) geo.Degrees {
	if d < 0 {
		return back
	}
	return ahead
}

func (b Box) from(f frame) (xy, error) {
	end, err := b.End(f.origin)
	if err != nil {
		return xy{}, err
	}
	return f.plane(end)
}

// FarthestBox is the distance from a point to the farthest place that two
// distances at right angles can lead to from the region.
func (r Region) FarthestBox(b Box, from geo.Point) (geo.Metres, error) {
	if !r.Known() {
		return 0, orUnknown(nil)
	}
	at, err := r.frame.plane(from)
	if err != nil {
		return 0, err
	}
	end, err := b.from(r.frame)
	if err != nil {
		return 0, err
	}
	best, off := 0., 0.
	for _, c := range hull(r.corners()) {
		off = math.Max(off, c.length())
		for _, sx := range [...]float64{-1, 1} {
			for _, sy := range [...]float64{-1, 1} {
				o := end.plus(xy{sx * float64(b.HalfEast), sy * float64(b.HalfNorth)})
				heading := math.Atan2(o.x, o.y) * 180 / math.Pi
				best = math.Max(best, r.arrive(c, at, heading, o.length()))
			}
		}
	}
	off += r.grow + end.length() + float64(b.HalfEast+b.HalfNorth)
	return geo.Metres(best * (1 + bend(off) + missed)), nil
}
