//go:build js && wasm

package main

import (
	"encoding/hex"
	"encoding/json"
	"slices"
	"strings"
	"syscall/js"
	"time"

	"wayfall/geo/region"
	"wayfall/permits"
	"wayfall/permits/screen/find"
	"wayfall/sync/clock"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/tag"
)

// makeTag returns the nth tag of a book: tag(prefix, n).
func makeTag(args []js.Value) (any, error) {
	n := number(args, 1)
	if n < 1 {
		return nil, invalid("", "the first tag of a book has the number 1")
	}
	t, err := tag.Make(text(args, 0), uint(n))
	if err != nil {
		return nil, err
	}
	return map[string]string{"tag": t.String()}, nil
}

// checkTag reads a tag as somebody typed it: checkTag(text).
func checkTag(args []js.Value) (any, error) {
	t, err := tag.Parse(text(args, 0))
	if err != nil {
		return nil, err
	}
	return map[string]string{"tag": t.String()}, nil
}

// genesis returns the link before a device's first operation: genesis(dev).
func genesis(args []js.Value) (any, error) {
	dev, err := op.ParseDevice(text(args, 0))
	if err != nil {
		return nil, err
	}
	return map[string]string{"link": op.Genesis(dev).String()}, nil
}

// draft is a save as the page hands it over.
type draft struct {
	Dev   op.DeviceID `json:"dev"`
	Seq   uint64      `json:"seq"`
	Link  op.Link     `json:"link"`
	Clock string      `json:"clock"`
	NowMS int64       `json:"now_ms"`
	Zone  string      `json:"tz"`
	Actor string      `json:"actor"`
	Scope string      `json:"scope"`
	Base  uint64      `json:"base"`
	On    []struct {
		ID   op.ID       `json:"id"`
		Kind record.Kind `json:"kind"`
		Acts []struct {
			Kind  string   `json:"k"`
			Field string   `json:"f"`
			Value op.Value `json:"val"`
			Saw   []op.Dot `json:"saw"`
		} `json:"acts"`
	} `json:"on"`
}

type made struct {
	Op    string `json:"op"`
	Link  string `json:"link"`
	Clock string `json:"clock"`
}

// makeOp writes a save in its one spelling and continues the chain:
// op(draft).
func makeOp(args []js.Value) (any, error) {
	var d draft
	if err := read(args, 0, &d); err != nil {
		return nil, err
	}
	var last clock.Stamp
	if d.Clock != "" {
		var err error
		if last, err = clock.Parse(d.Clock); err != nil {
			return nil, err
		}
	}
	o := op.Op{
		Dev: d.Dev, Seq: d.Seq, HLC: last.Next(time.UnixMilli(d.NowMS)),
		Wall:  op.Wall{Millis: d.NowMS, Zone: d.Zone, Source: "device"},
		Actor: d.Actor, Scope: d.Scope, Base: d.Base, Schema: 1, On: d.groups(),
	}
	wire, err := o.Encode()
	if err != nil {
		return nil, err
	}
	return made{string(wire), op.Next(d.Link, wire).String(), o.HLC.String()}, nil
}

// groups leaves out of what was seen the device's own dots: its newer dot
// covers them anyway.
func (d draft) groups() []op.Group {
	var groups []op.Group
	for _, on := range d.On {
		g := op.Group{ID: on.ID, Kind: string(on.Kind)}
		for _, a := range on.Acts {
			saw := a.Saw
			if a.Kind == op.KindSet {
				saw = slices.DeleteFunc(saw, func(s op.Dot) bool { return s.Dev == d.Dev })
			}
			g.Acts = append(g.Acts, op.Act{Kind: a.Kind, Field: a.Field, Value: a.Value, Saw: saw})
		}
		groups = append(groups, g)
	}
	return groups
}

// said is one value with the hand that wrote it.
type said struct {
	Value  op.Value    `json:"value"`
	Actor  string      `json:"actor"`
	Device op.DeviceID `json:"device"`
	WallMS int64       `json:"wall_ms"`
	Dot    op.Dot      `json:"dot"`
}

type folded struct {
	Shown   op.Value `json:"shown,omitempty"`
	Differs bool     `json:"differs,omitempty"`
	All     []said   `json:"all"`
}

// foldedRecord carries the digest of what was folded, by which two that folded
// the same can tell that they did.
type foldedRecord struct {
	Kind   record.Kind       `json:"kind"`
	Digest string            `json:"digest"`
	Fields map[string]folded `json:"fields"`
}

// fold brings operations together into the records they are about:
// fold(ops).
func fold(args []js.Value) (any, error) {
	var wires []string
	if err := read(args, 0, &wires); err != nil {
		return nil, err
	}
	states := map[string]*merge.State{}
	for _, wire := range wires {
		o, err := op.Decode([]byte(wire))
		if err != nil {
			return nil, err
		}
		for _, g := range o.On {
			key := g.Kind + " " + g.ID.String()
			if states[key] == nil {
				s := merge.New(g.ID, record.Kind(g.Kind))
				states[key] = &s
			}
			states[key].Apply(o, merge.Receipt{})
		}
	}
	out := make(map[string]foldedRecord, len(states))
	for key, s := range states {
		out[key] = show(s)
	}
	return out, nil
}

func show(s *merge.State) foldedRecord {
	r := foldedRecord{s.Kind, digest(s), map[string]folded{}}
	for _, f := range s.Fields() {
		one := folded{Shown: f.Shown(), Differs: f.Differs(), All: []said{}}
		for _, v := range slices.Concat(f.Values, f.Elements, f.Events) {
			for _, by := range v.By {
				one.All = append(one.All, said{v.JSON, by.Actor, by.Dot.Dev, by.Wall.Millis, by.Dot})
			}
		}
		r.Fields[f.Name] = one
	}
	return r
}

func digest(s *merge.State) string {
	sum := s.Digest()
	return hex.EncodeToString(sum[:])
}

// words returns the vocabularies that a person chooses from.
func words([]js.Value) (any, error) {
	return json.RawMessage(vocabulary), nil
}

func dutyWords() []record.Word {
	var all []record.Word
	for code, text := range permits.DutyTexts() {
		all = append(all, record.Word{Code: code, Label: text})
	}
	slices.SortFunc(all, func(x, y record.Word) int { return strings.Compare(x.Code, y.Code) })
	return all
}

// stateWords are the names of the states by their codes, which rules speak of.
func stateWords() []record.Word {
	var all []record.Word
	for n := 1; n < 100; n++ { // two digits of FIPS 5-2
		if code := find.Code(region.ID([]byte{byte('0' + n/10), byte('0' + n%10)})); code != "" {
			all = append(all, record.Word{Code: code, Label: find.NameOf(code)})
		}
	}
	return all
}

var vocabulary = func() string {
	all, err := json.Marshal(map[string][]record.Word{
		"deed": record.Deeds, "material": record.Materials, "cause": record.Causes,
		"circumstance": record.Circumstances, "acquired": record.Acquisitions, "basis": record.Bases, "permission": record.Permissions,
		"manager": record.Managers, "disposition": record.Dispositions, "hazards": record.Hazards,
		"duty": dutyWords(), "state": stateWords(),
	})
	if err != nil {
		return "{}"
	}
	return string(all)
}()
