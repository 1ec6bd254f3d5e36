// Package geo holds the words for where something lay: a point, a circle, a
// length, an angle, how sure a radius is, and what is odd about a place.
//
// It promises that a value which exists is possible: a Point is either unknown
// or lies on the globe. It measures nothing (see geo/geodesic), reads no text
// (see geo/notation) and knows no borders (see geo/region).
package geo
