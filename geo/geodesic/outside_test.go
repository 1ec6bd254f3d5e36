package geodesic

import (
	"bytes"
	"math"
	"math/rand"
	"os/exec"
	"strconv"
	"strings"
	"testing"
)

// nanometres is how far an answer may be from the outside program's.
const nanometres = 15e-9

const lines = 100_000

// geodSolve runs the outside check once over all lines and returns the
// numbers of each line of its answer.
func geodSolve(t *testing.T, in []byte, args ...string) [][]float64 {
	t.Helper()
	path, err := exec.LookPath("GeodSolve")
	if err != nil {
		t.Fatal(`the program "GeodSolve" (Debian package geographiclib-tools) is missing; without it nothing outside checks the geodesics`)
	}
	cmd := exec.Command(path, args...)
	cmd.Stdin = bytes.NewReader(in)
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("GeodSolve %v: %v", args, err)
	}
	var rows [][]float64
	for _, line := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		var row []float64
		for _, field := range strings.Fields(line) {
			v, err := strconv.ParseFloat(field, 64)
			if err != nil {
				t.Fatalf("GeodSolve answered %q: %v", line, err)
			}
			row = append(row, v)
		}
		rows = append(rows, row)
	}
	if len(rows) != lines {
		t.Fatalf("GeodSolve answered %d lines, want %d", len(rows), lines)
	}
	return rows
}

func write(rows [][4]float64) []byte {
	var b bytes.Buffer
	for _, r := range rows {
		for _, v := range r {
			b.WriteString(strconv.FormatFloat(v, 'f', -1, 64))
			b.WriteByte(' ')
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

// kinds of line, each drawn equally often.
var kinds = []struct {
	name string
	draw func(r *rand.Rand) [4]float64
}{
	{"anywhere to anywhere", func(r *rand.Rand) [4]float64 {
		return [4]float64{uniform(r, 90), uniform(r, 180), uniform(r, 90), uniform(r, 180)}
	}},
	{"1 m to 50 km", func(r *rand.Rand) [4]float64 {
		lat, lon := uniform(r, 89), uniform(r, 180)
		s := math.Exp(r.Float64() * math.Log(50_000))
		lat2, lon2, _ := wgs84.direct(lat, lon, uniform(r, 180), s)
		return [4]float64{lat, lon, lat2, lon2}
	}},
	{"nearly to the opposite point", func(r *rand.Rand) [4]float64 {
		lat, lon := uniform(r, 90), uniform(r, 180)
		near := math.Pow(10, -8*r.Float64())
		lat2 := math.Max(-90, math.Min(90, -lat+uniform(r, near)))
		return [4]float64{lat, lon, lat2, wrap(lon + 180 + uniform(r, near))}
	}},
	{"along the equator", func(r *rand.Rand) [4]float64 {
		return [4]float64{0, uniform(r, 180), 0, uniform(r, 180)}
	}},
	{"along a meridian or over a pole", func(r *rand.Rand) [4]float64 {
		lon := math.Round(uniform(r, 180))
		return [4]float64{uniform(r, 90), lon, uniform(r, 90), wrap(lon + 180*float64(r.Intn(2)))}
	}},
	{"near the poles", func(r *rand.Rand) [4]float64 {
		pole := func() float64 {
			return math.Copysign(90-r.Float64()*math.Pow(10, -6*r.Float64()), uniform(r, 1))
		}
		return [4]float64{pole(), uniform(r, 180), pole(), uniform(r, 180)}
	}},
	{"between round numbers", func(r *rand.Rand) [4]float64 {
		return [4]float64{float64(r.Intn(37)-18) * 5, float64(r.Intn(73)-36) * 5,
			float64(r.Intn(37)-18) * 5, float64(r.Intn(73)-36) * 5}
	}},
	{"near the equator and nearly opposite", func(r *rand.Rand) [4]float64 {
		lon := uniform(r, 180)
		return [4]float64{uniform(r, 1e-3), lon, uniform(r, 1e-3), wrap(lon + 179.4 + r.Float64())}
	}},
}

func uniform(r *rand.Rand, within float64) float64 { return within * (2*r.Float64() - 1) }

func wrap(lon float64) float64 { return math.Remainder(lon, 360) }

func TestInverseAgreesWithGeodSolveTo15Nanometres(t *testing.T) {
	r := rand.New(rand.NewSource(20130101))
	in := make([][4]float64, lines)
	for i := range in {
		in[i] = kinds[i%len(kinds)].draw(r)
	}
	worst := make([]float64, len(kinds))
	worstHeading := 0.0
	for i, out := range geodSolve(t, write(in), "-i", "-f", "-p", "10") {
		l := in[i]
		w := wgs84.inverse(l[0], l[1], l[2], l[3])
		k := i % len(kinds)
		// Columns: lat1 lon1 azi1 lat2 lon2 azi2 s12 a12 m12 M12 M21 S12.
		off := math.Abs(w.distance - out[6])
		if !(off <= nanometres) {
			t.Errorf("%s, %v: got %.10f m, want %.10f m (%.1f nm apart)", kinds[k].name, l, w.distance, out[6], off*1e9)
		}
		worst[k] = math.Max(worst[k], off)
		if out[6] > 0 && !opposite(l) {
			worstHeading = math.Max(worstHeading, headingMiss(w, out))
		}
	}
	for k, v := range worst {
		t.Logf("%s: at most %.1f nm apart in distance", kinds[k].name, v*1e9)
	}
	t.Logf("headings: at most %.1f nm to the side at the far end", worstHeading*1e9)
	if worstHeading > 2*nanometres {
		t.Errorf("headings lead %.1f nm past the far end, want at most %.0f nm", worstHeading*1e9, 2*nanometres*1e9)
	}
}

// opposite reports whether two shortest ways of equal length exist, or so
// nearly that the headings are a matter of taste.
func opposite(l [4]float64) bool {
	east, _ := eastward(l[1], l[3])
	return math.Abs(east) > 179.39 && math.Abs(l[0]+l[2]) < 1.1 ||
		math.Abs(l[0]) == 90 || math.Abs(l[2]) == 90
}

// headingMiss is how far to the side one arrives, in metres, when setting out
// at our heading rather than the outside program's; and likewise backwards.
func headingMiss(w way, out []float64) float64 {
	reduced := math.Abs(out[8])
	depart := math.Remainder(w.depart-out[2], 360) * math.Pi / 180
	arrive := math.Remainder(w.arrive-out[5], 360) * math.Pi / 180
	return math.Max(math.Abs(depart), math.Abs(arrive)) * reduced
}

func TestDirectAgreesWithGeodSolveTo15Nanometres(t *testing.T) {
	r := rand.New(rand.NewSource(20130102))
	in := make([][4]float64, lines)
	for i := range in {
		l := kinds[i%len(kinds)].draw(r)
		s := math.Exp(r.Float64() * math.Log(2e7))
		heading := uniform(r, 180)
		if i%5 == 0 {
			heading = 45 * float64(r.Intn(8)-4)
		}
		in[i] = [4]float64{l[0], l[1], heading, s}
	}
	worst := 0.0
	for i, out := range geodSolve(t, write(in), "-p", "12") {
		l := in[i]
		lat, lon, _ := wgs84.direct(l[0], l[1], l[2], l[3])
		off := wgs84.inverse(out[0], out[1], lat, lon).distance
		worst = math.Max(worst, off)
		if !(off <= nanometres) {
			t.Errorf("from %v: got %.15f %.15f, want %.15f %.15f (%.1f nm apart)", l, lat, lon, out[0], out[1], off*1e9)
		}
	}
	t.Logf("direct: at most %.1f nm apart", worst*1e9)
}
