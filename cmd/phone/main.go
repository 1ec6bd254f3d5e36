//go:build js && wasm

// Command phone is the same rules, places and log that the server runs,
// compiled for the field page. It puts one object on the page, wayfall, whose
// functions take and return JSON texts.
//
// It promises to answer every call with JSON, a problem as {"error": {"kind",
// "sentence", "pointer"}}. It keeps nothing but the rules it was handed, and
// reads no clock: the page says what time it is.
package main

import (
	"encoding/json"
	"errors"
	"syscall/js"
)

// trouble is a problem as the page gets it.
type trouble struct {
	Kind     string `json:"kind"`
	Sentence string `json:"sentence"`
	Pointer  string `json:"pointer,omitempty"`
}

// Error returns the sentence.
func (t trouble) Error() string { return t.Sentence }

func invalid(pointer, sentence string) error { return trouble{"invalid", sentence, pointer} }

// answer is one function of the page: it takes the page's arguments as texts.
type answer func(args []js.Value) (any, error)

func main() {
	var b brain
	table := map[string]answer{
		"load": b.load, "region": b.region, "places": b.places, "words": words,
		"taxa": b.taxa, "groups": b.groups, "members": b.members,
		"screen": b.screen, "judge": b.judge, "cover": b.cover, "place": b.place,
		"hear": hear, "giveBack": giveBack, "holds": b.holds,
		"tag": makeTag, "checkTag": checkTag,
		"genesis": genesis, "op": makeOp, "fold": fold,
	}
	page := js.Global().Get("Object").New()
	for name, f := range table {
		page.Set(name, js.FuncOf(func(_ js.Value, args []js.Value) any { return reply(f, args) }))
	}
	js.Global().Set("wayfall", page)
	select {}
}

// reply turns an answer into JSON. A fault of ours is told like any other, so
// that the page can go on.
func reply(f answer, args []js.Value) (text string) {
	defer func() {
		if recover() != nil {
			text = wrap(trouble{Kind: "fault", Sentence: "The rules program failed on this. What was typed is kept."})
		}
	}()
	got, err := f(args)
	if err != nil {
		return wrap(err)
	}
	if raw, ok := got.(json.RawMessage); ok {
		return string(raw)
	}
	out, err := json.Marshal(got)
	if err != nil {
		return wrap(err)
	}
	return string(out)
}

func wrap(err error) string {
	t := trouble{Kind: "invalid", Sentence: err.Error()}
	errors.As(err, &t)
	out, _ := json.Marshal(map[string]trouble{"error": t})
	return string(out)
}

// text returns the argument at i as a text; "" if the page gave none.
func text(args []js.Value, i int) string {
	if i >= len(args) || args[i].Type() != js.TypeString {
		return ""
	}
	return args[i].String()
}

func number(args []js.Value, i int) int {
	if i >= len(args) || args[i].Type() != js.TypeNumber {
		return 0
	}
	return args[i].Int()
}

// read decodes the argument at i.
func read(args []js.Value, i int, into any) error {
	if err := json.Unmarshal([]byte(text(args, i)), into); err != nil {
		return invalid("", "the page handed over something that is not its own form: "+err.Error())
	}
	return nil
}
