// Package intake judges what devices hand in: whether a value can be so,
// whether dates and places fit one another, what the permits say of a report,
// and which two reports may be of one carcass.
//
// It promises that nothing is refused and nothing is dropped: a judgement is
// an effect, a code and a sentence beside the operation, and what it proposes
// waits for a person. It never rewrites what somebody said. It keeps nothing
// itself; what it needs of storage it declares as small interfaces.
package intake

import (
	"time"

	"wayfall/sync/op"
	"wayfall/sync/record"
)

// Code is one word for what is doubtful, for the program.
type Code string

// The codes. They are kept with receipts, so a code keeps its meaning.
const (
	BadValue         Code = "bad_value"         // not of the form the field has
	UnknownField     Code = "unknown_field"     // a field, kind, act or member this release does not know
	UnknownWord      Code = "unknown_word"      // not in the vocabulary of the field
	DateDoubt        Code = "date_doubt"        // a date that cannot be, or does not fit the others
	PlaceDoubt       Code = "place_doubt"       // a place that cannot be, or does not fit the story
	PhotoBad         Code = "photo_bad"         // a photo that is missing its claims, or is no picture
	UnknownAuthority Code = "unknown_authority" // relies on a permit nobody here has heard of
	NotCovered       Code = "not_covered"       // no authority covers what was done
	StopSpecies      Code = "stop_species"      // kept although the species must be left or handed over
	CallFirst        Code = "call_first"        // kept although evidence, disease or danger asked for a call first
	OverQuota        Code = "over_quota"        // kept beyond the number on the paper
	NeedsPerson      Code = "needs_person"      // the rules cannot decide from what is known
	Differs          Code = "differs"           // two people said different things
	PairProposed     Code = "pair_proposed"     // two reports may be of one animal
	WrongActor       Code = "wrong_actor"       // signed by one person, handed in by another
	LostDevice       Code = "lost_device"       // from a device that was declared lost
	NotYours         Code = "not_yours"         // writes what the person's role does not decide
)

// Doubt is one thing that is odd about what somebody said. It changes nothing;
// a person decides.
type Doubt struct {
	Code    Code
	Why     string // one sentence, for the person
	Record  op.ID
	Kind    record.Kind
	Field   string
	At      string   // JSON pointer into the value, "" for all of it
	Suggest op.Value // what may have been meant, "" if nothing is suggested
}

// Pointer returns where in a report's own JSON the doubt lies.
func (d Doubt) Pointer() string { return "/" + d.Field + d.At }

// Moment is when something reached the server, and where the server's day
// begins. The zero Moment is unknown, and no date is late or early by it.
type Moment struct {
	Received time.Time
}
