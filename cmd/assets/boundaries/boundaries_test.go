package boundaries

import (
	"bytes"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/region"
)

// twoCounties is an invented state of two square counties side by side that
// share one arc, each a tenth of a degree wide.
const twoCounties = `{"type":"Topology",
 "transform":{"scale":[0.1,0.1],"translate":[-85,42]},
 "objects":{
  "counties":{"type":"GeometryCollection","geometries":[
   {"type":"Polygon","arcs":[[0,1]],"id":"98003","properties":{"name":"East"}},
   {"type":"Polygon","arcs":[[-1,2]],"id":"98001","properties":{"name":"West"}}]},
  "states":{"type":"GeometryCollection","geometries":[
   {"type":"MultiPolygon","arcs":[[[2,1]]],"id":"98","properties":{"name":"Invented"}}]}},
 "arcs":[[[1,0],[0,1]],[[1,1],[1,0],[0,-1],[-1,0]],[[1,0],[-1,0],[0,1],[1,0]]]}`

func TestTopoJSONIsReducedAndReadBack(t *testing.T) {
	// West runs the shared arc backwards: from (1,1) to (1,0), then round.
	wire, err := Reduce([]byte(twoCounties), 2023)
	if err != nil {
		t.Fatal(err)
	}
	l, err := region.Decode(wire)
	if err != nil {
		t.Fatal(err)
	}
	m, err := region.Build(l)
	if err != nil {
		t.Fatal(err)
	}
	p, _ := geo.At(42.05, -84.85)
	hits := m.Locate(geo.Circle{Centre: p, Radius: 10})
	if len(hits) != 2 || hits[0].ID != "98" || hits[1].ID != "98003" || hits[1].Relation != region.Inside {
		t.Errorf("the middle of East: got %+v, want Invented, then inside East", hits)
	}
	home, err := Home(wire, "98")
	if err != nil || !bytes.Equal(home, wire) && len(home) != len(wire) {
		t.Errorf("home region of the only state: got %d bytes, %v, want %d", len(home), err, len(wire))
	}
}

func TestBrokenBoundaryFilesAreRefusedWithASentence(t *testing.T) {
	for _, tt := range []struct{ name, in, says string }{
		{"no JSON", `{`, "not TopoJSON"},
		{"another type", `{"type":"FeatureCollection"}`, "not TopoJSON on a grid"},
		{"no counties", strings.Replace(twoCounties, `"counties"`, `"towns"`, 1), "holds no counties"},
		{"a line where an area belongs", strings.Replace(twoCounties, `"Polygon"`, `"LineString"`, 1), "no area"},
		{"a ring that does not close", strings.Replace(twoCounties, `[[-1,2]]`, `[[0,2]]`, 1), "does not close"},
		{"an arc that does not exist", strings.Replace(twoCounties, `[[-1,2]]`, `[[-1,7]]`, 1), "does not exist"},
		{"a node off the grid", strings.Replace(twoCounties, `[[1,0],[0,1]]`, `[[1,0],[0,-9]]`, 1), "off the grid"},
	} {
		_, err := Reduce([]byte(tt.in), 2023)
		if err == nil || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%s: got %v, want an error that says %q", tt.name, err, tt.says)
		}
		if geo.KindOf(err) != geo.Damaged {
			t.Errorf("%s: got kind %v, want damaged", tt.name, geo.KindOf(err))
		}
	}
}
