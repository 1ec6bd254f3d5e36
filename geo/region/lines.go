package region

import (
	"math"
	"sort"

	"wayfall/geo"
)

// ID is a FIPS code: two digits for a state or territory, five for a county or
// what stands in its place. The empty ID is unknown.
type ID string

// Level says what kind of unit a region is. The zero Level is unknown.
type Level uint8

// Levels, the larger unit first.
const (
	State Level = iota + 1
	County
)

// String returns the level in a word.
func (l Level) String() string {
	switch l {
	case State:
		return "state"
	case County:
		return "county"
	}
	return "unknown"
}

// digits is how long an ID of the level is.
func (l Level) digits() int {
	switch l {
	case State:
		return 2
	case County:
		return 5
	}
	return 0
}

// Region names one unit.
type Region struct {
	ID    ID     `json:"id"`
	Name  string `json:"name"`
	Level Level  `json:"level"`
	// Parent is the state of a county; a state has none.
	Parent ID `json:"parent,omitempty"`
}

// Node is a corner on the native grid of the lines: columns eastward, rows
// northward.
type Node struct{ X, Y int32 }

// Ring is a closed chain of arcs by index; ^i is arc i run backwards.
type Ring []int32

// Outline is a region with its polygons; the first ring of a polygon is its
// outside and the others are holes.
type Outline struct {
	Region
	Polygons [][]Ring
}

// Lines is a set of borders as it is kept and sent: arcs that neighbours
// share, and who uses them.
type Lines struct {
	// Year is the edition of the lines.
	Year int
	// Origin and Step place the grid: degrees east and north of node (0, 0),
	// and degrees from one node to the next.
	Origin, Step [2]float64
	Arcs         [][]Node
	// Outlines are in order of level, then ID.
	Outlines []Outline
}

// limits of what is accepted, far above what the data needs.
const (
	maxNode = 1 << 30
	maxName = 200
)

// Check says what is wrong with the lines, if anything.
func (l *Lines) Check() error {
	if l.Year < 1 || l.Year > 9999 {
		return geo.Errorf(geo.Damaged, "boundary lines of the year %d are not believable", l.Year)
	}
	for axis, most := range [2]float64{180, 90} {
		if !(math.Abs(l.Origin[axis]) <= most) || !(l.Step[axis] > 0 && l.Step[axis] <= most) {
			return geo.Errorf(geo.Damaged, "the grid of the boundary lines does not lie on the globe")
		}
	}
	for i, arc := range l.Arcs {
		if err := l.checkArc(arc); err != nil {
			return geo.Errorf(geo.Damaged, "boundary arc %d: %v", i, err)
		}
	}
	for i := range l.Outlines {
		if err := l.checkOutline(&l.Outlines[i]); err != nil {
			return geo.Errorf(geo.Damaged, "outline of %q: %v", l.Outlines[i].ID, err)
		}
		if i > 0 && !before(&l.Outlines[i-1].Region, &l.Outlines[i].Region) {
			return geo.Errorf(geo.Damaged, "outline of %q is out of order or given twice", l.Outlines[i].ID)
		}
	}
	return nil
}

func before(a, b *Region) bool {
	if a.Level != b.Level {
		return a.Level < b.Level
	}
	return a.ID < b.ID
}

func (l *Lines) checkArc(arc []Node) error {
	if len(arc) < 2 {
		return geo.Invalidf("fewer than two nodes")
	}
	for _, n := range arc {
		if n.X < 0 || n.Y < 0 || n.X > maxNode || n.Y > maxNode {
			return geo.Invalidf("a node off the grid")
		}
		x, y := l.degrees(n)
		if !(math.Abs(x) <= 180+1e-6 && math.Abs(y) <= 90+1e-6) {
			return geo.Invalidf("a node off the globe")
		}
	}
	return nil
}

func (l *Lines) checkOutline(o *Outline) error {
	if !validID(o.ID, o.Level) {
		return geo.Invalidf("not a code of a state or county")
	}
	if o.Parent != parentOf(o.ID, o.Level) {
		return geo.Invalidf("parent %q does not fit", o.Parent)
	}
	if o.Name == "" || len(o.Name) > maxName {
		return geo.Invalidf("the name is missing or too long")
	}
	if len(o.Polygons) == 0 {
		return geo.Invalidf("no polygon")
	}
	for _, rings := range o.Polygons {
		if len(rings) == 0 {
			return geo.Invalidf("a polygon without a ring")
		}
		for _, ring := range rings {
			if err := l.checkRing(ring); err != nil {
				return err
			}
		}
	}
	return nil
}

func (l *Lines) checkRing(ring Ring) error {
	if len(ring) == 0 {
		return geo.Invalidf("an empty ring")
	}
	for _, ref := range ring {
		if index(ref) >= len(l.Arcs) {
			return geo.Invalidf("arc %d does not exist", ref)
		}
	}
	for i, ref := range ring {
		_, end := l.ends(ref)
		start, _ := l.ends(ring[(i+1)%len(ring)])
		if start != end {
			return geo.Invalidf("a ring that does not close")
		}
	}
	return nil
}

// index is the arc that a reference means, whichever way it is run.
func index(ref int32) int {
	if ref < 0 {
		return int(^ref)
	}
	return int(ref)
}

// ends returns the first and last node of an arc as it is run.
func (l *Lines) ends(ref int32) (first, last Node) {
	arc := l.Arcs[index(ref)]
	first, last = arc[0], arc[len(arc)-1]
	if ref < 0 {
		first, last = last, first
	}
	return first, last
}

func (l *Lines) degrees(n Node) (lon, lat float64) {
	return l.Origin[0] + l.Step[0]*float64(n.X), l.Origin[1] + l.Step[1]*float64(n.Y)
}

func validID(id ID, level Level) bool {
	if len(id) != level.digits() || id == "" {
		return false
	}
	for _, c := range []byte(id) {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}

func parentOf(id ID, level Level) ID {
	if level == County && len(id) >= 2 {
		return id[:2]
	}
	return ""
}

// Sort puts the outlines in their order.
func (l *Lines) Sort() {
	sort.Slice(l.Outlines, func(i, j int) bool {
		return before(&l.Outlines[i].Region, &l.Outlines[j].Region)
	})
}
