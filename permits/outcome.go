package permits

import "errors"

// Outcome is the answer to one report. The zero Outcome is unknown and is
// never given by a check.
type Outcome uint8

// The outcomes, from the most permissive to the one that only records.
const (
	OutcomeUnknown       Outcome = iota
	AllowWithObligations         // may be collected; the listed obligations start
	ReviewByPerson               // facts or law undecided; a person decides
	HoldCallFirst                // leave in place, call, act only as directed
	RefusePickup                 // no authority; an observation record only
	RefuseTransfer               // holding may be fine, this hand-over is not
	BreachToResolve              // done outside authority; keep the record, disclose
	ObligationDue                // no pick-up; a duty falls due
)

var outcomeNames = [...]string{"unknown", "allow_with_obligations", "review", "hold_call_first",
	"refuse_pickup", "refuse_transfer", "breach_to_resolve", "obligation_due"}

// String returns the word used in data.
func (o Outcome) String() string {
	if int(o) < len(outcomeNames) {
		return outcomeNames[o]
	}
	return outcomeNames[0]
}

// Permits tells whether the outcome lets somebody take the carcass.
func (o Outcome) Permits() bool { return o == AllowWithObligations }

// MarshalText writes the word used in data.
func (o Outcome) MarshalText() ([]byte, error) { return []byte(o.String()), nil }

// UnmarshalText reads the word used in data.
func (o *Outcome) UnmarshalText(text []byte) error {
	i, err := wordIndex(outcomeNames[:], string(text))
	*o = Outcome(i)
	return err
}

// Act is what the salvager does now.
type Act string

// The acts.
const (
	Take  Act = "take"  // pick it up and begin the duties
	Ask   Act = "ask"   // do not move it until somebody has answered
	Leave Act = "leave" // do not touch it; call where the verdict says so
	Note  Act = "note"  // nothing to pick up or already done: record and act on the duties
)

// Effect is what one rule says about one report. The zero Effect is unknown.
type Effect uint8

// The effects.
const (
	EffectUnknown  Effect = iota
	Noted                 // it applies and shapes the answer without blocking
	Allows                // this layer is satisfied
	Asks                  // a person must decide
	Holds                 // leave in place and call
	Refuses               // no pick-up
	RefusesHandOff        // no hand-over to this recipient
	Breaches              // was done outside authority
	FallsDue              // a duty is due though nothing was picked up
)

var effectNames = [...]string{"unknown", "note", "allow", "review", "hold", "refuse",
	"refuse_transfer", "breach", "due"}

// String returns the word used in data.
func (e Effect) String() string {
	if int(e) < len(effectNames) {
		return effectNames[e]
	}
	return effectNames[0]
}

// Blocks tells whether the effect stands in the way of taking the carcass.
func (e Effect) Blocks() bool { return e >= Asks }

// MarshalText writes the word used in data.
func (e Effect) MarshalText() ([]byte, error) { return []byte(e.String()), nil }

// UnmarshalText reads the word used in data.
func (e *Effect) UnmarshalText(text []byte) error {
	i, err := wordIndex(effectNames[:], string(text))
	*e = Effect(i)
	return err
}

// Layer is the kind of question a rule answers. Layers are ordered: of two
// rules that block, the one in the earlier layer decides.
type Layer uint8

// The layers in order of precedence.
const (
	LayerUnknown Layer = iota
	Safety
	Evidence
	Health
	TaxonLayer
	PlaceLayer
	MaterialLayer
	Purpose
	CauseLayer
	Time
	Person
	Scope
	AuthorityLayer
	QuotaLayer
	Condition
	Transfer
	Transport
	Deadline
	Duty
	Advice
)

var layerNames = [...]string{"unknown", "safety", "evidence", "health", "taxon", "place", "material",
	"purpose", "cause", "time", "person", "scope", "authority", "quota", "condition", "transfer",
	"transport", "deadline", "obligation", "advice"}

// String returns the word used in data.
func (l Layer) String() string {
	if int(l) < len(layerNames) {
		return layerNames[l]
	}
	return layerNames[0]
}

// MarshalText writes the word used in data.
func (l Layer) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads the word used in data.
func (l *Layer) UnmarshalText(text []byte) error {
	i, err := wordIndex(layerNames[:], string(text))
	*l = Layer(i)
	return err
}

func wordIndex(words []string, word string) (int, error) {
	for i, w := range words {
		if w == word && i > 0 {
			return i, nil
		}
	}
	return 0, errors.New("no such word here: " + word)
}
