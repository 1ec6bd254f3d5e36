package gazetteer

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"sort"

	"wayfall/geo"
)

// The file, in order, every whole number as a varint, every text after its
// length:
//
//	mark     the eight bytes of fileMark, its last byte the version
//	edition
//	partial  a byte, 0 or 1
//	states   count; each: code, its counties (count; each a name, in order),
//	         its places (count)
//	places   each: how many bytes its name shares with the one before it in
//	         the state, the rest of the name, the county's place in the list
//	         from 1 (0 is unknown), steps in latitude and longitude from the
//	         one before (in 1e-5 degrees, zigzag; the first from 0, 0),
//	         population, class
//	check    CRC-32 (IEEE) of all before it, little-endian
//
// One list has one spelling.
var fileMark = []byte("wfnames\x01")

// Encode writes the list in its compact form.
func (l *List) Encode() []byte {
	b := append([]byte(nil), fileMark...)
	b = appendText(b, l.edition)
	if l.partial {
		b = append(b, 1)
	} else {
		b = append(b, 0)
	}
	b = binary.AppendUvarint(b, uint64(len(l.states)))
	for _, s := range l.states {
		b = appendState(b, s.state, l.places[s.from:s.to])
	}
	return binary.LittleEndian.AppendUint32(b, crc32.ChecksumIEEE(b))
}

func appendText(b []byte, s string) []byte {
	return append(binary.AppendUvarint(b, uint64(len(s))), s...)
}

func appendState(b []byte, state string, places []Place) []byte {
	b = appendText(b, state)
	number := make(map[string]uint64)
	var counties []string
	for i := range places {
		if c := places[i].County; c != "" && number[c] == 0 {
			number[c] = 1
			counties = append(counties, c)
		}
	}
	sort.Strings(counties)
	b = binary.AppendUvarint(b, uint64(len(counties)))
	for i, c := range counties {
		number[c] = uint64(i + 1)
		b = appendText(b, c)
	}
	b = binary.AppendUvarint(b, uint64(len(places)))
	last, lat, lon := "", int64(0), int64(0)
	for i := range places {
		p := &places[i]
		same := shared(last, p.Name)
		b = binary.AppendUvarint(b, uint64(same))
		b = appendText(b, p.Name[same:])
		b = binary.AppendUvarint(b, number[p.County])
		y, x := p.nodes()
		b = binary.AppendVarint(b, y-lat)
		b = binary.AppendVarint(b, x-lon)
		b = binary.AppendUvarint(b, uint64(p.Population))
		b = append(b, byte(p.Class))
		last, lat, lon = p.Name, y, x
	}
	return b
}

func shared(a, b string) int {
	n := 0
	for n < len(a) && n < len(b) && a[n] == b[n] {
		n++
	}
	return n
}

// Decode reads what Encode wrote. Anything else is an error of kind Damaged.
func Decode(wire []byte) (*List, error) {
	if !bytes.HasPrefix(wire, fileMark) || len(wire) < len(fileMark)+4 {
		return nil, geo.Errorf(geo.Damaged, "this is not a list of places of version 1")
	}
	body, check := wire[:len(wire)-4], wire[len(wire)-4:]
	if crc32.ChecksumIEEE(body) != binary.LittleEndian.Uint32(check) {
		return nil, geo.Errorf(geo.Damaged, "the list of places was damaged on the way: its check sum does not fit")
	}
	r := &reader{rest: body[len(fileMark):]}
	edition := r.text()
	partial := r.number(1) == 1
	var places []Place
	for n := r.count(); n > 0 && !r.bad; n-- {
		places = r.state(places)
	}
	if r.bad || len(r.rest) > 0 {
		return nil, geo.Errorf(geo.Damaged, "the list of places breaks off or runs on")
	}
	l, err := build(edition, partial, places)
	if err != nil {
		return nil, err
	}
	if !bytes.Equal(l.Encode(), wire) {
		return nil, geo.Errorf(geo.Damaged, "the list of places is not written as it should be")
	}
	return l, nil
}

// reader takes the file apart; after the first fault it gives zeros.
type reader struct {
	rest []byte
	bad  bool
}

func (r *reader) fail() { r.bad, r.rest = true, nil }

func (r *reader) number(most uint64) uint64 {
	v, n := binary.Uvarint(r.rest)
	if n <= 0 || v > most {
		r.fail()
		return 0
	}
	r.rest = r.rest[n:]
	return v
}

func (r *reader) step() int64 {
	v, n := binary.Varint(r.rest)
	if n <= 0 || v < -360*grid || v > 360*grid {
		r.fail()
		return 0
	}
	r.rest = r.rest[n:]
	return v
}

// count reads the length of a list. Every entry takes a byte at least, so a
// count beyond the rest of the file is a lie and allocates nothing.
func (r *reader) count() int {
	n := r.number(uint64(len(r.rest)))
	if n > uint64(len(r.rest)) {
		r.fail()
		return 0
	}
	return int(n)
}

func (r *reader) text() string {
	n := r.count()
	if n > maxName {
		r.fail()
		return ""
	}
	s := string(r.rest[:n])
	r.rest = r.rest[n:]
	return s
}

func (r *reader) state(all []Place) []Place {
	state := r.text()
	counties := []string{""}
	for n := r.count(); n > 0 && !r.bad; n-- {
		counties = append(counties, r.text())
	}
	last, lat, lon := "", int64(0), int64(0)
	for n := r.count(); n > 0 && !r.bad; n-- {
		p := Place{State: state, Name: last[:r.number(uint64(len(last)))] + r.text()}
		p.County = counties[r.number(uint64(len(counties)-1))]
		lat, lon = lat+r.step(), lon+r.step()
		p.Population = int(r.number(maxPopulation))
		p.Class = Class(r.number(uint64(len(classNames) - 1)))
		at, err := pointOf(lat, lon)
		if err != nil {
			r.fail()
			return all
		}
		p.At = at
		all, last = append(all, p), p.Name
	}
	return all
}
