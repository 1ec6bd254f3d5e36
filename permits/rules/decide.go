package rules

import (
	"slices"
	"wayfall/permits"
)

// verdict orders the findings, takes the first as the one that decides, and
// starts the duties.
func (e *evaluation) verdict() permits.Verdict {
	e.giveWay()
	e.inHand()
	e.weigh()
	slices.SortStableFunc(e.found, func(a, b entry) int { return before(&a, &b) })
	v := permits.Verdict{Outcome: permits.ReviewByPerson, Act: permits.Ask, Proposes: e.other}
	if len(e.found) > 0 {
		first := &e.found[0]
		v.Outcome = outcome(first.Effect)
		v.Act = act(first, v.Outcome)
		v.Deciding = first.Finding
	}
	v.Findings = make([]permits.Finding, len(e.found))
	for i := range e.found {
		v.Findings[i] = e.found[i].Finding
	}
	v.Obligations = e.duties(v.Outcome)
	v.Changes = e.changes()
	e.sources(&v)
	return v
}

// giveWay marks findings of rules that yield to another rule that was found.
func (e *evaluation) giveWay() {
	for i := range e.found {
		for _, id := range e.found[i].rule.GivesWayTo {
			for j := range e.found {
				if e.found[j].Rule == id && e.found[j].Unsure == e.found[i].Unsure && e.found[j].rule != e.found[i].rule {
					e.found[i].yields = true
				}
			}
		}
	}
}

// inHand turns what would be refused into a breach where the animal was taken
// before anybody asked, or into what the rule says of that: the record stands
// and is resolved. Evidence and health keep their own answer, which is to call.
func (e *evaluation) inHand() {
	if e.c.InHand != permits.Yes {
		return
	}
	for i := range e.found {
		f := &e.found[i]
		if f.Layer < permits.TaxonLayer || f.Effect != permits.Holds && f.Effect != permits.Refuses {
			continue
		}
		f.Effect, f.inHand = permits.Breaches, true
		if f.rule.InHand != permits.EffectUnknown {
			f.Effect = f.rule.InHand
		}
		if f.rule.inHand != nil {
			f.Because = f.rule.inHand.fill(func(name string) string { return e.word(name, &f.fit) })
		}
	}
}

// weigh takes the weight from rules whose condition for deciding is not met.
func (e *evaluation) weigh() {
	for i := range e.found {
		r := e.found[i].rule
		if len(r.DecidesWhen) > 0 && r.decides.Eval(&e.c.In) != True {
			e.found[i].Weight = 0
		}
	}
}

// class orders findings by how they bear on the outcome: what surely blocks
// comes before what surely needs a person, before what cannot be told, before
// what allows.
func class(f *entry) int {
	switch {
	case !f.Effect.Blocks():
		return 3
	case f.Unsure:
		return 2
	case f.Effect == permits.Asks:
		return 1
	}
	return 0
}

func before(a, b *entry) int {
	if ca, cb := class(a), class(b); ca != cb {
		return ca - cb
	}
	if a.yields != b.yields {
		if a.yields {
			return 1
		}
		return -1
	}
	if a.Effect.Blocks() && a.Layer != b.Layer {
		return int(a.Layer) - int(b.Layer)
	}
	return b.Weight - a.Weight
}

func outcome(e permits.Effect) permits.Outcome {
	switch e {
	case permits.Noted, permits.Allows:
		return permits.AllowWithObligations
	case permits.Holds:
		return permits.HoldCallFirst
	case permits.Refuses:
		return permits.RefusePickup
	case permits.RefusesHandOff:
		return permits.RefuseTransfer
	case permits.Breaches:
		return permits.BreachToResolve
	case permits.FallsDue:
		return permits.ObligationDue
	}
	return permits.ReviewByPerson
}

// act says what the salvager does. A hold that asking can lift is asked about;
// any other is left alone and called in, even when already in the hand.
func act(f *entry, o permits.Outcome) permits.Act {
	switch o {
	case permits.AllowWithObligations:
		return permits.Take
	case permits.ReviewByPerson:
		return permits.Ask
	case permits.HoldCallFirst:
		if f.Curable {
			return permits.Ask
		}
		return permits.Leave
	case permits.RefusePickup, permits.RefuseTransfer:
		return permits.Leave
	case permits.BreachToResolve:
		if f.inHand && f.rule.Effect == permits.Holds && !f.Curable {
			return permits.Leave
		}
	}
	return permits.Note
}

// duties collects what the verdict starts: of an allowed case the duties of
// all that applies, of any other those of the layer that decided.
func (e *evaluation) duties(o permits.Outcome) []permits.Obligation {
	out := make([]permits.Obligation, 0, 8)
	for i := range e.found {
		f, first := &e.found[i], &e.found[0]
		if f.yields || f.Unsure && !f.role {
			continue
		}
		if o != permits.AllowWithObligations && (class(f) != class(first) || f.Layer != first.Layer) {
			continue
		}
		list := f.rule.Duties
		if f.inHand && len(f.rule.InHandDuties) > 0 {
			list = f.rule.InHandDuties
		}
		for _, d := range list {
			out = e.start(out, f, d)
		}
	}
	return out
}

func (e *evaluation) start(out []permits.Obligation, f *entry, d *DutyRule) []permits.Obligation {
	if d.when.Eval(&e.c.In) != True {
		return out
	}
	for i := range out {
		if out[i].Code == d.Code {
			return out
		}
	}
	a := e.dutyAuthority(f)
	ob := permits.Obligation{Code: d.Code, To: d.To, Note: d.Note, Rule: f.Rule, Severity: d.Severity}
	if a != nil {
		ob.Authority = a.ID
	}
	ob.Due = e.due(&d.Due, f.rule, a)
	if a != nil && d.Due.Authority == "deposit" && len(a.Repositories) > 0 && ob.To == "" {
		ob.To = join(a.Repositories)
	}
	if a != nil && d.Due.Authority == "report" && ob.To == "" {
		ob.To = a.ReportTo
	}
	return append(out, ob)
}

// dutyAuthority returns the authority under which a duty arises: the one the
// finding is about, else the one relied on for a law of the same pack, else
// the first relied on, else the one the person names.
func (e *evaluation) dutyAuthority(f *entry) *permits.Authority {
	if f.fit.authority != nil {
		return f.fit.authority
	}
	var first *permits.Authority
	for i := range e.relied {
		a := e.relied[i].fit.authority
		if a != nil && e.relied[i].law.pack == f.rule.pack {
			return a
		}
		if first == nil {
			first = a
		}
	}
	if first == nil && e.c.Relied != "" {
		return e.reg.Authority(e.c.Relied, e.c.at.From.Date)
	}
	return first
}

// due counts a due time. Where the moment is only known as a stretch, its
// beginning counts, so that no duty is shown later than it may be. Business
// days are those of the pack whose rule it is, of a rule about the ground those
// of who looks after it; hours are those of the clock where the find lies.
func (e *evaluation) due(r *permits.DueRule, rule *Rule, a *permits.Authority) permits.Due {
	at := func(anchor string) permits.Moment { return e.anchor(anchor, a) }
	cal := &rule.pack.Calendar
	if rule.ground && e.c.LandDays != nil {
		cal = e.c.LandDays
	}
	if z := e.clock(cal); z != cal.Zone {
		local := *cal
		local.Zone, cal = z, &local
	}
	switch {
	case r.Authority == "deposit" && a != nil && a.DepositRule != nil:
		due, _ := a.DepositRule.Count(at, cal)
		return due
	case r.Authority == "report" && a != nil && a.ReportDue != 0:
		return reportDue(a, at(r.Anchor))
	case r.Authority != "" && r.Else != nil:
		r = r.Else
	}
	due, _ := r.Count(at, cal)
	return due
}

// anchor returns the moment of an anchor by its word.
func (e *evaluation) anchor(word string, a *permits.Authority) permits.Moment {
	switch word {
	case "", "possessed":
		return e.c.at.From
	case "found":
		return e.c.Found.From
	case "judged", "transfer", "registration":
		return e.c.Judged
	case "year_end":
		if e.c.at.Known() {
			return permits.Moment{Date: permits.NewDate(e.c.at.From.Date.Year(), 12, 31)}
		}
	case "expiry":
		if a != nil {
			return permits.Moment{Date: a.End()}
		}
	}
	return permits.Moment{}
}

// clock is the one by which the moments of the find are told: that of its unit
// of ground, else of the calendar, else of the finest place around it.
func (e *evaluation) clock(cal *permits.Calendar) *permits.Zone {
	switch d := e.c.LandDays; {
	case d != nil && d.Zone != nil:
		return d.Zone
	case cal.Zone != nil:
		return cal.Zone
	}
	return e.zone()
}

// zone returns the clock of the finest place in which the find surely lies.
func (e *evaluation) zone() *permits.Zone {
	for i := len(e.packs) - 1; i >= 0; i-- {
		if p := &e.packs[i]; p.sure && p.Calendar.Zone != nil {
			return p.Calendar.Zone
		}
	}
	return nil
}

// reportDue returns the day on which the year's report falls due: the permit's
// own day in the following year.
func reportDue(a *permits.Authority, anchor permits.Moment) permits.Due {
	if !anchor.Known() {
		return permits.Due{}
	}
	return permits.Due{At: permits.Moment{Date: a.ReportDue.In(anchor.Date.Year() + 1)}}
}

func (e *evaluation) changes() []permits.Change {
	var out []permits.Change
	add := func(c permits.Change) {
		for _, o := range out {
			if o.Fact == c.Fact {
				return
			}
		}
		out = append(out, c)
	}
	for i := range e.found {
		for _, m := range e.found[i].Missing {
			add(permits.Change{Fact: m, Rule: e.found[i].Rule})
		}
	}
	for _, c := range e.skipped {
		add(c)
	}
	return out
}

// sources adds the packs, the authorities relied on and the cautions.
func (e *evaluation) sources(v *permits.Verdict) {
	v.Packs = make([]permits.PackRef, 0, len(e.packs))
	v.Cautions = make([]permits.Caution, 0, 8)
	for i := range e.packs {
		p := e.packs[i].Pack
		v.Packs = append(v.Packs, p.Ref())
		if p.Sample {
			v.Sample = true
			v.Notice = p.Notice
		}
		for _, c := range p.Cautions {
			if c.when.Eval(&e.c.In) != False {
				v.Cautions = append(v.Cautions, c.Caution)
			}
		}
	}
	for i := range e.relied {
		f := &e.relied[i].fit
		rel := permits.Reliance{Law: e.relied[i].law.ID, Rule: f.cover.Rule}
		if a := f.authority; a != nil {
			rel.Authority, rel.Version = a.ID, a.Version
			v.Sample = v.Sample || a.Sample
		}
		v.Relies = append(v.Relies, rel)
	}
	for i := range e.reports {
		a := e.reports[i].authority
		v.Relies = append(v.Relies, permits.Reliance{Authority: a.ID, Version: a.Version, Rule: e.reports[i].cover.Rule})
		v.Sample = v.Sample || a.Sample
	}
}
