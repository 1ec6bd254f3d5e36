package notation

import (
	"strings"

	"wayfall/geo"
)

// isoForm reads a position after ISO 6709: signed latitude, signed longitude
// and perhaps a signed height, each with as many digits before its point as
// say whether minutes and seconds are in it, without a space, ended by a
// solidus. Without the solidus it is taken for one only if the digits leave no
// doubt.
func isoForm(text string) (r Reading, mine bool, err error) {
	body, ended := strings.CutSuffix(text, "/")
	if i := strings.Index(body, "CRS"); i > 0 && ended {
		if name := body[i+3:]; !isWGS84(name) {
			return Reading{}, true, geo.Errorf(geo.NotUnderstood, "the reference system %q is not known here", name)
		}
		body = body[:i]
	}
	var parts []string
	for len(body) > 0 {
		if body[0] != '+' && body[0] != '-' {
			return Reading{}, false, nil
		}
		end := 1 + numberEnd(body[1:], false)
		if end == 1 || len(parts) == 3 {
			return Reading{}, false, nil
		}
		parts, body = append(parts, body[:end]), body[end:]
	}
	if len(parts) < 2 {
		return Reading{}, false, nil
	}
	lat, okLat := isoAngle(parts[0], 2)
	lon, okLon := isoAngle(parts[1], 3)
	if !okLat || !okLon || !ended && len(lat.parts)+len(lon.parts) == 2 || len(parts) == 3 && !ended {
		return Reading{}, false, nil
	}
	lat.axis, lon.axis = latitude, longitude
	r, err = joined(lat, lon)
	if err == nil && len(parts) == 3 {
		r.Height, r.HasHeight = geo.Metres(signedValue(parts[2])), true
	}
	if ended && err == nil {
		r.Form = ISO6709
	}
	return r, true, err
}

// joined checks two angles that are already parted and puts them together.
func joined(lat, lon angle) (Reading, error) {
	for _, a := range [...]*angle{&lat, &lon} {
		if err := a.check(); err != nil {
			return Reading{}, err
		}
	}
	return join(lat, lon)
}

// isoAngle parts the digits: so many of them are degrees, then two each are
// minutes and seconds.
func isoAngle(text string, degrees int) (angle, bool) {
	a := angle{signed: true, negative: text[0] == '-'}
	digits, fraction, _ := strings.Cut(text[1:], ".")
	more := len(digits) - degrees
	if more < 0 || more > 4 || more%2 == 1 || strings.HasSuffix(text, ".") {
		return a, false
	}
	a.parts = append(a.parts, digits[:degrees])
	for at := degrees; at < len(digits); at += 2 {
		a.parts = append(a.parts, digits[at:at+2])
	}
	if fraction != "" {
		a.parts[len(a.parts)-1] += "." + fraction
	}
	return a, true
}

func signedValue(text string) float64 {
	v := value(text[1:])
	if text[0] == '-' {
		return -v
	}
	return v
}

func isWGS84(name string) bool {
	switch strings.ToUpper(strings.Trim(name, " _")) {
	case "", "WGS84", "WGS_84", "WGS 84", "EPSG:4326", "EPSG4326":
		return true
	}
	return false
}

// uriForm reads a geo URI after RFC 5870. The uncertainty that it may state is
// carried over as it stands: the standard gives it no level of confidence.
func uriForm(text string) (r Reading, mine bool, err error) {
	if len(text) < 4 || !strings.EqualFold(text[:4], "geo:") {
		return Reading{}, false, nil
	}
	place, settings, _ := strings.Cut(text[4:], ";")
	numbers := strings.Split(place, ",")
	if len(numbers) != 2 && len(numbers) != 3 {
		return Reading{}, true, geo.Errorf(geo.NotUnderstood, "a geo URI has a latitude, a longitude and perhaps a height, with commas between them")
	}
	var angles [2]angle
	for i, n := range numbers {
		if !plainNumber(n) {
			return Reading{}, true, geo.Errorf(geo.NotUnderstood, "%q is no number as a geo URI writes it", n)
		}
		if i < 2 {
			angles[i] = angle{parts: []string{strings.TrimPrefix(n, "-")}, signed: true, negative: n[0] == '-'}
		}
	}
	angles[0].axis, angles[1].axis = latitude, longitude
	if r, err = joined(angles[0], angles[1]); err != nil {
		return r, true, err
	}
	r.Form, r.Datum = GeoURI, "WGS84"
	if len(numbers) == 3 {
		r.Height, r.HasHeight = geo.Metres(uriNumber(numbers[2])), true
	}
	if settings == "" {
		return r, true, nil
	}
	return uriSettings(r, strings.Split(settings, ";"))
}

func uriSettings(r Reading, settings []string) (Reading, bool, error) {
	for _, s := range settings {
		name, v, _ := strings.Cut(s, "=")
		switch strings.ToLower(name) {
		case "crs":
			if !isWGS84(v) || v == "" {
				return Reading{}, true, geo.Errorf(geo.NotUnderstood, "the reference system %q is not known here", v)
			}
		case "u":
			if !plainNumber(v) || v[0] == '-' {
				return Reading{}, true, geo.Invalidf("the uncertainty %q is no number of metres", v)
			}
			r.Stated, r.HasStated = geo.Metres(uriNumber(v)), true
		}
	}
	return r, true, nil
}

// plainNumber: a minus sign perhaps, digits, and perhaps a point with digits.
func plainNumber(s string) bool {
	s = strings.TrimPrefix(s, "-")
	whole, fraction, point := strings.Cut(s, ".")
	return allDigits(whole) && (!point || allDigits(fraction))
}

func allDigits(s string) bool {
	for i := range len(s) {
		if !digit(s, i) {
			return false
		}
	}
	return s != ""
}

func uriNumber(s string) float64 {
	if s[0] == '-' {
		return -value(s[1:])
	}
	return value(s)
}
