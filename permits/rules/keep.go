package rules

import (
	"fmt"
	"strings"
	"wayfall/permits"
)

// PaperDuty is a duty that a paper itself starts, whatever is taken under it:
// to renew it in time, to hand in what it covered when it has ended.
type PaperDuty struct {
	Code         string          `json:"code"`
	Rule         permits.RuleID  `json:"rule"`
	Kinds        []string        `json:"authority_kinds"` // none: every paper of the jurisdiction
	Due          permits.DueRule `json:"due"`             // counted from the paper's end, or from the end of each year
	To           string          `json:"to"`
	Note         string          `json:"note"`
	Cites        string          `json:"citation"`
	SourceStatus string          `json:"source_status"`
	// Severity is law, condition or advisory; none counts as a condition.
	Severity permits.Severity `json:"severity"`
}

// Retention says how long something is kept.
type Retention struct {
	Rule         permits.RuleID `json:"rule"`
	What         string         `json:"what"`            // in words: the records of what was taken and given
	Kinds        []string       `json:"authority_kinds"` // none: every paper of the jurisdiction
	Anchor       string         `json:"anchor"`          // a word of keepAnchors
	Years        int            `json:"years"`
	Where        string         `json:"where"` // where the records are kept
	Cites        string         `json:"citation"`
	SourceStatus string         `json:"source_status"`
}

// keepAnchors are the days from which years of keeping are counted: the end of
// the paper, the disposal of what the records are about, or the end of the year
// in which it was taken; or it is kept as long as the specimen.
var keepAnchors = []string{"expiry", "disposal", "year_end", "specimen"}

// Life is what happened to the thing that records are about. Unknown days count
// as not come yet.
type Life struct {
	Taken    permits.Date
	Disposed permits.Date // given away or destroyed
}

// Keeping is one thing to be kept for one paper, and until when.
type Keeping struct {
	Rule         permits.RuleID
	What         string
	Until        permits.Date // the last day; unknown: as long as the specimen, or until the anchor has come
	Life         bool         // as long as the specimen is kept
	Anchor       string       // what the years are counted from
	Years        int
	Where        string
	Cites        string
	SourceStatus string
}

// concerns tells whether a rule about papers reaches one.
func concerns(p *Pack, kinds []string, a *permits.Authority) bool {
	return (p.Jurisdiction == "*" || within(a.Jurisdiction, p.Jurisdiction)) && (len(kinds) == 0 || holds(kinds, a.Kind))
}

// PaperDuties returns what a paper itself asks for, with due times as far as
// its dates tell them. A paper that nobody signed starts nothing.
func (b *Book) PaperDuties(a *permits.Authority) []permits.Obligation {
	if a.Status == permits.Draft || a.Status == permits.IssuedUnsigned {
		return nil
	}
	var out []permits.Obligation
	for _, p := range b.packs {
		for _, d := range p.Papers {
			if !concerns(p, d.Kinds, a) || d.Due.Anchor == "year_end" {
				continue
			}
			due, _ := d.Due.Count(func(anchor string) permits.Moment {
				if anchor == "expiry" {
					return permits.Moment{Date: a.End()}
				}
				return permits.Moment{}
			}, &p.Calendar)
			if due.At.Known() || due.Word != "" {
				out = append(out, permits.Obligation{Code: d.Code, Due: due, To: d.To, Note: d.Note, Rule: d.Rule, Authority: a.ID, Severity: d.Severity})
			}
		}
	}
	return out
}

// YearDuty returns the duty to report on a year of a paper under which so many
// animals were taken; none where neither the paper nor a pack states a day. It
// falls due though nothing was taken.
func (b *Book) YearDuty(a *permits.Authority, year, animals int) (permits.Obligation, bool) {
	o := permits.Obligation{Code: "FILE_REPORT", To: a.ReportTo, Authority: a.ID, Rule: "R-REPORT"}
	if animals == 0 {
		o.Code = "FILE_ZERO_REPORT"
	}
	end := permits.Moment{Date: permits.NewDate(year, 12, 31)}
	for _, p := range b.packs {
		for _, d := range p.Papers {
			if d.Due.Anchor == "year_end" && concerns(p, d.Kinds, a) {
				due, _ := d.Due.From(end, &p.Calendar)
				o.Rule, o.Due, o.Severity = d.Rule, due, d.Severity
				if o.To == "" {
					o.To = d.To
				}
			}
		}
	}
	if a.ReportDue != 0 {
		o.Due = reportDue(a, end)
	}
	return o, o.Due.At.Known()
}

// Keep returns what is kept for a paper, and until when as far as the paper
// alone tells.
func (b *Book) Keep(a *permits.Authority) []Keeping { return b.KeepOf(a, Life{}) }

// KeepOf returns what is kept of one thing under a paper, and until when.
func (b *Book) KeepOf(a *permits.Authority, life Life) []Keeping {
	var out []Keeping
	for _, p := range b.packs {
		for _, r := range p.Retention {
			if !concerns(p, r.Kinds, a) {
				continue
			}
			k := Keeping{Rule: r.Rule, What: r.What, Where: r.Where, Cites: r.Cites, SourceStatus: r.SourceStatus, Life: r.Anchor == "specimen",
				Anchor: r.Anchor, Years: r.Years}
			if from := anchored(r.Anchor, a, life); from.Known() {
				k.Until = from.AddMonths(12 * r.Years)
			}
			out = append(out, k)
		}
	}
	return out
}

func anchored(anchor string, a *permits.Authority, life Life) permits.Date {
	switch anchor {
	case "expiry":
		return a.End()
	case "disposal":
		return life.Disposed
	case "year_end":
		if life.Taken.Known() {
			return permits.NewDate(life.Taken.Year(), 12, 31)
		}
	}
	return 0
}

// waits says what has not come yet from which years could be counted.
var waits = map[string]string{"disposal": "it has not been given away or destroyed", "year_end": "nobody knows in which year it was taken"}

// MayDiscard tells whether records that belong to a paper may be thrown away on
// a day, and if not, says in one sentence why. What nobody has said anything of
// is kept.
func (b *Book) MayDiscard(a *permits.Authority, on permits.Date) (bool, string) {
	return b.MayDiscardOf(a, Life{}, nil, on)
}

// MayDiscardOf is MayDiscard for the records of one thing, of which the record
// says these things of a hold: what is held keeps its records, whatever the
// years say.
func (b *Book) MayDiscardOf(a *permits.Authority, life Life, holds []string, on permits.Date) (bool, string) {
	if reason, held := permits.Held(holds); held {
		return false, "Keep everything: it is held (" + strings.TrimRight(reason, ". ") + ")."
	}
	all := b.KeepOf(a, life)
	if len(all) == 0 {
		return false, "No rule that is loaded says how long the records of " + a.Phrase() + " are kept: keep them."
	}
	for _, k := range all {
		switch {
		case k.Life:
			return false, "Keep " + k.What + " as long as the specimen itself."
		case !k.Until.Known() && waits[k.Anchor] != "":
			return false, "Keep " + k.What + ": " + waits[k.Anchor] + ", so no years can be counted yet."
		case !k.Until.Known():
			return false, "Keep " + k.What + ": " + a.Phrase() + " has no end yet from which the years could be counted."
		case !on.Known() || on <= k.Until:
			return false, "Keep " + k.What + " until the end of " + k.Until.Long() + "."
		}
	}
	return true, "Nothing that is loaded asks to keep the records of " + a.Phrase() + " any longer."
}

// severity refuses a word that says nothing of what stands behind a duty.
func (l *loader) severity(rule string, s permits.Severity, path string) {
	switch s {
	case "", permits.OfLaw, permits.OfPaper, permits.OfAdvice:
	default:
		l.complain(rule, path+".severity", "%q is neither law, condition nor advisory", string(s))
	}
}

// kept looks at what a pack says of papers and of records.
func (l *loader) kept() {
	for i, d := range l.pack.Papers {
		path := fmt.Sprintf("paper_duties[%d]", i)
		if d.Code == "" || d.Rule == "" || d.Cites == "" {
			l.complain(string(d.Rule), path, "a duty of a paper needs a code, a rule and a citation")
		}
		if !holds(sourceStatuses, d.SourceStatus) {
			l.complain(string(d.Rule), path+".source_status", "%q does not say how far the text was read", d.SourceStatus)
		}
		l.severity(string(d.Rule), d.Severity, path)
		l.clock(string(d.Rule), &d.Due, path+".due", false)
		if d.Due.Anchor != "expiry" && d.Due.Anchor != "year_end" {
			l.complain(string(d.Rule), path+".due.anchor", "a duty of a paper is counted from its end or from that of each year: expiry, year_end")
		}
	}
	for i, r := range l.pack.Retention {
		path := fmt.Sprintf("retention[%d]", i)
		if r.What == "" || r.Rule == "" || r.Cites == "" {
			l.complain(string(r.Rule), path, "say what is kept, by which rule, and cite it")
		}
		if !holds(sourceStatuses, r.SourceStatus) {
			l.complain(string(r.Rule), path+".source_status", "%q does not say how far the text was read", r.SourceStatus)
		}
		switch {
		case !holds(keepAnchors, r.Anchor):
			l.complain(string(r.Rule), path+".anchor", "%q is none of %s", r.Anchor, strings.Join(keepAnchors, ", "))
		case r.Anchor != "specimen" && r.Years < 1:
			l.complain(string(r.Rule), path+".years", "say for how many years after it")
		case r.Anchor == "specimen" && r.Years != 0:
			l.complain(string(r.Rule), path+".years", "what is kept as long as the specimen has no years")
		}
	}
}
