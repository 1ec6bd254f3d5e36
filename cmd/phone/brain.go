//go:build js && wasm

package main

import (
	"encoding/json"
	"syscall/js"

	"wayfall/geo/gazetteer"
	"wayfall/geo/region"
	"wayfall/permits"
	"wayfall/permits/quota"
	"wayfall/permits/rules"
	"wayfall/permits/screen/land"
)

// brain is what the phone was given to decide with.
type brain struct {
	list  *permits.Checklist
	lines *region.Map
	towns *gazetteer.List
	kit   kit
	book  *rules.Book
	land  *land.Map

	register *rules.Register
}

// kit is everything a phone needs offline, as the server hands it out.
type kit struct {
	Packs       []json.RawMessage   `json:"packs"`
	Taxa        json.RawMessage     `json:"taxa"`
	Authorities []permits.Authority `json:"authorities"`
	Tallies     quota.Fixed         `json:"tallies"` // what is used of each number
	Grants      []struct{}          `json:"grants"`  // null: the museum lends this phone no shares
	Bars        []permits.Bar       `json:"bars"`    // times in which the person may not use permits
	Land        json.RawMessage     `json:"land"`    // drawn units of ground; absent: none
	Institution string              `json:"institution"`
	AsOf        string              `json:"as_of"`
}

// holdings say what a kit holds.
type holdings struct {
	Taxa        int    `json:"taxa"`
	Authorities int    `json:"authorities"`
	Packs       int    `json:"packs"`
	Sample      bool   `json:"sample"`
	Institution string `json:"institution,omitempty"`
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
	f := holdings{Taxa: len(list.Taxa), Authorities: len(k.Authorities), Packs: len(k.Packs), Sample: list.Sample, Institution: k.Institution, AsOf: k.AsOf}
	packs := make([]*rules.Pack, 0, len(k.Packs))
	for _, text := range k.Packs {
		p, err := rules.Load("field kit", text)
		if err != nil {
			return nil, err
		}
		f.Sample = f.Sample || p.Sample
		packs = append(packs, p)
	}
	var book *rules.Book // none without packs: then nothing can be judged
	if len(packs) > 0 {
		if book, err = rules.NewBook(packs...); err != nil {
			return nil, err
		}
	}
	var units *land.Map
	if len(k.Land) > 0 {
		var faults []land.Fault
		if units, faults = land.Load("field kit", k.Land); len(faults) > 0 {
			return nil, invalid("/land", faults[0].String())
		}
	}
	b.kit, b.list, b.book, b.land = k, list, book, units
	if book != nil {
		b.register = rules.NewRegister(book, k.Authorities)
		for _, bar := range k.Bars {
			b.register.BarOn(bar)
		}
	}
	return f, nil
}

// bytesOf copies the bytes that the page hands over.
func bytesOf(args []js.Value) ([]byte, error) {
	if len(args) == 0 || !args[0].InstanceOf(js.Global().Get("Uint8Array")) {
		return nil, invalid("", "the page did not hand over bytes")
	}
	wire := make([]byte, args[0].Get("length").Int())
	js.CopyBytesToGo(wire, args[0])
	return wire, nil
}

// places takes the list of towns in its compact form: places(bytes).
func (b *brain) places(args []js.Value) (any, error) {
	wire, err := bytesOf(args)
	if err != nil {
		return nil, err
	}
	if b.towns, err = gazetteer.Decode(wire); err != nil {
		return nil, err
	}
	return map[string]int{"towns": b.towns.Len()}, nil
}

// region takes the boundary lines in their compact form: region(bytes).
func (b *brain) region(args []js.Value) (any, error) {
	wire, err := bytesOf(args)
	if err != nil {
		return nil, err
	}
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
