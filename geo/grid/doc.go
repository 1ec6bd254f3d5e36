// Package grid turns places into eastings and northings and back: the
// Universal Transverse Mercator grid and the squares of the Military Grid
// Reference System that is drawn on it.
//
// A position in a zone is right to a few nanometres wherever the grid is used
// (80 degrees south to 84 degrees north, a zone and its neighbours). A square
// is never a point: whoever reads one gets its corner and its side. Beyond
// those latitudes the package says so and returns nothing; it has no polar
// grid. It works on whatever ellipsoid it is given and knows no datum.
package grid
