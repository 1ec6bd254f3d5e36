package intake

import (
	"fmt"
	"slices"
	"time"

	"wayfall/permits"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/record"
)

// Crew is what the judge knows of devices and people.
type Crew struct {
	Server op.DeviceID
	Owner  map[op.DeviceID]string          // whose device it is
	Lost   map[op.DeviceID]bool            // declared lost
	May    func(person, field string) bool // nil: everybody may write everything
	Bars   []permits.Bar                   // who may not use permits, and when
}

// Meet tells the judge who works here now. It may be called at any time.
func (in *Intake) Meet(c Crew) {
	if old := in.crew.Swap(&c); !slices.Equal(old.Bars, c.Bars) {
		in.barsChanged.Store(true)
	}
}

// knowPapers tells the judge which authorities there are; before that, none is
// called unknown.
func (in *Intake) knowPapers() {
	ids := map[string]bool{}
	for _, all := range in.world.papers {
		for _, a := range all {
			ids[a.ID] = true
		}
	}
	for _, p := range in.rules.Book.Packs() {
		for _, a := range p.Authorised {
			ids[a.ID] = true
		}
	}
	in.papers.Store(&ids)
}

// Judge decides the effect of one operation as it is received. It refuses and
// drops nothing: what is odd is folded like everything else and shown to
// somebody. It reads no storage and takes no lock, so it may be asked from
// inside a write.
func (in *Intake) Judge(o op.Op, now time.Time) oplog.Ruling {
	crew := in.crew.Load()
	if o.Dev == crew.Server {
		return oplog.Ruling{Effect: oplog.OK}
	}
	if crew.Lost[o.Dev] {
		return oplog.Ruling{Effect: oplog.Quarantined, Code: string(LostDevice),
			Why: "this device was declared lost; what it sends is kept and waits for a person"}
	}
	doubts := in.oddities(o, Moment{Received: now})
	if owner, known := crew.Owner[o.Dev]; known && owner != o.Actor {
		doubts = append([]Doubt{{Code: WrongActor, Why: "it is signed by another person than the one whose device sent it"}}, doubts...)
	}
	switch len(doubts) {
	case 0:
		return oplog.Ruling{Effect: oplog.OK}
	case 1:
		return oplog.Ruling{Effect: oplog.Review, Code: string(doubts[0].Code), Why: doubts[0].Why}
	}
	return oplog.Ruling{Effect: oplog.Review, Code: string(doubts[0].Code),
		Why: fmt.Sprintf("%s; and %d more", doubts[0].Why, len(doubts)-1)}
}

// oddities says everything that is odd about an operation taken by itself.
func (in *Intake) oddities(o op.Op, m Moment) []Doubt {
	var out []Doubt
	for _, g := range o.On {
		for _, a := range g.Acts {
			for _, d := range in.ofAct(o, g, a, m) {
				d.Record = g.ID
				out = append(out, d)
			}
		}
	}
	return out
}

// acts are the words an operation may use to write a field.
var acts = map[string][]string{
	op.KindSet:   {op.KindSet},
	op.KindAdd:   {op.KindAdd, op.KindRem},
	op.KindEvent: {op.KindEvent},
}

func (in *Intake) ofAct(o op.Op, g op.Group, a op.Act, m Moment) []Doubt {
	kind := record.Kind(g.Kind)
	f, known := record.FieldOf(kind, a.Field)
	odd := func(code Code, format string, args ...any) []Doubt {
		return []Doubt{{Code: code, Kind: kind, Field: a.Field, Why: fmt.Sprintf(format, args...)}}
	}
	if !known {
		if a.Field == "restored" { // shows a withdrawn record again, on every kind
			return nil
		}
		return odd(UnknownField, "%s %q is not known to this release; it is kept as it is", g.Kind, a.Field)
	}
	if !slices.Contains(acts[f.Merge.Act()], a.Kind) {
		return odd(BadValue, "%s is not written by %q; the act is kept as it is", quote(f.Label), a.Kind)
	}
	if a.Kind == op.KindRem {
		return nil
	}
	out := in.sound.shape(f, a.Value, m)
	if crew := in.crew.Load(); crew.May != nil && !crew.May(o.Actor, string(kind)+"."+a.Field) {
		out = append(out, odd(NotYours, "%s is decided by somebody in another role", quote(f.Label))...)
	}
	if a.Field == "authority" && kind == record.Report {
		out = append(out, in.unknownPaper(f, a.Value)...)
	}
	return out
}

func (in *Intake) unknownPaper(f record.Field, v op.Value) []Doubt {
	var id string
	papers := in.papers.Load()
	if papers == nil || v.Into(&id) != nil || id == "" || (*papers)[id] {
		return nil
	}
	return []Doubt{{Code: UnknownAuthority, Kind: f.Kind, Field: f.Name, Why: fmt.Sprintf("no authority called %q is known here", id)}}
}
