// Package land says in which units of ground a find lies: parks, refuges,
// tribal and military land, and the units that an institution draws itself.
//
// It promises that the whole circle is looked at and not its centre: a circle
// that touches a unit may lie in it, and the stricter answer or a person
// decides. It refuses a drawing that does not close, crosses itself or has
// latitude and longitude exchanged, and says so for each. It knows no unit of
// its own, and a unit that nobody drew is not there: what a person said of the
// ground still counts. It reads no files and never reads the clock.
package land
