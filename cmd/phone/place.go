//go:build js && wasm

package main

import (
	"errors"
	"syscall/js"

	"wayfall/geo"
	"wayfall/permits/screen/find"
	"wayfall/sync/record"
)

// placed is what the page says of a place.
type placed struct {
	Place record.Georeference `json:"place"`
	Label string              `json:"label"`
}

// place works out where something lay, with its circle: place(fields).
func (b *brain) place(args []js.Value) (any, error) {
	var w find.Whereabouts
	if err := read(args, 0, &w); err != nil {
		return nil, err
	}
	m := find.Map{Lines: b.lines}
	if b.towns != nil {
		m.Names = b.towns
	}
	g, err := m.Place(w)
	if err != nil {
		return nil, inField(err, "/coordinates")
	}
	return placed{g, label(g)}, nil
}

// inField says which field of the page a problem of a place belongs to.
func inField(err error, pointer string) error {
	var odd *geo.Error
	if errors.As(err, &odd) {
		return trouble{Kind: odd.Kind.String(), Sentence: odd.Sentence, Pointer: pointer}
	}
	return err
}

func label(g record.Georeference) string {
	switch state := find.NameOf(g.State); {
	case g.County != "" && state != "":
		return g.County + ", " + state
	case state != "":
		return state
	}
	return g.County
}
