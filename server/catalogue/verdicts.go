package catalogue

import (
	"encoding/json"
	"slices"
	"strings"

	"wayfall/permits"
	"wayfall/permits/duties"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/view"
)

// shapes are the shapes by which an act is shown.
var shapes = map[permits.Act]string{permits.Take: "take", permits.Ask: "ask", permits.Leave: "stop", permits.Note: "note"}

// shapeOf is how an answer is shown: the act, or breach for what was done
// outside authority and waits to be resolved.
func shapeOf(v permits.Verdict) string {
	if v.Outcome == permits.BreachToResolve {
		return "breach"
	}
	return shapes[v.Act]
}

// judged reads the newest verdict of a report and the duties that it started.
func judged(r view.Report) (outcome string, gist verdictGist, duties []Duty) {
	for i := len(r.Verdicts) - 1; i >= 0; i-- {
		v, ok := readVerdict(r.Verdicts[i].Value)
		if !ok {
			continue
		}
		gist = gistOf(v)
		return shapeOf(v), gist, dutiesOf(v, r.Done, deskOf(r), began(r))
	}
	return "", verdictGist{}, nil
}

// deskOf is the device on which the server's answers are written, and what
// people enter at the desk.
func deskOf(r view.Report) op.DeviceID {
	for _, said := range slices.Backward(r.Verdicts) {
		if said.Actor == deskActor {
			return said.Device
		}
	}
	return op.DeviceID{}
}

func readVerdict(raw json.RawMessage) (permits.Verdict, bool) {
	var v permits.Verdict
	if len(raw) == 0 || json.Unmarshal(raw, &v) != nil || v.Outcome == permits.OutcomeUnknown {
		return permits.Verdict{}, false
	}
	return v, true
}

func gistOf(v permits.Verdict) verdictGist {
	g := verdictGist{known: true, outcome: v.Outcome, sample: v.Sample, why: v.Deciding.Because}
	for _, rel := range v.Relies {
		if rel.Authority != "" {
			g.relies = append(g.relies, rel.Authority)
		}
	}
	for _, f := range v.Blocking() {
		if f.Authority != "" && !slices.Contains(g.near, f.Authority) {
			g.near = append(g.near, f.Authority)
		}
	}
	for _, a := range append([]string{""}, g.near...) {
		if full(v.Blocking(), a) {
			g.full = append(g.full, a)
		}
	}
	return g
}

// full reports whether a full number is all that stands in the way under the
// authority; "" is what names no authority.
func full(blocking []permits.Finding, authority string) bool {
	any := false
	for _, f := range blocking {
		if f.Authority != authority {
			continue
		}
		if f.Layer != permits.QuotaLayer {
			return false
		}
		any = true
	}
	return any
}

// periods are the institution's own times for words of the law.
var periods = duties.Usual()

// spoken are the words of the law that give no number, as a duty's text says
// them.
var spoken = map[string]string{"immediately": ", at once", "promptly": ", promptly"}

// began is when the clocks of a find's duties start for words of the law.
func began(r view.Report) permits.Moment {
	for _, w := range [...]record.When{r.TakenAt.Shown, r.Found.Shown} {
		if m, err := permits.ParseMoment(w.Earliest); err == nil && m.Known() {
			return m
		}
	}
	return permits.Moment{}
}

func dutiesOf(v permits.Verdict, done []view.Said[record.DutyDone], desk op.DeviceID, began permits.Moment) []Duty {
	var out []Duty
	for _, o := range duties.From(&v, "", began, &periods) {
		d := Duty{Code: o.Code, Text: DutyText(o.Code), Cites: string(o.Rule), Due: o.By.String(), Own: o.Own, Severity: o.Severity}
		if o.To != "" {
			d.Text += ", to " + strings.ReplaceAll(o.To, "_", " ")
		}
		if words := spoken[o.Due.Word]; words != "" {
			d.Word = o.Due.Word
			d.Text += words
		}
		if d.Due == "" {
			d.Due = o.Due.Word
		}
		for _, said := range done {
			if said.Value.Code == o.Code {
				d.note(said, said.Device == desk && desk != (op.DeviceID{}))
			}
		}
		if d.Done { // what was done is done, whatever was waived
			d.Waived, d.Void = false, ""
		}
		out = append(out, d)
	}
	return out
}

// note adds what somebody noted on a duty. A waiver without a document, or one
// that was not written at the desk, stays in the history and lifts nothing.
func (d *Duty) note(said view.Said[record.DutyDone], atDesk bool) {
	v := said.Value
	text := noteText(v)
	if v.Lifts() && !atDesk {
		text = "a waiver that was not entered at the desk, which lifts nothing: " + text
	}
	d.History = append(d.History, DutyNote{At: v.At.Earliest, Who: said.Actor, Text: text, Waives: v.Waives})
	switch {
	case v.Lifts() && !atDesk:
	case v.Lifts():
		d.Waived, d.Void = true, noteText(v)
	case !v.Waives:
		d.Done, d.DoneAt, d.Evidence = true, v.At.Earliest, v.Evidence
	}
}

func noteText(v record.DutyDone) string {
	switch {
	case !v.Waives:
		return v.Evidence
	case v.Document == "":
		return "a waiver without a document, which lifts nothing"
	}
	return join(": ", join(" by ", "waived", v.By)+", document "+v.Document, v.Why)
}

// phrase is what people call an authority in a sentence, or its id.
func (b *Book) phrase(id string) string {
	for _, p := range b.papers {
		if p.name == id && p.phrase != "" {
			return p.phrase
		}
	}
	return id
}

// gist is what stands behind an answer: by which papers an animal may be taken,
// else the sentence that decided.
func (b *Book) gist(v permits.Verdict) string {
	if !v.Outcome.Permits() {
		return clause(v.Deciding.Because)
	}
	var by []string
	for _, rel := range v.Relies {
		name := b.phrase(rel.Authority)
		if name == rel.Authority { // a rule that is no paper here: its own sentence says it
			name = ""
		}
		if name != "" && !slices.Contains(by, name) {
			by = append(by, name)
		}
	}
	if len(by) > 0 {
		return "under " + strings.Join(by, " and ")
	}
	for _, f := range v.Findings {
		if f.Effect == permits.Allows {
			return clause(f.Because)
		}
	}
	return ""
}

func clause(sentence string) string { return strings.TrimSuffix(sentence, ".") }

// verdictsOf returns every verdict of a report, newest first.
func (b *Book) verdictsOf(r view.Report) []Verdict {
	var out []Verdict
	for i := len(r.Verdicts) - 1; i >= 0; i-- {
		said := r.Verdicts[i]
		f, _ := record.FieldOf(record.Report, "verdicts")
		by := heard(f, said)
		v, ok := readVerdict(said.Value)
		if !ok {
			out = append(out, Verdict{Outcome: "note", Headline: "An answer in a form that this server does not read", By: by})
			continue
		}
		one := Verdict{Outcome: shapeOf(v), By: by, Sample: v.Sample, Headline: headline(v), Gist: b.gist(v), Inputs: v.Inputs}
		for _, f := range v.Findings {
			said := Finding{Rule: string(f.Rule), Outcome: effectShape(f), Because: f.Because, Cites: f.Cites}
			same := func(x Finding) bool { return x.Because == said.Because && x.Cites == said.Cites }
			if !slices.ContainsFunc(one.Findings, same) { // two laws may say the same
				one.Findings = append(one.Findings, said)
			}
		}
		if len(v.Relies) > 0 {
			one.Authority = v.Relies[0].Authority
		}
		out = append(out, one)
	}
	return out
}

func effectShape(f permits.Finding) string {
	switch f.Effect {
	case permits.Allows:
		return "take"
	case permits.Asks:
		return "ask"
	case permits.Holds, permits.Refuses, permits.RefusesHandOff, permits.Breaches:
		return "stop"
	}
	return "note"
}

func headline(v permits.Verdict) string {
	switch v.Outcome {
	case permits.AllowWithObligations:
		return "It may be taken"
	case permits.ReviewByPerson:
		return "Ask first: a person decides"
	case permits.HoldCallFirst:
		return "Leave it and call"
	case permits.RefusePickup:
		return "Leave it: no authority covers it"
	case permits.RefuseTransfer:
		return "It may not be handed over to them"
	case permits.BreachToResolve:
		return "Taken without cover: to be resolved"
	case permits.ObligationDue:
		return "Nothing to pick up, but a duty is due"
	}
	return ""
}
