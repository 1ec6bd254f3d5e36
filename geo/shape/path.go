package shape

import (
	"math"

	"github.com/paulmach/orb"

	"wayfall/geo"
	"wayfall/geo/geodesic"
)

// Way is a line on the ground whose length can be walked: a road, a river, a
// beach.
type Way struct {
	points []geo.Point
	at     []geo.Metres // from the first point
}

// WayOf measures a line in degrees, longitude first; between its corners it is
// straight in degrees.
func WayOf(line orb.LineString) (Way, error) {
	var w Way
	for i, q := range line {
		if i == 0 {
			if err := w.add(q); err != nil {
				return Way{}, err
			}
			continue
		}
		last := line[i-1]
		east := math.Remainder(q[0]-last[0], 360)
		n := 1 + int(math.Hypot(east, q[1]-last[1])*111_000/longEdge)
		for k := 1; k < n && k < 10_000; k++ {
			t := float64(k) / float64(n)
			if err := w.add(orb.Point{math.Remainder(last[0]+t*east, 360), last[1] + t*(q[1]-last[1])}); err != nil {
				return Way{}, err
			}
		}
		if err := w.add(q); err != nil {
			return Way{}, err
		}
	}
	if len(w.points) < 2 {
		return Way{}, geo.Invalidf("a way needs two points")
	}
	return w, nil
}

func (w *Way) add(q orb.Point) error {
	p, err := place(q)
	if err != nil {
		return err
	}
	sum := geo.Metres(0)
	if n := len(w.points); n > 0 {
		d, err := geodesic.Distance(w.points[n-1], p)
		if err != nil || d == 0 {
			return err
		}
		sum = w.at[n-1] + d
	}
	w.points, w.at = append(w.points, p), append(w.at, sum)
	return nil
}

// Length of the way on the ellipsoid. Climbs are not counted.
func (w Way) Length() geo.Metres { return w.at[len(w.at)-1] }

// At is the point so far along the way; beyond its ends, the end.
func (w Way) At(along geo.Metres) (geo.Point, error) {
	i := w.leg(along)
	d := min(max(0, along-w.at[i]), w.at[i+1]-w.at[i])
	l, err := geodesic.Inverse(w.points[i], w.points[i+1])
	if err != nil {
		return geo.Point{}, err
	}
	p, _, err := geodesic.Direct(w.points[i], l.Depart, d)
	return p, err
}

func (w Way) leg(along geo.Metres) int {
	i := 0
	for i+2 < len(w.at) && w.at[i+1] <= along {
		i++
	}
	return i
}

// Foot is how far along the way the point nearest to a place lies, and how far
// off.
func (w Way) Foot(p geo.Point) (along, off geo.Metres, err error) {
	f := frame{p}
	off = geo.Metres(math.Inf(1))
	last, err := f.plane(w.points[0])
	if err != nil {
		return 0, 0, err
	}
	for i := 1; i < len(w.points); i++ {
		next, err := f.plane(w.points[i])
		if err != nil {
			return 0, 0, err
		}
		q := nearest(xy{}, last, next)
		if d := geo.Metres(q.length()); d < off {
			off = d
			along = w.at[i-1] + geo.Metres(last.to(q)/math.Max(1e-9, last.to(next)))*(w.at[i]-w.at[i-1])
		}
		last = next
	}
	return along, off, nil
}

// Stretch is the part of the way between two lengths, as a region.
func (w Way) Stretch(from, to geo.Metres) (Region, error) {
	from, to = max(0, min(from, to)), min(w.Length(), max(from, to))
	if from > to {
		return Region{}, geo.Errorf(geo.Unknown, "the way is shorter than that")
	}
	start, err := w.At(from)
	if err != nil {
		return Region{}, err
	}
	r := Region{frame: frame{start}, grow: bow(start.Lat(), longEdge)}
	points := []xy{{}}
	for i := range w.points {
		if w.at[i] <= from || w.at[i] >= to {
			continue
		}
		q, err := r.frame.plane(w.points[i])
		if err != nil {
			return Region{}, err
		}
		points = append(points, q)
	}
	end, err := w.At(to)
	if err != nil {
		return Region{}, err
	}
	q, err := r.frame.plane(end)
	if err != nil {
		return Region{}, err
	}
	points = append(points, q)
	for i := 1; i < len(points); i++ {
		r.pieces = append(r.pieces, piece{points[i-1], points[i]})
	}
	return r, nil
}

// Inside is the part of the way within a region, from its first to its last
// place there. ok is false where the way stays outside.
func (w Way) Inside(r Region) (from, to geo.Metres, ok bool) {
	from, to = geo.Metres(math.Inf(1)), geo.Metres(math.Inf(-1))
	solid := r.solid()
	low, high := piece(r.corners()).bounds()
	reach := geo.Metres(low.to(high) + r.grow)
	var last xy
	known := false
	for i := range w.points {
		q, err := r.frame.plane(w.points[i])
		if err != nil {
			known = false
			continue
		}
		if known && geo.Metres(q.length()) < reach+2*(w.at[i]-w.at[i-1]) {
			for _, p := range solid {
				if s, t, hit := through(last, q, p); hit {
					leg := w.at[i] - w.at[i-1]
					from, to = min(from, w.at[i-1]+geo.Metres(s)*leg), max(to, w.at[i-1]+geo.Metres(t)*leg)
				}
			}
		}
		last, known = q, true
	}
	return from, to, from <= to
}
