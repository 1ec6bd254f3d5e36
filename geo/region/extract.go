package region

import "wayfall/geo"

// Extract cuts out a home region: the named states with all their counties,
// and, so that a place across their borders is not taken for the sea, every
// county that touches them and the outline of its state. Farther counties of
// those neighbours are left out; a place there is in a known state and an
// unknown county.
func (l *Lines) Extract(states ...ID) (*Lines, error) {
	home := make(map[ID]bool)
	for _, id := range states {
		if !l.has(id) {
			return nil, geo.Errorf(geo.Unknown, "there is no state with the code %q in these lines", id)
		}
		home[id] = true
	}
	if len(home) == 0 {
		return nil, geo.Errorf(geo.Unknown, "no state was named to cut out")
	}
	touched := l.corners(func(o *Outline) bool { return o.Level == County && home[o.Parent] })
	keep := make(map[ID]bool)
	for i := range l.Outlines {
		o := &l.Outlines[i]
		if o.Level == County && (home[o.Parent] || l.touches(o, touched)) {
			keep[o.ID], keep[o.Parent] = true, true
		}
	}
	for id := range home {
		keep[id] = true
	}
	return l.only(keep), nil
}

func (l *Lines) has(state ID) bool {
	for i := range l.Outlines {
		if l.Outlines[i].Level == State && l.Outlines[i].ID == state {
			return true
		}
	}
	return false
}

func (l *Lines) corners(of func(*Outline) bool) map[Node]bool {
	all := make(map[Node]bool)
	for i := range l.Outlines {
		if of(&l.Outlines[i]) {
			eachArc(&l.Outlines[i], func(ref *int32) {
				for _, n := range l.Arcs[index(*ref)] {
					all[n] = true
				}
			})
		}
	}
	return all
}

func (l *Lines) touches(o *Outline, corners map[Node]bool) bool {
	found := false
	eachArc(o, func(ref *int32) {
		for _, n := range l.Arcs[index(*ref)] {
			found = found || corners[n]
		}
	})
	return found
}

func eachArc(o *Outline, do func(ref *int32)) {
	for _, rings := range o.Polygons {
		for _, ring := range rings {
			for i := range ring {
				do(&ring[i])
			}
		}
	}
}

// only keeps some outlines and the arcs they use, numbered anew.
func (l *Lines) only(keep map[ID]bool) *Lines {
	cut := &Lines{Year: l.Year, Origin: l.Origin, Step: l.Step}
	renumbered := make(map[int]int32)
	for i := range l.Outlines {
		if !keep[l.Outlines[i].ID] {
			continue
		}
		o := l.Outlines[i].clone()
		eachArc(&o, func(ref *int32) {
			old := index(*ref)
			now, ok := renumbered[old]
			if !ok {
				now = int32(len(cut.Arcs))
				renumbered[old] = now
				cut.Arcs = append(cut.Arcs, l.Arcs[old])
			}
			if *ref < 0 {
				now = ^now
			}
			*ref = now
		})
		cut.Outlines = append(cut.Outlines, o)
	}
	return cut
}

func (o *Outline) clone() Outline {
	c := Outline{Region: o.Region, Polygons: make([][]Ring, len(o.Polygons))}
	for i, rings := range o.Polygons {
		c.Polygons[i] = make([]Ring, len(rings))
		for j, ring := range rings {
			c.Polygons[i][j] = append(Ring(nil), ring...)
		}
	}
	return c
}
