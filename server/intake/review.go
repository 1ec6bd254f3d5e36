package intake

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"slices"
	"strings"

	"wayfall/permits"
	"wayfall/server/fault"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// itemID names an item by what it is about, so that the same oddity keeps its
// name and another one gets another.
func itemID(parts ...string) string {
	sum := sha256.Sum256([]byte(strings.Join(parts, "\x00")))
	return base64.RawURLEncoding.EncodeToString(sum[:12])
}

// CodeOf says under which code a verdict of the server needs a person, "" if
// it does not: only what was taken, or is undecided, does.
func CodeOf(v permits.Verdict, deed string) Code {
	taken := deed == "taken"
	switch {
	case v.Outcome.Permits():
		return ""
	case taken && v.Deciding.Layer == permits.QuotaLayer:
		return OverQuota
	case v.Outcome == permits.ReviewByPerson:
		if taken || deed == "" {
			return NeedsPerson
		}
		return ""
	case !taken:
		return ""
	}
	switch v.Deciding.Layer {
	case permits.TaxonLayer:
		return StopSpecies
	case permits.Safety, permits.Evidence, permits.Health:
		return CallFirst
	}
	return NotCovered
}

// Review returns at most limit items that nobody has settled, newest first, of
// one code or of all, and how many there are of each code.
func (in *Intake) Review(ctx context.Context, code string, limit int) ([]Item, map[string]int, error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	if _, err := in.screen(ctx); err != nil {
		return nil, nil, err
	}
	counts := map[string]int{}
	var out []Item
	for _, it := range in.items() {
		counts[string(it.Code)]++
		if (code == "" || string(it.Code) == code) && len(out) < limit {
			out = append(out, it)
		}
	}
	return out, counts, nil
}

// items lists everything that is open.
func (in *Intake) items() []Item {
	var all []Item
	for _, n := range in.world.noted {
		if !in.saysItself(n) {
			all = append(all, itemOfReceipt(n))
		}
	}
	for _, f := range in.world.finds {
		if !f.hidden {
			all = append(all, in.itemsOfFind(f)...)
		}
	}
	for _, b := range in.world.beasts {
		if !b.hidden {
			all = append(all, in.itemsOfBeast(b)...)
		}
	}
	all = append(all, in.pairItems()...)
	seen := map[string]bool{}
	all = slices.DeleteFunc(all, func(it Item) bool {
		_, done := in.world.marks[it.ID]
		again := seen[it.ID]
		seen[it.ID] = true
		return done || again
	})
	for i := range all {
		all[i].Name = in.nameOf(all[i])
		all[i].furnish()
	}
	slices.SortFunc(all, func(a, b Item) int { return cmp.Or(cmp.Compare(b.LSN, a.LSN), cmp.Compare(a.ID, b.ID)) })
	return all
}

// saysItself reports whether the record itself still shows the doubt that was
// noted at its receipt; then it is listed once, with what may have been meant.
func (in *Intake) saysItself(n noted) bool {
	f := in.world.finds[n.record]
	return f != nil && slices.ContainsFunc(f.doubts, func(d Doubt) bool { return string(d.Code) == n.Code })
}

func itemOfReceipt(n noted) Item {
	it := Item{ID: itemID("receipt", fmt.Sprint(n.LSN)), Code: Code(n.Code), Why: n.Why, Kind: n.kind, Record: n.record.String(),
		Who: n.actor, AtMS: n.wall.Millis, Zone: n.wall.Zone, LSN: n.LSN}
	if n.Effect != oplog.Review {
		it.Why += " (kept, without effect)"
	}
	return it
}

func (f *find) item(code Code, why string, parts ...string) Item {
	return Item{ID: itemID(append([]string{string(code), f.id.String()}, parts...)...), Code: code, Why: why,
		Kind: string(record.Report), Record: f.id.String(), Who: f.author, AtMS: f.reported.UnixMilli(),
		Zone: f.reported.Format("-07:00"), LSN: f.lsn}
}

func (in *Intake) itemsOfFind(f *find) []Item {
	var out []Item
	for _, d := range f.doubts {
		it := f.item(d.Code, d.Why, d.Field, d.Why)
		it.Field, it.Suggest = d.Field, d.Suggest
		out = append(out, it)
	}
	if a := f.answer; a != nil {
		it := f.item(a.code, a.because, a.rule, a.inputs)
		it.Rule, it.Cites, it.Paper = a.rule, a.cites, a.paper
		out = append(out, it)
	}
	for _, d := range f.differs {
		it := f.item(Differs, d.why, d.field, d.dots)
		it.Field = d.field
		out = append(out, it)
	}
	return out
}

func (in *Intake) itemsOfBeast(b *creature) []Item {
	var out []Item
	for _, d := range b.differs {
		out = append(out, Item{ID: itemID(string(Differs), b.id.String(), d.field, d.dots), Code: Differs, Why: d.why,
			Kind: string(record.Animal), Record: b.id.String(), Field: d.field, LSN: b.lsn})
	}
	return out
}

// sightings returns every animal as each report tells of it, but for animals
// that were joined already.
func (in *Intake) sightings() []Sighting {
	joined := map[op.ID]bool{}
	for id, b := range in.world.beasts {
		if b.sameAs != (op.ID{}) {
			joined[id], joined[in.root(id)] = true, true
		}
	}
	var out []Sighting
	for _, f := range in.world.finds {
		if f.hidden {
			continue
		}
		for _, animal := range f.animals {
			if !joined[animal] {
				out = append(out, in.sighting(f, animal))
			}
		}
	}
	slices.SortFunc(out, func(a, b Sighting) int { return slices.Compare(a.Animal[:], b.Animal[:]) })
	return out
}

func (in *Intake) sighting(f *find, animal op.ID) Sighting {
	s := Sighting{Report: f.id, Animal: animal, Reporter: f.author, Device: f.device.String(), Where: Circle(f.place()),
		Taxon: taxonOf(f.taxon()), Deed: f.deed, Circumstance: f.tell.Where, Decay: -1, Band: f.tell.Band, Photos: f.photos}
	if t := in.rules.Checklist.Taxon(s.Taxon); t != nil {
		s.Taxon, s.Plausible = t.Name, t.Lookalikes
	} else if p := in.rules.Checklist.Resolve(s.Taxon, false, nil); len(p.Taxa) > 0 {
		for _, t := range p.Taxa {
			s.Plausible = append(s.Plausible, t.Name)
		}
	}
	if from, to, ok := view.When(f.found(), in.needs.Zone); ok {
		s.Found, s.Until = from, to
	}
	if c := f.tell.Condition; c != nil && c.Decay != nil {
		s.Decay = *c.Decay
	}
	return s
}

func (in *Intake) pairItems() []Item {
	var out []Item
	for _, p := range Pairs(in.sightings()) {
		it := Item{ID: pairID(p.A.Animal, p.B.Animal), Code: PairProposed, Kind: string(record.Animal),
			Record: p.B.Animal.String(), Other: p.A.Animal.String(), Parts: p.Parts, Who: p.B.Reporter}
		var why []string
		for _, part := range p.Parts {
			if part.Points != 0 {
				why = append(why, part.Why)
			}
		}
		it.Why = fmt.Sprintf("%s and %s may have reported one animal: %s", in.called(p.A.Reporter), in.called(p.B.Reporter), strings.Join(why, "; "))
		if f := in.world.finds[p.B.Report]; f != nil {
			it.AtMS, it.Zone, it.LSN = f.reported.UnixMilli(), f.reported.Format("-07:00"), f.lsn
		}
		out = append(out, it)
	}
	return out
}

func pairID(a, b op.ID) string {
	x, y := a.String(), b.String()
	if x > y {
		x, y = y, x
	}
	return itemID(string(PairProposed), x, y)
}

func (in *Intake) nameOf(it Item) string {
	id, err := op.ParseID(it.Record)
	if err != nil {
		return ""
	}
	var d record.Determination
	if f := in.world.finds[id]; f != nil {
		d = f.taxon()
	} else if b := in.world.beasts[id]; b != nil {
		d = or(b.taxon)
	}
	if t := in.rules.Checklist.Taxon(taxonOf(d)); t != nil {
		return t.English
	}
	return taxonOf(d)
}

// Settle settles one item. What was odd stays readable; the settlement is a
// remark on the record, and where it was asked for a new value or a join.
func (in *Intake) Settle(ctx context.Context, by Hand, id, how, note string) error {
	in.mu.Lock()
	defer in.mu.Unlock()
	if _, err := in.screen(ctx); err != nil {
		return err
	}
	all := in.items()
	at := slices.IndexFunc(all, func(it Item) bool { return it.ID == id })
	if at < 0 {
		return fault.New(fault.Missing, "nothing of that name waits for a look; somebody may have settled it already")
	}
	it := all[at]
	way := slices.IndexFunc(it.Ways, func(w Way) bool { return w.How == how })
	if way < 0 {
		return fault.New(fault.Invalid, "%q is not one of the ways to settle this", how).At("/how", "choose one of the ways of the item")
	}
	text := fmt.Sprintf("Looked at: %s. Decided: %s.", it.Why, it.Ways[way].Label)
	if note = strings.TrimSpace(note); note != "" {
		text += " " + note
	}
	return in.writer.WriteIf(ctx, by, func(read Read) ([]op.Group, error) {
		return settlement(read, it, how, text)
	})
}

func settlement(read Read, it Item, how, text string) ([]op.Group, error) {
	id, err := op.ParseID(it.Record)
	if err != nil {
		return nil, err
	}
	kind := it.Kind
	if kind == "" {
		return nil, fault.New(fault.Invalid, "this has no record that a remark could be written on")
	}
	v, err := op.ValueOf(record.Remark{Text: text, Settles: it.ID, How: how})
	if err != nil {
		return nil, err
	}
	g := op.Group{ID: id, Kind: kind, Acts: []op.Act{op.Event("remarks", v)}}
	switch how {
	case Change:
		s, err := read(id)
		if err != nil {
			return nil, err
		}
		g.Acts = append(g.Acts, op.Set(it.Field, it.Suggest, s.Saw(it.Field, op.DeviceID{})...))
	case Same:
		other, err := op.ParseID(it.Other)
		if err != nil {
			return nil, err
		}
		join, err := joining(read, id, other)
		if err != nil {
			return nil, err
		}
		g.Acts = append(g.Acts, join)
	}
	return []op.Group{g}, nil
}
