// Package boundaries turns published state and county lines into the compact
// form that the program carries.
//
// It reads TopoJSON with quantised arcs and the objects "states" and
// "counties", as the U.S. Census Bureau's cartographic boundary files are
// packed for the web, and keeps every line exactly as it stands: the lines are
// generalised already, and to simplify them further saves a quarter and costs
// kilometres. It fetches nothing.
package boundaries

import (
	"encoding/json"
	"math"

	"wayfall/geo"
	"wayfall/geo/region"
)

type topology struct {
	Type      string `json:"type"`
	Transform *struct {
		Scale     [2]float64 `json:"scale"`
		Translate [2]float64 `json:"translate"`
	} `json:"transform"`
	Objects map[string]struct {
		Geometries []geometry `json:"geometries"`
	} `json:"objects"`
	Arcs [][][2]int64 `json:"arcs"`
}

type geometry struct {
	Type       string          `json:"type"`
	ID         string          `json:"id"`
	Arcs       json.RawMessage `json:"arcs"`
	Properties struct {
		Name string `json:"name"`
	} `json:"properties"`
}

// Reduce reads TopoJSON and writes the compact form; year is the edition of
// the lines.
func Reduce(topojson []byte, year int) ([]byte, error) {
	l, err := Read(topojson, year)
	if err != nil {
		return nil, err
	}
	return l.Encode()
}

// Home cuts the home region out of lines in compact form, for a phone.
func Home(lines []byte, states ...region.ID) ([]byte, error) {
	l, err := region.Decode(lines)
	if err != nil {
		return nil, err
	}
	cut, err := l.Extract(states...)
	if err != nil {
		return nil, err
	}
	return cut.Encode()
}

// Read reads TopoJSON into lines.
func Read(topojson []byte, year int) (*region.Lines, error) {
	var t topology
	if err := json.Unmarshal(topojson, &t); err != nil {
		return nil, geo.Errorf(geo.Damaged, "the boundary file is not TopoJSON: %v", err)
	}
	if t.Type != "Topology" || t.Transform == nil {
		return nil, geo.Errorf(geo.Damaged, "the boundary file is not TopoJSON on a grid")
	}
	l := &region.Lines{Year: year, Origin: t.Transform.Translate, Step: t.Transform.Scale}
	for i, steps := range t.Arcs {
		arc, err := walk(steps)
		if err != nil {
			return nil, geo.Errorf(geo.Damaged, "arc %d of the boundary file: %v", i, err)
		}
		l.Arcs = append(l.Arcs, arc)
	}
	for name, level := range map[string]region.Level{"states": region.State, "counties": region.County} {
		object := t.Objects[name]
		if len(object.Geometries) == 0 {
			return nil, geo.Errorf(geo.Damaged, "the boundary file holds no %s", name)
		}
		for i := range object.Geometries {
			o, err := outline(&object.Geometries[i], level)
			if err != nil {
				return nil, err
			}
			l.Outlines = append(l.Outlines, o)
		}
	}
	l.Sort()
	return l, l.Check()
}

// walk turns steps from node to node into nodes.
func walk(steps [][2]int64) ([]region.Node, error) {
	arc := make([]region.Node, len(steps))
	var x, y int64
	for i, s := range steps {
		x, y = x+s[0], y+s[1]
		if x < 0 || y < 0 || x > math.MaxInt32 || y > math.MaxInt32 {
			return nil, geo.Invalidf("node %d is off the grid", i)
		}
		arc[i] = region.Node{X: int32(x), Y: int32(y)}
	}
	return arc, nil
}

func outline(g *geometry, level region.Level) (region.Outline, error) {
	o := region.Outline{Region: region.Region{ID: region.ID(g.ID), Name: g.Properties.Name, Level: level}}
	if level == region.County && len(g.ID) == 5 {
		o.Parent = o.ID[:2]
	}
	var err error
	switch g.Type {
	case "Polygon":
		o.Polygons = make([][]region.Ring, 1)
		err = json.Unmarshal(g.Arcs, &o.Polygons[0])
	case "MultiPolygon":
		err = json.Unmarshal(g.Arcs, &o.Polygons)
	default:
		err = geo.Invalidf("a %q is no area", g.Type)
	}
	if err != nil {
		return o, geo.Errorf(geo.Damaged, "%s %q of the boundary file: %v", level, g.ID, err)
	}
	return o, nil
}
