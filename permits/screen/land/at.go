package land

import (
	"math"
	"slices"

	"wayfall/geo"
	"wayfall/geo/geodesic"
	"wayfall/permits"
	"wayfall/permits/screen"
)

// Hit is a unit in which a find lies or may lie.
type Hit struct {
	Unit *Unit
	// Sure is set when the whole circle lies inside on every day on which it
	// may have been; else it may be on either side.
	Sure bool
	// Border is how far the centre is from the line, from whichever side.
	Border geo.Metres
}

// At returns the units in which a circle lies or may lie on the days. A circle
// that just touches a line may lie beyond it. An unknown circle lies nowhere
// that can be told: ask Known first.
func (m *Map) At(c geo.Circle, on permits.When) []Hit {
	if m == nil || !c.Known() {
		return nil
	}
	var out []Hit
	for _, u := range m.units {
		if !u.stands(on) {
			continue
		}
		inside, border, near := u.measure(c)
		reach := c.Radius + u.Off
		switch {
		case inside && (!near || border > reach):
			out = append(out, Hit{u, u.throughout(on), border})
		case near && border <= reach:
			out = append(out, Hit{u, false, border})
		}
	}
	return out
}

// throughout tells whether the drawing held on all of the days.
func (u *Unit) throughout(w permits.When) bool {
	if !w.Known() {
		return !u.From.Known() && !u.To.Known()
	}
	return u.From <= w.From.Date && (!u.To.Known() || w.To.Date <= u.To)
}

// measure tells whether the centre is drawn inside and how far the line is; not
// near means so far that the circle cannot reach it. The nearest place is found
// on a plane around the centre and its distance taken on the ellipsoid.
func (u *Unit) measure(c geo.Circle) (inside bool, border geo.Metres, near bool) {
	at := corner{float64(c.Centre.Lon()), float64(c.Centre.Lat())}
	n, e := geodesic.MetresPerDegree(c.Centre.Lat())
	scale := corner{math.Max(float64(e), 1), float64(n)}
	pad := 2 * float64(c.Radius+u.Off+geo.Kilometre)
	best, place := math.Inf(1), corner{}
	for i := range u.polygons {
		p := &u.polygons[i]
		inside = inside || p.holds(at)
		if at[0] < p.min[0]-pad/scale[0] || at[0] > p.max[0]+pad/scale[0] ||
			at[1] < p.min[1]-pad/scale[1] || at[1] > p.max[1]+pad/scale[1] {
			continue
		}
		for _, r := range p.rings {
			if square, where := r.nearest(at, scale); square < best {
				best, place = square, where
			}
		}
	}
	if math.IsInf(best, 1) {
		return inside, 0, false
	}
	p, err := geo.At(geo.Degrees(place[1]), geo.Degrees(place[0]))
	if err != nil {
		return inside, 0, false
	}
	border, err = geodesic.Distance(c.Centre, p)
	return inside, border, err == nil
}

// nearest returns the place on the ring nearest to the point, in metres of the
// plane, squared.
func (r ring) nearest(from, scale corner) (best float64, place corner) {
	best = math.Inf(1)
	x1, y1 := (r[0][0]-from[0])*scale[0], (r[0][1]-from[1])*scale[1]
	for _, c := range r[1:] {
		x2, y2 := (c[0]-from[0])*scale[0], (c[1]-from[1])*scale[1]
		dx, dy := x2-x1, y2-y1
		t := 0.0
		if length := dx*dx + dy*dy; length > 0 {
			t = math.Max(0, math.Min(1, -(x1*dx+y1*dy)/length))
		}
		x, y := x1+t*dx, y1+t*dy
		if square := x*x + y*y; square < best {
			best, place = square, corner{from[0] + x/scale[0], from[1] + y/scale[1]}
		}
		x1, y1 = x2, y2
	}
	return best, place
}

// manager turns a class into the word by which rules ask for it.
func manager(class string) string {
	if class == "state_park" {
		return "state"
	}
	return class
}

// severity orders what units say, the strictest last.
var severity = map[string]int{Allow: 1, Ask: 2, Deny: 3}

// Tell adds to the facts of a find what the units at a circle say of its
// ground on the days.
func (m *Map) Tell(f *screen.Facts, c geo.Circle, on permits.When) { Tell(f, m.At(c, on)) }

// Tell adds to the facts of a find what the units say of its ground. Of units
// in which it surely lies the strictest counts; one that the circle touches may
// count, and then the rules hear of both.
func Tell(f *screen.Facts, hits []Hit) {
	if len(hits) == 0 {
		return
	}
	strict := hits[0].Unit
	may := []string{}
	for _, h := range hits {
		if severity[h.Unit.Default] > severity[strict.Default] {
			strict = h.Unit
		}
		if !h.Sure {
			may = append(may, manager(h.Unit.Class))
			continue
		}
		f.Units = append(f.Units, h.Unit.ID)
		if severity[h.Unit.Default] > severity[f.LandDefault] {
			f.LandDefault = h.Unit.Default
			if h.Unit.Default != Allow {
				f.LandManager = manager(h.Unit.Class)
			}
		}
	}
	f.LandName = strict.Name
	if len(may) > 0 {
		touched(f, hits, may)
	}
}

// touched offers what the units that the circle touches would say, beside what
// is sure.
func touched(f *screen.Facts, hits []Hit, managers []string) {
	if f.LandManager != "" {
		if !slices.Contains(managers, f.LandManager) {
			managers = append([]string{f.LandManager}, managers...)
		}
		if len(managers) > 1 {
			f.LandManager, f.LandManagersPossible = "", managers
		}
	}
	for _, h := range hits {
		if !h.Sure && severity[h.Unit.Default] > severity[f.LandDefault] && !slices.Contains(f.LandDefaultsPossible, h.Unit.Default) {
			f.LandDefaultsPossible = append(f.LandDefaultsPossible, h.Unit.Default)
		}
	}
	if len(f.LandDefaultsPossible) > 0 {
		least := f.LandDefault
		if least == "" {
			least = "none"
		}
		f.LandDefaultsPossible = append([]string{least}, f.LandDefaultsPossible...)
		f.LandDefault = ""
	}
}
