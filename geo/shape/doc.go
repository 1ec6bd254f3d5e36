// Package shape holds the ground on which something may have lain as a shape,
// and finds the circle around it.
//
// A Region is a union of convex pieces and everything within a distance of
// them. Sweeping, growing and sharing are then exact, up to arcs that are
// drawn with a few corners, which always hold the arc. The circle of a region
// is the smallest one whose centre lies on or in the region, and its radius is
// never below the true farthest place nor 0.1 % above it. Lengths are those of
// the ellipsoid. Holes in a shape are taken as part of it. A region that does
// not fit within 1500 km of its middle is refused.
package shape
