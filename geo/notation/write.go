package notation

import (
	"math"
	"strconv"
	"strings"

	"wayfall/geo"
	"wayfall/geo/grid"
)

// Write writes a point in a form, with so many decimals in its last part, from
// 0 to 9; more or fewer are taken as the nearest. Decimal degrees have signs,
// degrees and minutes letters. For a square it is how many digits are written
// each way, at most 8. An unknown point is written as an empty text, and so is
// one where a grid does not reach.
func Write(p geo.Point, form Form, places int) string {
	if !p.Known() {
		return ""
	}
	places = max(0, min(9, places))
	switch form {
	case Metres:
		return writeMetres(p, places)
	case Square:
		s, err := grid.SquareOf(p, min(8, places))
		if err != nil {
			return ""
		}
		return s.String()
	}
	lat, lon := float64(p.Lat()), float64(p.Lon())
	parts := form
	if form != Minutes && form != Seconds {
		parts = Decimal
	}
	// What rounds to 180 east is the date line, which has one spelling.
	unit := math.Pow(60, float64(parts-1)) * math.Pow10(places)
	if math.Round(lon*unit) >= 180*unit {
		lon = -180
	}
	// What rounds to nothing is on neither side.
	if math.Round(lat*unit) == 0 {
		lat = 0
	}
	if math.Round(lon*unit) == 0 {
		lon = 0
	}
	switch form {
	case Minutes, Seconds:
	case ISO6709:
		return filled(lat, places, 2) + filled(lon, places, 3) + "/"
	case GeoURI:
		return "geo:" + fixed(lat, places) + "," + fixed(lon, places)
	default:
		return fixed(lat, places) + ", " + fixed(lon, places)
	}
	return sexagesimal(lat, form, places) + hemisphere(lat, " N", " S") + ", " +
		sexagesimal(lon, form, places) + hemisphere(lon, " E", " W")
}

func hemisphere(v float64, positive, negative string) string {
	if v < 0 {
		return negative
	}
	return positive
}

// fixed writes a number without a negative zero.
func fixed(v float64, places int) string {
	s := strconv.FormatFloat(v, 'f', places, 64)
	if s[0] == '-' && zero(s[1:]) {
		return s[1:]
	}
	return s
}

func zero(s string) bool {
	for i := range len(s) {
		if s[i] != '0' && s[i] != '.' {
			return false
		}
	}
	return true
}

// sexagesimal counts in the smallest unit to be written, so that 59.99 seconds
// become a minute and never 60 seconds.
func sexagesimal(v float64, form Form, places int) string {
	parts := int(form)
	units := math.Round(math.Abs(v) * math.Pow(60, float64(parts-1)) * math.Pow10(places))
	whole := math.Pow10(places)
	last := math.Mod(units, 60*whole) / whole
	units = math.Floor(units / whole / 60)
	s := pad(strconv.FormatFloat(last, 'f', places, 64)) + [...]string{"", "", "′", "″"}[parts]
	if form == Seconds {
		s = pad(strconv.FormatFloat(math.Mod(units, 60), 'f', 0, 64)) + "′" + s
		units = math.Floor(units / 60)
	}
	return strconv.FormatFloat(units, 'f', 0, 64) + "°" + s
}

// pad gives a number two digits before its point.
func pad(s string) string {
	if len(s) == 1 || s[1] == '.' {
		return "0" + s
	}
	return s
}

// filled writes a number with its sign and so many digits before the point.
func filled(v float64, places, digits int) string {
	s := fixed(v, places)
	sign := "+"
	if s[0] == '-' {
		sign, s = "-", s[1:]
	}
	whole, _, _ := strings.Cut(s, ".")
	return sign + strings.Repeat("0", digits-len(whole)) + s
}

func writeMetres(p geo.Point, places int) string {
	u, err := grid.Of(p)
	if err != nil {
		return ""
	}
	return u.Text(places)
}
