package catalogue

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"wayfall/permits"
	"wayfall/server/fault"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// Elsewhere is why a decision that did not come from the desk does not count.
const Elsewhere permits.Decided = "elsewhere"

// Decision is what a person decided beside an answer of the rules, whether it
// counts and whether it is the one that stands.
type Decision struct {
	permits.Decision
	Shape    string // take, ask, stop: how it is shown
	Headline string
	Why      permits.Decided
	Stands   bool
	Said     Said
}

// Deciding is what a person decides about one answer of the rules, which is
// named by the digest of its facts.
type Deciding struct {
	Outcome, Reason, Document, Inputs string
}

// Decidable are the outcomes that a person may decide on.
var Decidable = []record.Word{
	{Code: permits.AllowWithObligations.String(), Label: "It may be taken"},
	{Code: permits.HoldCallFirst.String(), Label: "Leave it and call"},
	{Code: permits.RefusePickup.String(), Label: "Leave it"},
}

// deskActor signs what the server itself says; what people decide at the desk
// is written on the same device.
const deskActor = "server"

// engine is the newest answer of the server's rules, and where it was written.
func engine(r view.Report) (v permits.Verdict, on op.DeviceID, ok bool) {
	for _, said := range slices.Backward(r.Verdicts) {
		if said.Actor != deskActor {
			continue
		}
		if v, ok := readVerdict(said.Value); ok {
			return v, said.Device, true
		}
	}
	return permits.Verdict{}, op.DeviceID{}, false
}

// decisionsOf returns every decision on a report, newest first.
func decisionsOf(r view.Report) []Decision {
	v, desk, _ := engine(r)
	standing := permits.Standing{Engine: v}
	f, _ := record.FieldOf(record.Report, "decisions")
	var out []Decision
	for _, said := range slices.Backward(r.Decisions) {
		one := Decision{Said: heard(f, said)}
		if json.Unmarshal(said.Value, &one.Decision) != nil {
			one.Decision = permits.Decision{}
		}
		one.Why = standing.Weigh(&one.Decision)
		if said.Device != desk || said.Actor != one.By {
			one.Why = Elsewhere
		}
		one.Shape, one.Headline = decisionShape(one.Outcome), labelIn(Decidable, one.Outcome.String())
		one.Stands = one.Why == permits.Counts && !slices.ContainsFunc(out, func(d Decision) bool { return d.Stands })
		out = append(out, one)
	}
	return out
}

func decisionShape(o permits.Outcome) string {
	switch o {
	case permits.AllowWithObligations:
		return "take"
	case permits.HoldCallFirst, permits.RefusePickup:
		return "stop"
	}
	return "note"
}

func decidedText(d permits.Decision) string {
	return labelIn(Decidable, d.Outcome.String()) + ", on " + d.Document + ": " + d.Reason
}

// decidedLife is what people decided, on the line of what happened.
func decidedLife(r view.Report, zone *time.Location) []Moment {
	var out []Moment
	for _, d := range decisionsOf(r) {
		m := Moment{When: d.Said.local(zone), Head: "decided", Text: lowerFirst(decidedText(d.Decision)), Shape: lifeShapes[d.Shape], Who: d.Said.Who}
		if d.Why != permits.Counts {
			m.Head, m.Shape = "decided, does not count", "note"
		}
		out = append(out, m)
	}
	return out
}

// need is one thing that must be written, where, and what to say if it is not.
type need struct{ at, got, say string }

// lacking names everything that was left empty, each at its place, or nil.
func lacking(sentence string, all ...need) error {
	e := fault.New(fault.Invalid, "%s", sentence)
	for _, n := range all {
		if strings.TrimSpace(n.got) == "" {
			e = e.At(n.at, n.say)
		}
	}
	if len(e.Pointers) == 0 {
		return nil
	}
	return e
}

// whole makes a decision of what was written, or says at each place what is
// wrong.
func (in Deciding) whole(by Hand) (d permits.Decision, err error) {
	const sentence = "a decision needs an answer, a reason and the document it rests on; nothing was kept"
	err = lacking(sentence,
		need{"/outcome", in.Outcome, "choose what was decided"},
		need{"/reason", in.Reason, "give the reason"},
		need{"/document", in.Document, "name the document it rests on: a letter, an e-mail, a number"},
		need{"/inputs", in.Inputs, "say which answer it is about, by the digest of its facts"})
	if err != nil {
		return d, err
	}
	if !slices.ContainsFunc(Decidable, func(w record.Word) bool { return w.Code == in.Outcome }) {
		return d, fault.New(fault.Invalid, "%s", sentence).At("/outcome", "a person decides that it may be taken, that it stays until somebody was called, or that it stays")
	}
	at, err := permits.ParseMoment(by.Local)
	if err != nil {
		return d, err
	}
	d = permits.Decision{By: by.Person, Reason: strings.TrimSpace(in.Reason), Document: strings.TrimSpace(in.Document), At: at, Inputs: in.Inputs}
	return d, d.Outcome.UnmarshalText([]byte(in.Outcome))
}

// Decide writes what a person decided beside the newest answer of the rules.
// The answer stays as it is. Nothing is kept when the facts have changed since,
// or when no person may lift what stands in the way.
func (c *Clerk) Decide(ctx context.Context, by Hand, report string, in Deciding) error {
	d, err := in.whole(by)
	if err != nil {
		return err
	}
	return c.write(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := state(read, report, record.Report)
		if err != nil {
			return nil, err
		}
		r := view.ReportOf(s)
		v, _, ok := engine(r)
		if !ok {
			return nil, fault.New(fault.Conflict, "the rules have not answered this report yet, so there is nothing to decide")
		}
		d.Against = v.Deciding.Rule
		switch standing := (permits.Standing{Engine: v}); standing.Weigh(&d) {
		case permits.OtherFacts:
			return nil, fault.New(fault.Stale, "the facts have changed since this answer; look at the newest answer and decide on that")
		case permits.Never:
			return nil, fault.New(fault.Invalid, "no person lifts this answer; nothing was kept").At("/outcome", neverLifted(v))
		case permits.Counts:
		default:
			return nil, fault.New(fault.Invalid, "the decision lacks %s", d.Missing())
		}
		for _, old := range decisionsOf(r) {
			if old.Stands && old.Decision == d {
				return nil, fault.New(fault.Conflict, "exactly this was decided already")
			}
		}
		return done(on(s.ID, record.Report).event("decisions", d))
	})
}

// neverLifted says why a danger, evidence or a die-off is not decided away.
func neverLifted(v permits.Verdict) string {
	for _, f := range v.Blocking() {
		switch f.Layer {
		case permits.Safety, permits.Evidence, permits.Health:
			return "safety, evidence and die-offs are not decided away: " + strings.TrimRight(f.Because, ". ") + ". Change the fact that it rests on once that is settled"
		}
	}
	return ""
}
