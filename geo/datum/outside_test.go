package datum

import (
	"bytes"
	"fmt"
	"math"
	"math/rand"
	"os/exec"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/geodesic"
)

const places = 100_000

// cs2cs runs the outside check over places with one shift spelt out, so that
// both sides reckon with the same parameters.
func cs2cs(t *testing.T, on ellipsoid, s *shift, in []geo.Point) [][2]float64 {
	t.Helper()
	path, err := exec.LookPath("cs2cs")
	if err != nil {
		t.Fatal(`the program "cs2cs" (Debian package proj-bin) is missing; without it nothing outside checks the datums`)
	}
	turn := s.turn
	if s.method == frameRotation { // towgs84 takes the other sense
		turn = vector{-turn[0], -turn[1], -turn[2]}
	}
	towgs84 := fmt.Sprintf("+towgs84=%.17g,%.17g,%.17g,%.17g,%.17g,%.17g,%.17g",
		s.move[0], s.move[1], s.move[2], turn[0], turn[1], turn[2], s.scale)
	cmd := exec.Command(path, "-f", "%.13f", "+proj=longlat", fmt.Sprintf("+a=%.17g", on.radius), fmt.Sprintf("+rf=%.17g", on.inverse),
		towgs84, "+no_defs", "+to", "+proj=longlat", "+datum=WGS84", "+no_defs")
	var b bytes.Buffer
	for _, p := range in {
		fmt.Fprintf(&b, "%.17f %.17f\n", float64(p.Lon()), float64(p.Lat()))
	}
	cmd.Stdin = &b
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("cs2cs: %v", err)
	}
	var rows [][2]float64
	for _, line := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		var lon, lat, h float64
		if _, err := fmt.Sscan(line, &lon, &lat, &h); err != nil {
			t.Fatalf("cs2cs answered %q: %v", line, err)
		}
		rows = append(rows, [2]float64{lat, lon})
	}
	if len(rows) != len(in) {
		t.Fatalf("cs2cs answered %d lines, want %d", len(rows), len(in))
	}
	return rows
}

func TestEveryShiftAgreesWithCS2CS(t *testing.T) {
	r := rand.New(rand.NewSource(4326))
	count := 0
	for i := range all {
		count += len(all[i].shifts)
	}
	worst, tried := 0.0, 0
	for i := range all {
		for j := range all[i].shifts {
			s := &all[i].shifts[j]
			in := make([]geo.Point, 1+places/count)
			for k := range in {
				in[k] = within(t, r, s)
			}
			for k, want := range cs2cs(t, all[i].on, s, in) {
				got, err := s.place(all[i].on, in[k])
				if err != nil {
					t.Fatal(err)
				}
				there, err := geo.At(geo.Degrees(want[0]), geo.Degrees(want[1]))
				if err != nil {
					t.Fatal(err)
				}
				off, err := geodesic.Distance(got, there)
				if err != nil {
					t.Fatal(err)
				}
				tried++
				most := geo.Metres(1e-6)
				if s.move == (vector{}) {
					most = 2e-4 // cs2cs leaves the place alone, though the ellipsoids differ by a tenth of a millimetre
				} else {
					worst = math.Max(worst, float64(off))
				}
				if off > most {
					t.Fatalf("%s by EPSG %d: %s: got %s, want %s (%.3g m apart)", all[i].name, s.code, in[k], got, there, off)
				}
			}
		}
	}
	t.Logf("SHOW %d places over %d shifts of %d datums against cs2cs: at most %.1f nm apart", tried, count, len(all), worst*1e9)
	if tried < places {
		t.Errorf("got %d places, want %d", tried, places)
	}
}

func within(t *testing.T, r *rand.Rand, s *shift) geo.Point {
	t.Helper()
	east := s.east
	if s.west > east {
		east += 360
	}
	p, err := geo.At(geo.Degrees(s.south+(s.north-s.south)*r.Float64()), geo.Degrees(math.Remainder(s.west+(east-s.west)*r.Float64(), 360)))
	if err != nil {
		t.Fatal(err)
	}
	return p
}
