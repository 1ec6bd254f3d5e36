package places

import (
	"encoding/binary"
	"io"
	"math"
	"strings"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
)

// near is how far apart two lists may put one town, in 1e-5 degrees: about
// two kilometres, our own choice. Namesakes in one state lie farther apart.
const near = 2000

// census holds the number of people by state and folded name.
type census map[string][]counted

type counted struct {
	lat, lon int64 // 1e-5 degrees
	people   int
	class    gazetteer.Class
}

// join finds the town of the same name that lies nearest and takes over its
// people and class. None near enough leaves both unknown.
func (c census) join(p *gazetteer.Place) {
	lat := int64(math.Round(float64(p.At.Lat()) * 1e5))
	lon := int64(math.Round(float64(p.At.Lon()) * 1e5))
	best := int64(near) + 1
	for _, t := range c[p.State+" "+gazetteer.Fold(p.Name)] {
		apart := max(abs(t.lat-lat), abs(t.lon-lon))
		if apart < best {
			best, p.Population, p.Class = apart, t.people, t.class
		}
	}
}

func abs(n int64) int64 { return max(n, -n) }

// classes are the feature codes of GeoNames that stand for populated places.
var classes = map[string]gazetteer.Class{
	"PPL": gazetteer.Town, "PPLA": gazetteer.Town, "PPLA2": gazetteer.Town, "PPLA3": gazetteer.Town,
	"PPLA4": gazetteer.Town, "PPLA5": gazetteer.Town, "PPLC": gazetteer.Town, "PPLG": gazetteer.Town,
	"PPLL": gazetteer.Town, "PPLS": gazetteer.Town, "PPLF": gazetteer.Town,
	"PPLX": gazetteer.Section, "PPLQ": gazetteer.Former, "PPLH": gazetteer.Former, "PPLW": gazetteer.Former,
}

// readPeople reads messages one after the other, each after its length, with
// the fields name (2), country (3), feature code (7), state (8), population
// (9), and the steps in longitude (10) and latitude (11) from the message
// before, in 1e-5 degrees.
func readPeople(r io.Reader) (census, error) {
	wire, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	found := make(census)
	var lat, lon int64
	for len(wire) > 0 {
		size, n := binary.Uvarint(wire)
		if n <= 0 || size > uint64(len(wire)-n) {
			return nil, geo.Errorf(geo.Damaged, "the list of people breaks off")
		}
		var m message
		if err := m.read(wire[n : n+int(size)]); err != nil {
			return nil, err
		}
		wire = wire[n+int(size):]
		lat, lon = lat+m.lat, lon+m.lon
		if abs(lat) > 90e5 || abs(lon) > 180e5 {
			return nil, geo.Errorf(geo.Damaged, "a town in the list of people lies off the globe")
		}
		if m.country == "US" {
			key := "US-" + m.state + " " + gazetteer.Fold(m.name)
			found[key] = append(found[key], counted{lat, lon, m.people, classes[m.code]})
		}
	}
	if len(found) == 0 {
		return nil, geo.Errorf(geo.Damaged, "the list of people holds no town in the United States")
	}
	return found, nil
}

type message struct {
	name, country, code, state string
	people                     int
	lat, lon                   int64
}

// read takes one message apart. Fields that are not needed are passed over.
func (m *message) read(b []byte) error {
	broken := geo.Errorf(geo.Damaged, "a town in the list of people cannot be read")
	for len(b) > 0 {
		tag, n := binary.Uvarint(b)
		if n <= 0 {
			return broken
		}
		b = b[n:]
		v, n := binary.Uvarint(b) // a number, or the length of a text
		if n <= 0 {
			return broken
		}
		b = b[n:]
		switch tag & 7 {
		case 0:
			m.number(tag>>3, v)
		case 2:
			if v > uint64(len(b)) {
				return broken
			}
			m.text(tag>>3, string(b[:v]))
			b = b[v:]
		default:
			return broken
		}
	}
	return nil
}

func (m *message) number(field, v uint64) {
	signed := int64(v>>1) ^ -int64(v&1)
	signed = max(-1e9, min(1e9, signed)) // far off the globe, and far from overflow
	switch field {
	case 9:
		m.people = int(min(v, math.MaxInt32))
	case 10:
		m.lon = signed
	case 11:
		m.lat = signed
	}
}

func (m *message) text(field uint64, s string) {
	switch field {
	case 2:
		m.name = strings.TrimSpace(s)
	case 3:
		m.country = s
	case 7:
		m.code = s
	case 8:
		m.state = s
	}
}
