//go:build js && wasm

package main

import (
	"encoding/json"
	"syscall/js"

	"wayfall/geo/region"
	"wayfall/permits"
	"wayfall/permits/rules"
)

// brain is what the phone was given to decide with.
type brain struct {
	list  *permits.Checklist
	lines *region.Map
	kit   kit
	book  *rules.Book
}

// kit is everything a phone needs offline, as the server hands it out.
type kit struct {
	Packs       []json.RawMessage   `json:"packs"`
	Taxa        json.RawMessage     `json:"taxa"`
	Authorities []permits.Authority `json:"authorities"`
	AsOf        string              `json:"as_of"`
}

// facts say what a kit holds.
type facts struct {
	Taxa        int    `json:"taxa"`
	Authorities int    `json:"authorities"`
	Packs       int    `json:"packs"`
	Sample      bool   `json:"sample"`
	AsOf        string `json:"as_of,omitempty"`
}

// load takes a field kit: load(kit). A kit that cannot be read whole leaves
// the one before in its place.
func (b *brain) load(args []js.Value) (any, error) {
	var k kit
	if err := read(args, 0, &k); err != nil {
		return nil, err
	}
	list, err := permits.ReadChecklist(k.Taxa)
	if err != nil {
		return nil, err
	}
	f := facts{Taxa: len(list.Taxa), Authorities: len(k.Authorities), Packs: len(k.Packs), Sample: list.Sample, AsOf: k.AsOf}
	packs := make([]*rules.Pack, 0, len(k.Packs))
	for _, text := range k.Packs {
		p, err := rules.Load("field kit", text)
		if err != nil {
			return nil, err
		}
		f.Sample = f.Sample || p.Sample
		packs = append(packs, p)
	}
	var book *rules.Book // none without packs: every answer is then that nobody can tell
	if len(packs) > 0 {
		if book, err = rules.NewBook(packs...); err != nil {
			return nil, err
		}
	}
	b.kit, b.list, b.book = k, list, book
	return f, nil
}

// region takes the boundary lines in their compact form: region(bytes).
func (b *brain) region(args []js.Value) (any, error) {
	if len(args) == 0 || !args[0].InstanceOf(js.Global().Get("Uint8Array")) {
		return nil, invalid("", "the boundary lines are not bytes")
	}
	wire := make([]byte, args[0].Get("length").Int())
	js.CopyBytesToGo(wire, args[0])
	lines, err := region.Decode(wire)
	if err != nil {
		return nil, err
	}
	m, err := region.Build(lines)
	if err != nil {
		return nil, err
	}
	b.lines = m
	return map[string]int{"regions": len(m.Regions()), "year": m.Year()}, nil
}
