package seal_test

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"testing"

	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"

	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/seal"
)

// shelf keeps tiles, and refuses one that loses or changes what it held.
type shelf map[[2]int64][]byte

func (s shelf) Tile(level, n int64, width int) ([]byte, error) {
	h := s[[2]int64{level, n}]
	if len(h) < width*tlog.HashSize {
		return nil, fmt.Errorf("tile %d of level %d has no %d hashes", n, level, width)
	}
	return h, nil
}

func (s shelf) grow(t fataler, size uint64, leaves []tlog.Hash) {
	tiles, err := seal.Grow(size, leaves, s)
	if err != nil {
		t.Fatalf("grow from %d by %d: %v", size, len(leaves), err)
	}
	for _, x := range tiles {
		at := [2]int64{x.Level, x.N}
		if !bytes.HasPrefix(x.Hashes, s[at]) {
			t.Fatalf("tile %v does not begin as it did", at)
		}
		s[at] = x.Hashes
	}
}

type fataler interface{ Fatalf(string, ...any) }

func leavesOf(n int) (all []tlog.Hash) {
	for i := range n {
		all = append(all, tlog.RecordHash(fmt.Appendf(nil, "leaf %d", i)))
	}
	return all
}

// The leaves and roots that the Certificate Transparency programs (RFC 6962)
// are tested with; from memory.
func TestRootsAreThoseOfRFC6962(t *testing.T) {
	var leaves []tlog.Hash
	for _, l := range []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"} {
		b, err := hex.DecodeString(l)
		if err != nil {
			t.Fatal(err)
		}
		leaves = append(leaves, tlog.RecordHash(b))
	}
	s := shelf{}
	s.grow(t, 0, leaves)
	for size, want := range map[uint64]string{
		1: "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
		2: "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
		3: "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
		4: "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		8: "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
	} {
		got, err := seal.Root(size, &seal.Reader{Tiles: s})
		if err != nil || hex.EncodeToString(got[:]) != want {
			t.Errorf("%d leaves: got root %x (%v), want %s", size, got[:], err, want)
		}
	}
}

func TestTheTreeIsTheSameInWhateverStepsItGrew(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		leaves := leavesOf(rapid.IntRange(1, 1500).Draw(t, "leaves"))
		whole, steps := shelf{}, shelf{}
		whole.grow(t, 0, leaves)
		for at := 0; at < len(leaves); {
			n := min(rapid.IntRange(1, 700).Draw(t, "step"), len(leaves)-at)
			steps.grow(t, uint64(at), leaves[at:at+n])
			at += n
		}
		size := uint64(len(leaves))
		want, err := seal.Root(size, &seal.Reader{Tiles: whole})
		if err != nil {
			t.Fatal(err)
		}
		got, err := seal.Root(size, &seal.Reader{Tiles: steps})
		if err != nil || got != want {
			t.Fatalf("got root %v (%v), want %v", got, err, want)
		}
	})
}

func TestEveryPairOfHonestHeadsAgreesAndNoForgedOneDoes(t *testing.T) {
	const most = 300
	s, pairs := shelf{}, 0
	s.grow(t, 0, leavesOf(most))
	head := func(size uint64) seal.Head {
		root, err := seal.Root(size, &seal.Reader{Tiles: s})
		if err != nil {
			t.Fatal(err)
		}
		return seal.Head{Origin: "o", Size: size, Root: root}
	}
	for newer := uint64(1); newer <= most; newer += 13 {
		for older := uint64(1); older <= newer; older += 7 {
			p, err := seal.Prove(older, newer, &seal.Reader{Tiles: s})
			if err != nil {
				t.Fatal(err)
			}
			a, b := head(older), head(newer)
			if err := seal.Agree(p, a, b); err != nil {
				t.Errorf("%d and %d: %v", older, newer, err)
			}
			a.Root[older%32] ^= 1
			if seal.Agree(p, a, b) == nil {
				t.Errorf("%d and %d agree after one bit of the older was changed", older, newer)
			}
			pairs++
		}
	}
	t.Logf("SHOW %d pairs of heads agree, %d forged ones do not", pairs, pairs)
}

func sample() seal.Receipt {
	return seal.Receipt{
		Receipt: oplog.Receipt{Dev: op.DeviceID{1, 2}, Seq: 3, LSN: 4, Received: 5, Eff: clock.Stamp{}, Effect: oplog.Review, Code: "odd", Why: "a \"word\"\nand another"},
		Hash:    op.Hash{9}, Link: op.Link{8},
	}
}

func TestEveryPartOfAReceiptIsInItsLeaf(t *testing.T) {
	for name, change := range map[string]func(*seal.Receipt){
		"the device":               func(r *seal.Receipt) { r.Dev[15]++ },
		"the number":               func(r *seal.Receipt) { r.Seq++ },
		"the place":                func(r *seal.Receipt) { r.LSN++ },
		"the time":                 func(r *seal.Receipt) { r.Received++ },
		"the stamp":                func(r *seal.Receipt) { r.Eff = clock.Unpack(77) },
		"the effect":               func(r *seal.Receipt) { r.Effect = oplog.OK },
		"the code":                 func(r *seal.Receipt) { r.Code = "" },
		"the reason":               func(r *seal.Receipt) { r.Why += " " },
		"a word moved to the code": func(r *seal.Receipt) { r.Code, r.Why = `odd" "a`, `word"`+"\nand another" },
		"the operation":            func(r *seal.Receipt) { r.Hash[31]++ },
		"the chain":                func(r *seal.Receipt) { r.Link[31]++ },
	} {
		r := sample()
		if change(&r); r.Leaf() == sample().Leaf() {
			t.Errorf("%s can be changed without the leaf", name)
		}
	}
}

func TestAHeadIsSignedAndOnlyThatHead(t *testing.T) {
	seed := bytes.Repeat([]byte{7}, 32)
	h := seal.Head{Origin: seal.Origin([16]byte{1}, [16]byte{2}), Size: 12, Root: tlog.Hash{3}}
	signed, err := h.Sign(seed)
	if err != nil {
		t.Fatal(err)
	}
	key, err := seal.Key(seal.OriginOf(signed), seed)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := seal.Open(signed, key); err != nil || got != h {
		t.Errorf("got %+v (%v), want %+v", got, err, h)
	}
	for i := range len(signed) {
		bad := []byte(signed)
		bad[i] ^= 4
		if got, err := seal.Open(string(bad), key); err == nil && got != h {
			t.Errorf("with byte %d changed it opens as %+v", i, got)
		} else if err != nil && !errors.Is(err, seal.ErrHead) {
			t.Errorf("with byte %d changed: got %v, want ErrHead", i, err)
		}
	}
	other, err := seal.Key(seal.OriginOf(signed), bytes.Repeat([]byte{8}, 32))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := seal.Open(signed, other); !errors.Is(err, seal.ErrHead) {
		t.Errorf("under another key: got %v, want ErrHead", err)
	}
	if _, err := h.Sign(seed[:5]); err == nil {
		t.Error("a short seed signs")
	}
}

func ExampleHead() {
	h := seal.Head{Origin: "wayfall-example", Size: 2, Root: tlog.Hash{1}}
	signed, err := h.Sign(make([]byte, 32))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(strings.Join(strings.Split(signed, "\n")[:3], "\n"))
	// Output:
	// wayfall-example
	// 2
	// AQAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=
}

func FuzzOpen(f *testing.F) {
	seed := make([]byte, 32)
	h := seal.Head{Origin: "o", Size: 2, Root: tlog.Hash{1}}
	signed, err := h.Sign(seed)
	if err != nil {
		f.Fatal(err)
	}
	key, err := seal.Key("o", seed)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(signed)
	f.Add("o\n2\n\n")
	f.Fuzz(func(t *testing.T, text string) {
		got, err := seal.Open(text, key)
		if err != nil {
			return
		}
		again, err := got.Sign(seed)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := seal.Open(again, key); err != nil || back != got {
			t.Errorf("got %+v (%v), want %+v", back, err, got)
		}
	})
}
