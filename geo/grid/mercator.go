package grid

import "math"

// Ellipsoid is the figure on which a grid is drawn: equatorial radius in
// metres and inverse flattening.
type Ellipsoid struct {
	Radius  float64
	Inverse float64
}

// Figures in use. Defining constants as registered by EPSG under 7030, 7019
// and 7008.
var (
	WGS84      = Ellipsoid{6378137, 298.257223563}
	GRS80      = Ellipsoid{6378137, 298.257222101}
	Clarke1866 = Ellipsoid{6378206.4, 294.978698213898}
)

// mercator is a transverse Mercator projection of scale 1 on its meridian, by
// Krüger's series to the sixth order in the third flattening. Formulas: L.
// Krüger, Konforme Abbildung des Erdellipsoids in der Ebene, 1912; orders and
// error in C. F. F. Karney, Transverse Mercator with an accuracy of a few
// nanometers, Journal of Geodesy 85 (2011), 475-485, equations 7 to 36.
type mercator struct {
	radius      float64 // of the sphere that the meridian is rolled out from
	e           float64 // eccentricity
	there, back [6]float64
}

func newMercator(of Ellipsoid) mercator {
	f := 1 / of.Inverse
	n := f / (2 - f)
	n2 := n * n
	m := mercator{radius: of.Radius / (1 + n) * (1 + n2/4*(1+n2/16*(1+n2/4))), e: math.Sqrt(f * (2 - f))}
	for i, row := range [6][6]float64{
		{1. / 2, -2. / 3, 5. / 16, 41. / 180, -127. / 288, 7891. / 37800},
		{0, 13. / 48, -3. / 5, 557. / 1440, 281. / 630, -1983433. / 1935360},
		{0, 0, 61. / 240, -103. / 140, 15061. / 26880, 167603. / 181440},
		{0, 0, 0, 49561. / 161280, -179. / 168, 6601661. / 7257600},
		{0, 0, 0, 0, 34729. / 80640, -3418889. / 1995840},
		{0, 0, 0, 0, 0, 212378941. / 319334400},
	} {
		m.there[i] = polynomial(n, row)
	}
	for i, row := range [6][6]float64{
		{1. / 2, -2. / 3, 37. / 96, -1. / 360, -81. / 512, 96199. / 604800},
		{0, 1. / 48, 1. / 15, -437. / 1440, 46. / 105, -1118711. / 3870720},
		{0, 0, 17. / 480, -37. / 840, -209. / 4480, 5569. / 90720},
		{0, 0, 0, 4397. / 161280, -11. / 504, -830251. / 7257600},
		{0, 0, 0, 0, 4583. / 161280, -108847. / 3991680},
		{0, 0, 0, 0, 0, 20648693. / 638668800},
	} {
		m.back[i] = -polynomial(n, row)
	}
	return m
}

// polynomial is row[0] n + row[1] n² + ...
func polynomial(n float64, row [6]float64) float64 {
	sum := 0.0
	for i := len(row) - 1; i >= 0; i-- {
		sum = (sum + row[i]) * n
	}
	return sum
}

// project takes latitude and longitude from the meridian, in radians, to
// metres east of the meridian and north of the equator.
func (m *mercator) project(lat, lon float64) (east, north float64) {
	sin, cos := math.Sincos(lon)
	conformal := m.conformal(math.Tan(lat))
	xi, eta := m.series(math.Atan2(conformal, cos), math.Asinh(sin/math.Hypot(conformal, cos)), &m.there)
	return m.radius * eta, m.radius * xi
}

// unproject is the way back.
func (m *mercator) unproject(east, north float64) (lat, lon float64) {
	xi, eta := m.series(north/m.radius, east/m.radius, &m.back)
	sin, cos := math.Sincos(xi)
	sinh := math.Sinh(eta)
	return math.Atan(m.geographic(sin / math.Hypot(sinh, cos))), math.Atan2(sinh, cos)
}

// series adds the sum over c[j-1] sin 2jζ to ζ = ξ + iη.
func (m *mercator) series(xi, eta float64, c *[6]float64) (float64, float64) {
	outXi, outEta := xi, eta
	for j := len(c); j >= 1; j-- {
		sin, cos := math.Sincos(2 * float64(j) * xi)
		sinh, cosh := math.Sinh(2*float64(j)*eta), math.Cosh(2*float64(j)*eta)
		outXi += c[j-1] * sin * cosh
		outEta += c[j-1] * cos * sinh
	}
	return outXi, outEta
}

// conformal turns the tangent of a latitude into that of the conformal one.
func (m *mercator) conformal(tan float64) float64 {
	sigma := math.Sinh(m.e * math.Atanh(m.e*tan/math.Hypot(1, tan)))
	return tan*math.Hypot(1, sigma) - sigma*math.Hypot(1, tan)
}

// geographic is the way back, by Newton's method; three steps are enough for
// the Earth.
func (m *mercator) geographic(conformal float64) float64 {
	rest := 1 - m.e*m.e
	tan := conformal / rest
	for range 5 {
		now := m.conformal(tan)
		step := (conformal - now) * (1 + rest*tan*tan) / (rest * math.Hypot(1, tan) * math.Hypot(1, now))
		tan += step
		if math.Abs(step) <= 1e-16*math.Max(1, math.Abs(tan)) {
			break
		}
	}
	return tan
}
