package georeference_test

import (
	"fmt"
	"math"
	"math/rand"
	"slices"
	"sort"
	"testing"

	"github.com/paulmach/orb"

	"wayfall/geo"
	"wayfall/geo/geodesic"
	"wayfall/geo/georeference"
	"wayfall/geo/uncertainty"
)

// truth is one place that the words allow, chosen by numbers from 0 to 1; ok is
// false where the choice contradicts the words. It is written from the meaning
// of the words, with geodesics alone, and shares nothing with the shapes under
// test.
type truth func(u []float64) (p geo.Point, ok bool)

// proof is a form of locality with its truths.
type proof struct {
	name string
	text string
	n    int // how many choices a truth takes
	of   truth
	hard bool // the farthest truth is a corner of several borders, and chance rarely meets it
}

const mapShift = 120 // metres that the map may be off, in the proofs

func go1(p geo.Point, heading, distance float64) geo.Point {
	q, _, err := geodesic.Direct(p, geo.Degrees(heading), geo.Metres(math.Max(0, distance)))
	if err != nil {
		panic(err)
	}
	return q
}

// shifted moves a place by up to the shift of the map.
func shifted(p geo.Point, u []float64) geo.Point { return go1(p, 360*u[0], mapShift*math.Sqrt(u[1])) }

// in is a place in a feature of the invented country.
func in(name string, u []float64) (geo.Point, bool) {
	f := invented.Named(name, nil, nil, 1)[0]
	if f.Shape == nil {
		return go1(f.Point, 360*u[0], float64(f.Radial)*math.Sqrt(u[1])), true
	}
	ring := f.Shape.(orb.Polygon)[0]
	if u[2] < 0.3 { // a corner
		q := ring[int(u[0]*0.999*float64(len(ring)-1))]
		return at(q[1], q[0]), true
	}
	b := ring.Bound()
	lon, lat := b.Min[0]+u[0]*(b.Max[0]-b.Min[0]), b.Min[1]+u[1]*(b.Max[1]-b.Min[1])
	return at(lat, lon), holds(ring, lon, lat)
}

func holds(ring orb.Ring, lon, lat float64) bool {
	inside := false
	for i := 1; i < len(ring); i++ {
		a, b := ring[i-1], ring[i]
		if (a[1] > lat) != (b[1] > lat) && lon < a[0]+(lat-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			inside = !inside
		}
	}
	return inside
}

// both runs from -1 to 1.
func both(u float64) float64 { return 2*u - 1 }

// walk is the place so many metres along a line from its beginning.
func walk(line orb.LineString, along float64) (geo.Point, bool) {
	for i := 1; i < len(line); i++ {
		a, l := leg(line[i-1], line[i])
		if along <= float64(l.Distance) {
			return go1(a, float64(l.Depart), along), along >= 0
		}
		along -= float64(l.Distance)
	}
	return geo.Point{}, false
}

var legs = map[[2]orb.Point]geodesic.Line{}

func leg(from, to orb.Point) (geo.Point, geodesic.Line) {
	a, b := at(from[1], from[0]), at(to[1], to[0])
	l, ok := legs[[2]orb.Point{from, to}]
	if !ok {
		var err error
		if l, err = geodesic.Inverse(a, b); err != nil {
			panic(err)
		}
		legs[[2]orb.Point{from, to}] = l
	}
	return a, l
}

// lineOf is a line of the invented country in short steps: between its corners
// it is straight in degrees.
func lineOf(name string) orb.LineString {
	line := invented.Named(name, nil, nil, 1)[0].Shape.(orb.LineString)
	out := orb.LineString{line[0]}
	for i := 1; i < len(line); i++ {
		for k := 1.; k <= 40; k++ {
			out = append(out, orb.Point{line[i-1][0] + k/40*(line[i][0]-line[i-1][0]), line[i-1][1] + k/40*(line[i][1]-line[i-1][1])})
		}
	}
	return out
}

var (
	hwy12    = lineOf("Hwy 12")
	route9   = lineOf("Route 9")
	tamarack = lineOf("Tamarack River")
)

func distance(a, b geo.Point) float64 {
	d, err := geodesic.Distance(a, b)
	if err != nil {
		panic(err)
	}
	return float64(d)
}

// within are the lengths along a line that lie in a disc, found by walking in
// steps and halving the last one.
func within(line orb.LineString, centre geo.Point, radius float64) (from, to float64) {
	inside := func(along float64) bool {
		p, ok := walk(line, along)
		return ok && distance(p, centre) <= radius
	}
	edge := func(out, in float64) float64 {
		for range 30 {
			if middle := (out + in) / 2; inside(middle) {
				in = middle
			} else {
				out = middle
			}
		}
		return in
	}
	for from = 0; !inside(from); from += 50 {
	}
	for to = from; inside(to); to += 50 {
	}
	return edge(from-50, from), edge(to, to-50)
}

func offsetFrom(name string, d, half, heading, angle float64) truth {
	return func(u []float64) (geo.Point, bool) {
		s, ok := in(name, u)
		return go1(shifted(s, u[3:]), heading+angle*both(u[5]), d+half*both(u[6])), ok
	}
}

func orthogonalFrom(name string, east, north, half float64) truth {
	return func(u []float64) (geo.Point, bool) {
		s, ok := in(name, u)
		s = shifted(s, u[3:])
		s = go1(s, 0, north+half*both(u[5]))
		return go1(s, 90, east+half*both(u[6])), ok
	}
}

func proofs() []proof {
	from12, to12 := within(hwy12, at(45, -100), 2000)
	fromR, toR := within(tamarack, at(45, -100), 2000)
	mile := 1609.344
	foot := func(target geo.Point) float64 {
		best, far := 0., math.Inf(1)
		for step, low, high := 100., 0., 1e6; step > 0.01; step, low, high = step/10, best-step, best+step {
			for along := low; along <= high; along += step {
				p, ok := walk(hwy12, along)
				if !ok {
					break
				}
				if d := distance(p, target); d < far {
					best, far = along, d
				}
			}
		}
		return best
	}
	post20, post30 := foot(at(45, -100)), foot(at(45.025, -99.8))
	inMarsh := func(f truth) truth { // the map's marsh may be off as well
		return func(u []float64) (geo.Point, bool) {
			p, ok := f(u)
			told := p
			p = shifted(p, u[7:])
			ring := invented.Named("Elk Marsh Refuge", nil, nil, 1)[0].Shape.(orb.Polygon)[0]
			return told, ok && holds(ring, float64(p.Lon()), float64(p.Lat()))
		}
	}
	return []proof{
		{"feature, a disc", "Ludden", 5, func(u []float64) (geo.Point, bool) { s, ok := in("Ludden", u); return shifted(s, u[3:]), ok }, false},
		{"feature, a shape", "Brask", 5, func(u []float64) (geo.Point, bool) { s, ok := in("Brask", u); return shifted(s, u[3:]), ok }, false},
		{"distance at heading N, from a disc", "10 km N of Ludden", 7, offsetFrom("Ludden", 10000, 500, 0, 45), false},
		{"distance at heading NNE, from a disc", "10.25 km NNE of Ludden", 7, offsetFrom("Ludden", 10250, 125, 22.5, 11.25), false},
		{"distance at heading E, from a shape", "30 mi E of Brask", 7, offsetFrom("Brask", 30*mile, mile/2, 90, 45), false},
		{"distance at heading 45 degrees, from a shape", "2.5 km 45° from Brask", 7, offsetFrom("Brask", 2500, 250, 45, 0.5), false},
		{"distance only, from a disc", "5 mi from Ludden", 7, offsetFrom("Ludden", 5*mile, mile/2, 0, 180), false},
		{"distance only, from a shape", "3 km from Brask", 7, offsetFrom("Brask", 3000, 500, 0, 180), false},
		{"heading only", "SW of Ludden", 7, offsetFrom("Ludden", 6000, 6000, 225, 22.5), false},
		{"orthogonal, from a disc", "20 km E and 15 km N of Ludden", 7, orthogonalFrom("Ludden", 20000, 15000, 500), false},
		{"orthogonal, from a shape", "2 km E and 3 km N of Brask", 7, orthogonalFrom("Brask", 2000, 3000, 500), false},
		{"along a road", "5 km E of Ludden on Hwy 12", 4, func(u []float64) (geo.Point, bool) {
			p, ok := walk(hwy12, from12+u[0]*(to12-from12)+5000+500*both(u[1]))
			if !ok {
				return p, false
			}
			return shifted(p, u[2:]), true
		}, false},
		{"along a river, up or down", "3 km upstream of Ludden on the Tamarack River", 5, func(u []float64) (geo.Point, bool) {
			p, ok := walk(tamarack, fromR+u[0]*(toR-fromR)+math.Copysign(3000+500*both(u[1]), both(u[4])))
			if !ok {
				return p, false
			}
			return shifted(p, u[2:]), true
		}, false},
		{"along a road that is not at hand", "5 km E by road of Ludden", 7, func(u []float64) (geo.Point, bool) {
			s, ok := in("Ludden", u)
			return go1(shifted(s, u[3:]), 360*u[5], 5500*u[6]), ok // a road bends as it likes
		}, false},
		{"between two", "between Ludden and Brask", 9, func(u []float64) (geo.Point, bool) {
			a, ok1 := in("Ludden", u)
			b, ok2 := in("Brask", u[3:])
			l, err := geodesic.Inverse(a, b)
			return shifted(go1(a, float64(l.Depart), u[6]*float64(l.Distance)), u[7:]), ok1 && ok2 && err == nil
		}, false},
		{"near", "near Brask", 7, func(u []float64) (geo.Point, bool) {
			s, ok := in("Brask", u)
			return go1(shifted(s, u[3:]), 360*u[5], 5000*math.Sqrt(u[6])), ok
		}, false},
		{"junction", "junction of Hwy 12 and Route 9", 4, func(u []float64) (geo.Point, bool) {
			return shifted(go1(at(45.01764706, -99.94117647), 360*u[0], 14.9*math.Sqrt(u[1])), u[2:]), true
		}, false},
		{"post", "Hwy 12 milepost 22.5", 5, func(u []float64) (geo.Point, bool) {
			p, ok := walk(hwy12, post20+(post30-post20)*(2.5+0.25*both(u[0]))/10)
			if !ok {
				return p, false
			}
			return shifted(go1(p, 360*u[1], 14.98*u[2]), u[3:]), true
		}, false},
		{"side", "N side of Ludden", 5, func(u []float64) (geo.Point, bool) {
			s, ok := in("Ludden", u)
			return shifted(s, u[3:]), ok && s.Lat() >= 45
		}, false},
		{"offset within a bounded region", "10 km SW of Ludden, Elk Marsh Refuge", 9, inMarsh(offsetFrom("Ludden", 10000, 500, 225, 22.5)), true},
		{"heading within a bounded region", "Elk Marsh Refuge, N of Ludden", 9, inMarsh(offsetFrom("Ludden", 6000, 6000, 0, 45)), true},
		{"offsets from two ways", "1.5 km E of Route 9 and 2 km S of Hwy 12", 6, fromTwoWays, true},
	}
}

// fromTwoWays: east of Route 9 by 1.5 km, give or take a quarter, and so that
// Hwy 12 lies 2 km north, give or take a half.
func fromTwoWays(u []float64) (geo.Point, bool) {
	p, ok := walk(route9, 20000+u[0]*8000)
	if !ok {
		return p, false
	}
	p = go1(p, 90, 1500+250*both(u[1]))
	north := func(q geo.Point) bool { // of Hwy 12
		line := hwy12
		for i := 1; i < len(line); i++ {
			a, b := line[i-1], line[i]
			if x := float64(q.Lon()); x >= a[0] && x <= b[0] {
				return float64(q.Lat()) > a[1]+(x-a[0])/(b[0]-a[0])*(b[1]-a[1])
			}
		}
		return false
	}
	p = shifted(p, u[2:])
	q := shifted(p, u[4:]) // where it would be if the map's Hwy 12 were right
	return p, !north(go1(q, 0, 1500)) && north(go1(q, 0, 2500))
}

// choose draws a truth: uniformly, or at the ends of what is possible.
func choose(r *rand.Rand, u []float64) {
	for i := range u {
		switch r.Intn(5) {
		case 0:
			u[i] = 0
		case 1:
			u[i] = 1
		default:
			u[i] = r.Float64()
		}
	}
}

// climber seeks the farthest truth from a point, from several of the farthest
// that were met by chance.
type climber struct {
	of   truth
	from geo.Point
	met  [][]float64 // farthest first
	far  []float64
}

func (c *climber) meet(u []float64, d float64) {
	const most = restarts
	i := sort.Search(len(c.far), func(i int) bool { return c.far[i] <= d })
	if i == most || i < len(c.far) && c.far[i] == d {
		return
	}
	c.far = slices.Insert(c.far, i, d)
	c.met = slices.Insert(c.met, i, slices.Clone(u))
	if len(c.far) > most {
		c.far, c.met = c.far[:most], c.met[:most]
	}
}

func (c *climber) worst(r *rand.Rand) float64 {
	best := 0.
	for i := range c.met {
		best = math.Max(best, c.climb(r, slices.Clone(c.met[i]), c.far[i]))
	}
	return best
}

// climb moves some of the choices at once, by chance, in steps that grow where
// they help and shrink where they do not; a choice that runs past an end stays
// there or comes round.
func (c *climber) climb(r *rand.Rand, u []float64, far float64) float64 {
	try := make([]float64, len(u))
	for range rounds {
		for step := 0.2; step > 1e-6; step *= 0.98 {
			for i := range u {
				try[i] = u[i]
				if r.Intn(2) == 0 {
					try[i] += step * r.NormFloat64()
				}
				if (try[i] < 0 || try[i] > 1) && r.Intn(4) == 0 {
					try[i] -= math.Floor(try[i])
				}
				try[i] = math.Max(0, math.Min(1, try[i]))
			}
			q, ok := c.of(try)
			if !ok {
				continue
			}
			if d := distance(c.from, q); d > far {
				far = d
				copy(u, try)
				step = math.Min(0.2, step*1.5)
			}
		}
	}
	return far
}

// TestEveryTruthLiesInTheCircleAndTheCircleIsNoLarger samples, for each form,
// places that the words allow.
func TestEveryTruthLiesInTheCircleAndTheCircleIsNoLarger(t *testing.T) {
	source := uncertainty.Term{Source: uncertainty.Coordinates, Radius: mapShift, Because: "an invented map", Cites: "invented"}
	for i, p := range proofs() {
		r := rand.New(rand.NewSource(int64(i)))
		strict, published := candidate(t, p.text, georeference.Strict, source), candidate(t, p.text, georeference.Published, source)
		if strict == nil || published == nil {
			continue
		}
		u, climb := make([]float64, p.n), climber{of: p.of, from: strict.Circle.Centre}
		held, outside, under, over := 0, 0, 0, 0.
		var firstOut geo.Point
		for met := 0; met < samples; {
			choose(r, u)
			q, ok := p.of(u)
			if !ok {
				continue
			}
			met++
			d := distance(strict.Circle.Centre, q)
			if d <= float64(strict.Circle.Radius) {
				held++
			} else if !firstOut.Known() {
				firstOut = q
			}
			if !strict.Region.Holds(q) {
				outside++
			}
			climb.meet(u, d)
			if more := distance(published.Circle.Centre, q) - float64(published.Circle.Radius); more > 0 {
				under++
				over = math.Max(over, more)
			}
		}
		far := climb.worst(r)
		ratio := float64(strict.Circle.Radius) / far
		t.Logf("SHOW %-45s %6d of %d inside; strict %6.0f m = %.5f of the worst case; published %6.0f m misses %5.2f %%, by up to %5.0f m (%.1f %%)",
			p.name, held, samples, strict.Circle.Radius, ratio, published.Circle.Radius, 100*float64(under)/samples, over, 100*over/float64(published.Circle.Radius))
		if held != samples {
			t.Errorf("%s: got %d of %d truths in the circle, want all; %v is not", p.name, held, samples, firstOut)
		}
		if outside > 0 {
			t.Errorf("%s: got %d truths outside the shape, want none", p.name, outside)
		}
		limit := 1.001
		if p.hard {
			limit = hardLimit
		}
		if ratio > limit || ratio < 1-1e-8 {
			t.Errorf("%s: got a radius of %.2f m, want 1 to %g times the worst case of %.2f m (%.5f)", p.name, strict.Circle.Radius, limit, far, ratio)
		}
	}
}

func candidate(t *testing.T, text string, protocol georeference.Protocol, terms ...uncertainty.Term) *georeference.Candidate {
	t.Helper()
	r, err := georeference.Of(text, invented, georeference.Options{Protocol: protocol, Terms: terms})
	if err != nil || len(r.Candidates) != 1 {
		t.Errorf("%s: got %d candidates, %v, want one", text, len(r.Candidates), err)
		return nil
	}
	c := &r.Candidates[0]
	if got := fmt.Sprint(c.Protocol); got != protocol.String() {
		t.Errorf("%s: got the protocol %q, want %q", text, got, protocol)
	}
	return c
}
