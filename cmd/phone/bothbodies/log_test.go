package bothbodies

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"wayfall/sync/clock"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/tag"
)

// pen draws saves of one device, as a page hands them over.
type pen struct {
	rng  *rand.Rand
	dev  op.DeviceID
	seq  uint64
	link op.Link
	hlc  clock.Stamp
	ms   int64
}

func newPen(rng *rand.Rand, n int) *pen {
	p := &pen{rng: rng, dev: op.DeviceID{byte(n + 1), byte(rng.IntN(256))}, ms: 1_777_000_000_000}
	p.link = op.Genesis(p.dev)
	return p
}

var values = []string{
	`"road"`, `""`, `"Épervier d’Amérique \u2028 <b>&"`, `0`, `-0.5`, `43.2342`, `1e21`, `0.000001`, `123456789012`,
	`true`, `null`, `{"text":"a","at":{"earliest":"2026-05-01T09:00"}}`, `[1,2,[3]]`, `{"lat":43.1,"lon":-86.2,"accuracy_m":12}`,
}

func (p *pen) value() op.Value {
	v, err := op.Canonical([]byte(values[p.rng.IntN(len(values))]))
	if err != nil {
		panic(err) // the values stand above
	}
	return op.Value(v)
}

// saw draws dots, one's own among them.
func (p *pen) saw() []op.Dot {
	var dots []op.Dot
	for range p.rng.IntN(3) {
		d := op.Dot{Dev: op.DeviceID{200, byte(p.rng.IntN(3))}, Seq: 1 + p.rng.Uint64N(9), Index: p.rng.Uint32N(5)}
		if p.rng.IntN(3) == 0 {
			d.Dev = p.dev
		}
		dots = append(dots, d)
	}
	return dots
}

func (p *pen) act() op.Act {
	switch p.rng.IntN(6) {
	case 0:
		return op.Add("photos", p.value())
	case 1:
		return op.Event("remarks", p.value())
	case 2:
		if dots := p.saw(); len(dots) > 0 {
			return op.Remove("photos", dots...)
		}
	}
	return op.Set([]string{"cause", "taxon", "band", "fieldno", "mystery"}[p.rng.IntN(5)], p.value(), p.saw()...)
}

// save returns the draft as the page writes it and the operation it must become.
func (p *pen) save() (map[string]any, op.Op) {
	p.seq++
	p.ms += p.rng.Int64N(4000) - 1000 // clocks go back too
	before := ""
	if p.hlc.Known() {
		before = p.hlc.String()
	}
	p.hlc = p.hlc.Next(clock.Stamp{Millis: p.ms}.Time())
	o := op.Op{Dev: p.dev, Seq: p.seq, HLC: p.hlc, Wall: op.Wall{Millis: p.ms, Zone: "-04:00", Source: "device"},
		Actor: fmt.Sprint("person ", p.dev[0]), Scope: "museum", Base: p.rng.Uint64N(3), Schema: 1}
	var on []map[string]any
	for i := range 1 + p.rng.IntN(2) {
		g := op.Group{ID: op.ID{7, byte(i)}, Kind: string([]record.Kind{record.Report, record.Animal}[i])}
		var acts []map[string]any
		for range 1 + p.rng.IntN(4) {
			a := p.act()
			acts = append(acts, map[string]any{"k": a.Kind, "f": a.Field, "val": a.Value, "saw": a.Saw})
			if a.Kind == op.KindRem {
				delete(acts[len(acts)-1], "val")
			}
			if a.Kind == op.KindSet { // one's own newer dot covers one's own older ones
				a.Saw = slices.DeleteFunc(slices.Clone(a.Saw), func(d op.Dot) bool { return d.Dev == p.dev })
			}
			g.Acts = append(g.Acts, a)
		}
		o.On, on = append(o.On, g), append(on, map[string]any{"id": g.ID, "kind": g.Kind, "acts": acts})
	}
	return map[string]any{"dev": p.dev, "seq": p.seq, "link": p.link, "clock": before, "now_ms": p.ms, "tz": "-04:00",
		"actor": o.Actor, "scope": o.Scope, "base": o.Base, "on": on}, o
}

func TestSavesThroughBothBodies(t *testing.T) {
	p := newPen(rand.New(rand.NewPCG(1, 200)), 0)
	calls := []call{{"genesis", []any{p.dev.String()}}}
	native := []string{spell(t, map[string]string{"link": p.link.String()})}
	for len(calls) <= 200 {
		draft, o := p.save()
		calls = append(calls, call{"op", []any{draft}})
		text, err := o.Encode()
		if err != nil {
			native = append(native, spell(t, map[string]any{"error": map[string]string{"kind": "invalid", "sentence": err.Error()}}))
			continue
		}
		p.link = op.Next(p.link, text)
		native = append(native, spell(t, struct {
			Op    string `json:"op"`
			Link  string `json:"link"`
			Clock string `json:"clock"`
		}{string(text), p.link.String(), o.HLC.String()}))
	}
	equal, refused := 0, 0
	for i, got := range phone(t, calls) {
		if same(t, fmt.Sprintf("save %d", i), got, native[i]) {
			equal++
		}
		var told struct{ Error any }
		if err := json.Unmarshal([]byte(got), &told); err != nil || told.Error != nil {
			refused++
		}
	}
	if refused > 0 {
		t.Errorf("got %d saves refused, want none", refused)
	}
	fmt.Printf("SHOW saves through both bodies: %d with their links equal\n", equal-1)
}

func TestTagsThroughBothBodies(t *testing.T) {
	var calls []call
	var native []string
	answer := func(got tag.Tag, err error) {
		if err != nil {
			native = append(native, spell(t, map[string]any{"error": map[string]string{"kind": "invalid", "sentence": err.Error()}}))
			return
		}
		native = append(native, spell(t, map[string]string{"tag": got.String()}))
	}
	for _, prefix := range []string{"K7Q", "A", "ZZ9", "", "k7", "O-1", "ÄB"} {
		for _, n := range []uint{1, 9, 204, 1000, 99_999} {
			calls = append(calls, call{"tag", []any{prefix, n}})
			answer(tag.Make(prefix, n))
		}
	}
	for _, typed := range []string{"K7Q2041", "k7q-204-1", "K7Q 204 2", "K7QZ04I", "", "7", "A12425GABC1234002M", "123ABX", "DADPIDA3897722461J", "G123489654321G", "É1", "K7Q\n2041"} {
		calls = append(calls, call{"checkTag", []any{typed}})
		answer(tag.Parse(typed))
	}
	equal := 0
	for i, got := range phone(t, calls) {
		if same(t, fmt.Sprint(calls[i].Name, calls[i].Args), got, native[i]) {
			equal++
		}
	}
	fmt.Printf("SHOW tags through both bodies: %d equal\n", equal)
}

// shownHand is a value with who wrote it, as the page gets it.
type shownHand struct {
	Value  op.Value    `json:"value"`
	Actor  string      `json:"actor"`
	Device op.DeviceID `json:"device"`
	WallMS int64       `json:"wall_ms"`
	Dot    op.Dot      `json:"dot"`
}

type shownField struct {
	Shown   op.Value    `json:"shown,omitempty"`
	Differs bool        `json:"differs,omitempty"`
	All     []shownHand `json:"all"`
}

type shownRecord struct {
	Kind   record.Kind           `json:"kind"`
	Digest string                `json:"digest"`
	Fields map[string]shownField `json:"fields"`
}

// view is what the page must be shown of a record.
func view(s merge.State) shownRecord {
	r := shownRecord{s.Kind, fmt.Sprintf("%x", s.Digest()), map[string]shownField{}}
	for _, name := range s.Names() {
		f := s.Field(name)
		one := shownField{f.Shown(), f.Differs(), []shownHand{}}
		for _, v := range slices.Concat(f.Values, f.Elements, f.Events) {
			for _, by := range v.By {
				one.All = append(one.All, shownHand{v.JSON, by.Actor, by.Dot.Dev, by.Wall.Millis, by.Dot})
			}
		}
		r.Fields[name] = one
	}
	return r
}

func TestHistoriesThroughBothBodies(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 100))
	var calls []call
	var native []string
	differing := 0
	for range 100 {
		pens := []*pen{newPen(rng, 0), newPen(rng, 199), newPen(rng, 2)} // dots of device 200 are seen by others
		states := map[string]*merge.State{}
		var texts []string
		for range 4 + rng.IntN(20) {
			_, o := pens[rng.IntN(len(pens))].save()
			text, err := o.Encode()
			if err != nil {
				t.Fatal(err)
			}
			texts = append(texts, string(text))
			for _, g := range o.On {
				key := g.Kind + " " + g.ID.String()
				if states[key] == nil {
					s := merge.New(g.ID, record.Kind(g.Kind))
					states[key] = &s
				}
				states[key].Apply(o, merge.Receipt{})
			}
		}
		want := map[string]shownRecord{}
		for key, s := range states {
			want[key] = view(*s)
			differing += len(s.Differing())
		}
		texts = append(texts, texts[rng.IntN(len(texts))]) // the phone hears one of them twice, and all in another order
		rng.Shuffle(len(texts), func(i, j int) { texts[i], texts[j] = texts[j], texts[i] })
		calls, native = append(calls, call{"fold", []any{texts}}), append(native, spell(t, want))
	}
	equal := 0
	for i, got := range phone(t, calls) {
		if same(t, fmt.Sprintf("history %d", i), got, native[i]) {
			equal++
		}
	}
	if differing == 0 {
		t.Error("no history left a field on which hands differ; want some, or nothing was proved")
	}
	fmt.Printf("SHOW histories through both bodies: %d equal, %d fields on which hands differ\n", equal, differing)
}
