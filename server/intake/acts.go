package intake

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"time"

	"wayfall/permits"
	"wayfall/server/fault"
	"wayfall/sync/clock"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// Join says that two records are of one animal. Neither is rewritten; numbers
// then count one.
func (in *Intake) Join(ctx context.Context, by Hand, animal, other string) error {
	a, errA := op.ParseID(animal)
	b, errB := op.ParseID(other)
	if errA != nil || errB != nil {
		return fault.New(fault.Missing, "no animal of that name is known here")
	}
	err := in.writer.WriteIf(ctx, by, func(read Read) ([]op.Group, error) {
		act, err := joining(read, a, b)
		if err != nil {
			return nil, err
		}
		return []op.Group{{ID: a, Kind: string(record.Animal), Acts: []op.Act{act}}}, nil
	})
	if err != nil {
		return err
	}
	_, err = in.Screen(ctx)
	return err
}

// joining returns the act that makes a the same as b, unless it would close a
// ring.
func joining(read Read, a, b op.ID) (op.Act, error) {
	mine, err := animalIn(read, a)
	if err != nil {
		return op.Act{}, err
	}
	at := b
	for range 100 {
		if at == a {
			return op.Act{}, fault.New(fault.Conflict, "these two are joined already")
		}
		s, err := animalIn(read, at)
		if err != nil {
			return op.Act{}, err
		}
		next := view.AnimalOf(s).SameAs.Shown
		if next == (op.ID{}) {
			break
		}
		at = next
	}
	return op.Set("same_as", op.Text(b.String()), mine.Saw("same_as", op.DeviceID{})...), nil
}

func animalIn(read Read, id op.ID) (merge.State, error) {
	s, err := read(id)
	if err == nil && s.Kind != record.Animal {
		err = fault.New(fault.Missing, "no animal of that name is known here")
	}
	return s, err
}

// AuthorityID is the record of an authority: it follows from the id on the
// paper, so that two desks that enter one paper write one record.
func AuthorityID(paper string) op.ID { return derived("authority", paper) }

func derived(parts ...string) op.ID {
	h := sha256.New()
	h.Write([]byte("wayfall record v1"))
	for _, p := range parts {
		h.Write([]byte("\x00" + p))
	}
	return op.ID(h.Sum(nil)[:16])
}

// Authority keeps an authority, or a new edition of one. The editions before
// stay in the document, so that what happened in their time is judged by them.
func (in *Intake) Authority(ctx context.Context, by Hand, document json.RawMessage) error {
	var next permits.Authority
	if err := json.Unmarshal(document, &next); err != nil {
		return fault.As(fault.Invalid, err, "the document is not an authority")
	}
	return in.edition(ctx, by, next, func([]permits.Authority) error { return nil })
}

// withEditions numbers the edition and puts the earlier ones beside it. The
// same edition again replaces itself.
func withEditions(next permits.Authority, earlier []permits.Authority) (op.Value, error) {
	kept := []permits.Authority{}
	for _, e := range earlier {
		if e.From() == next.From() && e.Version == next.Version {
			continue
		}
		kept = append(kept, e)
	}
	if next.Version == 0 {
		for _, e := range kept {
			next.Version = max(next.Version, e.Version)
		}
		next.Version++
	}
	return op.ValueOf(struct {
		permits.Authority
		Versions []permits.Authority `json:"versions,omitempty"`
	}{next, kept})
}

// Verdict answers a draft and keeps nothing.
func (in *Intake) Verdict(ctx context.Context, by Hand, d Draft) (permits.Verdict, error) {
	if err := d.Check(Moment{Received: time.UnixMilli(by.AtMS)}); err != nil {
		return permits.Verdict{}, err
	}
	in.mu.Lock()
	defer in.mu.Unlock()
	if err := in.catchUp(ctx); err != nil {
		return permits.Verdict{}, err
	}
	f := in.asFind(by, d)
	b := bench{register: in.register(), ledger: in.ledgerOf()}
	return in.check(f, b, b.ledger), nil
}

// asFind folds a draft as if it had been saved now.
func (in *Intake) asFind(by Hand, d Draft) *find {
	s := merge.New(op.ID{1}, record.Report)
	now := time.UnixMilli(by.AtMS)
	s.Apply(op.Op{Dev: op.DeviceID{1}, Seq: 1, HLC: clock.At(now), Actor: by.Person,
		Wall: op.Wall{Millis: by.AtMS, Zone: by.Zone, Source: "server"}, On: d.Groups(op.ID{1}, nil)}, merge.Receipt{})
	r := in.memory.read(s)
	f := &find{id: s.ID, gist: r.gist, author: by.Person, reported: now.In(locationOf(by.Zone))}
	if f.person = r.salvager; f.person == "" {
		f.person = by.Person
	}
	in.weigh(f, r)
	return f
}

// Report keeps a draft as a report in the person's name. The same key from the
// same person keeps it once.
func (in *Intake) Report(ctx context.Context, by Hand, key string, d Draft) (Kept, error) {
	if err := d.Check(Moment{Received: time.UnixMilli(by.AtMS)}); err != nil {
		return Kept{}, err
	}
	var paper string
	if d.value("authority", &paper) && paper != "" && !in.knows(ctx, paper) {
		why := "no authority called " + paper + " is known here"
		return Kept{}, fault.New(fault.Invalid, "%s", why).At("/authority", why)
	}
	id := derived("report", by.Person, key)
	animals := in.name(&d, id)
	if err := in.tag(ctx, &d); err != nil {
		return Kept{}, err
	}
	err := in.writer.WriteIf(ctx, by, func(read Read) ([]op.Group, error) {
		if s, err := read(id); err != nil || !s.Empty() {
			return nil, err // kept before, by a request whose answer was lost
		}
		return d.Groups(id, animals), nil
	})
	if err != nil {
		return Kept{}, err
	}
	return in.kept(ctx, id)
}

func (in *Intake) knows(ctx context.Context, paper string) bool {
	in.mu.Lock()
	defer in.mu.Unlock()
	if in.catchUp(ctx) != nil {
		return true // then the log cannot be written to either
	}
	in.knowPapers()
	return (*in.papers.Load())[paper]
}

// name gives every animal of a draft a record, as many as were counted.
func (in *Intake) name(d *Draft, report op.ID) []op.ID {
	var count float64
	d.value("count", &count)
	n := max(1, int(count), len(d.Animals))
	n = min(n, 200)
	var taxon op.Value
	for _, s := range d.Said {
		if s.Field == "taxon" && len(s.Values) > 0 {
			taxon = s.Values[0]
		}
	}
	var deed string
	d.value("deed", &deed)
	for len(d.Animals) < n {
		d.Animals = append(d.Animals, AnimalDraft{})
	}
	ids := make([]op.ID, n)
	for i := range ids {
		ids[i] = derived("animal", report.String(), string(rune('0'+i)))
		a := &d.Animals[i]
		if a.Taxon == "" {
			a.Taxon = taxon
		}
		if a.Disposition == "" {
			a.Disposition = map[string]string{"taken": "private_freezer", "left": "left", "vanished": "vanished", "agency": "agency"}[deed]
		}
	}
	return ids
}

// tag gives animals in the hand a bag tag where they have none.
func (in *Intake) tag(ctx context.Context, d *Draft) error {
	var deed string
	if d.value("deed", &deed); deed != "taken" || in.needs.Tag == nil {
		return nil
	}
	for i := range d.Animals {
		if len(d.Animals[i].Tags) > 0 {
			continue
		}
		t, err := in.needs.Tag(ctx)
		if err != nil {
			return err
		}
		d.Animals[i].Tags = []string{t}
	}
	return nil
}

// kept screens a report and says what became of it.
func (in *Intake) kept(ctx context.Context, id op.ID) (Kept, error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	if _, err := in.screen(ctx); err != nil {
		return Kept{}, err
	}
	f := in.world.finds[id]
	if f == nil {
		return Kept{}, fault.New(fault.Internal, "a report that was just kept is not there")
	}
	b := bench{in.register(), in.ledgerOf()}
	out := Kept{ID: id.String(), Verdict: in.check(f, b, in.tally(f, b)), Effect: "ok"}
	if a := f.answer; a != nil {
		out.Effect, out.Code, out.Why = "review", string(a.code), a.because
	} else if len(f.doubts) > 0 {
		out.Effect, out.Code, out.Why = "review", string(f.doubts[0].Code), f.doubts[0].Why
	}
	for _, a := range f.animals {
		k := KeptAnimal{ID: a.String()}
		if b := in.world.beasts[a]; b != nil && len(b.tags) > 0 {
			k.Tag = b.tags[0]
		}
		out.Animals = append(out.Animals, k)
	}
	return out, nil
}
