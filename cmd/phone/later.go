//go:build js && wasm

package main

import (
	"syscall/js"

	"wayfall/sync/record"
)

func fromText(string) (record.Georeference, error) {
	return record.Georeference{}, trouble{Kind: "unready", Sentence: "typed coordinates cannot be read yet"}
}

func (b *brain) screen([]js.Value) (any, error) {
	return nil, trouble{Kind: "unready", Sentence: "The rules cannot be worked out on this phone yet."}
}
