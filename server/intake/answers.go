package intake

import (
	"context"
	"encoding/json"
	"slices"
	"strconv"
	"strings"

	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen"
	facts "wayfall/permits/screen/find"
	"wayfall/server/fault"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/view"
)

// Answer is one verdict as it stands in the log of a report. It is never
// overwritten; a later one stands beside it.
type Answer struct {
	Verdict permits.Verdict
	Read    bool // the form could be read
	Actor   string
	Device  string
	AtMS    int64
	Zone    string
	LSN     uint64
	Server  bool // the server's own; else from the field
	// Changed says what is otherwise than in the answer before, in words, and
	// Same that outcome and deciding rule are not.
	Changed []string
	Same    bool
}

// Answers returns every verdict of a report, oldest first. at reads a record
// as it was at a place in the log.
func (in *Intake) Answers(ctx context.Context, report string, at func(ctx context.Context, id op.ID, place uint64) (merge.State, error)) ([]Answer, error) {
	id, err := op.ParseID(report)
	if err != nil {
		return nil, fault.New(fault.Missing, "no find of that name is known here")
	}
	s, err := in.log.Record(ctx, id)
	if err != nil {
		return nil, err
	}
	var out []Answer
	var before screen.Facts
	for i, said := range view.Events[json.RawMessage](s, "verdicts") {
		a := Answer{Actor: said.Actor, Device: said.Device.String(), LSN: said.LSN, Server: said.Actor == ServerActor}
		if !said.At.IsZero() {
			a.AtMS, a.Zone = said.At.UnixMilli(), said.At.Format("-07:00")
		}
		a.Read = !said.Ill && json.Unmarshal(said.Value, &a.Verdict) == nil && a.Verdict.Outcome != permits.OutcomeUnknown
		then, err := at(ctx, id, said.LSN)
		if err != nil {
			return nil, err
		}
		now := in.factsAt(then, a.Server)
		if i > 0 && a.Read && out[i-1].Read {
			was := &out[i-1]
			a.Same = a.Verdict.Outcome == was.Verdict.Outcome && a.Verdict.Deciding.Rule == was.Verdict.Deciding.Rule
			a.Changed = whatChanged(was, &a, before, now)
		}
		before = now
		out = append(out, a)
	}
	return out, nil
}

// factsAt are the facts of a report as it stood. A phone judges before
// anything is done with the animal.
func (in *Intake) factsAt(s merge.State, done bool) screen.Facts {
	in.mu.Lock()
	defer in.mu.Unlock()
	f := &find{id: s.ID}
	r := in.memory.read(s)
	f.gist, f.animals = r.gist, r.animals
	in.signed(f, r)
	in.weigh(f, r)
	if done {
		return in.facts(f)
	}
	return facts.Of(f.tell, facts.Asked{Person: f.person, Role: in.role(f.person), Now: momentOf(f.reported), Where: &f.where, Land: in.rules.Land, Traits: in.world.asks.facts})
}

// factLabels are the facts whose change is worth a word.
var factLabels = []struct{ name, label string }{
	{"found", "the day it was found"}, {"possessed", "the day it was taken"}, {"jurisdictions", "the state, the place read again"},
	{"jurisdictions_possible", "the states it may lie in, the place read again"}, {"taxon", "what it is"}, {"identified", "whether it is surely that"},
	{"count", "how many"}, {"cause", "the cause"}, {"in_hand", "whether it was picked up"}, {"person", "who took it"}, {"role", "how that person stands to the museum"},
	{"material", "what is there"}, {"land_manager", "who controls the ground"}, {"landowner_consent", "the permission for the ground"}, {"authority", "the paper that is named"},
	{"event_carcass_count", "how many lay there"}, {"suspected_crime", "signs of a crime"}, {"suspected_poison", "signs of poison"}, {"band", "the band"},
}

func whatChanged(was, is *Answer, before, now screen.Facts) (out []string) {
	x, y := membersOf(before), membersOf(now)
	for _, f := range factLabels {
		if a, b := plainOr(x[f.name]), plainOr(y[f.name]); a != b {
			out = append(out, f.label+": "+b+" instead of "+a)
		}
	}
	out = append(out, papersChanged(&was.Verdict, &is.Verdict)...)
	for _, p := range is.Verdict.Packs {
		i := slices.IndexFunc(was.Verdict.Packs, func(o permits.PackRef) bool { return o.ID == p.ID })
		if i >= 0 && was.Verdict.Packs[i].Digest != p.Digest {
			out = append(out, editionChanged(was.Verdict.Packs[i], p))
		}
	}
	if byNumber(&was.Verdict) != byNumber(&is.Verdict) {
		out = append(out, "the number: what other finds have used of it is counted anew")
	}
	switch {
	case len(out) == 0 && was.Verdict.Inputs != is.Verdict.Inputs:
		out = append(out, "details of the facts, which have another digest")
	case len(out) == 0:
		out = append(out, "neither facts nor rules; the papers or the numbers as they were known")
	}
	return out
}

func editionChanged(was, is permits.PackRef) string {
	if was.Version == is.Version {
		return "the text of the rules " + is.ID + ", under the same edition " + is.Version
	}
	return "the rules " + is.ID + ": edition " + is.Version + " instead of " + was.Version
}

// byNumber tells whether a number stands in the way.
func byNumber(v *permits.Verdict) bool {
	return slices.ContainsFunc(v.Blocking(), func(f permits.Finding) bool { return f.Layer == permits.QuotaLayer })
}

func papersChanged(was, is *permits.Verdict) (out []string) {
	for _, r := range is.Relies {
		i := slices.IndexFunc(was.Relies, func(o permits.Reliance) bool { return o.Law == r.Law })
		switch {
		case i < 0:
		case was.Relies[i].Authority != r.Authority:
			out = append(out, "the paper for "+r.Law+": "+r.Authority+" instead of "+was.Relies[i].Authority)
		case was.Relies[i].Version != r.Version:
			out = append(out, "version "+strconv.Itoa(r.Version)+" of "+r.Authority+" instead of version "+strconv.Itoa(was.Relies[i].Version))
		}
	}
	return out
}

func membersOf(f screen.Facts) map[string]json.RawMessage {
	var out map[string]json.RawMessage
	if text, err := json.Marshal(&f); err == nil {
		_ = json.Unmarshal(text, &out) // what was just written can be read
	}
	return out
}

func plainOr(raw json.RawMessage) string {
	if len(raw) == 0 {
		return "not known"
	}
	return strings.NewReplacer(`"`, "", "[", "", "]", "", ",", ", ", "true", "yes", "false", "no", "_", " ").Replace(string(raw))
}

// Stored names a verdict in the log: its report and its place.
type Stored struct {
	Report string
	LSN    uint64
}

// Again is a stored verdict of which the question was put once more, to the
// papers and the numbers as the log had them just before it.
type Again struct {
	Stored
	Verdict permits.Verdict // what is answered now
	Facts   bool            // the facts are the very ones: their digest is the same
	Packs   bool            // the rules are the very ones: all their digests are the same
	Same    bool            // byte for byte the same answer
	Agrees  bool            // the same outcome, act and deciding rule
}

// upTo is the log as it stood at a place.
type upTo struct {
	Log
	place uint64
	at    func(ctx context.Context, id op.ID, place uint64) (merge.State, error)
}

func (u *upTo) Read(ctx context.Context, after uint64, limit int) ([]oplog.Entry, error) {
	all, err := u.Log.Read(ctx, after, limit)
	if i := slices.IndexFunc(all, func(e oplog.Entry) bool { return e.LSN > u.place }); i >= 0 {
		all = all[:i]
	}
	return all, err
}

func (u *upTo) Record(ctx context.Context, id op.ID) (merge.State, error) {
	s, err := u.at(ctx, id, u.place)
	if err == nil && s.Empty() {
		err = fault.New(fault.Missing, "nobody had written to it by then")
	}
	return s, err
}

// nowhere takes verdicts and keeps none.
type nowhere struct{}

func (nowhere) WriteIf(context.Context, Hand, func(Read) ([]op.Group, error)) error { return nil }
func (nowhere) WriteAll(context.Context, Hand, [][]op.Group) (first, last uint64, err error) {
	return 0, 0, nil
}

// AskAgain puts the questions of stored verdicts once more, in the order of
// their places. Nothing is written. It reads the log from its beginning.
func (in *Intake) AskAgain(ctx context.Context, which []Stored, at func(ctx context.Context, id op.ID, place uint64) (merge.State, error)) ([]Again, error) {
	needs := in.needs
	log := &upTo{Log: in.log, at: at}
	needs.Log, needs.Writer, needs.Tag = log, nowhere{}, nil
	past := Open(needs)
	which = slices.Clone(which)
	slices.SortFunc(which, func(a, b Stored) int { return int(int64(a.LSN) - int64(b.LSN)) })
	var out []Again
	for _, w := range which {
		a, err := past.again(ctx, log, w)
		if err != nil {
			return nil, err
		}
		out = append(out, a)
	}
	return out, nil
}

func (in *Intake) again(ctx context.Context, log *upTo, w Stored) (Again, error) {
	out := Again{Stored: w}
	id, err := op.ParseID(w.Report)
	if err != nil {
		return out, fault.New(fault.Missing, "no find of that name is known here")
	}
	s, err := log.at(ctx, id, w.LSN)
	if err != nil {
		return out, err
	}
	stored, raw := permits.Verdict{}, op.Value("")
	server := false
	for _, e := range view.Events[json.RawMessage](s, "verdicts") {
		if e.LSN == w.LSN && json.Unmarshal(e.Value, &stored) == nil {
			raw, server = e.Raw, e.Actor == ServerActor
		}
	}
	if raw == "" {
		return out, fault.New(fault.Missing, "there is no answer at that place that can be read")
	}
	log.place = w.LSN - 1
	in.mu.Lock()
	if _, err := in.screen(ctx); err != nil {
		in.mu.Unlock()
		return out, err
	}
	b := bench{register: in.register(), ledger: in.ledgerOf()}
	f := in.world.finds[id]
	in.mu.Unlock()
	asked, tally := in.factsAt(s, server), in.numbersOf(f, b)
	world := &screen.World{Book: in.rules.Book, Register: b.register, Checklist: in.rules.Checklist, Ground: in.rules.Land.Edition(), Tally: tally}
	out.Verdict = screen.Check(&asked, world)
	out.Facts = out.Verdict.Inputs == stored.Inputs
	out.Packs = slices.Equal(out.Verdict.Packs, stored.Packs)
	out.Same = written(&out.Verdict) == raw
	out.Agrees = out.Verdict.Outcome == stored.Outcome && out.Verdict.Act == stored.Act && out.Verdict.Deciding.Rule == stored.Deciding.Rule
	return out, nil
}

// numbersOf are the numbers by which a find is judged; of one that had not
// come in yet, all that is used.
func (in *Intake) numbersOf(f *find, b bench) rules.Tally {
	if f == nil {
		return b.ledger
	}
	if v := in.check(f, b, unlimited{}); len(f.uses) == 0 && !in.numbers(v, b.register) {
		return unlimited{}
	}
	return in.tally(f, b)
}
