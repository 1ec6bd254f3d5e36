package permits

// RuleID names a rule, such as R-EAGLE.
type RuleID string

// Finding is one rule's answer about one report.
type Finding struct {
	Rule         RuleID   `json:"rule"`
	Pack         string   `json:"pack"` // the pack whose text is cited
	Law          string   `json:"law,omitempty"`
	Layer        Layer    `json:"layer"`
	Effect       Effect   `json:"effect"`
	Unsure       bool     `json:"unsure,omitempty"`    // the condition could not be told: a fact is missing
	Because      string   `json:"because"`             // one sentence that the salvager reads
	Cites        string   `json:"cites"`               // the section of law or the permit condition
	SourceStatus string   `json:"source_status"`       // how far the text was read
	Authority    string   `json:"authority,omitempty"` // the authority found good, or the nearest that is not
	Missing      []string `json:"missing,omitempty"`   // facts that were missing
	Contact      string   `json:"contact,omitempty"`   // whom to call

	Weight  int  `json:"-"` // of two findings that may decide, the heavier does
	Curable bool `json:"-"` // asking or fetching something can lift it
}

// Due is when a duty falls due: a date, a local time, or a word such as
// "immediately" where the law gives no number. The zero Due is not known.
type Due struct {
	At   Moment `json:"at,omitzero"`
	Word string `json:"word,omitempty"`
}

// Severity says what stands behind a duty: the law, a condition of a paper, or
// good advice. The zero Severity was not stated and counts as a condition.
type Severity string

// The severities.
const (
	OfLaw    Severity = "law"
	OfPaper  Severity = "condition"
	OfAdvice Severity = "advisory"
)

// Weight orders severities, what hurts most first.
func (s Severity) Weight() int {
	switch s {
	case OfLaw:
		return 0
	case OfAdvice:
		return 2
	}
	return 1
}

// Obligation is a duty that a verdict started.
type Obligation struct {
	Code string `json:"code"`
	Due  Due    `json:"due,omitzero"`
	To   string `json:"to,omitempty"`
	Note string `json:"note,omitempty"`
	Rule RuleID `json:"rule"`
	// Severity is what stands behind the duty.
	Severity Severity `json:"severity,omitempty"`
	// Authority is the permit under which the duty arises, if any.
	Authority string `json:"authority,omitempty"`
}

// Caution is a warning shown with a verdict. It never replaces local codes,
// site rules or licensed practice.
type Caution struct {
	Code  string `json:"code"`
	Topic string `json:"topic"`
	Text  string `json:"text"`
}

// Change names a missing fact that the answer hangs on, and the rule that asks
// for it.
type Change struct {
	Fact string `json:"fact"`
	Rule RuleID `json:"rule"`
}

// PackRef says which edition of which pack was used.
type PackRef struct {
	ID      string `json:"id"`
	Version string `json:"version"`
	Digest  string `json:"digest"`
}

// Reliance is one authority on which a verdict relies, with the edition that
// was in force and the law it answers.
type Reliance struct {
	Law       string `json:"law"`
	Authority string `json:"authority"`
	Version   int    `json:"version,omitempty"`
	Rule      RuleID `json:"rule"`
}

// Verdict is the answer to one report. A verdict is added to a record and
// never written over an earlier one.
type Verdict struct {
	Outcome     Outcome      `json:"outcome"`
	Act         Act          `json:"act"`
	Deciding    Finding      `json:"deciding"`
	Findings    []Finding    `json:"findings"` // all of them, the blocking ones first
	Obligations []Obligation `json:"obligations"`
	Cautions    []Caution    `json:"cautions"`
	Changes     []Change     `json:"changes,omitempty"`
	Relies      []Reliance   `json:"relies,omitempty"`
	Proposes    []string     `json:"proposes,omitempty"` // other authorities that would fit better
	Packs       []PackRef    `json:"packs"`
	Inputs      string       `json:"inputs"` // SHA-256 of the facts, in hex
	Sample      bool         `json:"sample"` // a pack or authority used is only a sample
	Notice      string       `json:"notice,omitempty"`
}

// Blocking returns the findings that stand in the way, the deciding one first.
func (v *Verdict) Blocking() []Finding {
	n := 0
	for n < len(v.Findings) && v.Findings[n].Effect.Blocks() {
		n++
	}
	return v.Findings[:n]
}
