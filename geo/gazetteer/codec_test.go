package gazetteer_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"testing"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
)

func TestAListReadsBackAsItWasWritten(t *testing.T) {
	l := list(t)
	wire := l.Encode()
	back, err := gazetteer.Decode(wire)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("SHOW %d places in %d bytes", l.Len(), len(wire))
	if got, want := fmt.Sprint(back.Places()), fmt.Sprint(l.Places()); got != want || back.Edition() != l.Edition() || back.Partial() {
		t.Errorf("the list changed on the way through its file")
	}
	for _, want := range towns(t) {
		found := false
		for _, p := range back.All(want.Name, want.State) {
			found = found || p == want
		}
		if !found {
			t.Errorf("%s in %s, %s: not found as it was given", want.Name, want.County, want.State)
		}
	}
}

func TestDamagedListsAreRefused(t *testing.T) {
	wire := list(t).Encode()
	for i := 0; i < len(wire); i += 97 {
		bad := bytes.Clone(wire)
		bad[i] ^= 0x10
		if _, err := gazetteer.Decode(bad); geo.KindOf(err) != geo.Damaged {
			t.Fatalf("byte %d changed: got %v, want an error of kind damaged", i, err)
		}
		if _, err := gazetteer.Decode(wire[:i]); geo.KindOf(err) != geo.Damaged {
			t.Fatalf("cut off after %d bytes: got %v, want an error of kind damaged", i, err)
		}
	}
	body := append(bytes.Clone(wire[:len(wire)-4]), 0)
	if _, err := gazetteer.Decode(sealed(body)); geo.KindOf(err) != geo.Damaged {
		t.Errorf("a byte too many: got %v, want an error of kind damaged", err)
	}
}

func sealed(body []byte) []byte {
	return binary.LittleEndian.AppendUint32(bytes.Clone(body), crc32.ChecksumIEEE(body))
}

// FuzzDecode gives the decoder any body under a right check sum: what it
// accepts must be written back byte for byte.
func FuzzDecode(f *testing.F) {
	at, _ := geo.At(43.1, -86.2)
	small, err := gazetteer.Build("x", []gazetteer.Place{
		{Name: "Alpha", State: "US-MI", County: "C", At: at, Population: 300, Class: gazetteer.Town},
		{Name: "Alpine", State: "US-MI", At: at}, {Name: "Beta", State: "US-OH", County: "D", At: at}})
	if err != nil {
		f.Fatal(err)
	}
	cut, err := small.In("US-OH")
	if err != nil {
		f.Fatal(err)
	}
	empty, _ := gazetteer.Build("", nil)
	for _, l := range []*gazetteer.List{small, cut, empty} {
		wire := l.Encode()
		f.Add(wire[:len(wire)-4])
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		wire := sealed(body)
		l, err := gazetteer.Decode(wire)
		if err != nil {
			if geo.KindOf(err) != geo.Damaged {
				t.Errorf("got %v, want an error of kind damaged", err)
			}
			return
		}
		if again := l.Encode(); !bytes.Equal(again, wire) {
			t.Errorf("two spellings of one list:\n%q\n%q", wire, again)
		}
		for _, p := range l.Places() {
			if all := l.All(p.Name, p.State); len(all) == 0 || !p.At.Known() || p.Radial() <= 0 {
				t.Errorf("%+v is on the list and cannot be asked for", p)
			}
		}
	})
}
