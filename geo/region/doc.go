// Package region answers in which state and county something lay, for a circle
// and not for a point, and says so when it cannot tell.
//
// The lines it works from are generalised: a line on the map may lie a
// kilometre or two from the one on the ground (see Band). A circle that comes
// within that band of a line is near a border, and every unit it may belong to
// is returned with its distance. It never picks one for the caller, never
// reaches far out to sea, and knows no land ownership, reservation, refuge or
// right of way.
//
// Distances are measured on the ellipsoid; the drawing plane is used only to
// find the nearest place on an outline.
package region
