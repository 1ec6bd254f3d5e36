package permits

import "strings"

// Decision is what a person decided about one verdict. It is added beside the
// engine's verdict and never written over it. The zero Decision decides
// nothing.
type Decision struct {
	By       string  `json:"by"`       // who decided, by name
	Reason   string  `json:"reason"`   // why, in words
	Document string  `json:"document"` // what it rests on: a letter, an e-mail, a number
	At       Moment  `json:"at,omitzero"`
	Outcome  Outcome `json:"outcome"`
	Inputs   string  `json:"inputs"` // the digest of the facts that the person saw
	Against  RuleID  `json:"against"`
}

// Missing names what a decision lacks, in the words of a person, or "" if it is
// whole.
func (d *Decision) Missing() string {
	for _, need := range [...]struct {
		has  bool
		what string
	}{{strings.TrimSpace(d.By) != "", "who decided"}, {strings.TrimSpace(d.Reason) != "", "the reason"},
		{strings.TrimSpace(d.Document) != "", "the document it rests on"}, {d.Outcome != OutcomeUnknown, "what was decided"},
		{d.Inputs != "", "which answer it is about"}} {
		if !need.has {
			return need.what
		}
	}
	return ""
}

// Standing is an engine's verdict with what people decided about it, the oldest
// first. All of it stays to be read.
type Standing struct {
	Engine    Verdict    `json:"engine"`
	Decisions []Decision `json:"decisions,omitempty"`
}

// Decided is why a decision counts or does not.
type Decided string

// Why a decision counts or does not. The zero Decided is unknown.
const (
	Counts     Decided = "counts"     // it stands in the place of the engine's answer
	Incomplete Decided = "incomplete" // no name, reason, document or outcome
	OtherFacts Decided = "other_facts"
	Never      Decided = "never" // no person lifts a danger to life
)

// Weigh tells whether a decision counts against the engine's verdict as it is
// now. One about other facts does not: it is asked for again. No decision makes
// a place safe, and what may be evidence or a die-off is released by stating
// the release as a fact, so that the engine's answer itself changes.
func (s *Standing) Weigh(d *Decision) Decided {
	switch {
	case d.Missing() != "":
		return Incomplete
	case d.Inputs != s.Engine.Inputs:
		return OtherFacts
	}
	if d.Outcome.Permits() {
		for _, f := range s.Engine.Blocking() {
			if f.Layer == Safety || f.Layer == Evidence || f.Layer == Health {
				return Never
			}
		}
	}
	return Counts
}

// Outcome returns the outcome that stands, and the decision that gave it, nil
// if the engine did. The newest decision that counts decides.
func (s *Standing) Outcome() (Outcome, *Decision) {
	for i := len(s.Decisions) - 1; i >= 0; i-- {
		if d := &s.Decisions[i]; s.Weigh(d) == Counts {
			return d.Outcome, d
		}
	}
	return s.Engine.Outcome, nil
}

// Sentence says what stands and who decided it.
func (s *Standing) Sentence() string {
	if _, d := s.Outcome(); d != nil {
		return d.By + " decided otherwise on " + d.Document + ": " + strings.TrimRight(d.Reason, ". ") +
			". The rules said: " + s.Engine.Deciding.Because
	}
	return s.Engine.Deciding.Because
}
