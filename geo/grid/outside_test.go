package grid

import (
	"bytes"
	"fmt"
	"math"
	"math/rand"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/geodesic"
)

const places = 100_000

// geoConvert runs the outside check over all lines at once.
func geoConvert(t *testing.T, in []byte, args ...string) []string {
	t.Helper()
	path, err := exec.LookPath("GeoConvert")
	if err != nil {
		t.Fatal(`the program "GeoConvert" (Debian package geographiclib-tools) is missing; without it nothing outside checks the grid`)
	}
	cmd := exec.Command(path, args...)
	cmd.Stdin = bytes.NewReader(in)
	out, _ := cmd.Output() // it ends with 1 when any line is refused
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if len(lines) != places {
		t.Fatalf("GeoConvert answered %d lines, want %d", len(lines), places)
	}
	return lines
}

// anywhere draws places from the whole grid: half of them anywhere, the others
// beside the lines of zones and bands, off Norway and around Svalbard, and on
// round numbers.
func anywhere(t *testing.T) []geo.Point {
	t.Helper()
	r := rand.New(rand.NewSource(19120601))
	out := make([]geo.Point, places)
	for i := range out {
		lat, lon := -80+164*r.Float64(), -180+360*r.Float64()
		switch i % 8 {
		case 1:
			lon = float64(6*r.Intn(60)-180) + (r.Float64()-0.5)*1e-3
		case 2:
			lat = math.Max(-80, math.Min(84, float64(8*r.Intn(21)-80)+(r.Float64()-0.5)*1e-3))
		case 3:
			lat, lon = 55+30*r.Float64(), 45*r.Float64()
		case 4:
			lat, lon = math.Round(lat), math.Round(lon)
		}
		p, err := geo.At(geo.Degrees(math.Min(lat, 84-1e-9)), geo.Degrees(math.Remainder(lon, 360)))
		if err != nil {
			t.Fatal(err)
		}
		out[i] = p
	}
	return out
}

func written(all []geo.Point) []byte {
	var b bytes.Buffer
	for _, p := range all {
		b.WriteString(strconv.FormatFloat(float64(p.Lat()), 'f', -1, 64) + " " + strconv.FormatFloat(float64(p.Lon()), 'f', -1, 64) + "\n")
	}
	return b.Bytes()
}

func TestEastingsAndNorthingsAgreeWithGeoConvert(t *testing.T) {
	all := anywhere(t)
	worst, back := 0.0, 0.0
	for i, line := range geoConvert(t, written(all), "-u", "-p", "9") {
		u, err := Of(all[i])
		if err != nil {
			t.Fatalf("%s: %v", all[i], err)
		}
		want := parsed(t, line)
		if want.Zone != u.Zone || want.South != u.South {
			t.Fatalf("%s: got %s, want %s", all[i], u, line)
		}
		worst = math.Max(worst, apart(u, want))
		p, err := u.Point()
		if err != nil {
			t.Fatalf("%s: %v", u, err)
		}
		way, err := geodesic.Inverse(p, all[i])
		if err != nil {
			t.Fatal(err)
		}
		back = math.Max(back, float64(way.Distance))
	}
	t.Logf("SHOW %d places against GeoConvert: at most %.1f nm apart on the grid; there and back at most %.1f nm", places, worst*1e9, back*1e9)
	if worst > 15e-9 || back > 15e-9 {
		t.Errorf("got %.1f nm and %.1f nm, want at most 15 nm", worst*1e9, back*1e9)
	}
}

func TestSquaresAgreeWithGeoConvert(t *testing.T) {
	all := anywhere(t)
	r := rand.New(rand.NewSource(1947))
	other := 0
	for digits, lines := range map[int][]string{
		0: geoConvert(t, written(all), "-m", "-p", "-5"),
		3: geoConvert(t, written(all), "-m", "-p", "-2"),
		5: geoConvert(t, written(all), "-m", "-p", "0"),
	} {
		for i, want := range lines {
			s, err := SquareOf(all[i], digits)
			if err != nil {
				t.Fatalf("%s: %v", all[i], err)
			}
			// On a line between two squares either may be named.
			if s.String() != want && !onLine(t, all[i], float64(s.Side)) {
				t.Errorf("%s: got %s, want %s", all[i], s, want)
			} else if s.String() != want {
				other++
			}
			if i%8 != digits {
				continue
			}
			read, err := ReadSquare(spaced(r, s.String()))
			if err != nil || read != s {
				t.Fatalf("%s was read as %+v, %v; want %+v", s, read, err, s)
			}
		}
	}
	t.Logf("SHOW 3 × %d squares against GeoConvert: 0 other but for %d on a line between two", places, other)
	if other > places/10 {
		t.Errorf("%d squares were excused, which is too many to mean anything", other)
	}
}

// onLine tells whether the place is within a micrometre of a line of squares.
func onLine(t *testing.T, p geo.Point, side float64) bool {
	t.Helper()
	u, err := Of(p)
	if err != nil {
		t.Fatal(err)
	}
	near := func(m geo.Metres) bool { return math.Abs(math.Remainder(float64(m), side)) < 1e-6 }
	return near(u.Easting) || near(u.Northing)
}

// spaced writes a square as people do: with spaces, in small letters.
func spaced(r *rand.Rand, s string) string {
	switch r.Intn(3) {
	case 0:
		return s[:3] + " " + s[3:5] + " " + s[5:5+(len(s)-5)/2] + " " + s[5+(len(s)-5)/2:]
	case 1:
		return strings.ToLower(s)
	}
	return s
}

// TestSquaresAreReadAsGeoConvertReadsThem writes random squares, most of them
// in the wrong band, and holds acceptance and place to the outside program.
func TestSquaresAreReadAsGeoConvertReadsThem(t *testing.T) {
	r := rand.New(rand.NewSource(8358))
	var in bytes.Buffer
	all := make([]string, places)
	for i := range all {
		zone := 1 + r.Intn(60)
		set := columns[8*((zone-1)%3) : 8*((zone-1)%3)+8]
		all[i] = fmt.Sprintf("%02d%c%c%c%03d%03d", zone, bands[r.Intn(20)], set[r.Intn(8)], rows[r.Intn(20)], r.Intn(1000), r.Intn(1000))
		in.WriteString(all[i] + "\n")
	}
	accepted, only, theirs, worst := 0, 0, 0, 0.0
	for i, line := range geoConvert(t, in.Bytes(), "-u", "-p", "9", "-n") {
		s, err := ReadSquare(all[i])
		refused := strings.HasPrefix(line, "ERROR")
		switch {
		case err != nil && refused:
			continue
		case err != nil:
			if theirs++; !beyond(t, line) {
				t.Errorf("%s: got %v, want %s", all[i], err, line)
			}
			continue
		case refused:
			only++ // the outside program allows less of a square that reaches over a band's edge
			continue
		}
		accepted++
		worst = math.Max(worst, apart(s.Corner, parsed(t, line)))
	}
	t.Logf("SHOW %d random squares: %d read alike (at most %g m apart), %d read here only, %d refused here only, beyond the ends of the grid", places, accepted, worst, only, theirs)
	if accepted < places/10 || worst != 0 {
		t.Errorf("got %d read alike, at most %g m apart", accepted, worst)
	}
}

// beyond tells whether the whole 100 km square of an answer lies past the ends
// of the grid, where polar squares are in use.
func beyond(t *testing.T, line string) bool {
	t.Helper()
	u := parsed(t, line)
	u.Northing = geo.Metres(math.Floor(float64(u.Northing)/hundred) * hundred)
	if u.South {
		u.Northing += hundred
	}
	p, err := u.Point()
	if err != nil {
		t.Fatalf("%s: %v", line, err)
	}
	return p.Lat() >= northEnd || p.Lat() < southEnd
}

// parsed reads an answer such as "16n 584123.0 4712345.0".
func parsed(t *testing.T, line string) UTM {
	t.Helper()
	var zone int
	var side byte
	var e, n float64
	if _, err := fmt.Sscanf(line, "%d%c %g %g", &zone, &side, &e, &n); err != nil {
		t.Fatalf("GeoConvert answered %q: %v", line, err)
	}
	return UTM{zone, side == 's', geo.Metres(e), geo.Metres(n)}
}

func apart(a, b UTM) float64 {
	return math.Hypot(float64(a.Easting-b.Easting), float64(a.Northing-b.Northing))
}
