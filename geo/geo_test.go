package geo_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"wayfall/geo"
)

func ExampleAt() {
	p, err := geo.At(42.7335, -84.5467)
	fmt.Println(p, err)
	_, err = geo.At(-123.07, 38.305)
	fmt.Println(err)
	// Output:
	// 42.7335, -84.5467 <nil>
	// latitude -123.07 is beyond a pole; latitude and longitude may be swapped
}

var atTests = []struct {
	name     string
	lat, lon geo.Degrees
	says     string
}{
	{"latitude 91 is beyond the pole", 91, 170, "latitude 91"},
	{"latitude -123 beside a small longitude looks swapped", -123, 38, "swapped"},
	{"a latitude that is not a number", geo.Degrees(math.NaN()), 0, "latitude is not a number"},
	{"a longitude that is not a number", 0, geo.Degrees(math.NaN()), "longitude is not a number"},
	{"an endless longitude", 0, geo.Degrees(math.Inf(-1)), "longitude is not a number"},
	{"longitude 180.5 is past the date line", 0, 180.5, "date line"},
}

func TestImpossiblePlacesAreRefusedWithASentence(t *testing.T) {
	for _, tt := range atTests {
		p, err := geo.At(tt.lat, tt.lon)
		if err == nil || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%s: got error %v, want one that says %q", tt.name, err, tt.says)
		}
		if p.Known() {
			t.Errorf("%s: got point %v, want an unknown one", tt.name, p)
		}
		if got := geo.KindOf(err); got != geo.Invalid {
			t.Errorf("%s: got kind %v, want %v", tt.name, got, geo.Invalid)
		}
	}
}

func TestEveryMeridianHasOneSpelling(t *testing.T) {
	east, _ := geo.At(-16.5, 180)
	west, _ := geo.At(-16.5, -180)
	if east != west {
		t.Errorf("the date line from both sides: got %v and %v, want equal points", east, west)
	}
	minus, _ := geo.At(geo.Degrees(math.Copysign(0, -1)), geo.Degrees(math.Copysign(0, -1)))
	if math.Signbit(float64(minus.Lat())) || math.Signbit(float64(minus.Lon())) {
		t.Errorf("negative zero: got %v, want plain zero", minus)
	}
}

func TestTheZeroPointIsUnknownAndNotNullIsland(t *testing.T) {
	island, err := geo.At(0, 0)
	if err != nil {
		t.Fatal(err)
	}
	if island == (geo.Point{}) || !island.Known() {
		t.Errorf("null island: got %#v, want a known point that differs from the zero Point", island)
	}
	if (geo.Circle{Radius: 5}).Known() {
		t.Error("a circle around nowhere: got known, want unknown")
	}
	if (geo.Circle{Centre: island, Radius: geo.Metres(math.Inf(1))}).Known() {
		t.Error("an endless circle: got known, want unknown")
	}
}

func TestPointsSurviveJSON(t *testing.T) {
	p, _ := geo.At(42.7335, -84.5467)
	for name, tt := range map[string]struct {
		in   geo.Circle
		wire string
	}{
		"a known circle":          {geo.Circle{Centre: p, Radius: 12.5}, `{"centre":{"lat":42.7335,"lon":-84.5467},"radius":12.5}`},
		"a circle around nowhere": {geo.Circle{}, `{"centre":null,"radius":0}`},
	} {
		b, err := json.Marshal(tt.in)
		if err != nil || string(b) != tt.wire {
			t.Errorf("%s: got %s, %v, want %s", name, b, err, tt.wire)
		}
		var back geo.Circle
		if err := json.Unmarshal(b, &back); err != nil || back != tt.in {
			t.Errorf("%s read back: got %v, %v, want %v", name, back, err, tt.in)
		}
	}
	for _, bad := range []string{`{"lat":1}`, `{"lat":91,"lon":0}`, `{}`, `[1,2]`, `"x"`} {
		var q geo.Point
		if err := json.Unmarshal([]byte(bad), &q); err == nil {
			t.Errorf("%s: got %v, want an error", bad, q)
		}
	}
}

func FuzzPointJSON(f *testing.F) {
	f.Add([]byte(`{"lat":42.7335,"lon":-84.5467}`))
	f.Add([]byte(`{"lat":-0,"lon":180}`))
	f.Add([]byte(`null`))
	f.Fuzz(func(t *testing.T, wire []byte) {
		var p, again geo.Point
		if json.Unmarshal(wire, &p) != nil {
			return
		}
		b, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(b, &again); err != nil || again != p {
			t.Errorf("%s: got %v, %v, want %v", b, again, err, p)
		}
	})
}

func TestKindsSurviveWrapping(t *testing.T) {
	err := fmt.Errorf("read place: %w", geo.Errorf(geo.Unknown, "no centre"))
	if got := geo.KindOf(err); got != geo.Unknown {
		t.Errorf("wrapped error: got %v, want %v", got, geo.Unknown)
	}
	if got := geo.KindOf(errors.New("other")); got != geo.Unclassified {
		t.Errorf("another's error: got %v, want %v", got, geo.Unclassified)
	}
	if got := geo.Kind(200).String(); got != "unclassified" {
		t.Errorf("a kind from the future: got %q, want %q", got, "unclassified")
	}
}
