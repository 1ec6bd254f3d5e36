package op

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"reflect"
	"strings"
	"testing"

	"wayfall/sync/clock"
)

func device(n byte) (d DeviceID) { d[0], d[15] = n, n; return d }
func recordID(n byte) (id ID)    { id[0], id[15] = 0xA0+n, n; return id }

func sample() Op {
	return Op{
		Dev: device(1), Seq: 7, HLC: clock.Stamp{Millis: 1777809600000, Counter: 2},
		Wall:  Wall{Millis: 1777809600123, Zone: "-04:00", Source: "device"},
		Actor: "p-ada", Scope: "harbour", Base: 41, Schema: 1,
		On: []Group{{ID: recordID(1), Kind: "report", Acts: []Act{
			Set("cause", `{"code":"window"}`, Dot{device(2), 3, 0}),
			Add("photos", `{"sha256":"00","size":1,"type":"image/jpeg"}`),
			Remove("photos", Dot{device(1), 6, 1}, Dot{device(2), 2, 4}),
			Event("remarks", `{"text":"dogs near by — keep clear"}`),
		}}},
	}
}

func TestASaveHasOneSpelling(t *testing.T) {
	wire, err := sample().Encode()
	if err != nil {
		t.Fatal(err)
	}
	want := `{"actor":"p-ada","base":41,"dev":"AQAAAAAAAAAAAAAAAAAAAQ","hlc":"1777809600000.2","on":[{"acts":[` +
		`{"f":"cause","k":"set","saw":["AgAAAAAAAAAAAAAAAAAAAg:3:0"],"val":{"code":"window"}},` +
		`{"f":"photos","k":"add","val":{"sha256":"00","size":1,"type":"image/jpeg"}},` +
		`{"f":"photos","k":"rem","saw":["AQAAAAAAAAAAAAAAAAAAAQ:6:1","AgAAAAAAAAAAAAAAAAAAAg:2:4"]},` +
		`{"f":"remarks","k":"evt","val":{"text":"dogs near by — keep clear"}}],` +
		`"id":"oQAAAAAAAAAAAAAAAAAAAQ","kind":"report"}],"schema":1,"scope":"harbour","seq":7,"v":1,` +
		`"wall":{"ms":1777809600123,"src":"device","tz":"-04:00"}}`
	if string(wire) != want {
		t.Errorf("\n got %s\nwant %s", wire, want)
	}
	back, err := Decode(wire)
	if err != nil {
		t.Fatal(err)
	}
	if got := back.Dot(3); got != (Dot{device(1), 7, 3}) || back.Acts() != 4 {
		t.Errorf("got dot %v of %d acts", got, back.Acts())
	}
}

func TestWhatALaterReleaseWritesIsKept(t *testing.T) {
	wire := `{"actor":"p","dev":"AQAAAAAAAAAAAAAAAAAAAQ","gnss_ms":12,"hlc":"5.0","on":[{"acts":[` +
		`{"from":4,"grant":"g","k":"spend","n":2,"val":null},` +
		`{"f":"mood","k":"set","lang":"en","saw":[],"val":["é",{"a":1e-7}]},` +
		`{"f":"x","k":"evt","saw":"not what a set means by it","val":1}],` +
		`"id":"oQAAAAAAAAAAAAAAAAAAAQ","kind":"dream","zeal":1}],"schema":9,"scope":"s","seq":1,"v":1,` +
		`"wall":{"drift":0.5,"ms":-1,"src":"sundial"},"€":1,"😀":2}`
	o, err := Decode([]byte(wire))
	if err != nil {
		t.Fatal(err)
	}
	again, err := o.Encode()
	if err != nil || string(again) != wire {
		t.Errorf("\n got %s (%v)\nwant %s", again, err, wire)
	}
	if got := o.On[0].Acts[0]; got.Kind != "spend" || got.Field != "" || len(got.Extra) != 4 {
		t.Errorf("an unknown act was read as %+v, want it whole in Extra", got)
	}
}

func TestDecodeRefuses(t *testing.T) {
	good, err := sample().Encode()
	if err != nil {
		t.Fatal(err)
	}
	swap := func(old, with string) string {
		if !bytes.Contains(good, []byte(old)) {
			t.Fatalf("the sample holds no %s", old)
		}
		return strings.Replace(string(good), old, with, 1)
	}
	for _, c := range []struct {
		name, wire string
		want       error
	}{
		{"white space", swap(`"seq":7`, `"seq": 7`), ErrNotCanonical},
		{"members out of order", swap(`"k":"add","val"`, `"val":1,"k":"add","vam"`), ErrNotCanonical},
		{"a later version", swap(`"v":1`, `"v":2`), ErrVersion},
		{"no device", swap(`"dev":"AQAAAAAAAAAAAAAAAAAAAQ",`, ``), ErrMalformed},
		{"a device id with spare bits", swap(`"dev":"AQAAAAAAAAAAAAAAAAAAAQ"`, `"dev":"AQAAAAAAAAAAAAAAAAAAAR"`), ErrMalformed},
		{"operation 0", swap(`"seq":7`, `"seq":0`), ErrMalformed},
		{"half an operation", swap(`"seq":7`, `"seq":7.5`), ErrMalformed},
		{"a number beyond 2^53", swap(`"seq":7`, `"seq":9007199254740992`), ErrMalformed},
		{"place 0 in the log", swap(`"base":41`, `"base":0`), ErrMalformed},
		{"a padded stamp", swap(`"hlc":"1777809600000.2"`, `"hlc":"1777809600000.02"`), ErrMalformed},
		{"a named zone", swap(`"tz":"-04:00"`, `"tz":"EST"`), ErrMalformed},
		{"a padded dot", swap(`Ag:3:0"`, `Ag:03:0"`), ErrMalformed},
		{"an act without a kind", swap(`"k":"add"`, `"l":"add"`), ErrMalformed},
		{"a set without a value", swap(`,"val":{"code":"window"}`, ``), ErrMalformed},
		{"no record", swap(string(good[strings.Index(string(good), `"on":[`)+5:strings.Index(string(good), `,"schema"`)]), `[]`), ErrMalformed},
		{"an actor without a name", swap(`"actor":"p-ada"`, `"actor":""`), ErrMalformed},
		{"the end cut off", string(good[:len(good)-1]), ErrMalformed},
		{"something behind", string(good) + `{}`, ErrMalformed},
	} {
		if _, err := Decode([]byte(c.wire)); !errors.Is(err, c.want) {
			t.Errorf("%s: got %v, want %v", c.name, err, c.want)
		}
	}
}

func TestLimits(t *testing.T) {
	o := sample()
	o.On[0].Acts = nil
	for range MaxActs {
		o.On[0].Acts = append(o.On[0].Acts, Event("remarks", "1"))
	}
	if _, err := o.Encode(); err != nil {
		t.Errorf("%d acts: got %v, want none", MaxActs, err)
	}
	o.On = append(o.On, Group{ID: recordID(2), Kind: "report", Acts: []Act{Event("remarks", "1")}})
	if _, err := o.Encode(); !errors.Is(err, ErrTooLarge) {
		t.Errorf("%d acts over two records: got %v, want %v", MaxActs+1, err, ErrTooLarge)
	}
	o = sample()
	for range 5 {
		o.On[0].Acts = append(o.On[0].Acts, Event("remarks", Text(strings.Repeat("x", MaxText))))
	}
	if _, err := o.Encode(); !errors.Is(err, ErrTooLarge) {
		t.Errorf("over %d bytes: got %v, want %v", MaxBytes, err, ErrTooLarge)
	}
	o = sample()
	o.On = append(o.On, o.On[0])
	if _, err := o.Encode(); !errors.Is(err, ErrMalformed) {
		t.Errorf("one record twice: got %v, want %v", err, ErrMalformed)
	}
	o = sample()
	o.On[0].Acts[0].Value = `{"code": "window"}`
	if _, err := o.Encode(); !errors.Is(err, ErrNotCanonical) {
		t.Errorf("a value in another spelling: got %v, want %v", err, ErrNotCanonical)
	}
}

// The links below were worked out by another program from the rule at Link.
func TestChain(t *testing.T) {
	dev := device(1)
	zero := Genesis(dev)
	if got, want := hex.EncodeToString(zero[:]), wantGenesis; got != want {
		t.Errorf("link 0: got %s, want %s", got, want)
	}
	one := Next(zero, []byte("first"))
	if got, want := hex.EncodeToString(one[:]), wantFirst; got != want {
		t.Errorf("link 1: got %s, want %s", got, want)
	}
	text, _ := one.MarshalText()
	var back Link
	if err := back.UnmarshalText(text); err != nil || back != one {
		t.Errorf("got %v (%v) back, want %v", back, err, one)
	}
	if back.UnmarshalText(text[1:]) == nil {
		t.Error("a link a character short is read")
	}
}

const oldOps = "../../fixtures/old/op-v1.jsonl"

func TestOperationsOfTheFirstReleaseStillOpen(t *testing.T) {
	f, err := os.Open(oldOps)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	n, lines := 0, bufio.NewScanner(f)
	lines.Buffer(nil, MaxBytes+1)
	for lines.Scan() {
		n++
		o, err := Decode(lines.Bytes())
		if err != nil {
			t.Errorf("line %d: %v", n, err)
			continue
		}
		if again, err := o.Encode(); err != nil || !bytes.Equal(again, lines.Bytes()) {
			t.Errorf("line %d is written otherwise today:\n got %s (%v)\nwant %s", n, again, err, lines.Bytes())
		}
	}
	if n < 12 {
		t.Errorf("got %d operations, want 12 or more", n)
	}
}

func FuzzDecode(f *testing.F) {
	wire, err := sample().Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(wire)
	old, err := os.ReadFile(oldOps)
	if err != nil {
		f.Fatal(err)
	}
	for line := range bytes.Lines(old) {
		f.Add(bytes.TrimSpace(line))
	}
	f.Fuzz(func(t *testing.T, wire []byte) {
		o, err := Decode(wire)
		d := decoder{scanner: scanner{text: string(wire)}, slow: true}
		if slow, slowErr := d.alone(); len(wire) <= MaxBytes && (!reflect.DeepEqual(slow, o) || (slowErr == nil) != (err == nil)) {
			t.Errorf("read member by member it is another:\n got %+v (%v)\nwant %+v (%v)", o, err, slow, slowErr)
		}
		if err != nil {
			return
		}
		if again, err := o.Encode(); err != nil || !bytes.Equal(again, wire) {
			t.Errorf("two spellings of one operation (%v):\n%q\n%q", err, again, wire)
		}
		if Check(string(wire)) != nil {
			t.Errorf("an operation that is not canonical JSON: %q", wire)
		}
	})
}

// BenchmarkDecode reads a new record of 20 fields.
func BenchmarkDecode(b *testing.B) {
	o := sample()
	o.On[0].Acts = nil
	for i := range 20 {
		o.On[0].Acts = append(o.On[0].Acts, Set(fmt.Sprint("field", i), Text("gull road window wing broken")))
	}
	wire, err := o.Encode()
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(wire)))
	for b.Loop() {
		if _, err := Decode(wire); err != nil {
			b.Fatal(err)
		}
	}
}

func ExampleOp_Encode() {
	o := Op{
		Dev: DeviceID{1}, Seq: 1, HLC: clock.Stamp{Millis: 1777809600000},
		Wall:  Wall{Millis: 1777809600000, Zone: "-04:00", Source: "device"},
		Actor: "p-ada", Scope: "harbour", Schema: 1,
		On: []Group{{ID: ID{9}, Kind: "report", Acts: []Act{Set("count", "3")}}},
	}
	wire, err := o.Encode()
	fmt.Println(string(wire), err)
	// Output: {"actor":"p-ada","dev":"AQAAAAAAAAAAAAAAAAAAAA","hlc":"1777809600000.0","on":[{"acts":[{"f":"count","k":"set","val":3}],"id":"CQAAAAAAAAAAAAAAAAAAAA","kind":"report"}],"schema":1,"scope":"harbour","seq":1,"v":1,"wall":{"ms":1777809600000,"src":"device","tz":"-04:00"}} <nil>
}

const (
	wantGenesis = "045d7c8e4a908d83f32611278c04696f2515cb1318b17e1e56be4c296508fdfc"
	wantFirst   = "c244014140b5948f08804b5ec979d0d54481971e1c0c732b3d839f9eb5ed40ef"
)
