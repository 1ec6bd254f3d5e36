// Package datum brings places that were written on older datums to WGS 84, and
// says how far a place may be off when nobody wrote which datum was meant.
//
// It shifts by the parameters that EPSG registers, that one of those in use at
// the place which leaves least open, and says how much that is. It has no shift grids, which do better where they exist, and refuses a
// place outside every area of a datum. It never takes an unknown datum for a
// known one.
package datum
