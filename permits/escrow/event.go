package escrow

import "wayfall/permits"

// Number names one number: of one authority, in one window, and for a number
// that counts each species apart, of one species.
type Number struct {
	Authority string       `json:"authority"`
	Quota     string       `json:"quota"`
	Taxon     string       `json:"taxon,omitempty"`
	From      permits.Date `json:"from"` // the window, both days included
	To        permits.Date `json:"to"`
}

// Grant is a share of a number that one device may spend, by serials. The
// server of the number gives no serial out twice. A block is a share that its
// holder, a server itself, does not spend but lends on; what is lent from it
// says of which block it is.
type Grant struct {
	ID     string `json:"id"`
	Device string `json:"device"`
	Number
	First int    `json:"first"`
	Last  int    `json:"last"`
	Block bool   `json:"block,omitempty"`
	Of    string `json:"of,omitempty"`
}

// Spend is one unit of a share used for one animal. It stands in the same save
// as the find.
type Spend struct {
	Authority string `json:"authority"`
	Quota     string `json:"quota"`
	Grant     string `json:"grant"`
	Serial    int    `json:"serial"`
}

// Return gives up the rest of a share, from one serial on.
type Return struct {
	Grant string `json:"grant"`
	From  int    `json:"from"`
}

// Burn says that a device has no rights any more, and why. What it may have
// used and not told counts as used until the window ends.
type Burn struct {
	Device string `json:"device"`
	Why    Why    `json:"why"`
}

// Why a device has no rights any more.
type Why string

// The reasons.
const (
	Lost     Why = "lost"
	Replaced Why = "replaced" // its store was restored or copied: it is another device now
)

// Kind is what an event does to a ledger.
type Kind uint8

// The kinds of event.
const (
	Unknown  Kind = iota
	Limited       // the paper states Limit, of which Reserve is kept for the desk
	Granted       // Device was lent the serials First to Last as Grant; by By out of its block Of, or from what is free
	Spent         // Device used Serial of Grant
	Returned      // Device gave up Grant from serial First on, in its save Seq
	Held          // every save of Device up to Seq is in the log
	Burned        // Device has no rights any more
	Entered       // Count animals without a share
	Ended         // the window is over: nothing is lent any more
	Known         // Device may hold shares
	PutBack       // the log was put back to here from a copy: what was lent afterwards is not known
	Heard         // Device said, after that, all that it holds
	Vouched       // a person says that nothing else is out and nothing else was entered
)

// Event is one fact about one number. Op names the act that says it; the same
// act told twice is one fact.
type Event struct {
	Kind        Kind
	Op          string
	Device      string
	Seq         uint64
	Grant       string
	Of, By      string
	Block       bool
	First, Last int
	Serial      int
	Limit       int
	Reserve     int
	Count       int
	Why         Why
}

// Alarm is something that cannot be with honest devices. Nothing is dropped
// for it.
type Alarm struct {
	Kind   AlarmKind
	Device string
	Grant  string
	Serial int
	Op     string // the act at which it was seen
	Other  string // the earlier act, where there is one
}

// AlarmKind says what is wrong.
type AlarmKind string

// The alarms.
const (
	SpentTwice    AlarmKind = "spent_twice"      // two animals on one serial
	NoSuchSerial  AlarmKind = "no_such_serial"   // it was never lent
	NotItsOwn     AlarmKind = "not_its_own"      // another device's share
	SpentReturned AlarmKind = "spent_after_back" // it had been given back
	LentTooMuch   AlarmKind = "lent_too_much"    // more was lent than was free
	SpentGone     AlarmKind = "spent_when_gone"  // by a device that lost its rights, on a serial it held
	NotItsBlock   AlarmKind = "not_its_block"    // lent from a block that the lender does not hold
)

// Sentence says the alarm to a person.
func (a Alarm) Sentence() string {
	switch a.Kind {
	case SpentTwice:
		return "Two animals were counted on one unit of a phone's share. The phone or its memory may have been copied. Both are kept."
	case NoSuchSerial:
		return "An animal was counted on a share that was never lent."
	case NotItsOwn:
		return "An animal was counted on the share of another phone."
	case SpentReturned:
		return "An animal was counted on a share that the phone had given back."
	case LentTooMuch:
		return "More was lent than was free."
	case SpentGone:
		return "An animal was counted on the share of a phone that was lost or copied. It is counted on the unit that was written off."
	case NotItsBlock:
		return "A server lent units that it had not been lent itself. What was counted on them has no share."
	}
	return "Something is odd about a share."
}
