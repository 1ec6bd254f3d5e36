// Package rules reads rule packs and evaluates a case against them.
//
// A pack is a JSON file that a permit officer can read: rules with dates,
// citations and a sign-off, laws that say which authorities satisfy them, and
// the authorisations that a regulation itself grants. The loader refuses a
// pack that names an unknown fact, cites nothing or refers to a rule that is
// nowhere defined, and lists every fault it finds.
//
// Conditions are three-valued. A fact that is not known makes a condition
// "cannot tell", and a rule that blocks then asks a person: unknown is never
// allowed silently. The package knows no law of its own; it holds no species,
// no country and no rule name. It never reads the clock.
package rules

import "math"

// Fact is a question that a condition may ask of a case.
type Fact uint8

// The facts. Facts from CoveredBy on are known only after the authorities have
// been matched, and only rules in the layers obligation and advice may ask for
// them.
const (
	Activity Fact = iota
	Class
	Species
	Genus
	Family
	Order
	Groups
	Identified
	Material
	Count
	EventCount
	SoftTissue
	NestActive
	EggsViable
	Cause
	SuspectedCrime
	SuspectedPoison
	EvidenceReleased
	DieoffReleased
	CausedDeath
	StruckElsewhere
	Opportunistic
	Research
	WantsToKeep
	Sale
	Role
	OfficialDuty
	Designated
	Barred
	Consent
	LandManager
	StorageManager
	LandAuthority
	LandDefault
	PermitCopy
	ShoreMetres
	InTrafficLane
	OtherHazard
	Band
	RecipientAuthorised
	LawfulHunt
	OpenSeason
	BothRegistered
	Commercial
	CrossesBorder
	LawfullyHeld
	InHand
	PossessedOn
	OfflineDevices
	ActivityCount
	DaysSinceExpiry
	DepositMade
	Euthanised
	ReliedKind
	CoveredBy
	CoverRule
	DepositBranch
	ListingEnded
	factCount
)

var factNames = [factCount]string{
	"activity", "class", "species", "genus", "family", "order", "groups", "identified", "material", "count",
	"event_carcass_count", "soft_tissue", "nest_active", "eggs_viable", "cause", "suspected_crime",
	"suspected_poison", "evidence_released", "dieoff_released", "salvager_caused_death", "struck_elsewhere",
	"opportunistic", "research_purpose", "wants_to_keep", "sale", "role", "official_duty",
	"designated", "barred", "landowner_consent", "land_manager", "storage_manager", "land_authority", "land_default",
	"permit_copy_on_hand", "distance_to_shore_m", "in_live_traffic_lane", "other_hazard",
	"band", "recipient_authorised", "lawful_hunt", "open_season", "both_registered", "commercial",
	"crosses_border", "lawfully_held", "in_hand", "possessed_on", "offline_devices", "activity_count", "days_since_expiry",
	"deposit_made", "euthanised", "relied_kind", "covered_by", "cover_rule", "deposit_branch", "listing_ended",
}

// String returns the name by which packs ask for the fact.
func (f Fact) String() string { return factNames[f] }

// late tells whether the fact is known only after matching.
func (f Fact) late() bool { return f >= CoveredBy }

// numberFacts and wordFacts take numbers and words; every other fact is a yes
// or no.
var (
	numberFacts = []Fact{Count, EventCount, ShoreMetres, PossessedOn, OfflineDevices, ActivityCount, DaysSinceExpiry}
	wordFacts   = []Fact{Activity, Class, Species, Genus, Family, Order, Groups, Material, Cause, Role, Consent,
		LandManager, LandDefault, StorageManager, Band, ReliedKind, CoveredBy, CoverRule, DepositBranch}
)

// takes returns the kind of value by which the fact can be known.
func (f Fact) takes() kind {
	for _, n := range numberFacts {
		if n == f {
			return numberKind
		}
	}
	for _, w := range wordFacts {
		if w == f {
			return wordKind
		}
	}
	return boolKind
}

func factNamed(name string) (Fact, bool) {
	for i, n := range factNames {
		if n == name {
			return Fact(i), true
		}
	}
	return 0, false
}

type kind uint8

const (
	unknownKind kind = iota
	boolKind
	numberKind
	wordKind
	setKind
)

// Value is what a case knows of one fact. The zero Value is unknown.
type Value struct {
	kind kind
	yes  bool
	num  int32 // the least it may be
	top  int32 // the most it may be
	word string
	set  *wordSet
}

type wordSet struct {
	all []string // true of every plausible case
	any []string // true of at least one
}

// number keeps a number within what a value holds; all that are asked about
// are far smaller.
func number(n int64) int32 {
	return int32(max(math.MinInt32, min(n, math.MaxInt32)))
}

// Bool returns a known truth.
func Bool(yes bool) Value { return Value{kind: boolKind, yes: yes} }

// Number returns a known number.
func Number(n int64) Value { return Value{kind: numberKind, num: number(n), top: number(n)} }

// Between returns a number of which only the bounds are known, both included.
func Between(least, most int64) Value {
	return Value{kind: numberKind, num: number(least), top: number(most)}
}

// Word returns a known word, or unknown for "".
func Word(s string) Value {
	if s == "" {
		return Value{}
	}
	return Value{kind: wordKind, word: s}
}

// Set returns a set of which the words in all are sure and those in any are
// possible. Every word of all must be in any.
func Set(all, any []string) Value { return Value{kind: setKind, set: &wordSet{all, any}} }

// Known tells whether the case knows the fact at all.
func (v *Value) Known() bool { return v.kind != unknownKind }

// Inputs are the facts of a case.
type Inputs [factCount]Value

// Truth is the value of a condition. The zero Truth is "cannot tell".
type Truth int8

// The truths.
const (
	CannotTell Truth = iota
	False
	True
)

func truth(b bool) Truth {
	if b {
		return True
	}
	return False
}
