package geodesic

import "math"

const order = 6

// polynomial is evaluated by Horner's rule; the constant comes first.
type polynomial []float64

func (p polynomial) at(x float64) float64 {
	v := 0.0
	for i := len(p) - 1; i >= 0; i-- {
		v = v*x + p[i]
	}
	return v
}

// waves holds Fourier coefficients; waves[k] belongs to sin 2kx, waves[0] is
// not used.
type waves [order + 1]float64

// at sums the sine series by Clenshaw's recurrence.
func (w *waves) at(x angle) float64 {
	twice := 2 * (x.c - x.s) * (x.c + x.s)
	var b1, b2 float64
	for k := order; k >= 1; k-- {
		b1, b2 = twice*b1-b2+w[k], b1
	}
	return 2 * x.s * x.c * b1
}

// The tables below are the expansions in the third flattening and in epsilon
// printed by Karney (2013), equations 15, 17, 18, 21, 24, 25, 42 and 43. Row k
// is the coefficient of sin 2kx, as a polynomial in epsilon squared after a
// factor epsilon^k.
var (
	seriesA1 = polynomial{1, 1. / 4, 1. / 64, 1. / 256}
	seriesC1 = [order + 1]polynomial{
		1: {-1. / 2, 3. / 16, -1. / 32},
		2: {-1. / 16, 1. / 32, -9. / 2048},
		3: {-1. / 48, 3. / 256},
		4: {-5. / 512, 3. / 512},
		5: {-7. / 1280},
		6: {-7. / 2048},
	}
	seriesC1Back = [order + 1]polynomial{
		1: {1. / 2, -9. / 32, 205. / 1536},
		2: {5. / 16, -37. / 96, 1335. / 4096},
		3: {29. / 96, -75. / 128},
		4: {539. / 1536, -2391. / 2560},
		5: {3467. / 7680},
		6: {38081. / 61440},
	}
	seriesA2 = polynomial{1, 1. / 4, 9. / 64, 25. / 256}
	seriesC2 = [order + 1]polynomial{
		1: {1. / 2, 1. / 16, 1. / 32},
		2: {3. / 16, 1. / 32, 35. / 2048},
		3: {5. / 48, 5. / 256},
		4: {35. / 512, 7. / 512},
		5: {63. / 1280},
		6: {77. / 2048},
	}
	// Each entry of the next two is a polynomial in the third flattening.
	seriesA3 = [order]polynomial{
		{1},
		{-1. / 2, 1. / 2},
		{-1. / 4, -1. / 8, 3. / 8},
		{-1. / 16, -3. / 16, -1. / 16},
		{-3. / 64, -1. / 32},
		{-3. / 128},
	}
	// seriesC3[k][j] belongs to epsilon^(k+j) sin 2kx.
	seriesC3 = [order][]polynomial{
		1: {{1. / 4, -1. / 4}, {1. / 8, 0, -1. / 8}, {3. / 64, 3. / 64, -1. / 64}, {5. / 128, 1. / 64}, {3. / 128}},
		2: {{1. / 16, -3. / 32, 1. / 32}, {3. / 64, -1. / 32, -3. / 64}, {3. / 128, 1. / 128}, {5. / 256}},
		3: {{5. / 192, -3. / 64, 5. / 192}, {3. / 128, -5. / 192}, {7. / 512}},
		4: {{7. / 512, -7. / 256}, {7. / 512}},
		5: {{21. / 2560}},
	}
)

func fourier(table *[order + 1]polynomial, eps float64) waves {
	var w waves
	factor := 1.0
	for k := 1; k <= order; k++ {
		factor *= eps
		w[k] = factor * table[k].at(eps*eps)
	}
	return w
}

// scale1 and scale2 are A1 and A2: what turns arc length into distance and
// into reduced length.
func scale1(eps float64) float64 { return seriesA1.at(eps*eps) / (1 - eps) }
func scale2(eps float64) float64 { return seriesA2.at(eps*eps) * (1 - eps) }

// ellipsoid is a figure of the earth with what follows from it.
type ellipsoid struct {
	a, f, b float64
	f1      float64 // 1 - f
	e2, ep2 float64 // first and second eccentricity, squared
	n       float64 // third flattening
	a3      [order]float64
	c3      [order][order]float64
	near    float64 // an arc so short that the sphere's answer is exact
}

// wgs84 has the defining constants of WGS 84: semi-major axis 6378137 m and
// inverse flattening 298.257223563, exact by definition.
// Source: NGA.STND.0036 (document number from memory).
var wgs84 = figure(6378137, 298.257223563)

func figure(a, inverseFlattening float64) *ellipsoid {
	f := 1 / inverseFlattening
	e := &ellipsoid{a: a, f: f, f1: 1 - f, b: a * (1 - f), e2: f * (2 - f), n: f / (2 - f)}
	e.ep2 = e.e2 / (e.f1 * e.f1)
	for j := range seriesA3 {
		e.a3[j] = seriesA3[j].at(e.n)
	}
	for k := range seriesC3 {
		for j := range seriesC3[k] {
			e.c3[k][j] = seriesC3[k][j].at(e.n)
		}
	}
	e.near = 0.1 * math.Sqrt(epsilon) / math.Sqrt(math.Max(0.001, f)*math.Min(1, 1-f/2)/2)
	return e
}

// scale3 is A3, and waves3 the series beside it: what turns arc length into
// longitude.
func (e *ellipsoid) scale3(eps float64) float64 { return polynomial(e.a3[:]).at(eps) }

func (e *ellipsoid) waves3(eps float64) waves {
	var w waves
	factor := 1.0
	for k := 1; k < order; k++ {
		factor *= eps
		w[k] = factor * polynomial(e.c3[k][:order-k]).at(eps)
	}
	return w
}

// reduced returns the direction of the reduced latitude, away from the pole
// by a speck at least.
func (e *ellipsoid) reduced(lat float64) angle {
	p := degrees(lat)
	beta := angle{e.f1 * p.s, p.c}.unit()
	beta.c = math.Max(speck, beta.c)
	return beta
}

// expansion returns epsilon for a geodesic that crosses the equator at alpha0.
func (e *ellipsoid) expansion(cosAlpha0 float64) float64 {
	k2 := cosAlpha0 * cosAlpha0 * e.ep2
	return k2 / (2*(1+math.Sqrt(1+k2)) + k2)
}
