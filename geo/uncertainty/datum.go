package uncertainty

import "wayfall/geo"

// Shifts between datums.
const (
	worstShift = 5359 * geo.Metre
	// Between the grids of any ellipsoid in use and of WGS 84, up to 84 north.
	worstGrid = 1100 * geo.Metre
	lower48   = 100 * geo.Metre
	// The same latitude and longitude lie up to 220 m apart on the grids that
	// are drawn on the ellipsoids of NAD27 and NAD83, between 24 and 50 north.
	lower48Grid = lower48 + 220*geo.Metre
)

// DatumFacts is what is known of coordinates whose datum was not written
// down. The zero DatumFacts knows nothing and gives the worst case.
type DatumFacts struct {
	// ConterminousUS: every state that the place may be in is one of the 48.
	ConterminousUS bool
	// American: the datum can only have been NAD27, NAD83 or WGS 84.
	American bool
	// Grid: the place was written in eastings and northings, which are drawn
	// on the ellipsoid of their datum.
	Grid bool
}

// OfKnownDatum is the term for coordinates whose datum was recorded and that
// were brought to WGS 84: nothing.
func OfKnownDatum(name string) Term {
	return Term{Datum, 0, "the datum is known: " + name, bestPractices + ", 3.4.4"}
}

// OfUnknownDatum is the term for coordinates whose datum was not recorded.
// Between NAD27 and NAD83 the 48 states shift by 10 to 100 m in latitude and
// longitude; that bound is used only if both facts hold and the point is not
// plainly elsewhere; eastings and northings shift by about 200 m there, and
// their bound is wider. Otherwise it is the worst shift anywhere in the world,
// to which a grid adds what lies between the ellipsoids in use.
func OfUnknownDatum(at geo.Point, facts DatumFacts) Term {
	if facts.Grid && facts.ConterminousUS && facts.American && inLower48Box(at) {
		return Term{
			Datum, lower48Grid, "the datum of the grid is one of NAD27, NAD83 and WGS 84, in the conterminous United States",
			"U.S. Geological Survey, answers on the shift from NAD 27 to NAD 83; the difference of the grids " + own,
		}
	}
	if facts.ConterminousUS && facts.American && inLower48Box(at) {
		return Term{
			Datum, lower48, "the datum is one of NAD27, NAD83 and WGS 84, in the conterminous United States",
			"U.S. Geological Survey, answers on the shift from NAD 27 to NAD 83",
		}
	}
	if facts.Grid {
		return Term{Datum, worstShift + worstGrid, "the datum of the grid was not recorded; this is the worst case in the world", bestPractices + ", 3.4.4; the difference of the grids " + own}
	}
	return Term{Datum, worstShift, "the datum was not recorded; this is the worst case in the world", bestPractices + ", 3.4.4"}
}

// inLower48Box guards against a fact claimed for a place far away; it is a
// box and proves nothing by itself.
func inLower48Box(p geo.Point) bool {
	return p.Known() && p.Lat() > 24 && p.Lat() < 50 && p.Lon() > -125.5 && p.Lon() < -66
}
