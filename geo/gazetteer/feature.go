package gazetteer

import (
	"github.com/paulmach/orb"

	"wayfall/geo"
)

// Feature is one named thing on the ground.
type Feature struct {
	ID     string
	Name   string
	Others []string // further names and spellings
	Class  Class
	// Within are the regions that it lies in: ISO 3166-2 codes of states and
	// names of counties.
	Within []string
	// Point stands for the feature, and all of it lies within Radial of it.
	Point  geo.Point
	Radial geo.Metres
	// Shape is in degrees, longitude first, on WGS 84; nil when none is known.
	Shape orb.Geometry
	// Posts are mileposts or kilometre posts on a road.
	Posts []Post
	// Basis says where point, radial or shape come from, Credit whom to thank.
	Basis, Credit string
}

// Post is a milepost or kilometre post. Unit is "mi" or "km".
type Post struct {
	Number float64
	Unit   string
	Point  geo.Point
}

// Names finds features by name. within narrows the search to regions, near
// puts nearer ones first; at most limit are returned, or all if it is 0.
type Names interface {
	Named(name string, within []string, near *geo.Circle, limit int) []Feature
}
