package shape

import (
	"math"

	"wayfall/geo"
)

// Step is a distance at a heading: from Distance-Half to Distance+Half, within
// HalfAngle to either side of Heading, clockwise from true north where one
// sets out.
type Step struct {
	Distance, Half     geo.Metres
	Heading, HalfAngle geo.Degrees
}

func (s Step) check() error {
	if !(s.Distance >= 0 && s.Half >= 0 && s.Distance+s.Half <= reach/2) {
		return geo.Invalidf("an offset is reckoned up to %.0f km", float64(reach/2/geo.Kilometre))
	}
	if !(s.HalfAngle >= 0 && s.HalfAngle <= 180) || math.IsNaN(float64(s.Heading)) || math.IsInf(float64(s.Heading), 0) {
		return geo.Invalidf("a heading cannot be off by %g degrees", float64(s.HalfAngle))
	}
	return nil
}

// slice is the widest part of a ring that is kept as one piece.
const slice = 5.

// ring is the sector of a ring that a step can end in. Its outer arc is drawn
// outside the arc, except for its two ends, which are exact.
func (s Step) ring(widen float64) []piece {
	inner := math.Max(0, float64(s.Distance-s.Half))
	outer := float64(s.Distance + s.Half)
	half := math.Min(180, float64(s.HalfAngle)+widen)
	middle := float64(s.Heading)
	if half == 0 {
		return []piece{{polar(inner, middle), polar(outer, middle)}}
	}
	n := int(math.Ceil(2 * half / slice))
	step := 2 * half / float64(n)
	top := outer / math.Cos(step/2*math.Pi/180)
	all := make([]piece, 0, n)
	for i := range n {
		a := middle - half + float64(i)*step
		all = append(all, hull([]xy{
			polar(inner, a), polar(outer, a), polar(top, a+step/2), polar(outer, a+step), polar(inner, a+step),
		}))
	}
	return all
}

// Swept is every place that a step can lead to from the region. North leans
// from one end of a piece to the other; the sector is widened by that.
func (r Region) Swept(s Step) (Region, error) {
	if err := s.check(); err != nil || !r.Known() {
		return Region{}, orUnknown(err)
	}
	out := Region{frame: r.frame, grow: r.grow}
	for _, whole := range r.pieces {
		for _, p := range chunks(whole) {
			middle, widen := r.leans(p)
			turned := s
			turned.Heading += geo.Degrees(middle)
			for _, q := range turned.ring(math.Min(45, widen)) {
				out.pieces = append(out.pieces, sum(p, q))
			}
		}
	}
	return out, nil
}

// leans is by how much north leans in the middle of a piece, and by how much
// more or less elsewhere in it.
func (r Region) leans(p piece) (middle, widen float64) {
	low, high := p.bounds()
	a, b := r.frame.lean(low.x-r.grow), r.frame.lean(high.x+r.grow)
	return (a + b) / 2, math.Abs(b-a) / 2
}

// chunks divides a long line, so that north leans little within each part.
func chunks(p piece) []piece {
	const long = 2000
	if len(p) != 2 || p[0].to(p[1]) <= long {
		return []piece{p}
	}
	n := int(math.Ceil(p[0].to(p[1]) / long))
	out := make([]piece, n)
	for i := range out {
		out[i] = piece{between(p[0], p[1], float64(i)/float64(n)), between(p[0], p[1], float64(i+1)/float64(n))}
	}
	return out
}

func orUnknown(err error) error {
	if err == nil {
		err = geo.Errorf(geo.Unknown, "one cannot set out from an unknown shape")
	}
	return err
}

// Farthest is the distance from a point to the farthest place that a step can
// lead to from the region, without drawing it. This is the true worst case for
// that point.
func (r Region) Farthest(s Step, from geo.Point) (geo.Metres, error) {
	if err := s.check(); err != nil || !r.Known() {
		return 0, orUnknown(err)
	}
	at, err := r.frame.plane(from)
	if err != nil {
		return 0, err
	}
	best, off := 0., 0.
	for _, c := range hull(r.corners()) {
		off = math.Max(off, c.length())
		for _, part := range [...]float64{-1, -0.5, 0, 0.5, 1} {
			heading := float64(s.Heading) + part*float64(s.HalfAngle)
			best = math.Max(best, r.arrive(c, at, heading, float64(s.Distance+s.Half)))
			best = math.Max(best, r.arrive(c, at, heading, math.Max(0, float64(s.Distance-s.Half))))
		}
	}
	off += r.grow + float64(s.Distance+s.Half)
	return geo.Metres(best * (1 + bend(off) + missed)), nil
}

// missed is the share by which the search of arrive may stop short: it knows
// the direction to a quarter of a degree.
const missed = 2e-5

// arrive is how far from a place one may arrive by going a distance at a
// heading from anywhere within the growth of a corner.
func (r Region) arrive(corner, at xy, heading, distance float64) float64 {
	end := func(toward float64) float64 {
		start := corner.plus(polar(r.grow, toward))
		return at.to(start.plus(polar(distance, heading+r.frame.lean(start.x))))
	}
	plain := corner.plus(polar(distance, heading+r.frame.lean(corner.x)))
	away := plain.minus(at)
	best, toward := end(0), math.Atan2(away.x, away.y)*180/math.Pi
	if r.grow == 0 {
		return best
	}
	best = end(toward)
	for step := 30.; step > 0.3; step /= 4 {
		middle := toward
		for k := -3.; k <= 3; k++ {
			if d := end(middle + k*step); d > best {
				best, toward = d, middle+k*step
			}
		}
	}
	return best
}
