package uncertainty

import "wayfall/geo"

// Shifts between datums.
const (
	worstShift = 5359 * geo.Metre
	lower48    = 100 * geo.Metre
)

// DatumFacts is what is known of coordinates whose datum was not written
// down. The zero DatumFacts knows nothing and gives the worst case.
type DatumFacts struct {
	// ConterminousUS: every state that the place may be in is one of the 48.
	ConterminousUS bool
	// American: the datum can only have been NAD27, NAD83 or WGS 84.
	American bool
}

// OfKnownDatum is the term for coordinates whose datum was recorded and that
// were brought to WGS 84: nothing.
func OfKnownDatum(name string) Term {
	return Term{Datum, 0, "the datum is known: " + name, bestPractices + ", 3.4.4"}
}

// OfUnknownDatum is the term for coordinates whose datum was not recorded.
// Between NAD27 and NAD83 the 48 states shift by 10 to 100 m in latitude and
// longitude; that bound is used only if both facts hold and the point is not
// plainly elsewhere. Otherwise it is the worst shift anywhere in the world.
// Neither may be used for eastings and northings, which shift by about 200 m.
func OfUnknownDatum(at geo.Point, facts DatumFacts) Term {
	if facts.ConterminousUS && facts.American && inLower48Box(at) {
		return Term{
			Datum, lower48, "the datum is one of NAD27, NAD83 and WGS 84, in the conterminous United States",
			"U.S. Geological Survey, answers on the shift from NAD 27 to NAD 83",
		}
	}
	return Term{Datum, worstShift, "the datum was not recorded; this is the worst case in the world", bestPractices + ", 3.4.4"}
}

// inLower48Box guards against a fact claimed for a place far away; it is a
// box and proves nothing by itself.
func inLower48Box(p geo.Point) bool {
	return p.Known() && p.Lat() > 24 && p.Lat() < 50 && p.Lon() > -125.5 && p.Lon() < -66
}
