package region

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"math"
	"strconv"

	"wayfall/geo"
)

// The file, in order, every whole number as a varint of the fewest bytes:
//
//	mark      the eight bytes of fileMark, its last byte the version
//	year
//	grid      origin and step, four IEEE 754 doubles, little-endian
//	arcs      count; each: count of nodes, then zigzag steps from node to node
//	          (the first from (0, 0))
//	outlines  count; each: level, code as a number, name with its length,
//	          polygons, rings and arc references, each list after its count,
//	          references zigzag
//	check     CRC-32 (IEEE) of all before it, little-endian
//
// One set of lines has one spelling.
var fileMark = []byte("wflines\x01")

// Encode writes the lines in their compact form.
func (l *Lines) Encode() ([]byte, error) {
	if err := l.Check(); err != nil {
		return nil, err
	}
	b := append([]byte(nil), fileMark...)
	b = binary.AppendUvarint(b, uint64(l.Year))
	for _, v := range [...]float64{l.Origin[0], l.Origin[1], l.Step[0], l.Step[1]} {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	b = binary.AppendUvarint(b, uint64(len(l.Arcs)))
	for _, arc := range l.Arcs {
		b = binary.AppendUvarint(b, uint64(len(arc)))
		var at Node
		for _, n := range arc {
			b = binary.AppendVarint(b, int64(n.X)-int64(at.X))
			b = binary.AppendVarint(b, int64(n.Y)-int64(at.Y))
			at = n
		}
	}
	b = binary.AppendUvarint(b, uint64(len(l.Outlines)))
	for i := range l.Outlines {
		b = appendOutline(b, &l.Outlines[i])
	}
	return binary.LittleEndian.AppendUint32(b, crc32.ChecksumIEEE(b)), nil
}

func appendOutline(b []byte, o *Outline) []byte {
	code, _ := strconv.ParseUint(string(o.ID), 10, 32) // Check has seen digits
	b = append(b, byte(o.Level))
	b = binary.AppendUvarint(b, code)
	b = binary.AppendUvarint(b, uint64(len(o.Name)))
	b = append(b, o.Name...)
	b = binary.AppendUvarint(b, uint64(len(o.Polygons)))
	for _, rings := range o.Polygons {
		b = binary.AppendUvarint(b, uint64(len(rings)))
		for _, ring := range rings {
			b = binary.AppendUvarint(b, uint64(len(ring)))
			for _, ref := range ring {
				b = binary.AppendVarint(b, int64(ref))
			}
		}
	}
	return b
}

// Decode reads what Encode wrote. Anything else is an error of kind Damaged.
func Decode(wire []byte) (*Lines, error) {
	if !bytes.HasPrefix(wire, fileMark) || len(wire) < len(fileMark)+4 {
		return nil, geo.Errorf(geo.Damaged, "this is not a file of boundary lines of version 1")
	}
	body, check := wire[:len(wire)-4], wire[len(wire)-4:]
	if crc32.ChecksumIEEE(body) != binary.LittleEndian.Uint32(check) {
		return nil, geo.Errorf(geo.Damaged, "the boundary lines were damaged on the way: their check sum does not fit")
	}
	r := &reader{rest: body[len(fileMark):]}
	l := &Lines{Year: r.number(9999)}
	l.Origin, l.Step = [2]float64{r.float(), r.float()}, [2]float64{r.float(), r.float()}
	l.Arcs = make([][]Node, r.count())
	for i := range l.Arcs {
		l.Arcs[i] = r.arc()
	}
	l.Outlines = make([]Outline, r.count())
	for i := range l.Outlines {
		l.Outlines[i] = r.outline()
	}
	if r.bad || len(r.rest) > 0 {
		return nil, geo.Errorf(geo.Damaged, "the boundary lines break off or run on")
	}
	if err := l.Check(); err != nil {
		return nil, err
	}
	return l, nil
}

// reader takes the file apart; after the first fault it gives zeros.
type reader struct {
	rest []byte
	bad  bool
}

func (r *reader) fail() {
	r.bad, r.rest = true, nil
}

func (r *reader) bytes(n int) []byte {
	if n > len(r.rest) {
		r.fail()
		return make([]byte, min(n, 8))
	}
	b := r.rest[:n]
	r.rest = r.rest[n:]
	return b
}

func (r *reader) unsigned() uint64 {
	v, n := binary.Uvarint(r.rest)
	if n <= 0 || n > 1 && r.rest[n-1] == 0 {
		r.fail()
		return 0
	}
	r.rest = r.rest[n:]
	return v
}

func (r *reader) signed() int64 {
	u := r.unsigned()
	v := int64(u >> 1)
	if u&1 != 0 {
		v = ^v
	}
	return v
}

func (r *reader) number(most uint64) int {
	v := r.unsigned()
	if v > most {
		r.fail()
		return 0
	}
	return int(v)
}

// count reads the length of a list. Every entry takes a byte at least, so a
// count beyond the rest of the file is a lie and allocates nothing.
func (r *reader) count() int { return r.number(uint64(len(r.rest))) }

func (r *reader) float() float64 {
	return math.Float64frombits(binary.LittleEndian.Uint64(r.bytes(8)))
}

func (r *reader) arc() []Node {
	arc := make([]Node, r.count())
	var x, y int64
	for i := range arc {
		x, y = x+r.step(), y+r.step()
		if x < 0 || y < 0 || x > maxNode || y > maxNode {
			r.fail()
			return nil
		}
		arc[i] = Node{int32(x), int32(y)}
	}
	return arc
}

func (r *reader) step() int64 {
	v := r.signed()
	if v < -maxNode || v > maxNode {
		r.fail()
		return 0
	}
	return v
}

func (r *reader) outline() Outline {
	var o Outline
	o.Level = Level(r.bytes(1)[0])
	o.ID = code(r.number(99999), o.Level)
	o.Name = string(r.bytes(r.number(maxName)))
	o.Parent = parentOf(o.ID, o.Level)
	o.Polygons = make([][]Ring, r.count())
	for p := range o.Polygons {
		o.Polygons[p] = make([]Ring, r.count())
		for i := range o.Polygons[p] {
			o.Polygons[p][i] = r.ring()
		}
	}
	return o
}

func (r *reader) ring() Ring {
	ring := make(Ring, r.count())
	for i := range ring {
		v := r.signed()
		if v < math.MinInt32 || v > math.MaxInt32 {
			r.fail()
			return nil
		}
		ring[i] = int32(v)
	}
	return ring
}

// code writes a number as the ID of a level, with its leading zeros.
func code(n int, level Level) ID {
	s := strconv.Itoa(n)
	for len(s) < level.digits() {
		s = "0" + s
	}
	return ID(s)
}
