package region_test

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"reflect"
	"testing"

	"wayfall/geo"
	"wayfall/geo/region"
)

func TestLinesSurviveTheirCompactForm(t *testing.T) {
	l := invented()
	wire, err := l.Encode()
	if err != nil {
		t.Fatal(err)
	}
	back, err := region.Decode(wire)
	if err != nil || !reflect.DeepEqual(back, l) {
		t.Errorf("got %+v, %v, want %+v", back, err, l)
	}
}

func TestDamagedLinesAreRefused(t *testing.T) {
	wire, err := invented().Encode()
	if err != nil {
		t.Fatal(err)
	}
	for i := range wire {
		bad := append([]byte(nil), wire...)
		bad[i] ^= 0x10
		if _, err := region.Decode(bad); geo.KindOf(err) != geo.Damaged {
			t.Errorf("byte %d changed: got %v, want kind damaged", i, err)
		}
		if _, err := region.Decode(wire[:i]); geo.KindOf(err) != geo.Damaged {
			t.Errorf("cut off at byte %d: got %v, want kind damaged", i, err)
		}
	}
}

func TestImpossibleLinesAreNotWritten(t *testing.T) {
	for _, tt := range []struct {
		name  string
		spoil func(l *region.Lines)
	}{
		{"a ring that does not close", func(l *region.Lines) { l.Outlines[1].Polygons[0][0] = region.Ring{0} }},
		{"an arc that does not exist", func(l *region.Lines) { l.Outlines[1].Polygons[0][0][0] = 99 }},
		{"a code with a letter", func(l *region.Lines) { l.Outlines[0].ID = "9x" }},
		{"a county of another state", func(l *region.Lines) { l.Outlines[1].Parent = "97" }},
		{"a region given twice", func(l *region.Lines) { l.Outlines[2].Region = l.Outlines[1].Region }},
		{"a nameless region", func(l *region.Lines) { l.Outlines[2].Name = "" }},
		{"a grid off the globe", func(l *region.Lines) { l.Step[1] = 20 }},
		{"no year", func(l *region.Lines) { l.Year = 0 }},
	} {
		l := invented()
		tt.spoil(l)
		if _, err := l.Encode(); geo.KindOf(err) != geo.Damaged {
			t.Errorf("%s: got %v, want kind damaged", tt.name, err)
		}
	}
}

// The fuzzer works on what lies before the check sum, which is added here;
// otherwise it would never get past it.
func FuzzDecode(f *testing.F) {
	wire, err := invented().Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(wire[:len(wire)-4])
	f.Add([]byte("wflines\x01"))
	f.Fuzz(func(t *testing.T, body []byte) {
		wire := binary.LittleEndian.AppendUint32(append([]byte(nil), body...), crc32.ChecksumIEEE(body))
		l, err := region.Decode(wire)
		if err != nil {
			return
		}
		again, err := l.Encode()
		if err != nil || !bytes.Equal(again, wire) {
			t.Errorf("two spellings of one set of lines (%v):\n%q\n%q", err, wire, again)
		}
		if _, err := region.Build(l); err != nil {
			t.Errorf("decoded lines cannot be drawn: %v", err)
		}
	})
}
